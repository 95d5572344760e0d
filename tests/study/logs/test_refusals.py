"""What no log can be read from: each is one sentence that says what to do."""

import numpy as np
import pandas as pd
import pytest

import yieldkit
from tests.study import several
from tests.study.logs.tables import (
    INPUTS,
    STEP,
    columns_of,
    described,
    readings,
    site,
    written,
)
from yieldkit.base.errors import InputError

DAY = readings()
TEXT = written(DAY)


def refused(folder, tables=None, asked=None, own=None, **keys):
    """Return the sentences that a log is refused with."""
    path = described(folder, tables or {"a.csv": TEXT}, **keys)
    with pytest.raises(InputError, match=r"got .*; expected ") as caught:
        yieldkit.read_log(path, own or site(), asked)
    return str(caught.value)


@pytest.mark.parametrize(
    ("keys", "told"),
    [
        ({"zone": None}, "log.yaml, zone: got no 'zone'; expected a value for it. zone: Zone of"),
        ({"label": None}, "log.yaml, label: got no 'label'; expected a value for it. label: Which"),
        (
            {"label": "begin"},
            "log.yaml line 1, label: got 'begin'; expected one of 'start', 'middle'",
        ),
        ({"zone": "UTC+25:00"}, "log.yaml line 1, zone: got 'UTC+25:00'; expected an offset"),
        ({"zone": "Europe/Berln"}, "Did you mean 'Europe/Berlin'?"),
        (
            {"zone": "Europe/Berlin"},
            "log.yaml line 1, zone: got Europe/Berlin, a zone with summer time, and times without "
            "an offset in a.csv; expected whether the log's clock is put forward in spring. Write "
            "clock: wall if it is, clock: standard if the log keeps standard time.",
        ),
        ({"clock": "wall"}, "log.yaml line 1, clock: got 'UTC+01:00', of which no summer time is"),
        ({"clock": "sun"}, "clock: got 'sun'; expected one of 'standard', 'wall'"),
        (
            {"sensor": []},
            "got the unknown key 'sensor'; expected a key of the schema. Did you mean",
        ),
        ({"files": "b.csv"}, "log.yaml line 1, files: got 'b.csv', which is not there; expected a"),
        ({"files": ["a.csv", "no"]}, "log.yaml line 1, files.1: got 'no', which is not there"),
        ({"files": "*.tsv"}, "files: got the pattern '*.tsv', which no file matches; expected a"),
        ({"files": "."}, "got '.', which is a folder; expected a table that is there"),
        ({"files": []}, "got no files, and columns of an inverter without files of its own"),
        (
            {"columns": {"clock": "Hour"}},
            "a.csv: got no column 'Hour'; expected one of its columns",
        ),
        (
            {"columns": {"temp_air": "Tair"}},
            "a.csv: got no column 'Tair'; expected one of its columns: 'Time', 'U1', 'I1', 'P1', "
            "'U2', 'I2', 'P2', 'U3', 'I3', 'P3', 'Pac', 'Uac', 'G', 'T', 'Ta'.",
        ),
        (
            {"columns": {"ghi": "GG"}, "inverter": columns_of() | {"p_ac": "pac"}},
            "a.csv: got no column 'pac'; expected one of its columns: 'Time', 'U1', 'I1', 'P1', "
            "'U2', 'I2', 'P2', 'U3', 'I3', 'P3', 'Pac', 'Uac', 'G', 'T', 'Ta'. Did you mean 'Pac'?",
        ),
        (
            {"columns": {"poa_global": {"west rof": "G"}}},
            "columns.poa_global.west rof: got the plane 'west rof'; expected a plane of this site: "
            "'west roof', 'east roof', 'dormer'. Did you mean 'west roof'?",
        ),
        (
            {"columns": {"temp_module": {"barn": "T"}}},
            "Are these readings of another wiring or site?",
        ),
        (
            {"sensors": [{"plane": "dormer"}]},
            "sensors.0.plane: got a sensor on 'dormer', of which columns.poa_global has no light",
        ),
        (
            {"inverter": columns_of() | {"i_dc": {"MPPT 1": "I1", "MPTT 2": "I2"}}},
            "inverters.0.columns.i_dc.MPTT 2: got the input 'MPTT 2'; expected an input of "
            "'Three-tracker inverter 15 kW (invented)': 'MPPT 1', 'MPPT 2', 'MPPT 3'. Did you mean "
            "'MPPT 2'?",
        ),
        (
            {"inverter": {"v_dc": {"String A": "U1"}}},
            "got the input 'String A'; expected an input of 'Three-tracker inverter 15 kW "
            "(invented)': 'MPPT 1', 'MPPT 2', 'MPPT 3'. Are these readings of another wiring or",
        ),
        (
            {"inverter": {"v_dc": {"MPPT 1": "U1", "MPPT 2": "U2"}}},
            "log.yaml line 1, inverters: got no column of 'MPPT 3', which the wiring 'one plane "
            "per tracker' uses; expected v_dc, i_dc, p_dc or e_dc of every wired input. Name its "
            "columns, or the wiring that was built.",
        ),
        ({"inverter": {"p_ac": "Pac"}}, "Are these readings of another wiring or site? Name its"),
        (
            {"inverter": columns_of() | {"e_dc": {"MPPT 1": "G"}}},
            "inverters.0.columns.e_dc: got e_dc beside p_dc of MPPT 1; expected one of the two.",
        ),
        (
            {"inverter": columns_of() | {"e_ac": "G"}},
            "got e_ac beside p_ac; expected one of the two",
        ),
        (
            {"inverter": columns_of() | {"v_dc": dict.fromkeys(INPUTS, "U1")}},
            "got the column 'U1' for v_dc of 'MPPT 1' and for v_dc of 'MPPT 2'; expected a column "
            "of its own for each.",
        ),
        (
            {"inverter": columns_of() | {"v_dc": {"MPPT 1": None}}},
            "expected a column behind every input, such as {MPPT 1: U1, MPPT 2: U2}",
        ),
        (
            {"inverters": [{"name": "annex", "columns": columns_of()}]},
            "inverters.0.name: got the inverter 'annex'; expected an inverter of this site: 'Three",
        ),
        (
            {"inverters": [{"columns": columns_of()}, {"columns": columns_of()}]},
            "inverters.1: got the inverter 'Three-tracker inverter 15 kW (invented)' again",
        ),
        (
            {"inverters": [{"columns": columns_of() | {"time": "At"}}]},
            "columns.time: got a column of its own for time, and no files of its own; expected",
        ),
        (
            {"inverters": [{"files": "a.csv", "columns": columns_of()}]},
            "files: got files that no column is read from; expected columns of sensors or of an",
        ),
        ({"wiring": "lopsidet"}, "Did you mean 'lopsided'?"),
        (
            {"inverter": columns_of() | {"e_ac": "G", "p_ac": None}},
            "a.csv, G: got an energy counter without a unit; expected Wh, kWh or MWh. Write units: "
            "{e_ac: kWh} into the log's description.",
        ),
        ({"units": {"p_dc": "MW"}}, "units.p_dc: got 'MW'; expected one of 'W', 'kW'"),
        ({"units": {"p_dc": "kW"}}, "Are they W, called kW? Write units: {p_dc: W}"),
        ({"date_format": "%q"}, "a.csv, Time: got the format '%q'; expected signs as C's"),
        ({"date_format": "%d.%m.%Y"}, "144 of 144 rows without a time that can be read, such as"),
        ({"encoding": "utf-17"}, "encoding: got 'utf-17'; expected the name of an encoding"),
        ({"decimal": ";"}, "decimal: got ';'; expected one of ',', '.'"),
        ({"wind_height_m": -2}, "wind_height_m: got -2; expected a number above 0"),
    ],
)
def test_a_description_that_is_wrong_says_so_with_its_line(tmp_path, keys, told):
    inverter = keys.pop("inverter", None)
    if inverter is not None:
        inverter = {key: value for key, value in inverter.items() if value is not None}
    assert told in refused(tmp_path, inverter=inverter, **keys)


