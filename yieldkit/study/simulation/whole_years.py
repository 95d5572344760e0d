"""Of several weather files the years that are whole, and which are left out and why."""

from __future__ import annotations

import json
from typing import Any, NamedTuple

import numpy as np
import xarray as xr

from yieldkit.base.arrays import IntArray
from yieldkit.study.simulation.period import (
    MONTHS,
    YEAR_COVERED,
    Period,
    covered_period,
)
from yieldkit.weather.readers.canonical import sun_of
from yieldkit.weather.readers.years import spanned

_HALF_MONTH = np.timedelta64(15, "D")
_TOLD_DAYS = 2.0
"""A file's clock that isn't the site's leaves hours of a further year, which nobody misses."""


class WeatherYear(NamedTuple):
    """Twelve months of weather that follow one another.

    Parameters
    ----------
    name : str
        Such as "2015", or "2015-07 to 2016-06".
    weather : Dataset
        Canonical weather (time).
    """

    name: str
    weather: xr.Dataset


def weather_years(weather: xr.Dataset) -> tuple[WeatherYear, ...]:
    """Return weather year by year: twelve months each, from where it begins.

    Parameters
    ----------
    weather : Dataset
        Canonical weather (time), of one file or several.

    Returns
    -------
    tuple of WeatherYear
        Each stretch without a break cut into years of the local clock; a last one that is shorter
        is given as it is, and hours that another clock leaves over go with the year beside.
    """
    offset = np.timedelta64(int(weather.attrs["utc_offset_s"]), "s")
    local = np.asarray(weather.indexes["time"].to_numpy(), dtype="datetime64[ns]") + offset
    month = _months(local)
    found: list[WeatherYear] = []
    for stretch in _stretches(weather):
        first, last = _months(local[stretch[[0, -1]]] + np.array([_HALF_MONTH, -_HALF_MONTH]))
        last = max(first, last)
        number = (np.clip(month[stretch], first, last) - first) // 12
        for each in range(int(number[-1]) + 1):
            steps = stretch[number == each]
            if steps.size:
                name = _named(int(first) + 12 * each, int(last))
                found.append(WeatherYear(name, _cut(weather, steps)))
    return tuple(found)


def _months(times: Any) -> IntArray:
    """Return the numbers of calendar months, from January 1970 on."""
    months: IntArray = times.astype("datetime64[M]").astype(np.int64)
    return months


def _stretches(weather: xr.Dataset) -> list[IntArray]:
    """Return the positions of steps that follow one another without a break between files."""
    times = weather.indexes["time"].to_numpy()
    step = np.timedelta64(int(weather.attrs["interval_s"]), "s")
    if weather.attrs.get("spans") is None:
        return [np.arange(times.size)]
    breaks = np.flatnonzero(np.diff(times) > step) + 1
    return np.split(np.arange(times.size), breaks)


def _named(begin: int, last: int) -> str:
    end = min(begin + 11, last)
    months = [str(np.datetime64(each, "M")) for each in (begin, end)]
    whole = begin % 12 == 0 and end == begin + 11
    return months[0][:4] if whole else " to ".join(months)


def _cut(weather: xr.Dataset, steps: IntArray) -> xr.Dataset:
    return weather.isel(time=steps).assign_attrs(weather.attrs)


def whole_years(weather: xr.Dataset) -> xr.Dataset:
    """Return the years of weather of several files that are whole, if all together are none.

    Annual figures are means month by month: every calendar month must be there as many times as
    every other. A year that lacks much of a month is left out, and that is told.

    Parameters
    ----------
    weather : Dataset
        Canonical weather of several files (time); its daylight is looked at over its station.
    """
    if _period(weather).is_year:
        return weather
    years = [(each, _period(each.weather)) for each in weather_years(weather)]
    kept = [each.weather for each, period in years if period.is_year]
    lacking = []
    for each, period in years:
        if not period.is_year and period.days > _TOLD_DAYS:
            lacking.append(f"{each.name} ({_lacks(period)})")
    return _kept(weather, kept, lacking) if kept else weather


def _period(weather: xr.Dataset) -> Period:
    attrs = weather.attrs
    place = (attrs["latitude"], attrs["longitude"], attrs["altitude_m"])
    return covered_period(weather, sun_of(weather), place)


def _lacks(period: Period) -> str:
    short = [
        f"{name} {100.0 * share:.0f} %"
        for name, share in zip(MONTHS, period.by_month, strict=True)
        if share < YEAR_COVERED
    ]
    return "daylight: " + ", ".join(short) if short else "no whole year"


def _kept(weather: xr.Dataset, years: list[xr.Dataset], lacking: list[str]) -> xr.Dataset:
    quality = json.loads(weather.attrs["quality"])
    if lacking:
        quality["cautions"] = [
            *quality["cautions"],
            f"Left out of every figure, for a year must have "
            f"{100.0 * YEAR_COVERED:.0f} % of each month's daylight: {'; '.join(lacking)}.",
        ]
    times = weather.indexes["time"]
    kept = np.logical_or.reduce([times.isin(each.indexes["time"]) for each in years])
    spans = [spanned(each) for each in years]
    whole = _cut(weather, np.flatnonzero(kept))
    return whole.assign_attrs(spans=json.dumps(spans), quality=json.dumps(quality, sort_keys=True))
