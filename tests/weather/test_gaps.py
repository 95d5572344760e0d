"""Gaps in weather files: light is never invented, and what is filled or missing is counted."""

import json

import numpy as np
import pandas as pd
import pytest

from tests.weather.clear_sky import PLACE, minutes
from yieldkit.base.errors import InputError
from yieldkit.weather.readers.canonical import Sampling, from_frame


def hours():
    """Return a clear table of hours."""
    return minutes().resample("60min").mean()


def read(table, fill_h=0.0):
    """Return the Dataset of a table of hourly means."""
    return from_frame(table, PLACE, Sampling("mean", "start"), fill_gaps_up_to_h=fill_h)


def cut(table, first, number):
    """Return a table without some rows from a time in UTC on."""
    gone = pd.date_range(first, periods=number, freq="h", tz="UTC")
    return table.drop(index=gone)


@pytest.mark.parametrize("hours_asked", [3.01, 24.0, 281.783, 1e9])
def test_filling_beyond_three_hours_is_refused(hours_asked):
    with pytest.raises(InputError, match="nobody knows the light of longer gaps") as refused:
        read(hours(), hours_asked)
    sentence = str(refused.value)
    assert f"got {hours_asked:g}; expected no more than 3" in sentence
    assert "every total is of the time that is covered" in sentence


def test_no_message_offers_to_fill_a_long_gap():
    found = read(cut(hours(), "2019-06-04 00:00", 300))
    counted = json.loads(found.attrs["quality"])
    assert counted["missing_steps"] == 300
    assert counted["longest_gap_h"] == 300.0
    assert "Set fill_gaps" not in json.dumps(counted)


def test_light_is_filled_between_daylit_steps_only():
    # At 45 N 8 E in June the sun rises about 3:45 and sets about 19:10 UTC.
    day = read(cut(hours(), "2019-06-05 11:00", 3), 3.0)
    assert int(day["filled"].sum()) == 3
    dusk = read(cut(hours(), "2019-06-05 18:00", 3), 3.0)
    assert "filled" not in dusk
    assert json.loads(dusk.attrs["quality"])["missing_steps"] == 3
    night = read(cut(hours(), "2019-06-05 23:00", 2), 3.0)
    assert json.loads(night.attrs["quality"])["missing_steps"] == 2


def test_a_gap_across_a_short_night_brings_no_light_into_it():
    # 65 N in June: a night of about two hours between two daylit steps.
    north = PLACE._replace(latitude=65.0)
    table = hours()
    table["ghi"], table["dni"], table["dhi"] = 100.0, 0.0, 100.0
    gone = table.drop(index=pd.date_range("2019-06-05 22:00", periods=3, freq="h", tz="UTC"))
    found = from_frame(gone, north, Sampling("mean", "start"), fill_gaps_up_to_h=3.0)
    assert json.loads(found.attrs["quality"])["filled_steps"] == 0


def test_a_gap_longer_than_asked_is_not_begun():
    found = read(cut(hours(), "2019-06-05 09:00", 4), 3.0)
    assert int(found["ghi"].isnull().sum()) == 4
    assert "filled" not in found


def test_temperature_and_wind_are_filled_by_night_too():
    table = hours()
    night = pd.date_range("2019-06-05 22:00", periods=3, freq="h", tz="UTC")
    table.loc[night, ["temp_air", "wind_speed"]] = np.nan
    table.loc[night[0] - pd.Timedelta("1h"), "temp_air"] = 12.0
    found = read(table, 3.0)
    at = found.indexes["time"].get_indexer(night.tz_convert(None))
    assert found["temp_air"].to_numpy()[at] == pytest.approx([14.0, 16.0, 18.0])
    assert found["ghi"].to_numpy()[at] == pytest.approx([0.0, 0.0, 0.0])
    assert json.loads(found.attrs["quality"])["filled_steps"] == 3


def test_ends_are_never_filled():
    table = hours()
    table.iloc[:2, table.columns.get_loc("temp_air")] = np.nan
    table.iloc[-2:, table.columns.get_loc("temp_air")] = np.nan
    found = read(table, 3.0)
    assert found["temp_air"].isnull().to_numpy()[[0, 1, -2, -1]].all()


def test_a_row_of_another_century_is_refused():
    table = hours()
    index = table.index.to_list()
    index[-1] = pd.Timestamp("2081-06-20 23:00", tz="UTC")
    with pytest.raises(InputError, match="A wrong year in one of the rows") as refused:
        read(table.set_axis(pd.DatetimeIndex(index), axis="index"))
    assert "after 2019-06-20 22:00 UTC" in str(refused.value)


def test_a_file_with_nothing_whole_is_refused():
    table, half = hours(), 240
    table.iloc[:half, table.columns.get_loc("temp_air")] = np.nan
    table.iloc[half:, table.columns.get_loc("ghi")] = np.nan
    with pytest.raises(InputError, match="in each of them something missing"):
        read(table)


def test_bright_days_with_a_gap_do_not_lean_the_clock():
    # Only global light, every afternoon of half the days gone: the whole days still judge.
    table = minutes(first="2019-06-01", days=40, step_min=5).resample("60min").mean()
    local = table.index + pd.Timedelta("32min")
    gone = (local.hour >= 12) & (local.hour < 20) & (local.day % 2 == 0)
    found = read(table.loc[~gone, ["ghi", "temp_air", "wind_speed"]])
    assert json.loads(found.attrs["quality"])["clock"] == "agrees"