def head(**names):
    """Return the day's table with other names of columns."""
    return {"a.csv": written(DAY, names=[names.get(name, name) for name in DAY.columns])}


def changed(**columns):
    """Return the day's table with other values."""
    return {"a.csv": written(DAY.assign(**columns))}


def grown(*names):
    """Return the day's table with counters in the place of powers."""
    return changed(**{name: (DAY[name].cumsum() / 6.0).round() for name in names})


LINES = TEXT.splitlines()
NAMES = LINES[0]


@pytest.mark.parametrize(
    ("tables", "keys", "told"),
    [
        ({"a.csv": ""}, {}, "a.csv: got an empty file; expected a table with a line of names and"),
        ({"a.csv": NAMES}, {}, "a.csv: got names of columns and no row under them; expected rows"),
        ({"a.csv": "\n".join(LINES[:2])}, {}, "a.csv: got 1 rows with a time of their own"),
        (
            {"a.csv": b"PK\x03\x04rest"},
            {},
            "a.csv: got a spreadsheet's own form, or a packed file; expected a table as text "
            "(CSV), or parquet. Open it in the spreadsheet, choose Save As with the type CSV",
        ),
        ({"a.csv": b"\xd0\xcf\x11\xe0old"}, {}, "a.csv: got a spreadsheet's own form"),
        (
            {"a.csv": b"PAR1 and no more"},
            {},
            "a.csv: got parquet that can't be read (Could not",
        ),
        ({"a.csv": b"a\x00\x9d"}, {}, "Write encoding: ... into the log's description"),
        (head(U2="U1"), {}, "a.csv: got 2 columns 'U1'; expected each name once. Rename them"),
        (
            {"a.csv": TEXT.replace("2026-06-2", "day ")},
            {},
            "a.csv, Time: got no row with a date, but 'day 1 00:00'; expected dates with times of "
            "day, such as 2026-05-02 10:10. Write date_format in signs, such as '%d.%m.%Y %H:%M', "
            "into the log's description.",
        ),
        (
            {"a.csv": "\n".join([*LINES, *["no time,1"] * 60])},
            {},
            "60 of 204 rows without a time that can be read, such as 'no time'; expected times, "
            "such as '2026-06-21 00:00'",
        ),
        (
            {"a.csv": written(readings("2026-06-05"), stamp="%d/%m/%Y %H:%M")},
            {},
            "which may be day or month first; expected times whose day and month can be told "
            "apart. Write date_format: day-first, date_format: month-first, or the order in signs, "
            "such as date_format: '%d.%m.%Y %H:%M', into the log's description.",
        ),
        (
            {"a.csv": TEXT.replace("2026-06-21 ", "1781996400").replace(":", "")},
            {},
            "such as 2026-05-02 10:10. Seconds since 1970? Export times as dates.",
        ),
        ({"a.csv": TEXT.replace("2026", "1926")}, {}, "a time of the year 1926; expected times of"),
        (
            {"a.csv": "\n".join([NAMES, *(line.replace(".", "!") for line in LINES[1:])])},
            {},
            "that are no numbers",
        ),
        (
            {"a.csv": written(readings(days=60, step=24 * 6 * STEP))},
            {},
            "a.csv: got steps of 24 hours; expected steps between one second and one hour. Totals "
            "of hours or days?",
        ),
        (
            {"a.csv": TEXT, "b.csv": written(readings("2026-06-22", days=2, step=STEP / 2))},
            {},
            "a.csv and 1 more: got 144 steps of 600 s from 2026-06-20 23:00 UTC on, and steps of "
            "300 s elsewhere; expected steps of one length. A change of step inside the log?",
        ),
        (
            {"a.csv": "\n".join([*LINES, *(line.replace(":", ":0", 1) for line in LINES[1:])])},
            {},
            "rows without a time",
        ),
        (
            {
                "a.csv": "\n".join(
                    [
                        NAMES,
                        *(
                            f"{e[:16]}{'' if k % 3 else ':47'}{e[16:]}"
                            for k, e in enumerate(LINES[1:])
                        ),
                    ]
                )
            },
            {},
            "times beside a raster of ",
        ),
        (
            {"a.csv": "\n".join([*LINES, *(e.replace(",4", ",3") for e in LINES[1:])])},
            {},
            "a.csv: got 90 of 144 times several times with other readings",
        ),
        (
            {"a.csv": TEXT, "b.csv": written(readings("2031-06-21"))},
            {},
            "got no row for 1,825 days after 2026-06-21 22:50 UTC",
        ),
        (
            {"a.csv": written(readings("2026-03-29"))},
            {"zone": "Europe/Berlin", "clock": "wall"},
            "a.csv: got 2026-03-29 02:00, which a clock on the wall skips in spring; expected "
            "times that such a clock shows. Standard time all year? Write clock: standard into",
        ),
        (
            head(P1="P1 [kWh]"),
            {"inverter": columns_of() | {"p_dc": {"MPPT 1": "P1 [kWh]"}}},
            "a.csv, P1 [kWh]: got the unit 'kWh', an energy; expected a power in W or kW or MW. "
            "Energy where power is asked. Write e_dc in place of p_dc if it is a counter that adds "
            "up; energies of single steps times the steps of an hour are the power.",
        ),
        (
            head(Pac="Pac [kW]"),
            {"inverter": columns_of(ac=False) | {"e_ac": "Pac [kW]"}},
            "a.csv, Pac [kW]: got the unit 'kW', a power; expected Wh or kWh or MWh. Write p_ac in",
        ),
        (
            head(U1="U1 (A)"),
            {"inverter": columns_of() | {"v_dc": {"MPPT 1": "U1 (A)"}}},
            "a.csv, U1 (A): got the unit 'A'; expected v_dc in V or mV or kV. Another column?",
        ),
        (
            head(Pac="Pac [kVA]"),
            {"inverter": columns_of() | {"p_ac": "Pac [kVA]"}},
            "got the unit 'kVA'; expected p_ac in W or kW or MW",
        ),
        (
            head(Pac="Pac [W]"),
            {"inverter": columns_of() | {"p_ac": "Pac [W]"}, "units": {"p_ac": "kW"}},
            "a.csv, Pac [W]: got the unit 'W' in the table, and units.p_ac: kW in the description; "
            "expected one unit. Leave units.p_ac out, or correct the table's head.",
        ),
        (
            head(G="G [kW/m2]"),
            {"columns": {"ghi": "G [kW/m2]"}},
            "a.csv, G [kW/m2]: got the unit 'kW/m2'; expected W/m2. Multiply its values by 1000",
        ),
        (
            head(G="G [Wh/m2]"),
            {"columns": {"ghi": "G [Wh/m2]"}},
            "a.csv, G [Wh/m2]: got the unit Wh/m2, an energy; expected W/m2, means over the step.",
        ),
        (
            grown("Pac"),
            {},
            "in afternoons and fall never; expected a power, which falls towards the evening. An "
            "energy counter that adds up? Write e_ac in place of p_ac, with its unit.",
        ),
        (grown("P1", "P2", "P3"), {}, "Write e_dc in place of p_dc, with its unit."),
        (
            changed(**{name: 0.0 for name in DAY if name[0] in "IP"}),
            {},
            "a.csv: got no current and no power above zero in any step; expected readings of days "
            "on which the plant ran. The wrong columns, or a plant that was switched off?",
        ),
        (
            changed(P1=-DAY["P1"]),
            {},
            "a.csv, p_dc of MPPT 1: got -",
        ),
        (changed(I2=-DAY["I2"]), {}, "A sign turned round, or the column of another meter?"),
        (
            changed(**{name: DAY[name] / 1000.0 for name in ("P1", "P2", "P3", "Pac")}),
            {},
            "a.csv, p_ac: got no more than 13.5 W; expected about 1.5e+04 W on a bright day. Are "
            "they kW? Write units: {p_ac: kW} into the log's description.",
        ),
        (
            changed(U3=DAY["U3"] * 10),
            {},
            "a.csv, v_dc of MPPT 3: got 2,",
        ),
        (changed(I1=DAY["I1"] * 10), {}, "Readings of another wiring or site, or a decimal sign"),
        (
            changed(Uac=DAY["Uac"] * 3**0.5),
            {},
            "Voltages between phases? Divide them by 1.732.",
        ),
        (changed(I1=np.nan), {}, "a.csv, i_dc of MPPT 1: got no reading in any step; expected"),
        (
            changed(Ta=np.nan),
            {"columns": {"ghi": "G", "temp_air": "Ta"}},
            "a.csv, temp_air: got no value in any of 144 steps; expected a column with values. "
            "Leave temp_air out of the log's description, or take another column.",
        ),
        (
            changed(G=DAY["G"] / 1000.0),
            {"columns": {"ghi": "G", "temp_air": "Ta"}},
            "a.csv, ghi: got a maximum of 0.95; expected W/m2. Is the column in kW/m2 or kWh/m2?",
        ),
        (
            {"a.csv": written(DAY, ";", ",").replace("420,", "420.")},
            {},
            "Write decimal: ',' or decimal: '.' into the log's description.",
        ),
    ],
)
def test_tables_that_cannot_be_read_say_why(tmp_path, tables, keys, told):
    inverter = keys.get("inverter")
    if inverter is not None and set(inverter.get("v_dc", {})) == {"MPPT 1"}:
        inverter = inverter | {"p_dc": columns_of()["p_dc"]}
    if inverter is not None and len(inverter.get("p_dc", INPUTS)) == 1:
        inverter = inverter | {"i_dc": columns_of()["i_dc"]}
    assert told in refused(tmp_path, tables, **(keys | {"inverter": inverter}))


