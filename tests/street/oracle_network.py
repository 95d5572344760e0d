"""A second opinion on a network's limits: switch-off second by second, power held by voltage."""

import numpy as np

from tests.street import oracle_ac

_WINDOW_S = 600
_SETTLED_S, _COUNTED_S = 7200, 14400
_MEAN_LIMIT = {
    # Of nominal: limit of the ten-minute mean, seconds off, seconds of ramp; from memory.
    "en-50549-1": (1.10, 60, 0),
    "vde-ar-n-4105-2018": (1.10, 60, 600),
}


def lost_to_switch_off(site: dict, without: np.ndarray, rise: np.ndarray) -> np.ndarray:
    """Return the share of each step lost to switch-off, simulated second by second (time,).

    Parameters
    ----------
    site : dict
        The site file.
    without, rise : ndarray
        Voltage at the terminals without the own feed-in, and its rise [V] (time,).

    Returns
    -------
    ndarray
        A plant feeds until the mean of ten minutes passes the limit, is off, comes back and
        ramps up; the mean slides on all the time. Two hours settle, the whole cycles of four
        more are counted.
    """
    lost = np.zeros(without.shape)
    profile = site.get("grid", {}).get("profile")
    if profile not in _MEAN_LIMIT:
        return lost
    share, delay, ramp = _MEAN_LIMIT[profile]
    limit = share * site["inverter"]["ac"]["nominal_voltage_v"]
    trips = np.flatnonzero((rise > 0.0) & (without + rise > limit))
    hopeless = without[trips] >= limit
    lost[trips[hopeless]] = 1.0
    trips = trips[~hopeless]
    if trips.size:
        lost[trips] = _cycles((limit - without[trips]) / rise[trips], delay, ramp)
    return lost


def _cycles(height: np.ndarray, delay: int, ramp: int) -> np.ndarray:
    """Return the share lost where the limit lies at a height of the plant's own rise (lane,)."""
    lanes = height.size
    window = np.zeros((_WINDOW_S, lanes))
    held, fed, since = np.zeros(lanes), np.zeros(lanes), np.zeros(lanes)
    on = np.ones(lanes, dtype=bool)
    first = np.full((2, lanes), np.nan)
    last = np.full((2, lanes), np.nan)
    for second in range(_SETTLED_S + _COUNTED_S):
        since += 1.0
        power = on * (np.minimum(since / ramp, 1.0) if ramp else 1.0)
        fed += power
        place = second % _WINDOW_S
        held += power - window[place]
        window[place] = power
        trips = on & (held > height * _WINDOW_S)
        back = ~on & (since >= delay)
        if second >= _SETTLED_S:
            now = np.stack([np.full(lanes, float(second)), fed])
            first = np.where(trips & np.isnan(first), now, first)
            last = np.where(trips, now, last)
        on = (on & ~trips) | back
        since = np.where(trips | back, 0.0, since)
    return 1.0 - (last[1] - first[1]) / (last[0] - first[0])


def held_by_voltage(site: dict, power: np.ndarray, outside: np.ndarray) -> np.ndarray:
    """Return the largest power that the voltage it causes allows [W] (time,), by halving.

    AS/NZS 4777.2:2020 region A: full power up to 253 V, a fifth of it from 260 V on; from memory.
    """
    cap = np.full(power.shape, np.inf)
    if site.get("grid", {}).get("profile") != "as-nzs-4777-2-a":
        return cap
    nominal = site["inverter"]["ac"]["nominal_power_w"]

    def allowed(watts: np.ndarray, where: np.ndarray) -> np.ndarray:
        volts, _ = oracle_ac.terminals(site, watts, outside[where])
        share = np.interp(volts, [253.0, 260.0], [1.0, 0.2])
        return np.where(volts <= 253.0, np.inf, nominal * share)

    over = np.flatnonzero(power > allowed(power, np.arange(power.size)))
    low, high = np.zeros(over.size), power[over]
    for _ in range(40):
        half = 0.5 * (low + high)
        fits = half <= allowed(half, over)
        low, high = np.where(fits, half, low), np.where(fits, high, half)
    cap[over] = low
    return cap
