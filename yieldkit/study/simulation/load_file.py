"""A measured year of the building's consumption, from anybody's CSV file."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pandas as pd

from yieldkit.base.arrays import FloatArray, IntArray
from yieldkit.base.errors import refuse
from yieldkit.config.models.grid import Load
from yieldkit.config.site.site import Site
from yieldkit.weather.readers.series import read_series

DAY_S = 86_400
_LONGEST_STEP_S = 3600
_YEAR = 2001
"""A year of 365 days on whose dates a load is laid; 29 February is given the day before it."""
_ENERGIES = {"Wh": 1.0, "kWh": 1000.0}
_POWERS = {"W": 1.0, "kW": 1000.0}
_LEAST_MEAN_W = 10.0
"""No building of which anybody measures a year draws less than this on the average [W]."""
_MOST_MEAN_W = 2e6


class MeasuredYear(NamedTuple):
    """A year of consumption.

    Parameters
    ----------
    power : ndarray
        Consumption [W] (day, step of the day), standard time.
    weekdays : ndarray of int or None
        Days of the week of those days, Monday 0; none where the file holds several years.
    step_s : int
        Length of the steps [s].
    """

    power: FloatArray
    weekdays: IntArray | None
    step_s: int


def measured_year(site: Site, load: Load, utc_offset_s: float) -> MeasuredYear:
    """Return the year that a load's file holds.

    Parameters
    ----------
    site : Site
        The site, for its folder and zone.
    load : Load
        A load of kind "series".
    utc_offset_s : float
        Of the standard time by which days are cut [s].

    Raises
    ------
    InputError
        If the file can't be read, is in another unit, negative, has gaps, or is no year.
    """
    named = str(load.file)
    path = Path(site.folder) / named
    path = path if path.is_file() else Path(named)
    if not path.is_file():
        refuse("grid.load.file", f"'{named}', which is not there", "a CSV file of loads")
    zone = load.zone or site.site.time_zone
    state = path.stat()
    return _year_of(path, (state.st_mtime_ns, state.st_size), load, zone, utc_offset_s)


@lru_cache(maxsize=4)
def _year_of(
    path: Path, written: tuple[int, int], load: Load, zone: str, utc_offset_s: float
) -> MeasuredYear:
    """Return a measured year; a file that is read already isn't read again for every wiring."""
    wall = load.clock == "wall"
    series = read_series(path, load.time, load.column, "grid.load", load.label, zone, wall)
    where = f"{path.name}, {series.name}"
    step_s = round(float(np.median(np.diff(series.index.to_numpy()) / np.timedelta64(1, "s"))))
    if not 0 < step_s <= _LONGEST_STEP_S or DAY_S % step_s:
        refuse(
            where,
            f"steps of {step_s:g} s",
            "steps that divide a day, of one hour or less",
        )
    series = _in_watts(series, load, step_s, where)
    local = pd.DatetimeIndex(series.index) + pd.Timedelta(seconds=utc_offset_s)
    dates = local.strftime("%m-%d")
    slots = (local.hour * 3600 + local.minute * 60 + local.second) // step_s
    table = pd.Series(series.to_numpy()).groupby([dates, slots]).mean().unstack()
    wanted = pd.date_range(f"{_YEAR}-01-01", f"{_YEAR}-12-31").strftime("%m-%d")
    table = table.reindex(index=wanted, columns=range(DAY_S // step_s))
    _refuse_gaps(table, step_s, where)
    return MeasuredYear(table.to_numpy(dtype=float), _weekdays(local, wanted), step_s)


def _in_watts(series: pd.Series, load: Load, step_s: int, where: str) -> pd.Series:
    """Return consumption [W]; refuse what can't be one in the unit that is said, or in watts."""
    negative = series[series < 0.0]
    if len(negative):
        refuse(
            where,
            f"{len(negative):,} negative values, the first {negative.iloc[0]:g}",
            "consumption of zero or more",
            cause="Power measured at the meter, with the plant's own subtracted?",
        )
    unit = load.unit or "W"
    factor = _POWERS.get(unit) or _ENERGIES[unit] * 3600.0 / step_s
    watts = series * factor
    mean = float(watts.mean())
    if mean and mean < _LEAST_MEAN_W and load.unit is None:
        kwh = float(series.sum()) * step_s / 3600.0
        refuse(
            where,
            f"a mean of {mean:.3g} W",
            f"at least {_LEAST_MEAN_W:g} W on the average",
            cause=f"Kilowatts, or kilowatt-hours of each step? As kilowatts it is {kwh:,.0f} kWh.",
            remedy="Write unit: kW, kWh or Wh; unit: W keeps the values as they are",
        )
    if mean > _MOST_MEAN_W:
        refuse(
            where,
            f"a mean of {mean / 1e6:,.3g} MW",
            f"at most {_MOST_MEAN_W / 1e6:g} MW on the average",
            cause="Watts called kilowatts, or a meter's reading instead of what was used?",
            remedy="Look at unit, and that the column holds what was used in each step",
        )
    return watts


def _weekdays(local: pd.DatetimeIndex, wanted: pd.Index) -> IntArray | None:
    """Return the day of the week of each day wanted; None where a date is there more than once."""
    # A file of another zone begins or ends with some hours of a day that is there as a whole.
    counts = local.normalize().value_counts()
    days = pd.DatetimeIndex(counts.index[2 * counts.to_numpy() >= counts.max()])
    names = days.strftime("%m-%d")
    if names.has_duplicates:
        return None
    of_day = pd.Series(days.day_of_week, index=names).reindex(wanted)
    return of_day.to_numpy(dtype=np.int64)


def _refuse_gaps(table: pd.DataFrame, step_s: int, where: str) -> None:
    lacking = table.isna().to_numpy()
    if not lacking.any():
        return
    day, slot = np.argwhere(lacking)[0]
    clock = pd.Timestamp(f"{_YEAR}-{table.index[day]}") + pd.Timedelta(seconds=int(slot) * step_s)
    refuse(
        where,
        f"no load in {int(lacking.sum()):,} of a year's {lacking.size:,} steps, the first on "
        f"{clock:%d %B at %H:%M} standard time",
        "a whole year without gaps",
        cause="A part of a year, or a file with gaps?",
        remedy="Fill the gaps in the file, or write kind: day with 24 values.",
    )
