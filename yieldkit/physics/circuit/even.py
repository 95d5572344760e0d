"""Strings in parallel that are each lit evenly: the one maximum, for many steps side by side.

With reverse currents kept, P(V) of such strings is concave. Newton on dP/dV, with one exponential
a string and iteration: junction voltages follow the common voltage, and what they lack is made up
to second order. Steps are solved in lanes, in plain arithmetic that compilers turn into vector
instructions; a lane that is settled is left alone, so no lane depends on its neighbours. What
doesn't settle here, or where bypass diodes do more than leak, is left to the general solver.
"""

from __future__ import annotations

import numpy as np

from yieldkit.physics.circuit.diode import BYPASS_IS, BYPASS_NVTH
from yieldkit.physics.circuit.net import is_dark
from yieldkit.physics.compiled import compiled

LANES = 32
_ITERATIONS = 40
# A step this small leaves an error of its square, and currents to third order: below 1e-9.
_CLOSE = 2e-4
_BYPASS_OFF = 40.0
_MAX_EXPONENT = 44.0
_LN2 = float(np.log(2.0))
_LN25 = float(np.log(25.0))
_MANTISSA = 2.0**-52
# Exponent bias of a double, less what makes a straight line through its bits the best logarithm.
_BIAS = 1023.0 - 0.043
# Any position below this many values keeps its sign for the compiler, which can then vectorise.
_POSITIVE = 0xFFFFFF

# The memory of a block of lanes: rows that all strings share, then rows of each string.
_VOLTS, _SUM, _SLOPES, _BENDS, _GAP, _LOWEST, _STATE, _STEP = (LANES * row for row in range(8))
_SHARED = 8 * LANES
(
    _IL,
    _I0,
    _RS,
    _RSH,
    _A,
    _INV_A,
    _INV_RSH,
    _VD,
    _CURRENT,
    _SLOPE,
    _BEND,
    _OFF,
    _INVERSE,
    _OWN,
    _OWN_VOLTS,
    _OWN_STATE,
    _OWN_STEP,
) = (LANES * row for row in range(17))
_STRING = 17 * LANES
# States of a lane.
_FAILED, _DONE, _LIVE, _SETTLING = -1.0, 0.0, 1.0, 2.0


@compiled
def exponential(x):
    """Return exp(x) for |x| up to 45 within 1e-11: Taylor at x / 64, squared six times."""
    y = x * (1.0 / 64.0)
    p = 1.0 / 39916800.0 + y * (1.0 / 479001600.0 + y * (1.0 / 6227020800.0))
    p = 1.0 / 40320.0 + y * (1.0 / 362880.0 + y * (1.0 / 3628800.0 + y * p))
    p = 1.0 / 120.0 + y * (1.0 / 720.0 + y * (1.0 / 5040.0 + y * p))
    p = 1.0 + y * (1.0 + y * (0.5 + y * (1.0 / 6.0 + y * (1.0 / 24.0 + y * p))))
    p = p * p
    p = p * p
    p = p * p
    p = p * p
    p = p * p
    return p * p


@compiled
def start_at_knee(memory, bits, base, n, r, many):
    """Set a string's junction voltages near maximum power, and its weight in the common voltage.

    From the ideal diode (1 + x) exp(x) = I_L / I_0 + 1 by the asymptotic Lambert function with
    cheap logarithms, and a first-order shift for R_s.
    """
    base = base & _POSITIVE
    for i in range(LANES):
        memory[base + _INV_A + i] = 1.0 / memory[base + _A + i]
        memory[base + _INV_RSH + i] = 1.0 / memory[base + _RSH + i]
        memory[base + _OFF + i] = 1.0 + memory[base + _IL + i] / memory[base + _I0 + i]
    for i in range(LANES):
        log = _LN2 * (float(bits[base + _OFF + i]) * _MANTISSA - _BIAS)
        whole = 1.0 + log
        inner = _LN25 + 2.0 * (whole - 25.0) / (whole + 25.0)
        inner = inner if inner < log else log
        x = log - inner + inner / whole
        x = x if x > 0.05 else 0.05
        il = memory[base + _IL + i]
        rs = memory[base + _RS + i]
        a = memory[base + _A + i]
        current = il * x / (1.0 + x)
        shift = il * rs / (a * (1.0 + x))
        moved = x - shift / (1.0 + 0.5 * shift)
        vd = a * (moved if moved > 0.1 * x else 0.1 * x)
        memory[base + _VD + i] = vd
        memory[base + _CURRENT + i] = many * current
        memory[base + _OWN + i] = many * current * (n * (vd - current * rs) - r * current)


