"""Of several weather files the months that are whole, and the years that they make."""

from __future__ import annotations

import json
from typing import Any, NamedTuple

import numpy as np
import xarray as xr

from yieldkit.base.arrays import BoolArray, FloatArray, IntArray
from yieldkit.study.simulation.daylit_months import counted_months
from yieldkit.study.simulation.month_weights import SCRAP, WHOLE_MONTH
from yieldkit.study.simulation.period import covered_period
from yieldkit.weather.readers.canonical import sun_of
from yieldkit.weather.readers.years import spanned

_HALF_MONTH = np.timedelta64(15, "D")


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
    if weather.attrs.get("spans") is None:
        return [np.arange(weather.sizes["time"])]
    return _runs(weather)


def _named(begin: int, last: int) -> str:
    end = min(begin + 11, last)
    months = [str(np.datetime64(each, "M")) for each in (begin, end)]
    whole = begin % 12 == 0 and end == begin + 11
    return months[0][:4] if whole else " to ".join(months)


def _cut(weather: xr.Dataset, steps: IntArray) -> xr.Dataset:
    return weather.isel(time=steps).assign_attrs(weather.attrs)


def whole_years(weather: xr.Dataset) -> xr.Dataset:
    """Return the months of several files that are whole, if all together are no year.

    Annual figures are means month by month: a month that lacks much of its daylight is left out,
    and that is told; the same month of other years stands for it.

    Parameters
    ----------
    weather : Dataset
        Canonical weather of several files (time); its daylight is looked at over its station.

    Returns
    -------
    Dataset
        As it is where nothing is to be left out, or no year would come of it.
    """
    place = _place(weather)
    sun = sun_of(weather)
    if covered_period(weather, sun, place).is_year:
        return weather
    month, shares = counted_months(weather, sun, place).measured_share()
    lacking = shares < WHOLE_MONTH
    steps = np.flatnonzero(~lacking[month])
    if not steps.size or not lacking.any():
        return weather
    left = _cut(weather, steps)
    left = left.assign_attrs(spans=json.dumps([spanned(_cut(left, own)) for own in _runs(left)]))
    if not covered_period(left, sun_of(left), place).is_year:
        return weather
    return _told(left, weather, lacking, shares)


def _place(weather: xr.Dataset) -> tuple[float, float, float]:
    attrs = weather.attrs
    return attrs["latitude"], attrs["longitude"], attrs["altitude_m"]


def _runs(weather: xr.Dataset) -> list[IntArray]:
    """Return the positions of steps that follow one another without a break."""
    times = weather.indexes["time"].to_numpy()
    step = np.timedelta64(int(weather.attrs["interval_s"]), "s")
    return np.split(np.arange(times.size), np.flatnonzero(np.diff(times) > step) + 1)


def _told(
    left: xr.Dataset, weather: xr.Dataset, lacking: BoolArray, shares: FloatArray
) -> xr.Dataset:
    """Return weather with a caution that says which months were left out of it."""
    offset = np.timedelta64(int(weather.attrs["utc_offset_s"]), "s")
    first = (weather.indexes["time"].to_numpy()[0] + offset).astype("datetime64[M]")
    out = ", ".join(
        f"{first + number} ({100.0 * shares[number]:.0f} %)"
        for number in np.flatnonzero(lacking & (shares > SCRAP))
    )
    if not out:
        return left
    quality = json.loads(left.attrs["quality"])
    quality["cautions"] = [
        *quality["cautions"],
        f"Left out of every figure, for a month must have {100.0 * WHOLE_MONTH:.0f} % of its "
        f"daylight: {out}. Other years' months stand for them: figures are means month by month.",
    ]
    return left.assign_attrs(quality=json.dumps(quality, sort_keys=True))
