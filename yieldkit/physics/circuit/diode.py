"""Single-diode kernels: one cell group with its bypass diode, solved by its junction voltage.

Everything is explicit in the junction voltage Vd = V + I R_s: the cells' current is the single
diode equation, the voltage follows, and with it the current of the bypass diode across the
group. Inverses are one-dimensional and monotone.

References
----------
Bishop, J. W. (1988). Computer simulation of the effects of electrical mismatches in
photovoltaic cell interconnection circuits. Solar Cells 25, 73-89 (eq. 2 with the reverse term).
"""

from __future__ import annotations

import math

from yieldkit.physics.compiled import compiled

# Columns of a packed condition (see circuit.pack).
IL, I0, RS, RSH, A = 0, 1, 2, 3, 4
# Columns of the packed diodes: bypass saturation current and n Vth; breakdown factor, voltage,
# exponent.
BYPASS_IS, BYPASS_NVTH, BREAK_A, BREAK_V, BREAK_M = 0, 1, 2, 3, 4

_EXP_MAX = 500.0
_MAX_ITERATIONS = 200


@compiled
def cell_current(vd, il, i0, rsh, a, diodes):
    """Return the cells' current and its first two derivatives by the junction voltage."""
    # A division costs as much as an exponential: one for each parameter.
    per_a = 1.0 / a
    per_rsh = 1.0 / rsh
    x = vd * per_a
    over = 0.0
    if x > _EXP_MAX:
        over = x - _EXP_MAX
        x = _EXP_MAX
    e = i0 * math.exp(x) * (1.0 + over)
    first = -e * per_a
    second = first * per_a
    shunt = vd * per_rsh
    current = il - (e - i0) - shunt
    first -= per_rsh
    factor = diodes[BREAK_A]
    if factor != 0.0:
        vbr = diodes[BREAK_V]
        m = diodes[BREAK_M]
        base = max(1.0 - vd / vbr, 1e-3)
        power = base ** (-m)
        slope = m * power / (base * vbr)
        bend = m * (m + 1.0) * power / (base * base * vbr * vbr)
        current -= factor * shunt * power
        first -= factor * (power * per_rsh + shunt * slope)
        second -= factor * (2.0 * slope * per_rsh + shunt * bend)
    return current, first, second


@compiled
def group_state(vd, il, i0, rs, rsh, a, diodes):
    """Return current and voltage of a group under its bypass diode at a junction voltage.

    Returns
    -------
    tuple of float
        Current [A], voltage [V], and by the junction voltage: dI, d2I, dV, d2V.
    """
    current, first, second = cell_current(vd, il, i0, rsh, a, diodes)
    volts = vd - current * rs
    dv = 1.0 - first * rs
    d2v = -second * rs
    per_vth = 1.0 / diodes[BYPASS_NVTH]
    x = -volts * per_vth
    leak = diodes[BYPASS_IS]
    if x < -40.0:
        return current - leak, volts, first, second, dv, d2v
    over = 0.0
    if x > _EXP_MAX:
        over = x - _EXP_MAX
        x = _EXP_MAX
    bypass = leak * math.exp(x) * (1.0 + over)
    slope = bypass * per_vth
    total = current + bypass - leak
    return (
        total,
        volts,
        first - slope * dv,
        second + slope * per_vth * dv * dv - slope * d2v,
        dv,
        d2v,
    )


@compiled
def knee(il, i0, rs, a):
    """Return a start for the junction voltage at maximum power, and that for the current.

    From the ideal diode (1 + x) exp(x) = I_L / I_0 + 1 by the asymptotic Lambert function, with
    a first-order shift for R_s.
    """
    whole = 1.0 + math.log1p(il / i0)
    inner = math.log(whole)
    x = max(whole - inner + inner / whole - 1.0, 0.05)
    current = il * x / (1.0 + x)
    shift = il * rs / (a * (1.0 + x))
    return a * max(x - shift / (1.0 + 0.5 * shift), 0.1 * x), current


@compiled
def junction_at_current(current, il, i0, rs, rsh, a, diodes, start):
    """Return the junction voltage at which a group carries a current, and a status.

    Newton from a start that overshoots on the falling side, kept inside a bracket; it ends on
    the residual. `start` is a junction voltage, or nan for none.

    Returns
    -------
    tuple of (float, int)
        Junction voltage [V]; 0 when the residual was met, 1 when not.
    """
    vd = start
    if math.isnan(vd):
        vd = first_junction(current, il, i0, rs, rsh, a, diodes)
    low = -math.inf
    high = math.inf
    scale = 1e-13 * (abs(il) + abs(current) + diodes[BYPASS_IS]) + 1e-300
    for _ in range(_MAX_ITERATIONS):
        total, _volts, slope, _s2, _dv, _d2 = group_state(vd, il, i0, rs, rsh, a, diodes)
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
            low = max(low, lowest_junction(current, il, rs, diodes) - 1e-6 * a)
            high = min(high, highest_junction(current, il, i0, rs, a) + 1e-6 * a)
        moved = vd + min(step, 6.0 * a)
        if not low < moved < high:
            moved = 0.5 * (low + high)
        if moved == vd or high - low <= 4e-16 * abs(moved):
            return vd, 0
        vd = moved
    return vd, 1


@compiled
def lowest_junction(current, il, rs, diodes):
    """Return a junction voltage that a group carrying a current can't fall below.

    In reverse the cells carry at least their photocurrent, so the bypass diode has at most the
    rest to carry.
    """
    drop = diodes[BYPASS_NVTH] * math.log1p(max(current - il, 0.0) / diodes[BYPASS_IS])
    lowest = min(il * rs - drop, 0.0)
    # The avalanche carries any current before its breakdown voltage is reached.
    return max(lowest, diodes[BREAK_V]) if diodes[BREAK_A] != 0.0 else lowest


@compiled
def highest_junction(current, il, i0, rs, a):
    """Return a junction voltage that a group carrying a current can't exceed."""
    return max(a * math.log1p(max(il - current, 0.0) / i0), il * rs)


@compiled
def first_junction(current, il, i0, rs, rsh, a, diodes):
    """Return a start for the junction voltage at a current: knee, shunt line or bypass."""
    room = il - current
    if room > 0.0:
        knee = a * math.log1p(room / i0)
        return min(knee, room * rsh)
    n_vth = diodes[BYPASS_NVTH]
    volts = -n_vth * math.log1p(-room / diodes[BYPASS_IS])
    start = max(volts + il * rs, room * rsh)
    return max(start, 0.9 * diodes[BREAK_V]) if diodes[BREAK_A] != 0.0 else start


@compiled
def junction_at_voltage(volts, il, i0, rs, rsh, a, diodes, start):
    """Return the junction voltage at which a group shows a voltage, and a status."""
    vd = start
    if math.isnan(vd):
        vd = min(volts + il * rs, a * math.log1p(max(il, 0.0) / i0) + 4.0 * a)
        vd = max(vd, volts) if rs == 0.0 else vd
    low = -math.inf
    high = math.inf
    scale = 1e-14 * (abs(volts) + abs(il) * rs + a)
    for _ in range(_MAX_ITERATIONS):
        current, first, _second = cell_current(vd, il, i0, rsh, a, diodes)
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