def test_tables_of_different_steps_or_rasters_are_not_one_log(tmp_path):
    own = [{"files": "b.csv", "columns": columns_of()}]
    keys = {"columns": {"ghi": "G", "temp_air": "Ta"}, "files": "a.csv", "inverters": own}
    told = refused(tmp_path, {"a.csv": TEXT, "b.csv": written(readings(step=STEP / 2))}, **keys)
    assert "files: got steps of 600 s in a.csv, 300 s in b.csv; expected tables of one step" in told
    late = readings()
    late.index = late.index + pd.Timedelta("5min")
    told = refused(tmp_path, {"a.csv": TEXT, "b.csv": written(late)}, **keys)
    assert "a.csv, b.csv: got tables whose steps begin at other seconds than one another's" in told
    assert "Is one of them labelled otherwise?" in told


def test_readings_of_another_wiring_are_not_taken_for_this_one(tmp_path):
    own = "dormer in series with east"
    told = refused(tmp_path, asked="lopsided", wiring=own)
    assert told == (
        f"log.yaml line 1, wiring: got readings of the wiring '{own}'; expected readings of "
        "'lopsided'. Name the wiring that was built, in one of the two places."
    )
    # In that wiring one input is idle.
    told = refused(tmp_path, wiring=own)
    assert f"to which the wiring '{own}' has nothing wired; expected an input in use." in told
    assert "Name the wiring that was built, or leave the input out." in told
    log = yieldkit.read_log(described(tmp_path, {"a.csv": TEXT}), site(), "lopsided")
    assert log.data.attrs["wiring"] == "lopsided"
    log = yieldkit.read_log(described(tmp_path, {"a.csv": TEXT}, wiring="lopsided"), site())
    assert log.data.attrs["wiring"] == "lopsided"


