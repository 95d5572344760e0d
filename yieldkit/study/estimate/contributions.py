"""What each unknown adds to the spread of a year's energy, and what knowing it would save."""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import FloatArray, IntArray
from yieldkit.study.estimate.bands import exceeded

Energy = Callable[[FloatArray, IntArray], FloatArray]
"""Gives energies (draw,) for drawn numbers (draw, column), and for which year each draw has."""


class Contributions(NamedTuple):
    """What unknowns add to the spread, each (cause,).

    Parameters
    ----------
    causes : tuple of str
        What is unknown.
    first_order : ndarray
        Share of the variance that knowing it alone takes away [1].
    total : ndarray
        Share that is left when all others are known: with all it does together with them [1].
    saved : ndarray
        By how much the way from the likely to the cautious year shortens when it is known to lie
        at its middle and all else is not, as the standard deviation does [kWh].
    """

    causes: tuple[str, ...]
    first_order: FloatArray
    total: FloatArray
    saved: FloatArray


class Cause(NamedTuple):
    """An unknown whose columns go together.

    Parameters
    ----------
    name : str
        What is unknown.
    columns : tuple of int
        Positions of its columns.
    year : bool
        Whether the draw's year belongs to it.
    middle : tuple of float
        The columns' values where it is known.
    """

    name: str
    columns: tuple[int, ...]
    year: bool
    middle: tuple[float, ...]


def contributions(
    energy: Energy, one: FloatArray, other: FloatArray, causes: tuple[Cause, ...]
) -> Contributions:
    """Return what unknowns add to the spread of an energy.

    Parameters
    ----------
    energy : callable
        Energies of draws; the year -1 is one like the mean of all.
    one, other : ndarray
        Two independent sets of draws (draw, column), of even number.
    causes : tuple of Cause
        What is unknown.

    Returns
    -------
    Contributions
        First order and total shares by the estimators of Saltelli et al. (2010) and Jansen (1999)
        (Computer Physics Communications 181, 259, table 2; from memory). All zero where nothing
        spreads.
    """
    number = len(one)
    own_years, other_years = np.arange(number), number + np.arange(number)
    base, opposite = energy(one, own_years), energy(other, other_years)
    variance = float(np.var(np.concatenate([base, opposite])))
    apart, size = _width(base), float(np.std(base))
    found = np.zeros((3, len(causes)))
    for at, cause in enumerate(causes):
        columns = list(cause.columns)
        mixed, known = one.copy(), one.copy()
        mixed[:, columns] = other[:, columns]
        known[:, columns] = cause.middle
        years = other_years if cause.year else own_years
        changed = energy(mixed, years)
        if variance > 0.0:
            found[0, at] = np.mean((opposite - base.mean()) * (changed - base)) / variance
            found[1, at] = np.mean(np.square(base - changed)) / (2.0 * variance)
        steady = np.full(number, -1) if cause.year else own_years
        left = float(np.std(energy(known, steady)))
        found[2, at] = apart * (1.0 - left / size) if size > 0.0 else 0.0
    return Contributions(tuple(cause.name for cause in causes), found[0], found[1], found[2])


def _width(energy: FloatArray) -> float:
    """Return the way from the likely to the cautious year [kWh]."""
    bands = exceeded(energy)
    return float(bands[0] - bands[2])
