"""The building's consumption behind the meter, on the weather's steps or finer."""

from __future__ import annotations

from functools import lru_cache
from math import gcd
from pathlib import Path

import numpy as np
import pandas as pd

from yieldkit.base.arrays import FloatArray
from yieldkit.base.errors import refuse
from yieldkit.config.models.grid import Load
from yieldkit.study.simulation.prepare import Prepared
from yieldkit.weather.readers.series import read_series

_DAY_S = 86_400
_HOUR_S = 3600
_LONGEST_STEP_S = 3600
_FINEST_S, _ROUNDED_S = 300, 900
"""Steps of weather and load that lie so that parts would be shorter than the first are laid on one
another as if the weather began at the nearest multiple of the second, or of the load's own step."""
_YEAR = 2001
"""A year of 365 days on whose dates a load is laid; 29 February is given the day before it."""


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
        as it takes. It is joined by month, day and time of day in the site's standard time, so
        that a measured year fits weather of any year.

    Raises
    ------
    InputError
        If a measured load can't be read, is negative, has gaps, or doesn't cover a year.
    """
    load = prepared.site.grid.load
    steps = prepared.weather.sizes["time"]
    if load is None or load.kind == "constant":
        watts = prepared.site.grid.load_w if load is None else load.power_w or 0.0
        return np.full((steps, 1), watts)
    if load.kind == "day":
        return _on_steps(prepared, np.tile(load.hours_w, (365, 1)), _HOUR_S)
    measured, step_s = _measured(prepared, load)
    return _on_steps(prepared, measured, step_s)


def _on_steps(prepared: Prepared, year: FloatArray, step_s: int) -> FloatArray:
    """Lay a year of loads (day, step of the day) on the weather's steps."""
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
    flat = pd.DatetimeIndex(starts.ravel())
    leap_day = (flat.month == 2) & (flat.day == 29)
    days = np.where(leap_day, flat.day - 1, flat.day)
    before = np.cumsum([0, 31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30])
    day = before[flat.month - 1] + days - 1
    place = (flat.hour * 3600 + flat.minute * 60 + flat.second) // step_s
    return np.ascontiguousarray(year[day, place].reshape(len(local), count), dtype=float)


def _measured(prepared: Prepared, load: Load) -> tuple[FloatArray, int]:
    """Return a measured year (day, step of the day) and the length of its steps [s]."""
    named = str(load.file)
    path = Path(prepared.site.folder) / named
    path = path if path.is_file() else Path(named)
    if not path.is_file():
        refuse("grid.load.file", f"'{named}', which is not there", "a CSV file of loads")
    zone = load.zone or prepared.site.site.time_zone
    state = path.stat()
    written = (state.st_mtime_ns, state.st_size)
    return _year_of(path, written, load, zone, float(prepared.weather.attrs["utc_offset_s"]))


@lru_cache(maxsize=4)
def _year_of(
    path: Path, written: tuple[int, int], load: Load, zone: str, utc_offset_s: float
) -> tuple[FloatArray, int]:
    """Return a measured year; a file that is read already isn't read again for every wiring."""
    key = "grid.load"
    series = read_series(path, load.time, load.column, key, load.label, zone)
    where = f"{path.name}, {series.name}"
    negative = series[series < 0.0]
    if len(negative):
        refuse(
            where,
            f"{len(negative):,} negative values, the first {negative.iloc[0]:g} W",
            "consumption of zero or more watts",
            cause="Power measured at the meter, with the plant's own subtracted?",
        )
    step_s = round(float(np.median(np.diff(series.index.to_numpy()) / np.timedelta64(1, "s"))))
    if not 0 < step_s <= _LONGEST_STEP_S or _DAY_S % step_s:
        refuse(
            where,
            f"steps of {step_s:g} s",
            "steps that divide a day, of one hour or less",
        )
    local = pd.DatetimeIndex(series.index) + pd.Timedelta(seconds=utc_offset_s)
    dates = local.strftime("%m-%d")
    slots = (local.hour * 3600 + local.minute * 60 + local.second) // step_s
    table = pd.Series(series.to_numpy()).groupby([dates, slots]).mean().unstack()
    wanted = pd.date_range(f"{_YEAR}-01-01", f"{_YEAR}-12-31").strftime("%m-%d")
    table = table.reindex(index=wanted, columns=range(_DAY_S // step_s))
    lacking = table.isna().to_numpy()
    if lacking.any():
        day, slot = np.argwhere(lacking)[0]
        clock = pd.Timestamp(f"{_YEAR}-{wanted[day]}") + pd.Timedelta(seconds=int(slot) * step_s)
        refuse(
            where,
            f"no load in {int(lacking.sum()):,} of a year's {lacking.size:,} steps, the first on "
            f"{clock:%d %B at %H:%M} standard time",
            "a whole year without gaps",
            cause="A part of a year, or a file with gaps?",
            remedy="Fill the gaps in the file, or write kind: day with 24 values.",
        )
    return table.to_numpy(dtype=float), step_s