def test_of_several_inverters_each_is_named(tmp_path):
    two = several.twice()
    told = refused(tmp_path, own=two)
    assert "inverters.0.name: got no name of an inverter; expected an inverter of this" in told
    assert "'north', 'south'" in told
    north, south = ({"name": name, "columns": columns_of()} for name in ("north", "south"))
    told = refused(tmp_path, own=two, inverters=[north])
    assert "got no column of 'south / MPPT 1', 'south / MPPT 2', 'south / MPPT 3', which" in told
    tables = {
        "a.csv": TEXT,
        "b.csv": changed(**{n: DAY[n] / 2 for n in ("I1", "P1", "Pac")})["a.csv"],
    }
    keys = {"files": "a.csv", "inverters": [south | {"files": "b.csv"}, north]}
    log = yieldkit.read_log(described(tmp_path, tables, **keys), two)
    assert log.data["inverter"].values.tolist() == ["north", "south"]
    assert log.data["tracker"].values.tolist() == [
        f"{one} / {name}" for one in ("north", "south") for name in INPUTS
    ]
    np.testing.assert_array_equal(log.data["i_dc"].sel(tracker="north / MPPT 1"), DAY["I1"])
    np.testing.assert_array_equal(log.data["i_dc"].sel(tracker="south / MPPT 1"), DAY["I1"] / 2)
    np.testing.assert_array_equal(log.data["p_ac"].sel(inverter="south"), DAY["Pac"] / 2)
    assert log.counted.all()


