"""The building's consumption behind the meter, on the weather's steps or finer."""

from __future__ import annotations

from math import gcd

import numpy as np
import pandas as pd

from yieldkit.base.arrays import FloatArray, IntArray
from yieldkit.base.time_zones import wall_clock
from yieldkit.config.models.grid import Load
from yieldkit.study.simulation.load_file import MeasuredYear, measured_year
from yieldkit.study.simulation.load_shape import shape_power
from yieldkit.study.simulation.prepare import Prepared

_HOUR_S = 3600
_FINEST_S, _ROUNDED_S = 300, 900
"""Steps of weather and load that lie so that parts would be shorter than the first are laid on one
another as if the weather began at the nearest multiple of the second, or of the load's own step."""
_WEEK, _FURTHEST = 7, 3
"""A measured day is moved by so many days at most, so that days of the week agree."""


def load_power(prepared: Prepared) -> FloatArray:
    """Return the consumption behind the meter [W] (time, part of the step).

    Parameters
    ----------
    prepared : Prepared
        Site and weather.

    Returns
    -------
    ndarray
        One part where the load is constant within the weather's steps; else as many equal parts
        as it takes. A measured year is joined by date and time of day in the site's standard time,
        so that it fits weather of any year, moved by up to three days so that the days of the week
        agree; a file of several years gives their mean, by the date alone.

    Raises
    ------
    InputError
        If a measured load can't be read, is negative, has gaps, or doesn't cover a year.
    """
    load = prepared.site.grid.load
    steps = prepared.weather.sizes["time"]
    if load is None or load.kind == "constant":
        constant = prepared.site.grid.load_w if load is None else load.power_w or 0.0
        return np.full((steps, 1), constant)
    if load.kind == "series":
        offset_s = float(prepared.weather.attrs["utc_offset_s"])
        measured = measured_year(prepared.site, load, offset_s)
        flat, count = _parts(prepared, measured.step_s)
        return _on_dates(measured, flat).reshape(steps, count)
    flat, count = _parts(prepared, _HOUR_S)
    clock = _by_its_clock(prepared, load, flat)
    if load.kind == "day":
        watts: FloatArray = np.array(load.hours_w, dtype=float)[clock.hour]
    else:
        southern = prepared.site.site.latitude < 0.0
        watts = shape_power(load.shape, load.kwh_per_year or 0.0, clock, southern)
    return watts.reshape(steps, count)


def load_step_s(prepared: Prepared) -> int:
    """Return the length of the steps that the load is known in [s]; 0 for a constant one.

    Parameters
    ----------
    prepared : Prepared
        Site and weather.
    """
    load = prepared.site.grid.load
    if load is None or load.kind == "constant":
        return 0
    if load.kind != "series":
        return _HOUR_S
    return measured_year(prepared.site, load, float(prepared.weather.attrs["utc_offset_s"])).step_s


def _parts(prepared: Prepared, step_s: int) -> tuple[pd.DatetimeIndex, int]:
    """Return the starts of equal parts of the weather's steps, standard time, and their number.

    Within each of them a load of such steps is constant.
    """
    attrs = prepared.weather.attrs
    interval, offset = round(attrs["interval_s"]), round(attrs["utc_offset_s"])
    local = pd.DatetimeIndex(prepared.weather.indexes["time"]) + pd.Timedelta(seconds=offset)
    seconds = np.asarray(local.hour * 3600 + local.minute * 60 + local.second, dtype=np.int64)
    even = gcd(interval, step_s)
    part = gcd(even, int(np.gcd.reduce(seconds % step_s)))
    if part < min(even, _FINEST_S):
        # A clock that is off by odd seconds, as draws have it, would cut hours to pieces.
        part = min(even, _ROUNDED_S)
        local = local.round(f"{part}s")
    count = interval // part
    starts = local.to_numpy()[:, None] + (np.arange(count) * part).astype("timedelta64[s]")
    return pd.DatetimeIndex(starts.ravel()), count


def _by_its_clock(prepared: Prepared, load: Load, times: pd.DatetimeIndex) -> pd.DatetimeIndex:
    """Return times of the site's standard clock as the load's own clock shows them."""
    if load.clock == "standard":
        return times
    key = "site.time_zone" if load.zone is None else "grid.load.zone"
    zone = wall_clock(load.zone or prepared.site.site.time_zone, key)
    utc = times - pd.Timedelta(seconds=float(prepared.weather.attrs["utc_offset_s"]))
    return utc.tz_localize("UTC").tz_convert(zone).tz_localize(None)


def _on_dates(measured: MeasuredYear, times: pd.DatetimeIndex) -> FloatArray:
    """Return a measured year's consumption at times of the standard clock [W] (time,)."""
    days = _days(times)
    if measured.weekdays is not None:
        apart = times.day_of_week.to_numpy() - measured.weekdays[days]
        days = days + (apart + _FURTHEST) % _WEEK - _FURTHEST
    place = (times.hour * 3600 + times.minute * 60 + times.second) // measured.step_s
    watts: FloatArray = measured.power[days % len(measured.power), place]
    return watts


def _days(times: pd.DatetimeIndex) -> IntArray:
    """Return the day of a year of 365 days; 29 February is the day before it."""
    leap_day = (times.month == 2) & (times.day == 29)
    before = np.cumsum([0, 31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30])
    days: IntArray = before[times.month - 1] + np.where(leap_day, times.day - 1, times.day) - 1
    return days
