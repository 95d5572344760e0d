"""Power maxima that were found, and the greatest of them."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import FloatArray
from yieldkit.physics.compiled import compiled, compiled_owning


class Maxima(NamedTuple):
    """Room for power maxima, of which the first few are filled.

    Parameters
    ----------
    volts, power : ndarray
        Voltage [V] and power [W] (maximum,).
    """

    volts: FloatArray
    power: FloatArray


@compiled_owning
def new_maxima(number):
    """Return room for a number of maxima.

    Parameters
    ----------
    number : int
        How many at most.

    Returns
    -------
    Maxima
    """
    return Maxima(np.empty(number), np.empty(number))


@compiled
def greatest(found, count):
    """Return the position of the greatest power; the lower voltage wins a tie.

    Parameters
    ----------
    found : Maxima
        The maxima.
    count : int
        How many are filled.

    Returns
    -------
    int
    """
    best = 0
    for place in range(1, count):
        more = found.power[place] > found.power[best]
        tie = found.power[place] == found.power[best] and found.volts[place] < found.volts[best]
        if more or tie:
            best = place
    return best