def test_a_table_where_a_description_is_needed_is_told_with_its_columns(tmp_path):
    (tmp_path / "day.csv").write_text("Plant 7\n\n" + TEXT, encoding="utf-8")
    with pytest.raises(InputError, match="a table with the columns") as caught:
        yieldkit.read_log(tmp_path / "day.csv", site())
    assert str(caught.value) == (
        "day.csv: got a table with the columns 'Time', 'U1', 'I1', 'P1', 'U2', 'I2', 'P2', 'U3', "
        "'I3', 'P3', 'Pac', 'Uac', 'G', 'T', 'Ta'; expected a description (YAML) that says which "
        "column holds what, with zone and label. "
        f"`yieldkit review {(tmp_path / 'day.csv').as_posix()} SITE --describe` writes one to "
        "fill in, with your site file for SITE."
    )
    with pytest.raises(
        InputError, match=r"got a file that can't be read .*yieldkit review TABLE --describe"
    ):
        yieldkit.read_log(tmp_path / "none.yaml", site())
    with pytest.raises(InputError, match=r"got a file that can't be read"):
        yieldkit.read_log(tmp_path / "none.csv", site())
    (tmp_path / "empty.csv").write_text("", encoding="utf-8")
    with pytest.raises(InputError, match=r"empty\.csv: got an empty file"):
        yieldkit.read_log(tmp_path / "empty.csv", site())


