"""Curtailment: moving the trackers so that the AC power meets its cap exactly."""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import BoolArray, FloatArray, IntArray

_MET = 1e-11
_ITERATIONS = 60


class Curtailed(NamedTuple):
    """How the trackers are limited at the steps over the cap.

    Parameters
    ----------
    steps : ndarray of int
        Positions in time at which the cap binds (step,).
    bound : ndarray
        Largest power of each tracker [W] (step, tracker).
    p_ac : ndarray
        AC power reached [W] (step,).
    met : ndarray of bool
        Whether the cap is met (step,); false where a tracker has no point below its maximum
        voltage and is off: what is reached then lies below the cap.
    """

    steps: IntArray
    bound: FloatArray
    p_ac: FloatArray
    met: BoolArray


def curtail(
    p_dc: FloatArray,
    p_ac: FloatArray,
    cap: FloatArray,
    convert: Callable[[FloatArray, IntArray], FloatArray],
) -> Curtailed:
    """Find the common share of each tracker's own power that meets the AC cap.

    Parameters
    ----------
    p_dc : ndarray
        Each tracker's own power before the AC side [W] (time, tracker).
    p_ac : ndarray
        AC power it would give [W] (time,).
    cap : ndarray
        Largest AC power [W] (time,).
    convert : callable
        From bounds (step, tracker) and steps to the AC power reached (step,): it moves the
        trackers and converts at the voltages they then have.

    Returns
    -------
    Curtailed
        The sharing rule is: the same fraction of each tracker's own limited power. The fraction
        is scaled by what it misses, then moved along the line through its last two misses, inside
        a bracket, until the cap is met.
    """
    steps = np.flatnonzero(p_ac > cap)
    free = p_dc[steps]
    wanted = cap[steps]
    low = np.zeros(steps.size)
    high = np.ones(steps.size)
    share = np.where(wanted > 0.0, wanted / p_ac[steps], 0.0)
    reached = np.zeros(steps.size)
    met = wanted <= 0.0
    last_share, last_gap = np.full((2, steps.size), np.nan)
    active = np.flatnonzero(~met)
    for _ in range(_ITERATIONS):
        if active.size == 0:
            break
        bound = share[active, None] * free[active]
        reached[active] = convert(bound, steps[active])
        gap = reached[active] - wanted[active]
        over = gap > 0.0
        high[active] = np.where(over, share[active], high[active])
        low[active] = np.where(over, low[active], share[active])
        close = np.abs(gap) <= _MET * wanted[active]
        stuck = high[active] - low[active] <= 1e-15
        met[active] = close
        still = ~(close | stuck)
        # Efficiency hardly changes with the share, so scaling by the miss is nearly exact.
        scaled = share[active] * wanted[active] / np.maximum(reached[active], 1e-300)
        change = gap - last_gap[active]
        along = np.isfinite(change) & (change != 0.0)
        slope = np.divide(
            share[active] - last_share[active], change, out=np.zeros_like(gap), where=along
        )
        aim = share[active] - gap * slope
        aim = np.where(along & (aim > low[active]) & (aim < high[active]), aim, scaled)
        last_share[active], last_gap[active] = share[active], gap
        inside = (aim > low[active]) & (aim < high[active])
        middle = 0.5 * (low[active] + high[active])
        share[active] = np.where(still, np.where(inside, aim, middle), share[active])
        active = active[still]
    missed = np.flatnonzero(~met)
    if missed.size:
        # A tracker drops out on the way: the largest share that stays below the cap.
        share[missed] = low[missed]
        reached[missed] = convert(share[missed, None] * free[missed], steps[missed])
    return Curtailed(steps, share[:, None] * free, reached, met)
