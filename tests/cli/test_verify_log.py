"""Logs of a clear day judged on the command line, as people would."""

import json

import numpy as np
import pandas as pd
import pytest

from tests.study.handover import log_generators, trials
from tests.study.handover_sheets import A, B, C, D, filled
from tests.study.handover_sheets import written as sheet_written
from tests.study.logs.tables import columns_of, described, written
from yieldkit.cli import verify as command
from yieldkit.cli.main import main
from yieldkit.study.logs.plant_log import FROZEN
from yieldkit.study.logs.reading import read_log

DAY = "2026-06-21"
ONE_OFF = f"{C} has 13 modules, not 14"
SENSORS = {
    "poa_global": {"west roof": "G1", "east roof": "G2", "dormer": "G3"},
    "temp_module": {"west roof": "T1", "east roof": "T2", "dormer": "T3"},
}


def table_of(words="as drawn", sensors=log_generators.LIGHT_ON_ALL):
    """Return a clear day of the demonstration as its logger writes it."""
    rng = np.random.default_rng(5)
    own = log_generators.logged_plant(
        *trials.sites()[0], log_generators.GAUSS, rng, slip=words, sensors=sensors, day=DAY
    )
    data, weather = own.log.data, own.log.weather
    index = pd.DatetimeIndex(data["time"].to_numpy())
    columns = {}
    for at in range(3):
        for letter, quantity in (("U", "v_dc"), ("I", "i_dc"), ("P", "p_dc")):
            columns[f"{letter}{at + 1}"] = data[quantity].to_numpy()[:, at]
    if weather is not None:
        for at, plane in enumerate(("west roof", "east roof", "dormer"), 1):
            columns[f"G{at}"] = weather[f"poa_global of {plane}"].to_numpy()
            columns[f"T{at}"] = weather[f"temp_module of {plane}"].to_numpy()
    return pd.DataFrame(columns, index=index)


@pytest.fixture(scope="module")
def tables():
    """Return tables of a right day, a wrong one, and one without sensors."""
    return {
        "right": table_of(),
        "wrong": table_of(ONE_OFF),
        "bare": table_of(ONE_OFF, log_generators.NO_LIGHT),
    }


@pytest.fixture
def verify(tmp_path, capsys, monkeypatch):
    """Return what is said of logs in an empty folder, and the exit code."""
    monkeypatch.setenv("COLUMNS", "400")
    monkeypatch.chdir(tmp_path)

    def said(table, *more, columns=SENSORS, **keys):
        described(
            tmp_path,
            {"day.csv": written(table)},
            columns=columns,
            **{"inverter": columns_of(ac=False), **keys},
        )
        code = main(["verify", *more, "log.yaml"])
        return capsys.readouterr(), code

    return said


def test_a_log_of_the_drawn_wiring_fits(verify, tables):
    heard, code = verify(tables["right"])
    assert code == 0, heard
    assert "the log fits the drawing" in heard.out
    assert "A log can't replace the meter" in heard.out
    assert "design aid and not a certificate" in heard.out
    assert (
        f"{A} and {B} are swapped"
        in " ".join(heard.out.split()).split("can't tell from the drawing")[1]
    )


def test_a_module_less_is_named_and_told_as_json(verify, tables):
    heard, code = verify(tables["wrong"], "--json")
    assert code == 1
    found = json.loads(heard.out)
    assert found["explanations"][0]["members"] == [ONE_OFF]
    assert found["explanations"][0]["probability"] > 0.9
    assert not found["fits_the_drawing"]
    assert found["meter"] is None
    ratios = {own["input"]: own["v_dc_ratio"] for own in found["inputs"]}
    assert ratios["MPPT 2"] == pytest.approx(13 / 14, abs=0.025)
    assert ratios["MPPT 1"] == pytest.approx(1.0, abs=0.025)


def test_without_sensors_a_clear_sky_is_the_measure(verify, tables):
    heard, code = verify(tables["bare"], columns=None)
    assert code == 1
    assert "most probable" in heard.out
    assert f"{ONE_OFF}." in heard.out
    assert "light of a cloudless sky" in heard.out


def test_a_sheet_and_a_log_are_judged_together(verify, tables, tmp_path):
    cells = {}
    for name, volts in ((A, 491.0), (B, 456.0), (C, 489.8), (D, 244.3)):
        beside = {"irradiance": "800", "module temperature": "58"}
        cells[name, "open-circuit voltage"] = {"reading": str(volts), **beside}
    sheet_written(filled(cells), tmp_path / "filled.csv")
    heard, code = verify(tables["right"], "filled.csv")
    assert code == 0, heard
    assert "log and readings fit the drawing" in heard.out
    assert f"{A}, Voc, V" in heard.out
    untold = " ".join(heard.out.split()).split("can't tell from the drawing")[1].splitlines()[0]
    assert "15 modules" not in untold
    # A and B differ by a module, which their voltages tell and their common input doesn't.
    assert f"{A} and {B} are swapped" not in untold


def test_how_planes_lie_tells_what_a_log_can_not(verify, tables, tmp_path):
    turned = "azimuth of west roof is +30 degrees off"
    heard, _ = verify(tables["right"], "--json")
    assert turned in json.loads(heard.out)["cannot_be_told"]
    own = {("plane west roof", "azimuth from north through east"): "268"}
    sheet_written(filled(own), tmp_path / "filled.csv")
    heard, code = verify(tables["right"], "--json", "filled.csv")
    found = json.loads(heard.out)
    assert code == 0
    assert turned not in found["cannot_be_told"]
    assert found["meter"]["readings"][0]["state"] == "within"


def test_an_input_of_which_nothing_counts_is_not_passed(verify, tables, monkeypatch):
    def without_the_third(*given):
        log = read_log(*given)
        dead = np.zeros(log.counted.shape, dtype=bool)
        dead[:, 2] = True
        return log.leaving_out({FROZEN: dead})

    monkeypatch.setattr(command, "read_log", without_the_third)
    heard, code = verify(tables["right"])
    assert code == 4, heard
    said = " ".join(heard.out.split())
    assert "NOT CHECKED, for nothing that counts was written of them: MPPT 3." in said


def test_two_tables_and_too_short_a_log_are_refused(verify, tables, tmp_path):
    (tmp_path / "one.csv").write_text("a,b\n1,2\n")
    (tmp_path / "two.csv").write_text("a,b\n1,2\n")
    heard, code = verify(tables["right"], "one.csv", "two.csv")
    assert code == 2
    assert "2 tables of readings" in heard.err
    short = tables["right"].copy()
    short.iloc[np.r_[0:70, 80:144]] = np.nan
    heard, code = verify(short)
    assert code == 2
    assert "steps that can be judged" in heard.err
    assert "at least 20 steps of 100 W/m2 and more" in heard.err