def test_a_description_to_fill_in_is_written_from_the_tables_head(tmp_path):
    (tmp_path / "logs").mkdir()
    table = tmp_path / "logs" / "day 1.csv"
    own = written(DAY, ";", ",", "%d.%m.%Y %H:%M", names=[*DAY.columns[:-1], "T_a [°C]"])
    table.write_text("Plant 7\n" + own, encoding="cp1252")
    path = yieldkit.start_log(table, site(), description=tmp_path / "log.yaml")
    text = path.read_text(encoding="utf-8")
    assert "#   U1: 0 | 4" in text
    assert '#   "T_a [°C]": 18 | 2' in text
    assert 'files: ["logs/day 1.csv"]' in text
    # As it is nothing is guessed; each blank is asked for.
    with pytest.raises(InputError, match="zone: got nothing; expected text") as caught:
        yieldkit.read_log(path, site())
    for key in ("zone", "label", "v_dc", "i_dc", "p_dc"):
        assert f"{key}: got " in str(caught.value)
    for name, letter in (("v_dc", "U"), ("i_dc", "I"), ("p_dc", "P")):
        blank = f'{name}: {{"MPPT 1": , "MPPT 2": , "MPPT 3": }}'
        columns = ", ".join(f'"MPPT {n}": {letter}{n}' for n in (1, 2, 3))
        assert blank in text
        text = text.replace(blank, f"{name}: {{{columns}}}")
    text = text.replace("zone: ", "zone: UTC+01:00").replace("label: ", "label: start")
    path.write_text(text.replace("# p_ac: ", "p_ac: Pac"), encoding="utf-8")
    log = yieldkit.read_log(path, site())
    np.testing.assert_array_equal(log.data["p_ac"].values[:, 0], DAY["Pac"])
    with pytest.raises(InputError, match=r"log\.yaml: got a file that exists; expected a new name"):
        yieldkit.start_log(table, site(), description=path)
    with pytest.raises(InputError, match=r"got a file that is not there.*Did you mean 'day 1.csv'"):
        yieldkit.start_log(table.with_name("day1.csv"), site())
    (tmp_path / "text.csv").write_text("no table\nat all\n", encoding="utf-8")
    with pytest.raises(InputError, match=r"text\.csv: got no line of names of columns"):
        yieldkit.start_log(tmp_path / "text.csv", site())
    two = TEXT.replace("Time,", "Day,Hour,").replace(" 0", ",0").replace(" 1", ",1")
    (tmp_path / "two.csv").write_text(two.replace(" 2", ",2"), encoding="utf-8")
    told = yieldkit.start_log(tmp_path / "two.csv", site()).read_text(encoding="utf-8")
    assert "  time: Day\n  clock: Hour # the time of day\n" in told
    told = yieldkit.start_log(table, several.twice()).read_text(encoding="utf-8")
    assert "  - name: north\n" in told
    assert "  - name: south\n" in told
