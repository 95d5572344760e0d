"""Tripping and reconnecting at too high a voltage: what a plant loses that does so all the time.

A ten-minute mean of the voltage trips the inverter; switched off it delivers nothing, waits,
reconnects, and the mean rises again. Everything follows from one number, the height of the limit
as a share of the plant's own voltage rise, so that one table serves all steps under the same rules.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from yieldkit.base.arrays import FloatArray
from yieldkit.physics.compiled import compiled, compiled_owning

WINDOW_S = 600
"""Length of the voltage's mean [s] (EN 50549-1 and national rules; from memory)."""
_HEIGHTS = 401
# Cycles settle within a few windows; whole later ones are counted.
_SETTLING_S, _COUNTED_S = 12 * WINDOW_S, 60 * WINDOW_S


@compiled
def _settled_loss(limit, delay, ramp, cleared, window):
    """Return the share lost at one limit of the mean, second by second until the cycle has settled.

    Parameters
    ----------
    limit : float
        Limit of the window's sum, in seconds at full rise [s].
    delay, ramp : float
        Time off before reconnecting, and time to ramp up to full power [s].
    cleared : bool
        Whether the mean starts anew on every reconnection.
    window : ndarray
        Room for the rise in each of the last seconds, as a share of the full rise [1] (second,).

    Returns
    -------
    float
        [1].
    """
    window[:] = 0.0
    window_sum, energy, on, since, oldest = 0.0, 0.0, True, 0, 0
    first_trip, last_trip, energy_first, energy_last = -1, -1, 0.0, 0.0
    for second in range(_SETTLING_S + _COUNTED_S):
        power = 0.0
        since += 1
        if on:
            power = since / ramp if since < ramp else 1.0
        energy += power
        window_sum += power - window[oldest]
        window[oldest] = power
        oldest = oldest + 1 if oldest + 1 < WINDOW_S else 0
        if on and window_sum > limit:
            on, since = False, 0
            if second >= _SETTLING_S:
                last_trip, energy_last = second, energy
                if first_trip < 0:
                    first_trip, energy_first = second, energy
        elif not on and since >= delay:
            on, since = True, 0
            if cleared:
                window[:] = 0.0
                window_sum = 0.0
    return 1.0 - (energy_last - energy_first) / max(last_trip - first_trip, 1)


@compiled_owning
def _fill_losses(delay, ramp, cleared, shares):
    """Fill the share lost at limits from 0 to 1 of the full rise.

    Parameters
    ----------
    delay, ramp, cleared
        As for `_settled_loss`.
    shares : ndarray
        Filled [1] (place,).
    """
    places = shares.size
    window = np.empty(WINDOW_S)
    shares[0] = 1.0
    for place in range(1, places):
        # The last limit lies just below what the plant reaches.
        limit = WINDOW_S * min(place / (places - 1), 1.0 - 1e-6) + 1e-6
        shares[place] = _settled_loss(limit, delay, ramp, cleared, window)


@lru_cache(maxsize=64)
def mean_cycle_losses(delay_s: float, ramp_s: float, cleared: bool = False) -> FloatArray:
    """Return the share lost to a limit of the ten-minute mean, by the limit's height.

    Parameters
    ----------
    delay_s, ramp_s : float
        Time off before reconnecting, and time to ramp up to full power [s].
    cleared : bool
        Whether the mean starts anew, at the voltage without feed-in, on every reconnection;
        otherwise it slides on while the plant is off.

    Returns
    -------
    ndarray
        Share of the energy lost [1] at limits evenly from 0 (the voltage without feed-in) to 1
        (that with the plant's full rise), read-only (place,). It is that of the cycle which a
        plant settles in, one second after the other, while its voltage and available power stay
        as they are; its rise is proportional to its power. Tripping takes a second at least.
    """
    shares = np.empty(_HEIGHTS)
    _fill_losses(float(max(delay_s, 1.0)), float(ramp_s), bool(cleared), shares)
    shares.setflags(write=False)
    return shares


@compiled
def lost_share(v_without, rise, rules, cycles):
    """Return the share of energy lost to switch-off at a constant voltage.

    Parameters
    ----------
    v_without, rise : float
        Voltage at the terminals without the own feed-in, and its rise at full power [V].
    rules : Rules
        The network rules; nan for a limit that there is not.
    cycles : ndarray
        Shares lost [1] from `mean_cycle_losses` (place,).

    Returns
    -------
    float
        From 0 to 1 [1].
    """
    mean, stage = rules.mean_limit_v, rules.stage_limit_v
    lowest = stage if np.isnan(mean) or stage < mean else mean
    if not (rise > 0.0 and v_without + rise > lowest):
        return 0.0
    if v_without >= lowest or v_without >= rules.reconnect_below_v:
        return 1.0
    lost = 0.0
    if v_without + rise > mean:
        place = (mean - v_without) / rise * (cycles.size - 1)
        before = int(place)
        part = place - before
        lost = (1.0 - part) * cycles[before] + part * cycles[min(before + 1, cycles.size - 1)]
    if v_without + rise > stage:
        # An instantaneous stage trips at the power that reaches it, on the way up.
        share = (stage - v_without) / rise
        energy_s = 0.5 * share * share * rules.ramp_s
        lost = max(lost, 1.0 - energy_s / (rules.reconnect_delay_s + share * rules.ramp_s + 1e-9))
    return lost
