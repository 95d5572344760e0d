"""What newcomers are told of energy: weather of another place, gaps, part of a year, thin air."""

import csv
import re
from pathlib import Path

import numpy as np
import pytest

from tests.cli.newcomer import YEAR, asked, days_of_year, energy, string_of, written

pytestmark = pytest.mark.slow

DEMO = Path(__file__).parents[2] / "site_configs" / "demo.yaml"
JUNE = {"weather": {"file": "own/june.csv"}}


def demo_at(path, moved=False, **place):
    """Write the demonstration at another place, its weather left as it was; return the path."""
    text = DEMO.read_text(encoding="utf-8")
    for key, value in place.items():
        text = re.sub(rf"(?m)^  {key}: .*$", f"  {key}: {value}", text)
    text = (
        text.replace("  format: canonical", "  format: canonical\n  moved: true") if moved else text
    )
    path.write_text(text, encoding="utf-8")
    return path


def columns(folder):
    """Return the columns of the one saved series: name to values."""
    (path,) = [each for each in folder.glob("*.csv") if "losses" not in each.name]
    with path.open(encoding="utf-8", newline="") as opened:
        head, *rows = csv.reader(opened)
    return {name: [row[at] for row in rows] for at, name in enumerate(head)}


def kilo(table, name):
    """Return the sum of a column in thousands, over hours."""
    return np.array(table[name], dtype=float).sum() / 1000.0


@pytest.mark.parametrize(
    ("place", "km"),
    [
        ({"longitude": 20.0}, "943 km"),
        ({"latitude": -33.9, "longitude": 151.0, "time_zone": "UTC+10:00"}, "16,642 km"),
    ],
    ids=["45 N 20 E", "33.9 S 151 E"],
)
def test_weather_of_another_place_is_refused(place, km, tmp_path, capsys):
    code, said = asked(capsys, "simulate", demo_at(tmp_path / "my.yaml", **place))
    assert code == 2
    assert f"250 m, {km} from the site" in said


def test_weather_moved_on_purpose_keeps_its_whole_sun(tmp_path, capsys):
    # Its own sun gives the planes 1,419 and 1,317 kWh/m2; the sun of 20 E made 1,514 and 1,203.
    site = demo_at(tmp_path / "my.yaml", moved=True, longitude=20.0)
    code, said = asked(capsys, "simulate", site, "--out", tmp_path / "out")
    assert code == 0
    assert "weather moved on purpose" in said
    table = columns(tmp_path / "out")
    assert kilo(table, "poa_global west roof [W/m2]") == pytest.approx(1419, abs=1)
    assert kilo(table, "poa_global east roof [W/m2]") == pytest.approx(1317, abs=1)


def holed(row):
    """Return a row of June, or nothing in a gap of 282 h from one daylit hour to another."""
    hour = 24 * (int(row[0][8:10]) - 1) + int(row[0][11:13])
    return None if 227 <= hour < 227 + 282 else row


def test_a_long_gap_is_never_filled_with_light(tmp_path, capsys):
    days_of_year(tmp_path / "own" / "june.csv", "06-01", "06-30", holed)
    written(tmp_path / "my.yaml", weather=JUNE["weather"] | {"fill_gaps_up_to_h": 281.783})
    code, said = asked(capsys, "simulate", tmp_path / "my.yaml")
    assert code == 2
    assert "fill_gaps_up_to_h: got 281.783; expected" in said
    written(tmp_path / "my.yaml", **JUNE)
    code, said = asked(capsys, "simulate", tmp_path / "my.yaml", "--out", tmp_path / "out")
    assert code == 0
    assert "Set fill_gaps_up_to_h" not in said
    assert "282 steps missing" in said
    table = columns(tmp_path / "out")
    night = np.array([each[11:13] == "00" for each in next(iter(table.values()))])
    light = np.array([float(each or "nan") for each in table["poa_global south [W/m2]"]])
    assert np.nanmax(light[night]) == 0.0


def test_thirty_days_are_no_year(tmp_path, capsys):
    days_of_year(tmp_path / "own" / "june.csv", "06-01", "06-30")
    written(tmp_path / "my.yaml", wirings={"a": [string_of(20)], "b": [string_of(19)]}, **JUNE)
    code, said = asked(capsys, "compare", tmp_path / "my.yaml", "--no-report")
    assert code == 0
    assert "in the 30 days of this file" in said
    assert "kWh a year" not in said
    assert "nothing is scaled up" in said


def spoiled(column, change, only=None):
    """Return a change of one column's values in rows, or in one row only."""
    at = ("time", "ghi", "dni", "dhi", "temp_air", "wind_speed", "pressure").index(column)

    def apply(row):
        if only is None or row[0].endswith(only):
            row[at] = change(row[at])
        return row

    return apply


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (spoiled("temp_air", lambda _: "-200", "06-15T11:00"), "degC, from -90 to 60"),
        (spoiled("temp_air", lambda _: "-127", "06-15T11:00"), "degC, from -90 to 60"),
        (spoiled("temp_air", lambda _: "-inf", "06-15T11:00"), "degC, from -90 to 60"),
        (
            spoiled("pressure", lambda pascals: str(float(pascals) / 100)),
            "Is the column in hPa (millibar)?",
        ),
    ],
    ids=["-200", "-127", "-inf", "hPa"],
)
def test_values_that_no_weather_has_are_refused(change, said, tmp_path, capsys):
    days_of_year(tmp_path / "own" / "june.csv", "06-01", "06-30", change)
    written(tmp_path / "my.yaml", **JUNE)
    code, told = asked(capsys, "simulate", tmp_path / "my.yaml")
    assert code == 2
    assert said in told


