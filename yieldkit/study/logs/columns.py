"""How finely a log's columns are written, and runs of steps in which something holds."""

from __future__ import annotations

import numpy as np
import xarray as xr

from yieldkit.base.arrays import BoolArray, FloatArray, IntArray

QUANTITIES = ("v_dc", "i_dc", "p_dc")
_NEARLY_ALL = 0.95
_FINEST = 1e-6
"""Differences below this share of a column's largest value are rounding of the computer's own."""


def resolution(values: FloatArray) -> float:
    """Return the smallest step between two values of a column, in its own unit.

    Parameters
    ----------
    values : ndarray
        The column, nan where nothing was written (time,).

    Returns
    -------
    float
        0 where it holds less than two different values.
    """
    levels = np.unique(values[np.isfinite(values)])
    if levels.size < 2:
        return 0.0
    apart = np.diff(levels)
    apart = apart[apart > _FINEST * np.abs(levels).max()]
    return float(apart.min()) if apart.size else 0.0


def own_columns(data: xr.Dataset) -> list[str]:
    """Return which of `QUANTITIES` a log's inputs have that tell something of their own.

    Power that is the product of the volts and amperes beside it, as they were written, was
    reckoned and not measured.
    """
    found = [name for name in QUANTITIES if name in data]
    if len(found) < len(QUANTITIES):
        return found
    volts, amperes, power = (data[name].to_numpy().astype(float) for name in QUANTITIES)
    known = np.isfinite(volts) & np.isfinite(amperes) & np.isfinite(power) & (power > 0.0)
    if not known.any():
        return found
    apart = np.abs(volts * amperes - power)[known]
    within = 0.51 * resolution(power[known]) + _FINEST * power[known]
    return found[:2] if np.mean(apart <= within) > _NEARLY_ALL else found


def runs(there: BoolArray) -> IntArray:
    """Return first step and step after the last of each run in which something holds (run, 2)."""
    edges = np.diff(np.r_[False, there, False].astype(np.int8))
    found: IntArray = np.stack([np.flatnonzero(edges == 1), np.flatnonzero(edges == -1)], axis=1)
    return found


def in_runs(found: IntArray, size: int) -> BoolArray:
    """Return the steps that lie in some runs (time,), for runs of `runs`."""
    edges = np.zeros(size + 1, dtype=np.int64)
    np.add.at(edges, found[:, 0], 1)
    np.add.at(edges, found[:, 1], -1)
    inside: BoolArray = np.cumsum(edges[:-1]) > 0
    return inside
