"""A load of which only the year's consumption is known: laid on hours by an invented shape."""

from __future__ import annotations

import numpy as np
import pandas as pd

from yieldkit.base.arrays import FloatArray, IntArray
from yieldkit.design.standards import standard_table

_SEASONS, _DAYS = ("winter", "between", "summer"), ("workday", "saturday", "sunday")
_SEASON_OF_MONTH = np.array([0, 0, 1, 1, 2, 2, 2, 2, 1, 1, 0, 0])
_HALF_A_YEAR = 6
_FRIDAY = 4
_HOUR_H = 1.0


def shape_power(
    shape: str, kwh_per_year: float, local: pd.DatetimeIndex, southern: bool
) -> FloatArray:
    """Return the power of an invented shape [W] (time,).

    Parameters
    ----------
    shape : str
        "dwelling" or "workplace".
    kwh_per_year : float
        Consumption in the calendar year of the time in the middle, by the clock of these times
        [kWh].
    local : DatetimeIndex
        Times by that clock, naive (time,).
    southern : bool
        Whether winter lies in the middle of the year.
    """
    # A clock that is a little off begins on the evening before its year.
    year_of = local[len(local) // 2].year
    whole = pd.date_range(f"{year_of}-01-01", f"{year_of}-12-31 23:00", freq="h")
    table = _table(shape)
    year = table[_places(whole, southern)].sum() * _HOUR_H
    watts: FloatArray = table[_places(local, southern)] * (1000.0 * kwh_per_year / year)
    return watts


def _places(times: pd.DatetimeIndex, southern: bool) -> tuple[IntArray, IntArray, IntArray]:
    """Return season, kind of day and hour of times."""
    month = times.month.to_numpy() - 1
    season = _SEASON_OF_MONTH[(month + _HALF_A_YEAR) % 12 if southern else month]
    day = np.clip(times.day_of_week.to_numpy() - _FRIDAY, 0, 2)
    return season, day, times.hour.to_numpy()


def _table(shape: str) -> FloatArray:
    """Return relative power (season, kind of day, hour)."""
    rows = standard_table("load_shapes")
    own = rows[rows["shape"] == shape].set_index(["season", "day"])
    order = pd.MultiIndex.from_product([_SEASONS, _DAYS])
    hours = own[[str(hour) for hour in range(24)]].reindex(order)
    return hours.to_numpy(dtype=float).reshape(len(_SEASONS), len(_DAYS), 24)
