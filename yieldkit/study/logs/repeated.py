"""Columns that stand still or are copies: what noise and changing light would have parted."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import combinations
from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import BoolArray, FloatArray, IntArray
from yieldkit.study.logs.columns import in_runs, resolution, runs

STEADY = 0.001
"""A value's own unrest from step to step as a share of it, at least [1]; common practice."""
APART = 0.002
"""How far two instruments part at every step as a share of a value, at least [1]; likewise."""
_LONGEST_ODDS = 1e-5
"""Chance below which a value that stays isn't chance any more [1]."""
_COPY_ODDS = 1e-8
_EVEN = 0.5
_UNDER_CLOUDS = 0.3
"""Share of what parts the light of two planes below a cloudless sky that clouds leave [1]."""
_FEWEST_ALIKE = 4
_LIGHT_MOVES = 0.03
_FEWEST_COPIED = 12
_BRIGHT_SHARE = 0.2
"""Values below this share of a column's largest tell nothing: noise is too small there."""
_NEARLY_ALL = 0.97
_DENSITY = 3.5
"""Width of a bell curve as high as its top [standard deviations]: the square root of 4 pi."""
_TRIED = 400


class Copy(NamedTuple):
    """A column that repeats another.

    Parameters
    ----------
    one, other : str
        What the columns are.
    factor : float
        The second as a multiple of the first [1].
    days : ndarray of bool
        Days on which it does, by position (day,).
    """

    one: str
    other: str
    factor: float
    days: BoolArray


def stands_still(values: FloatArray, light: FloatArray, follows: bool = True) -> BoolArray:
    """Return where a column repeats one value that light and noise would have changed.

    Parameters
    ----------
    values : ndarray
        The column, nan where nothing was written (step,).
    light : ndarray
        Light on what it belongs to [W/m2], zero in the dark (step,).
    follows : bool
        Whether it is in proportion to the light, as currents and power are.

    Returns
    -------
    ndarray of bool
        Whole runs of it, four steps at least (step,).
    """
    fine = resolution(values)
    same = (np.diff(values) == 0.0) & (values[1:] != 0.0)
    same &= (light[1:] > 0.0) & (light[:-1] > 0.0)
    found = runs(same)
    found = found[found[:, 1] - found[:, 0] >= _FEWEST_ALIKE - 1]
    if not found.size:
        return np.zeros(values.size, dtype=bool)
    mean = np.maximum(0.5 * (light[1:] + light[:-1]), 1e-9)
    moves = np.maximum(np.abs(np.diff(light)) / mean if follows else 0.0, STEADY)
    expected = np.abs(values[1:]) * moves
    chance = np.minimum(1.0, fine / np.maximum(_DENSITY * expected, 1e-12))
    summed = np.r_[0.0, np.cumsum(np.log(np.where(same, np.maximum(chance, 1e-6), 1.0)))]
    odds = summed[found[:, 1]] - summed[found[:, 0]]
    kept = found[odds < np.log(_LONGEST_ODDS)]
    if not follows:
        moved = [np.ptp(light[a : b + 1]) > _LIGHT_MOVES * light[a : b + 1].max() for a, b in kept]
        kept = kept[np.array(moved, dtype=bool)]
    return in_runs(np.stack([kept[:, 0], kept[:, 1] + 1], axis=1), values.size)


def copies(
    columns: Mapping[str, FloatArray],
    parting: Mapping[str, FloatArray],
    day: IntArray,
    usable: BoolArray,
) -> tuple[Copy, ...]:
    """Return which columns of one quantity are copies of another, up to a factor.

    Equal strings on equal planes look alike too, but never to the last digit step by step: what
    counts is how unlikely the agreement is with instruments apart by `APART`, at the columns'
    own resolution. One as a multiple of the other is a copy only where the light on them differs.

    Parameters
    ----------
    columns : mapping of str to ndarray
        Columns by what they are of (step,).
    parting : mapping of str to ndarray
        The light that each should follow [W/m2] (step,); nan where it doesn't follow any.
    day : ndarray of int
        Position of each step's day (step,).
    usable : ndarray of bool
        Steps that are looked at (step,).
    """
    found = []
    for one, other in combinations(columns, 2):
        pair = columns[one], columns[other]
        told = usable & np.isfinite(pair[0]) & np.isfinite(pair[1])
        for each in pair:
            told = told & (np.abs(each) > _BRIGHT_SHARE * _most(each, told))
        if np.count_nonzero(told) < _FEWEST_COPIED:
            continue
        copy = _copy(pair, told, (parting[one], parting[other]), day)
        if copy is not None:
            found.append(Copy(one, other, *copy))
    return tuple(found)


