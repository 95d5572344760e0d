"""Energy counters that add up, turned into power by what they grow in a step."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import FloatArray

_KW_STEP_W = 50.0
"""Steps of power coarser than this [W] are told."""


class Grown(NamedTuple):
    """Power from a counter.

    Parameters
    ----------
    power : ndarray
        Mean power of each step [W], nan where it can't be told (time,).
    resets : int
        How often the counter fell.
    remark : str
        What must be told.
    """

    power: FloatArray
    resets: int
    remark: str


def power_of(energy: FloatArray, step_s: int, smallest_wh: float, name: str) -> Grown:
    """Return the power that makes a counter grow.

    Parameters
    ----------
    energy : ndarray
        The counter as it stood at the end of each step [Wh], nan where nothing was written
        (time,).
    step_s : int
        Length of a step [s].
    smallest_wh : float
        Smallest step in which it is written [Wh].
    name : str
        What is told of.

    Notes
    -----
    A row's counter is taken as it stood at the end of that row's step. Where it fell it was set
    back, nobody knows when inside the step, and the step has no power.
    """
    hours = step_s / 3600.0
    power = np.concatenate([[np.nan], np.diff(energy)]) / hours
    fell = power < 0.0
    power = np.where(fell, np.nan, power)
    resets = int(fell.sum())
    told = (
        f"{name}: power is what the counter grows in a step, read at the step's end; it comes in "
        f"steps of {smallest_wh / hours:.4g} W"
    )
    coarse = " (coarse: rather take a power)" if smallest_wh / hours > _KW_STEP_W else ""
    times = "once" if resets == 1 else f"{resets} times"
    back = f"; the counter was set back {times}, steps without a power" if resets else ""
    return Grown(power, resets, f"{told}{coarse}{back}.")
