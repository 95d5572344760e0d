"""The junction voltage of a cell group that carries a current, or shows a voltage.

Both searches are one-dimensional and monotone: Newton's method inside a bracket.
"""

from __future__ import annotations

import math

from yieldkit.physics.circuit.diode import cell_current, group_state
from yieldkit.physics.compiled import compiled

_MAX_ITERATIONS = 200


@compiled
def junction_at_current(current, diode, reverse, start):
    """Return the junction voltage at which a group under its bypass diode carries a current.

    Newton from a start that overshoots on the falling side, kept inside a bracket; it ends when
    the current is met.

    Parameters
    ----------
    current : float
        Current of the group [A].
    diode : Diode
        The cells.
    reverse : ReversePath
        Bypass diode and breakdown.
    start : float
        Junction voltage to start from [V], nan for none.

    Returns
    -------
    tuple of (float, int)
        Junction voltage [V]; 0 when the current was met, 1 when not.
    """
    vd = start
    if math.isnan(vd):
        vd = first_junction(current, diode, reverse)
    low = -math.inf
    high = math.inf
    a = diode.n_ns_vth
    leak = reverse.bypass.saturation_current
    scale = 1e-13 * (abs(diode.photocurrent) + abs(current) + leak) + 1e-300
    for _ in range(_MAX_ITERATIONS):
        total, _volts, slope, _s2, _dv, _d2 = group_state(vd, diode, reverse)
        gap = total - current
        if abs(gap) <= scale:
            return vd, 0
        if gap > 0.0:
            low = vd
        else:
            high = vd
        step = -gap / slope
        # On the convex (bypass) side and on the diode side alike a long step is a wrong one.
        if abs(step) > a and (math.isinf(low) or math.isinf(high)):
            low = max(low, lowest_junction(current, diode, reverse) - 1e-6 * a)
            high = min(high, highest_junction(current, diode) + 1e-6 * a)
        moved = vd + min(step, 6.0 * a)
        if not low < moved < high:
            moved = 0.5 * (low + high)
        if moved == vd or high - low <= 4e-16 * abs(moved):
            return vd, 0
        vd = moved
    return vd, 1


@compiled
def lowest_junction(current, diode, reverse):
    """Return a junction voltage that a group carrying a current can't fall below.

    In reverse the cells carry at least their photocurrent, so the bypass diode has at most the
    rest to carry.

    Parameters
    ----------
    current : float
        Current of the group [A].
    diode : Diode
        The cells.
    reverse : ReversePath
        Bypass diode and breakdown.

    Returns
    -------
    float
        [V].
    """
    il = diode.photocurrent
    bypass = reverse.bypass
    drop = bypass.n_vth * math.log1p(max(current - il, 0.0) / bypass.saturation_current)
    lowest = min(il * diode.resistance_series - drop, 0.0)
    # The avalanche carries any current before its breakdown voltage is reached.
    if reverse.breakdown.factor != 0.0:
        return max(lowest, reverse.breakdown.voltage)
    return lowest


@compiled
def highest_junction(current, diode):
    """Return a junction voltage that a group carrying a current can't exceed.

    Parameters
    ----------
    current : float
        Current of the group [A].
    diode : Diode
        The cells.

    Returns
    -------
    float
        [V].
    """
    il = diode.photocurrent
    forward = math.log1p(max(il - current, 0.0) / diode.saturation_current)
    return max(diode.n_ns_vth * forward, il * diode.resistance_series)


@compiled
def first_junction(current, diode, reverse):
    """Return a junction voltage to start the search for a current from.

    The ideal diode's or the shunt's, whichever is lower; above the photocurrent the bypass
    diode's.

    Parameters
    ----------
    current : float
        Current of the group [A].
    diode : Diode
        The cells.
    reverse : ReversePath
        Bypass diode and breakdown.

    Returns
    -------
    float
        [V].
    """
    remaining = diode.photocurrent - current
    by_shunt = remaining * diode.resistance_shunt
    if remaining > 0.0:
        return min(diode.n_ns_vth * math.log1p(remaining / diode.saturation_current), by_shunt)
    bypass = reverse.bypass
    volts = -bypass.n_vth * math.log1p(-remaining / bypass.saturation_current)
    start = max(volts + diode.photocurrent * diode.resistance_series, by_shunt)
    if reverse.breakdown.factor != 0.0:
        return max(start, 0.9 * reverse.breakdown.voltage)
    return start


@compiled
def junction_at_voltage(volts, diode, breakdown, start):
    """Return the junction voltage at which a group shows a voltage.

    Parameters
    ----------
    volts : float
        Voltage across the group [V].
    diode : Diode
        The cells.
    breakdown : Breakdown
        Their breakdown in reverse.
    start : float
        Junction voltage to start from [V], nan for none.

    Returns
    -------
    tuple of (float, int)
        Junction voltage [V]; 0 when the voltage was met, 1 when not.
    """
    il, a, rs = diode.photocurrent, diode.n_ns_vth, diode.resistance_series
    vd = start
    if math.isnan(vd):
        vd = min(volts + il * rs, a * math.log1p(max(il, 0.0) / diode.saturation_current) + 4.0 * a)
        vd = max(vd, volts) if rs == 0.0 else vd
    low = -math.inf
    high = math.inf
    scale = 1e-14 * (abs(volts) + abs(il) * rs + a)
    for _ in range(_MAX_ITERATIONS):
        current, first, _second = cell_current(vd, diode, breakdown)
        gap = vd - current * rs - volts
        if abs(gap) <= scale:
            return vd, 0
        if gap < 0.0:
            low = vd
        else:
            high = vd
        step = -gap / (1.0 - first * rs)
        step = min(max(step, -30.0 * a - abs(vd)), 6.0 * a)
        moved = vd + step
        if not low < moved < high:
            moved = 0.5 * (low + high)
        if moved == vd or high - low <= 4e-16 * abs(moved):
            return vd, 0
        vd = moved
    return vd, 1
