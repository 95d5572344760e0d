"""Filled-in sheets judged on the command line, as people would."""

import json

import pytest

from tests.study.handover_sheets import RIGHT, A, B, C, D, filled, written
from yieldkit.cli.main import main

VOLTS, AMPS = "open-circuit voltage", "short-circuit current"


@pytest.fixture
def verify(tmp_path, capsys, monkeypatch):
    """Return what is said of a filled-in sheet in an empty folder, and the exit code."""
    monkeypatch.setenv("COLUMNS", "200")
    monkeypatch.chdir(tmp_path)

    def said(changes=None, *more, light=True, others=None):
        cells = dict(others or {})
        for name, (volts, amps, irradiance, heat) in (RIGHT | (changes or {})).items():
            beside = {"irradiance": str(irradiance), "module temperature": str(heat)}
            beside = beside if light else {}
            cells[name, VOLTS] = {"reading": str(volts), **beside}
            cells[name, AMPS] = {"reading": str(amps), **beside}
        written(filled(cells), tmp_path / "filled.csv")
        code = main(["verify", "filled.csv", *more])
        return capsys.readouterr().out, code

    return said


def test_readings_of_the_drawn_wiring_fit(verify):
    out, code = verify()
    assert code == 0
    assert "the readings fit the drawing (over 99 %)" in out
    assert f"{A} reads like 14.0 +- 0.07 modules of 14." in out
    assert "design aid and not a certificate" in out


def test_a_string_that_was_not_read_is_not_passed(tmp_path, capsys, monkeypatch):
    monkeypatch.setenv("COLUMNS", "200")
    beside = {"irradiance": "839", "module temperature": "60.4"}
    path = written(filled({(D, VOLTS): {"reading": "244.3", **beside}}), tmp_path / "one.csv")
    assert main(["verify", str(path)]) == 4
    said = " ".join(capsys.readouterr().out.split())
    assert f"NOT CHECKED, for no voltage of them was judged: {A}; {B}; {C}." in said
    assert main(["verify", str(path), "--json"]) == 4
    found = json.loads(capsys.readouterr().out)
    assert not found["fits_the_drawing"]
    assert found["not_checked"] == [A, B, C]


def test_a_string_that_was_read_twice_is_told_once(tmp_path, capsys, monkeypatch):
    monkeypatch.setenv("COLUMNS", "200")
    beside = {"irradiance": "839", "module temperature": "60.4"}
    rows = filled({(D, VOLTS): {"reading": "244.3", **beside}})
    again = next(dict(row) for row in rows if (row["what"], row["quantity"]) == (D, VOLTS))
    assert main(["verify", str(written([*rows, again], tmp_path / "twice.csv"))]) == 4
    out = capsys.readouterr().out
    assert out.count(f"{D}, Voc, V") == 2
    assert out.count(f"{D} reads like ") == 1


def test_a_voltage_read_in_the_dark_leaves_its_string_unchecked(verify):
    out, code = verify({C: (300.0, 0.1, 0, 20.0)}, "--json")
    assert json.loads(out)["not_checked"] == [C]
    assert code != 0


def test_a_module_less_is_named_and_the_reading_asked_for_again(verify):
    out, code = verify({C: (454.6, 11.4, 816, 59.2)})
    assert code == 1
    assert f"most probable (97 %): {C} has 13 modules, not 14." in out
    assert f"Before anything is opened or changed read the {VOLTS} of {C} once more." in out
    assert f"{C} reads like 13.0" in out
    assert f"Would tell most: the {VOLTS} of {C} once more" in out


def test_what_readings_do_not_decide_is_said_to_be_open(verify):
    # A volt less than with one substring of C bypassed: read again, nothing is called.
    out, code = verify({C: (477.0, 11.4, 816, 59.2)})
    assert code == 1
    assert "NOT DECIDED by these readings" in out
    again = f"Before anything is opened or changed read the {VOLTS} of {C} once more."
    assert again in " ".join(out.split())
    assert f"one substring of a module of {C} is bypassed" in out


def test_a_reversed_string_is_said_first(verify):
    out, code = verify({C: (-489.8, 11.4, 816, 59.2)})
    assert code == 1
    assert out.startswith("REVERSED POLARITY")
    assert f"plus and minus of {C} are reversed" in out
    assert out.count("REVERSED") == 1


def test_swapped_strings_are_said_first_in_capitals(verify):
    out, code = verify({A: (244.3, 11.7, 777, 57.3), D: (491.0, 10.8, 839, 60.4)})
    assert code == 1
    first = " ".join(out.split("\n\n")[0].split())
    assert first.startswith(f"{A.upper()} AND {D.upper()} ARE SWAPPED, BY THE READINGS.")
    assert "DO NOT CONNECT, DO NOT PARALLEL, DO NOT CLOSE THE DC ISOLATOR" in first


def test_without_a_sensor_bands_are_wider_and_no_sensor_is_blamed(verify):
    out, code = verify(light=False)
    assert code == 0
    assert "irradiance sensor" not in out
    narrow, _ = verify("", "--json")
    wide, _ = verify("", "--json", light=False)
    spans = [
        [row["high"] - row["low"] for row in json.loads(text)["readings"]]
        for text in (narrow, wide)
    ]
    assert all(with_sensor < without for with_sensor, without in zip(*spans, strict=True))


def test_json_holds_what_is_said(verify):
    out, code = verify({C: (454.6, 11.4, 816, 59.2)}, "--json")
    found = json.loads(out)
    assert code == 1
    assert not found["fits_the_drawing"]
    assert found["explanations"][0]["members"] == [f"{C} has 13 modules, not 14"]
    assert found["further"]["string"] == C
    assert found["further"]["moment"].endswith("+01:00")
    states = {(row["subject"], row["quantity"]): row["state"] for row in found["readings"]}
    assert states[C, "v_oc"] == "out"
    assert states[A, "v_oc"] == "within"


def test_what_the_inverter_shows_is_held_against_its_band(verify):
    shown = {
        ("MPPT 2", "operating voltage"): {
            "reading": "400",
            "irradiance": "816",
            "module temperature": "59.2",
            "date": "2026-06-21",
            "time": "12:20",
        },
        ("MPPT 2", "operating power"): {
            "reading": "3000",
            "irradiance": "816",
            "module temperature": "59.2",
            "date": "2026-06-21",
            "time": "12:20",
        },
    }
    out, code = verify(None, "--json", others=shown)
    rows = {(row["subject"], row["quantity"]): row for row in json.loads(out)["readings"]}
    assert rows["MPPT 2", "v_dc"]["state"] == "within"
    assert rows["MPPT 2", "p_dc"]["state"] == "out"
    assert rows["MPPT 2", "p_dc"]["expected"] == pytest.approx(4270, rel=0.03)
    assert code == 1


def test_readings_in_the_dusk_are_not_judged(verify):
    dusk = {
        name: (volts * 0.9, amps * 0.1, 90, heat - 30)
        for name, (volts, amps, _, heat) in RIGHT.items()
    }
    out, _ = verify(dusk)
    assert out.count("not judged: 90 W/m2 is too little light") == 4


def test_a_file_that_is_not_there_is_told(capsys, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert main(["verify", "missing.csv"]) == 2
    assert "missing.csv" in capsys.readouterr().err