def exact_copies(
    columns: Mapping[str, FloatArray],
    others: Mapping[str, FloatArray],
    day: IntArray,
    usable: BoolArray,
) -> tuple[Copy, ...]:
    """Return which columns are, step by step, exactly what a column of another quantity is.

    Parameters
    ----------
    columns, others : mapping of str to ndarray
        Columns of the two quantities by what they are of (step,).
    day : ndarray of int
        Position of each step's day (step,).
    usable : ndarray of bool
        Steps that are looked at (step,).
    """
    found = []
    nowhere = np.full(day.size, np.nan)
    for one, values in columns.items():
        for other, beside in others.items():
            told = usable & np.isfinite(values) & np.isfinite(beside)
            told &= (values != 0.0) & (np.abs(values) > _BRIGHT_SHARE * _most(values, told))
            if np.count_nonzero(told & (values == beside)) < _FEWEST_COPIED:
                continue
            copy = _copy((values, beside), told, (nowhere, nowhere), day)
            if copy is not None and copy[0] == 1.0:
                found.append(Copy(one, other, *copy))
    return tuple(found)


def _most(values: FloatArray, told: BoolArray) -> float:
    return float(np.max(np.abs(values[told]), initial=0.0))


def _copy(
    pair: tuple[FloatArray, FloatArray],
    told: BoolArray,
    light: tuple[FloatArray, FloatArray],
    day: IntArray,
) -> tuple[float, BoolArray] | None:
    """Return factor and days of a copy, None where the second is none."""
    at = np.flatnonzero(told)
    one, other = pair[0][at], pair[1][at]
    fine = max(resolution(pair[0]), 1e-6), max(resolution(pair[1]), 1e-6)
    factor = _factor(one, other)
    within = 0.5 * (fine[1] + abs(factor) * fine[0]) * (1.0 + 1e-9)
    if factor == 1.0:
        within = 1e-6 * float(np.abs(other).max())
    equal = np.abs(other - factor * one) <= within
    if np.count_nonzero(equal) < _FEWEST_COPIED:
        return None
    # Equal strings on one plane stay in one ratio for hours; only to the same digits they don't.
    apart = np.full(at.size, APART if factor == 1.0 else 0.0)
    ratio = _light_ratio(light, at)
    if ratio is not None:
        apart = np.maximum(apart, np.abs(ratio - np.median(ratio)) * _UNDER_CLOUDS)
    width = max(within, 0.5 * fine[1])
    chance = np.minimum(1.0, 2.0 * width / np.maximum(_DENSITY * apart * np.abs(other), 1e-12))
    days = int(day.max()) + 1
    there = np.bincount(day[at], minlength=days)
    whole = np.bincount(day[at], equal, minlength=days) >= _NEARLY_ALL * np.maximum(there, 1)
    whole &= there > 0
    # A step at which chance makes equal as often as not tells nothing.
    told_by = np.where(equal & (chance < _EVEN), np.log(np.maximum(chance, 1e-9)), 0.0)
    odds = np.bincount(day[at], told_by, minlength=days)[whole].sum()
    return (factor, whole) if odds < np.log(_COPY_ODDS) else None


def _factor(one: FloatArray, other: FloatArray) -> float:
    """Return the second column as a multiple of the first: 1 where many steps are equal."""
    if np.count_nonzero(one == other) > 0.3 * one.size:
        return 1.0
    chosen = np.linspace(0, one.size - 1, min(one.size, _TRIED)).astype(int)
    return float(np.median(other[chosen] / one[chosen]))


def _light_ratio(light: tuple[FloatArray, FloatArray], at: IntArray) -> FloatArray | None:
    """Return the logarithm of how light on the two differs; None where it isn't known."""
    one, other = light[0][at], light[1][at]
    if not (np.isfinite(one).all() and np.isfinite(other).all()):
        return None
    found: FloatArray = np.log(np.maximum(other, 20.0)) - np.log(np.maximum(one, 20.0))
    return found