@compiled
def common_start(memory, strings):
    """Set the common voltage to the strings' own knees weighted by their currents."""
    for i in range(LANES):
        weight = 0.0
        volts = 0.0
        for s in range(strings):
            base = (_SHARED + s * _STRING) & _POSITIVE
            weight += memory[base + _CURRENT + i]
            volts += memory[base + _OWN + i]
        memory[_VOLTS + i] = volts / weight
        memory[_STATE + i] = _LIVE


@compiled
def clear_sums(memory):
    """Set the sums over strings to zero."""
    for i in range(LANES):
        memory[_SUM + i] = 0.0
        memory[_SLOPES + i] = 0.0
        memory[_BENDS + i] = 0.0
        memory[_GAP + i] = 0.0
        memory[_LOWEST + i] = 1e300


@compiled
def spread(memory, base):
    """Copy what the strings share into a string's own rows."""
    base = base & _POSITIVE
    for i in range(LANES):
        memory[base + _OWN_VOLTS + i] = memory[_VOLTS + i]
        memory[base + _OWN_STATE + i] = memory[_STATE + i]
        memory[base + _OWN_STEP + i] = memory[_STEP + i]


@compiled
def meet_start(memory, base, n):
    """Move a string's junction voltages to the common voltage, not far above their knee."""
    base = base & _POSITIVE
    inverse = 1.0 / n
    for i in range(LANES):
        series = 0.9 * memory[base + _IL + i] * memory[base + _RS + i]
        wanted = memory[base + _OWN_VOLTS + i] * inverse + series
        most = memory[base + _VD + i] + 3.0 * memory[base + _A + i]
        memory[base + _VD + i] = wanted if wanted < most else most


@compiled
def evaluate(memory, base, n, r, leak):
    """Evaluate a string: its current at the common voltage, with derivatives and what it lacks."""
    base = base & _POSITIVE
    for i in range(LANES):
        vd = memory[base + _VD + i]
        inv_a = memory[base + _INV_A + i]
        inv_rsh = memory[base + _INV_RSH + i]
        rs = memory[base + _RS + i]
        i0 = memory[base + _I0 + i]
        x = vd * inv_a
        x = x if x < _MAX_EXPONENT else _MAX_EXPONENT
        x = x if x > -_MAX_EXPONENT else -_MAX_EXPONENT
        e = i0 * exponential(x)
        cells = memory[base + _IL + i] - (e - i0) - vd * inv_rsh
        g = -e * inv_a - inv_rsh
        g2 = -e * inv_a * inv_a
        own = vd - cells * rs
        stretch = n * (1.0 - g * rs) - r * g
        inverse = 1.0 / stretch
        total = cells - leak
        off = memory[base + _OWN_VOLTS + i] - n * own + r * total
        i1 = g * inverse
        i2 = g2 * (stretch + g * (n * rs + r)) * inverse * inverse * inverse
        current = total + i1 * off + 0.5 * i2 * off * off
        live = memory[base + _OWN_STATE + i] == _LIVE
        memory[base + _OFF + i] = off
        memory[base + _INVERSE + i] = inverse
        memory[base + _SLOPE + i] = i1 + i2 * off
        memory[base + _BEND + i] = i2
        memory[base + _OWN + i] = own
        memory[base + _CURRENT + i] = current if live else memory[base + _CURRENT + i]


@compiled
def add_string(memory, base, many):
    """Add a string to the sums."""
    base = base & _POSITIVE
    for i in range(LANES):
        memory[_SUM + i] += many * memory[base + _CURRENT + i]
        memory[_SLOPES + i] += many * memory[base + _SLOPE + i]
        memory[_BENDS + i] += many * memory[base + _BEND + i]
        gap = abs(memory[base + _OFF + i])
        memory[_GAP + i] = gap if gap > memory[_GAP + i] else memory[_GAP + i]
        own = memory[base + _OWN + i]
        memory[_LOWEST + i] = own if own < memory[_LOWEST + i] else memory[_LOWEST + i]


@compiled
def newton_step(memory):
    """Take Newton's step on dP/dV, and tell the lanes that are settled or have failed."""
    for i in range(LANES):
        volts = memory[_VOLTS + i]
        slope = memory[_SUM + i] + volts * memory[_SLOPES + i]
        curve = 2.0 * memory[_SLOPES + i] + volts * memory[_BENDS + i]
        step = -slope / curve
        most = 0.3 * volts
        step = step if step < most else most
        step = step if step > -most else -most
        near = _CLOSE * volts
        close = (abs(step) <= near) & (memory[_GAP + i] <= near)
        concave = curve < 0.0
        live = memory[_STATE + i] == _LIVE
        after = _SETTLING if close else _LIVE
        after = after if concave else _FAILED
        moves = live & concave
        step = step if moves else 0.0
        memory[_STATE + i] = after if live else memory[_STATE + i]
        memory[_STEP + i] = step
        memory[_VOLTS + i] = volts + step


