"""Months that are there more often than others: what a step of each counts in a year's totals."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

import numpy as np
import pandas as pd
import xarray as xr

from yieldkit.base.arrays import BoolArray, FloatArray, IntArray

WHOLE_MONTH = 0.95
"""Share of its daylight that must be measured of a month, for it to count."""
SCRAP = 0.05
"""A month of which less than this share is there is what another clock leaves over."""


def times_by_month(
    calendar: IntArray, whole: FloatArray, expected: FloatArray, got: FloatArray
) -> tuple[int, ...]:
    """Return how many times each calendar month is there, whole (12,).

    Parameters
    ----------
    calendar : ndarray of int
        Calendar month of each month in turn, 0 to 11 (month,).
    whole, expected, got : ndarray
        Steps of daylight of each month: all of it, those that files go over, those that were
        measured (month,).

    Returns
    -------
    tuple of int
        Empty where a calendar month is never there, or one is there in part.
    """
    counts = got >= WHOLE_MONTH * whole
    in_part = ~counts & (expected > SCRAP * whole)
    times = np.bincount(calendar[counts], minlength=12)
    return () if in_part.any() or not times.all() else tuple(int(each) for each in times)


def uneven(times: tuple[int, ...]) -> tuple[int, ...]:
    """Return how often months are there, where that differs; else nothing."""
    return times if len(set(times)) > 1 else ()


def weights_at(
    times: tuple[int, ...], starts: pd.DatetimeIndex, utc_offset_s: float
) -> FloatArray | None:
    """Return what each step counts beside one of the month that is there most often [1] (time,).

    Parameters
    ----------
    times : tuple of int
        How often each calendar month is there, where that differs; else nothing.
    starts : DatetimeIndex
        Starts of the steps, UTC.
    utc_offset_s : float
        Local standard time ahead of UTC [s].

    Returns
    -------
    ndarray or None
        None where all count alike.
    """
    if not times:
        return None
    month = (starts + pd.Timedelta(seconds=utc_offset_s)).month.to_numpy() - 1
    by_month = max(times) / np.array(times, dtype=float)
    weights: FloatArray = by_month[month]
    return weights


def result_weights(result: xr.Dataset) -> FloatArray | None:
    """Return what each step of a result counts in totals [1] (time,); None where all count alike.

    Parameters
    ----------
    result : Dataset
        What `simulate` returned.
    """
    times = month_times_of(result.attrs)
    starts = pd.DatetimeIndex(result.indexes["time"])
    return weights_at(times, starts, float(result.attrs.get("utc_offset_s", 0.0)))


def month_times_of(attrs: Mapping[str, Any]) -> tuple[int, ...]:
    """Return how often months are there by a result's attributes; nothing where all alike."""
    return tuple(json.loads(attrs["month_times"])) if "month_times" in attrs else ()


def weighed(values: Any, weights: FloatArray | None) -> Any:
    """Return values of steps (time, ...) by what each counts; as they are where all count alike."""
    if weights is None:
        return values
    return values * weights.reshape(-1, *[1] * (np.ndim(values) - 1))


def kept(counted: BoolArray | FloatArray, values: FloatArray) -> FloatArray:
    """Return values of steps that count, nothing of others, by what each counts if that differs."""
    there: FloatArray = np.where(counted > 0, values, 0.0)
    return there if counted.dtype == bool else there * counted