@pytest.mark.parametrize("hours", [3, 800])
def test_a_column_without_values_is_refused_whatever_gaps_may_be_filled(hours, tmp_path, capsys):
    nothing = spoiled("temp_air", lambda _: "nan")
    days_of_year(tmp_path / "own" / "june.csv", "06-01", "06-30", nothing)
    written(tmp_path / "my.yaml", weather=JUNE["weather"] | {"fill_gaps_up_to_h": hours})
    code, told = asked(capsys, "simulate", tmp_path / "my.yaml")
    assert code == 2
    assert ("no value in any" in told) == (hours == 3)


def test_a_voltage_series_is_joined_by_its_times(tmp_path, capsys):
    days_of_year(tmp_path / "own" / "june.csv", "06-01", "06-30")
    rows = [row.split(",")[0] for row in YEAR.read_text(encoding="utf-8").splitlines()[2:]]
    of_june = [at for at, time in enumerate(rows) if "06-01" <= time[5:10] <= "06-30"]
    answers = []
    for shift in (0, 12):
        lines = [f"{rows[at + shift]},{230 + at % 7}" for at in of_june]
        text = "\n".join(["time,voltage", *lines, ""])
        (tmp_path / "volts.csv").write_text(text, encoding="utf-8")
        grid = {
            "lead": {"length_m": 20, "cross_section_mm2": 6},
            "network_voltage": {"kind": "series", "file": "volts.csv"},
        }
        written(tmp_path / "my.yaml", grid=grid, **JUNE)
        answers.append(asked(capsys, "simulate", tmp_path / "my.yaml"))
    assert answers[0][0] == 0
    assert answers[1][0] == 2
    assert "volts.csv" in answers[1][1]


def test_altitude_takes_its_share_without_a_temperature_curve(tmp_path, capsys):
    # 4 % per 100 m above 1,000 m: at 1,900 m 64 % of 15 kW are left, 9.6 kW.
    strings = {"own": [string_of(18)] * 3}
    side = {"nominal_power_w": 15000, "max_power_w": 15000, "phases": 3, "nominal_voltage_v": 230}
    high = {"wirings": strings, "site": {"altitude_m": 1900}}
    thin = {"above_m": 1000, "percent_per_100_m": 4}
    written(tmp_path / "low.yaml", **high, inverter={"ac": side})
    written(tmp_path / "high.yaml", **high, inverter={"ac": side, "altitude_derating": thin})
    got = []
    for name in ("low", "high"):
        code, said = asked(capsys, "simulate", tmp_path / f"{name}.yaml", "--out", tmp_path / name)
        assert code == 0
        got.append(energy(said))
    power = np.array(columns(tmp_path / "low")["p_ac [W]"], dtype=float)
    by_hand = np.minimum(power, 0.64 * 15000).sum() / 1000.0
    assert got[1] == pytest.approx(by_hand, rel=2e-3)
    assert got[1] < 0.95 * got[0]


@pytest.fixture
def far_away(tmp_path, monkeypatch):
    """Return a site file with weather beside it by a relative path, while working elsewhere."""
    days_of_year(tmp_path / "plans" / "own" / "june.csv", "06-01", "06-30")
    grid = {"lead": {"length_m": 20, "cross_section_mm2": 6}, "profile": "en-50549-1"}
    site = written(tmp_path / "plans" / "my.yaml", grid=grid, **JUNE)
    (tmp_path / "elsewhere").mkdir()
    monkeypatch.chdir(tmp_path / "elsewhere")
    return site


def test_compare_with_a_lead_and_weather_by_a_relative_path_saves_its_results(far_away, capsys):
    code, said = asked(capsys, "compare", far_away, "--no-report", "--out", "results")
    assert code == 0, said
    assert {each.suffix for each in Path("results").iterdir()} >= {".csv", ".nc"}


def test_a_proposal_saved_into_a_site_finds_the_weather_again(far_away, capsys):
    words = ("propose", far_away, "--no-report", "--draws", 0, "--out", "ranked")
    code, said = asked(capsys, *words, "--save-site", "third/best.yaml")
    assert code == 0, said
    assert asked(capsys, "simulate", "third/best.yaml")[0] == 0


def test_compare_recommends_nothing_above_the_limit_at_25_degc(tmp_path, capsys):
    # 27 x 38.9 V = 1,050 V.
    days_of_year(tmp_path / "own" / "june.csv", "06-01", "06-30")
    two = {"of 27": [string_of(27)], "of 24": [string_of(24)]}
    written(tmp_path / "my.yaml", wirings=two, cold_known=False, **JUNE)
    code, said = asked(capsys, "compare", tmp_path / "my.yaml", "--no-report")
    assert code == 0
    assert "best of those with nothing forbidden" in said
    assert re.search(r"'of 2\d'|of 2\d", said).group().strip("'") == "of 24", said
