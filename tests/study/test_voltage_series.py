"""A measured series of the network's voltage is joined by its times, not by its rows."""

import numpy as np
import pandas as pd
import pytest

from tests.study.sites import demo_mapping
from tests.weather.clear_sky import minutes
from yieldkit.base.errors import InputError
from yieldkit.config.reading.changes import changed
from yieldkit.config.site.files import site_from_mapping
from yieldkit.study.simulation.network_voltage import network_voltage
from yieldkit.study.simulation.prepare import prepare
from yieldkit.study.simulation.weather import site_weather
from yieldkit.weather.readers.canonical import Sampling, Station, from_frame

pytestmark = pytest.mark.slow

STATION = Station(45.0, 8.0, 200.0, 3600, 10.0)
SERIES = "grid.network_voltage"


@pytest.fixture(scope="module")
def weather():
    """Return three clear days of hourly means, local time UTC+01:00."""
    table = minutes().resample("60min").mean().iloc[23 : 23 + 72]
    return from_frame(table, STATION, Sampling("mean", "start"))


def volts(weather, step="60min"):
    """Return times by the local clock and voltages that tell the hour."""
    first = pd.DatetimeIndex(weather.indexes["time"])[0] + pd.Timedelta("1h")
    times = pd.date_range(
        first, periods=int(72 * pd.Timedelta("60min") / pd.Timedelta(step)), freq=step
    )
    return pd.DataFrame({"time": times, "note": 1, "volts": 225.0 + times.hour / 2.0})


def joined(folder, table, weather, text=None, **described):
    """Return the voltages at the weather's steps."""
    path = folder / "volts.csv"
    path.write_text(table.to_csv(index=False) if text is None else text, encoding="utf-8")
    entry = {"kind": "series", "file": "volts.csv", **described}
    content = changed(demo_mapping(), {SERIES: entry})
    return network_voltage(prepare(site_from_mapping(content, folder=folder), weather))


def expected(weather):
    """Return the voltages that belong to the weather's steps."""
    return 225.0 + (pd.DatetimeIndex(weather.indexes["time"]) + pd.Timedelta("1h")).hour / 2.0


def test_rows_in_any_order_are_joined_by_their_times(tmp_path, weather):
    table = volts(weather)
    assert joined(tmp_path, table, weather) == pytest.approx(expected(weather))
    mixed = table.sample(frac=1.0, random_state=1)
    assert joined(tmp_path, mixed, weather) == pytest.approx(expected(weather))


def test_a_shift_of_half_a_day_is_refused(tmp_path, weather):
    table = volts(weather)
    table["time"] += pd.Timedelta("12h")
    with pytest.raises(InputError, match="no voltage in 12 of the weather's 72 steps") as refused:
        joined(tmp_path, table, weather)
    assert "the first at 2019-06-02 00:00 (UTC+01:00)" in str(refused.value)
    assert "another is written as zone: UTC+01:00 into grid.network_voltage" in str(refused.value)


def test_zone_label_and_offsets_count(tmp_path, weather):
    in_utc = volts(weather)
    in_utc["time"] -= pd.Timedelta("1h")
    assert joined(tmp_path, in_utc, weather, zone="UTC") == pytest.approx(expected(weather))
    at_end = volts(weather)
    at_end["time"] += pd.Timedelta("1h")
    assert joined(tmp_path, at_end, weather, label="end") == pytest.approx(expected(weather))
    with_offset = volts(weather)
    with_offset["time"] = with_offset["time"].dt.strftime("%Y-%m-%dT%H:%M+01:00")
    assert joined(tmp_path, with_offset, weather, zone="UTC") == pytest.approx(expected(weather))


def test_shorter_steps_are_averaged(tmp_path, weather):
    table = volts(weather, "10min")
    table["volts"] += np.tile([-3.0, 3.0], len(table) // 2)
    assert joined(tmp_path, table, weather) == pytest.approx(expected(weather))


def test_a_spreadsheets_file_is_read(tmp_path, weather):
    table = volts(weather)
    table["time"] = table["time"].dt.strftime("%d.%m.%Y %H:%M")
    text = table.to_csv(index=False, sep=";", decimal=",")
    assert joined(tmp_path, table, weather, text) == pytest.approx(expected(weather))


def test_a_measured_year_is_joined_to_a_typical_one_by_its_dates(tmp_path):
    site = demo_mapping()
    weather = site_weather(site_from_mapping(site))
    times = pd.date_range("2024-01-01", "2024-12-31 23:00", freq="h")
    table = pd.DataFrame({"time": times, "volts": 220.0 + times.hour / 4.0 + times.month})
    path = tmp_path / "volts.csv"
    table.to_csv(path, index=False)
    entry = {"kind": "series", "file": "volts.csv"}
    content = changed(site, {SERIES: entry})
    prepared = prepare(site_from_mapping(content, folder=tmp_path), weather)
    local = pd.DatetimeIndex(weather.indexes["time"]) + pd.Timedelta("1h")
    assert network_voltage(prepared) == pytest.approx(220.0 + local.hour / 4.0 + local.month)


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"volts": 400.0}, "The voltage between phases?"),
        ({"volts": -999.0}, "A mark for missing values?"),
        ({"volts": np.inf}, "voltages from inf to inf V"),
        ({"volts": "x"}, "72 of them missing or no number, the first in row 1 of the table"),
    ],
)
def test_what_is_no_voltage_is_refused(tmp_path, weather, change, sentence):
    with pytest.raises(InputError, match="expected") as refused:
        joined(tmp_path, volts(weather).assign(**change), weather)
    assert sentence in str(refused.value)


def test_questions_about_the_file(tmp_path, weather):
    table = volts(weather)
    with pytest.raises(InputError, match=r"network_voltage\.column: got 'Volt'; expected one of"):
        joined(tmp_path, table, weather, column="Volt")
    with pytest.raises(InputError, match=r"network_voltage\.time: got 'Time'.*Did you mean 'time'"):
        joined(tmp_path, table, weather, time="Time")
    with pytest.raises(InputError, match="joined by its times, not by its rows"):
        joined(tmp_path, table[["volts"]], weather)
    with pytest.raises(InputError, match="1 times twice, the first"):
        joined(tmp_path, pd.concat([table, table.iloc[:1]]), weather)
