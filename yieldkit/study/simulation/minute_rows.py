"""Drawn minutes laid one after the other, and the cells at them, step by step."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
import pandas as pd
import xarray as xr

from yieldkit.base.arrays import BoolArray, FloatArray, IntArray
from yieldkit.physics.circuit.api import CellConditions
from yieldkit.weather.within_hour import Minutes

PARTED = 20
"""Minutes that cells remember: those before a lone step, and the rows that part what isn't
adjacent."""
_MINUTE_NS = 60_000_000_000


class Rows(NamedTuple):
    """Cells at moments within steps.

    Parameters
    ----------
    step : ndarray of int
        The step each belongs to, ascending (row,).
    number : ndarray
        How many rows each step has (time,).
    part : ndarray of int
        Which minute of its step each is (row,).
    minutes : int
        Minutes of a step.
    conditions : CellConditions
        Each (row, plane).
    """

    step: IntArray
    number: FloatArray
    part: IntArray
    minutes: int
    conditions: CellConditions

    def mean(self, values: FloatArray) -> FloatArray:
        """Return means over each step's rows (time,), zero where a step has none."""
        total = np.bincount(self.step, values, self.number.size)
        found: FloatArray = np.divide(
            total, self.number, out=np.zeros_like(total), where=self.number > 0.0
        )
        return found


def laid(drawn: Minutes, lead: int) -> tuple[IntArray, FloatArray, FloatArray, IntArray, IntArray]:
    """Return minutes in one row after the other, with rows without a step where time jumps.

    Parameters
    ----------
    drawn : Minutes
        The minutes.
    lead : int
        How many of each step's come before it.

    Returns
    -------
    tuple of ndarray
        Instants [ns], direct and diffuse light [W/m2], the position of the step (-1 for none) and
        of the minute in it (negative in the lead), each (row,).
    """
    kept = np.flatnonzero(drawn.found)
    count = drawn.dni.shape[1]
    first = drawn.instants[kept, 0]
    jumps = np.diff(first) != count * _MINUTE_NS
    before = np.concatenate([[0], np.cumsum(jumps)]) * PARTED
    at = (np.arange(kept.size) * count + before)[:, None] + np.arange(count)
    size = kept.size * count + (int(before[-1]) if kept.size else 0) + PARTED
    instants = np.full(size, drawn.instants.ravel()[0] if drawn.instants.size else 0)
    dni, dhi = np.zeros((2, size))
    step, part = np.full((2, size), -1)
    instants[at] = drawn.instants[kept]
    dni[at], dhi[at] = drawn.dni[kept], drawn.dhi[kept]
    step[at] = kept[:, None]
    part[at] = np.arange(count) - lead
    return instants, dni, dhi, step, part


def weather_rows(weather: xr.Dataset, instants: IntArray, step: IntArray) -> xr.Dataset:
    """Return the air at rows of minutes: that of their steps, none where there is no step.

    Parameters
    ----------
    weather : Dataset
        Canonical weather (time).
    instants : ndarray of int
        Of the rows [ns] (row,).
    step : ndarray of int
        The step each belongs to, -1 for none (row,).
    """
    times = pd.date_range("2000-01-01", periods=instants.size, freq="60s")
    named = ("temp_air", "wind_speed")
    air: dict[str, Any] = {
        name: ("time", np.where(step >= 0, weather.variables[name].to_numpy()[step], np.nan))
        for name in named
    }
    attrs = {**weather.attrs, "interval_s": 60, "sampling": "mean"}
    return xr.Dataset(air, coords={"time": times.to_numpy()}, attrs=attrs)


def steps_with_all(rows: Rows, sound: BoolArray) -> BoolArray:
    """Return the steps that have rows, all of them sound (time,).

    Parameters
    ----------
    rows : Rows
        The rows.
    sound : ndarray of bool
        Whether each is (row,).
    """
    whole: BoolArray = (rows.number > 0.0) & (rows.mean((~sound).astype(float)) == 0.0)
    return whole
