"""What bounds the AC power: the least of several limits, and which it is."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import FloatArray, IntArray

AC_LIMIT: dict[str, int] = {
    "none": 0,
    "maximum power": 1,
    "apparent power": 2,
    "amperes": 3,
    "export": 4,
    "derating": 5,
    "voltage-dependent power": 6,
}
"""What limits the AC power, and its code."""


class AcCap(NamedTuple):
    """The largest AC power that limits allow.

    Parameters
    ----------
    power : ndarray
        Largest AC power [W] (time,).
    which : ndarray of int8
        Which limit it is, codes of `AC_LIMIT` (time,).
    """

    power: FloatArray
    which: IntArray


def ac_cap(limits: dict[str, FloatArray | float], steps: int) -> AcCap:
    """Return the least of several AC limits, and which it is.

    Parameters
    ----------
    limits : dict of str to float or ndarray
        Largest AC power [W] (number or (time,)) by a key of `AC_LIMIT`.
    steps : int
        Length of time.

    Returns
    -------
    AcCap
    """
    power = np.full(steps, np.inf)
    which = np.zeros(steps, dtype=np.int8)
    for name, value in limits.items():
        level = np.broadcast_to(np.asarray(value, dtype=float), (steps,))
        lower = level < power
        power = np.where(lower, level, power)
        which = np.where(lower, np.int8(AC_LIMIT[name]), which)
    return AcCap(power, which)