@compiled
def follow(memory, base):
    """Let a string's junction voltages follow the step, or end with its current."""
    base = base & _POSITIVE
    for i in range(LANES):
        state = memory[base + _OWN_STATE + i]
        step = memory[base + _OWN_STEP + i]
        bend = 0.5 * step * memory[base + _BEND + i]
        current = memory[base + _CURRENT + i] + step * (memory[base + _SLOPE + i] + bend)
        settles = state == _SETTLING
        memory[base + _CURRENT + i] = current if settles else memory[base + _CURRENT + i]
        moved = (memory[base + _OFF + i] + step) * memory[base + _INVERSE + i]
        most = 4.0 * memory[base + _A + i]
        moved = moved if moved < most else most
        memory[base + _VD + i] += moved if state == _LIVE else 0.0


@compiled
def lanes_left(memory):
    """End the lanes that were settling; return how many are still live."""
    left = 0
    for i in range(LANES):
        if memory[_STATE + i] == _SETTLING:
            memory[_STATE + i] = _DONE
        elif memory[_STATE + i] == _LIVE:
            left += 1
    return left


@compiled
def solve_lanes(memory, bits, even, resistances, leak):
    """Solve a block of lanes whose conditions are in place."""
    strings = even.shape[0]
    for s in range(strings):
        base = _SHARED + s * _STRING
        start_at_knee(memory, bits, base, float(even[s, 1]), resistances[s], float(even[s, 2]))
    common_start(memory, strings)
    for s in range(strings):
        base = _SHARED + s * _STRING
        spread(memory, base)
        meet_start(memory, base, float(even[s, 1]))
    for _ in range(_ITERATIONS):
        clear_sums(memory)
        for s in range(strings):
            base = _SHARED + s * _STRING
            evaluate(memory, base, float(even[s, 1]), resistances[s], leak)
            add_string(memory, base, float(even[s, 2]))
        newton_step(memory)
        for s in range(strings):
            base = _SHARED + s * _STRING
            spread(memory, base)
            follow(memory, base)
        if lanes_left(memory) == 0:
            return


@compiled
def even_maxima(begin, end, conditions, even, net, free, currents):
    """Find the power maximum of evenly lit strings for many steps.

    Parameters
    ----------
    begin, end : int
        Steps to solve.
    conditions : ndarray
        Packed conditions (time, condition, 5).
    even : ndarray of int
        Condition, groups in series and multiplicity of each string (string, 3).
    net : Net
        The tracker; without breakdown.
    free : ndarray
        Filled with voltage [V], power [W] and 1 where settled (time, 3).
    currents : ndarray
        Filled with the strings' currents [A] where settled (time, string).
    """
    strings = even.shape[0]
    shape = even.copy()
    series, parallel = 1.0, 1.0
    if strings == 1:
        # Equal strings are one, scaled, and without cable one group, scaled, bit for bit.
        parallel = float(even[0, 2])
        shape[0, 2] = 1
        if net.resistances[0] == 0.0:
            series = float(even[0, 1])
            shape[0, 1] = 1
    memory = np.zeros(_SHARED + strings * _STRING)
    bits = memory.view(np.int64)
    steps = np.zeros(LANES, dtype=np.int64)
    least = _BYPASS_OFF * net.diodes[BYPASS_NVTH]
    t = begin
    while t < end:
        count = 0
        while t < end and count < LANES:
            if is_dark(conditions[t], net.runs) == 0:
                steps[count] = t
                count += 1
            t += 1
        if count == 0:
            return
        steps[count:] = steps[0]
        for s in range(strings):
            base = _SHARED + s * _STRING
            for i in range(LANES):
                for place in range(5):
                    memory[base + LANES * place + i] = conditions[steps[i], shape[s, 0], place]
        solve_lanes(memory, bits, shape, net.resistances, net.diodes[BYPASS_IS])
        for i in range(count):
            read_lane(memory, i, steps[i], shape, least, series, parallel, free, currents)


@compiled
def read_lane(memory, i, t, shape, least, series, parallel, free, currents):
    """Take a settled lane's voltage, power and currents out of the memory."""
    if memory[_STATE + i] != _DONE or memory[_LOWEST + i] <= least:
        return
    total = 0.0
    for s in range(shape.shape[0]):
        base = _SHARED + s * _STRING
        if memory[base + _VD + i] * memory[base + _INV_A + i] >= _MAX_EXPONENT:
            return
        currents[t, s] = memory[base + _CURRENT + i]
        total += shape[s, 2] * currents[t, s]
    volts = memory[_VOLTS + i]
    free[t, 0] = series * volts
    free[t, 1] = parallel * (series * (volts * total))
    free[t, 2] = 1.0
