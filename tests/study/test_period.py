"""What may be called a year, and the energy of time with gaps in it."""

import numpy as np
import pandas as pd
import pytest

from tests.study.sites import weather
from yieldkit.physics.irradiance.sun import sun_position
from yieldkit.study.simulation.period import covered_period
from yieldkit.weather.readers.canonical import Sampling, Station, from_frame, sun_of

pytestmark = pytest.mark.slow

PLACE = Station(45.0, 8.0, 250.0, 3600, 10.0)


def plain(first, last, step="h", place=PLACE, gone=None, typical=False, zone_h=1):
    """Return weather without features between two local times, some of its steps taken away."""
    local = pd.date_range(first, last, freq=step, inclusive="left")
    utc = (local - pd.Timedelta(hours=zone_h)).tz_localize("UTC")
    middle = utc + pd.Timedelta(step if step[0].isdigit() else f"1{step}") / 2
    sun = sun_position(middle, place.latitude, place.longitude, place.altitude_m)
    cosine = np.maximum(np.cos(np.radians(sun.zenith)), 0.0)
    table = pd.DataFrame(
        {"ghi": 500.0 * cosine, "dni": 400.0 * (cosine > 0), "dhi": 100.0 * cosine}, index=utc
    )
    table["temp_air"], table["wind_speed"] = 10.0, 2.0
    if gone is not None:
        table = table.loc[~gone(local)]
    return from_frame(table, place, Sampling("mean", "start"), typical=typical)


def period(dataset):
    """Return the period of a Dataset by its own sun."""
    attrs = dataset.attrs
    place = (attrs["latitude"], attrs["longitude"], attrs["altitude_m"])
    return covered_period(dataset, sun_of(dataset), place)


def test_a_whole_year_is_a_year_and_says_nothing_more():
    found = period(plain("2021-01-01", "2022-01-01"))
    assert (found.years, found.per, found.remarks()) == (1, "a year", ())
    assert found.by_month == pytest.approx([1.0] * 12)
    assert found.days == pytest.approx(365.0)


@pytest.mark.parametrize(
    ("first", "last"),
    [
        ("2020-01-01", "2021-01-01"),
        ("2021-01-15", "2022-01-15"),
        ("2021-01-01", "2022-01-01 01:00"),
    ],
    ids=["leap year", "from any day on", "one label more"],
)
def test_a_year_may_begin_anywhere(first, last):
    assert period(plain(first, last)).per == "a year"


def test_the_typical_year_stays_a_year():
    found = period(weather())
    assert (found.years, found.per, found.remarks()) == (1, "a year", ())


def test_months_of_several_years_put_together_stay_a_year():
    whole = [
        plain(
            f"{2000 + month}-{month:02d}-01",
            pd.Timestamp(2000 + month, month, 1) + pd.offsets.MonthBegin(),
        )
        for month in range(1, 13)
    ]
    frames = [
        each.to_dataframe().drop(columns="filled", errors="ignore").tz_localize("UTC")
        for each in whole
    ]
    joined = from_frame(pd.concat(frames), PLACE, Sampling("mean", "start"), typical=True)
    assert period(joined).per == "a year"


@pytest.mark.parametrize(
    ("first", "last", "said"),
    [
        ("2021-06-01", "2021-07-01", "in the 30 days of this file"),
        ("2021-01-01", "2021-12-01", "in the 334 days of this file"),
        ("2021-01-01", "2022-07-01", "in the 546 days of this file"),
        ("2021-01-01", "2022-01-11", "in the 375 days of this file"),
        ("2021-06-01", "2021-06-02", "in the 1 day of this file"),
    ],
    ids=["30 days", "11 months", "18 months", "a year and ten days", "a day"],
)
def test_anything_else_is_a_span(first, last, said):
    found = period(plain(first, last))
    assert found.per == said
    assert not found.is_year
    assert "nothing is scaled up" in found.remarks()[0]


def test_a_span_names_what_it_lacks():
    found = period(plain("2021-01-01", "2021-12-01"))
    assert "lacking in Dec." in found.remarks()[0]
    assert found.by_month[11] == 0.0
    found = period(plain("2021-01-01", "2022-07-01"))
    assert "no whole number of years" in found.remarks()[0]


def test_whole_years_are_averaged_and_said():
    found = period(plain("2019-01-01", "2022-01-01"))
    assert (found.years, found.per) == (3, "a year (mean of 3)")
    assert "3 whole years" in found.remarks()[0]


def test_one_bad_month_of_several_years_makes_a_span():
    def gone(local):
        return (local.year == 2020) & (local.month == 5)

    found = period(plain("2019-01-01", "2022-01-01", gone=gone))
    assert not found.is_year


@pytest.mark.parametrize(("days", "is_year"), [(1, True), (2, False)])
def test_a_month_may_lack_a_twentieth_of_its_daylight(days, is_year):
    # One day of June's 30 is 3.3 % of its daylight, two are 6.7 %.
    found = period(
        plain("2021-01-01", "2022-01-01", gone=lambda t: (t.month == 6) & (t.day <= days))
    )
    assert found.is_year == is_year
    assert found.by_month[5] == pytest.approx(1.0 - days / 30.0, abs=0.002)
    assert f"{24 * days} steps missing" in " ".join(found.remarks())


def test_missing_nights_cover_the_daylight():
    found = period(plain("2021-01-01", "2022-01-01", gone=lambda t: (t.hour < 3) | (t.hour > 21)))
    assert found.is_year
    assert found.coverage == 1.0
    assert found.missing_steps == 365 * 5 - 5  # the file ends with the last row it has


def test_filled_steps_are_not_covered():
    local = pd.date_range("2021-01-01", "2022-01-01", freq="h", inclusive="left")
    noon = (local.month == 3) & (local.hour == 12)
    table = plain("2021-01-01", "2022-01-01").to_dataframe().tz_localize("UTC")
    cut = table.loc[~noon]
    found = period(from_frame(cut, PLACE, Sampling("mean", "start"), fill_gaps_up_to_h=1.0))
    assert found.filled_steps == 31
    assert found.missing_steps == 0
    assert found.by_month[2] < 0.95
    assert not found.is_year
    assert found.days == pytest.approx(365.0)


def test_a_month_without_sun_must_be_there_all_the_same():
    north = PLACE._replace(latitude=69.6, longitude=18.9)
    assert period(plain("2021-01-01", "2022-01-01", place=north)).is_year
    without = plain(
        "2021-01-01", "2022-01-01", place=north, gone=lambda t: (t.month == 12) & (t.day < 31)
    )
    found = period(without)
    assert not found.is_year
    assert found.by_month[11] < 0.2


def test_days_taken_out_of_a_year_are_a_span():
    # Every tenth day only: neither steps nor days follow one another.
    year = weather()
    chosen = np.flatnonzero((np.arange(8760) // 24) % 10 == 5)
    found = period(year.isel(time=chosen))
    assert not found.is_year
    assert found.by_month[6] == pytest.approx(0.1, abs=0.03)
