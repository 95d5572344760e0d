"""Tripping and reconnecting at too high a voltage: what a plant loses that does so all the time.

A ten-minute mean of the voltage trips the inverter; off, it feeds nothing, waits, comes back, and
the mean climbs again. Everything follows from one number, the height of the limit in the plant's
own rise, so that one table serves all steps under the same rules.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from yieldkit.base.arrays import FloatArray
from yieldkit.physics.compiled import compiled

WINDOW_S = 600
"""Length of the voltage's mean [s] (EN 50549-1 and national rules; from memory)."""
_HEIGHTS = 401
# Cycles settle within a few windows; whole later ones are counted.
_SETTLING_S, _COUNTED_S = 12 * WINDOW_S, 60 * WINDOW_S


@compiled
def _losses(delay, ramp, cleared, settling, counted, shares):
    """Fill the share lost at limits from 0 to 1 of the rise, second by second (place,)."""
    places = shares.size
    window = np.empty(WINDOW_S)
    shares[0] = 1.0
    for place in range(1, places):
        # The last limit lies just below what the plant reaches.
        limit = WINDOW_S * min(place / (places - 1), 1.0 - 1e-6) + 1e-6
        window[:] = 0.0
        held, fed, on, since, oldest = 0.0, 0.0, True, 0, 0
        first_trip, last_trip, fed_first, fed_last = -1, -1, 0.0, 0.0
        for second in range(settling + counted):
            power = 0.0
            since += 1
            if on:
                power = since / ramp if since < ramp else 1.0
            fed += power
            held += power - window[oldest]
            window[oldest] = power
            oldest = oldest + 1 if oldest + 1 < WINDOW_S else 0
            if on and held > limit:
                on, since = False, 0
                if second >= settling:
                    last_trip, fed_last = second, fed
                    if first_trip < 0:
                        first_trip, fed_first = second, fed
            elif not on and since >= delay:
                on, since = True, 0
                if cleared:
                    window[:] = 0.0
                    held = 0.0
        shares[place] = 1.0 - (fed_last - fed_first) / max(last_trip - first_trip, 1)


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
    _losses(max(delay_s, 1.0), ramp_s, cleared, _SETTLING_S, _COUNTED_S, shares)
    shares.setflags(write=False)
    return shares


@compiled
def lost_share(without, rise, mean, stage, back, delay, ramp, cycles):
    """Return the share of energy lost to switch-off at a constant voltage.

    Parameters
    ----------
    without, rise : float
        Voltage at the terminals without the own feed-in, and its rise at full power [V].
    mean, stage, back : float
        Limit of the ten-minute mean, lowest instantaneous stage, and the voltage below which it
        reconnects [V]; nan where there is none.
    delay, ramp : float
        Observation time before reconnecting and time to ramp up [s].
    cycles : ndarray
        From `mean_cycle_losses`.
    """
    lowest = stage if np.isnan(mean) or stage < mean else mean
    if not (rise > 0.0 and without + rise > lowest):
        return 0.0
    if without >= lowest or without >= back:
        return 1.0
    lost = 0.0
    if without + rise > mean:
        place = (mean - without) / rise * (cycles.size - 1)
        before = int(place)
        part = place - before
        lost = (1.0 - part) * cycles[before] + part * cycles[min(before + 1, cycles.size - 1)]
    if without + rise > stage:
        # An instantaneous stage trips at the power that reaches it, on the way up.
        share = (stage - without) / rise
        fed = 0.5 * share * share * ramp
        lost = max(lost, 1.0 - fed / (delay + share * ramp + 1e-9))
    return lost
