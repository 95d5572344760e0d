"""A tracker through time: blocks of steps, start and stop, local search, power bounds.

Steps of a global search depend on their own inputs only. State lives in start and stop and in
local search alone, and ends when the array is dark.
"""

from __future__ import annotations

import math

import numpy as np

from yieldkit.physics.circuit.even import even_maxima
from yieldkit.physics.circuit.net import forget, is_dark, new_warm
from yieldkit.physics.circuit.operating_step import (
    CONCAVE,
    DARK,
    FREE,
    I_MAX,
    MIXED,
    STARTING,
    V_HIGH,
    V_LOW,
    V_TOP,
    WINDOW_LOW,
    best_of,
    bounded_point,
    feasible_low,
    free_maxima,
    high_code,
    limited_point,
)
from yieldkit.physics.circuit.peaks import fill_peaks
from yieldkit.physics.circuit.tracker import open_circuit, tracker_at_voltage
from yieldkit.physics.compiled import compiled

# Columns of the packed start and stop conditions.
V_START, P_START, START_DELAY, V_STOP, P_STOP, RESTART_DELAY, STEP = range(7)
# Columns of the points.
VOLTS, AMPS, WATTS, LOST = range(4)
POINT_COLUMNS = 4
_OFF, _RUNNING, _STOPPED = 0, 1, 2


@compiled
def clear(t, outputs, missing):
    """Set a step's outputs to zero, or to missing."""
    value = math.nan if missing else 0.0
    for column in range(outputs.points.shape[1]):
        outputs.points[t, column] = value
    for s in range(outputs.strings.shape[1]):
        outputs.strings[t, s] = value


@compiled
def write_point(t, volts, power, top, currents, outputs):
    """Write a step's point; what it lacks of the free maximum is lost to a limit."""
    if power <= 0.0:
        clear(t, outputs, False)
        outputs.points[t, LOST] = top
        return
    outputs.points[t, VOLTS] = volts
    outputs.points[t, WATTS] = power
    outputs.points[t, AMPS] = power / volts
    outputs.points[t, LOST] = top - power
    for s in range(currents.shape[0]):
        outputs.strings[t, s] = currents[s]


@compiled
def solve_block(begin, end, kind, conditions, peaks, even, net, limits, outputs):
    """Solve steps `begin` to `end` by global search inside window and input current."""
    warm = new_warm(net)
    found = np.empty((2 * net.runs.shape[0] + net.many.shape[0] + 2, 2))
    free = outputs.free
    if kind == CONCAVE:
        even_maxima(begin, end, conditions, even, net, free, outputs.strings)
    elif kind == MIXED:
        fill_peaks(begin, end, conditions, net.diodes, peaks)
    for t in range(begin, end):
        volts, top = free[t, 0], free[t, 1]
        high = min(limits[V_HIGH], limits[V_TOP])
        if free[t, 2] == 1.0 and limits[V_LOW] <= volts <= high and top <= limits[I_MAX] * volts:
            outputs.points[t, VOLTS] = volts
            outputs.points[t, WATTS] = top
            outputs.points[t, AMPS] = top / volts
            outputs.codes[t] = FREE
        else:
            solve_step(t, kind, conditions, peaks, free, net, limits, warm, found, outputs)


@compiled
def solve_step(t, kind, conditions, peaks, free, net, limits, warm, found, outputs):
    """Solve one step by global search inside window and input current."""
    here = conditions[t]
    dark = is_dark(here, net.runs)
    if dark != 0:
        clear(t, outputs, dark < 0)
        outputs.codes[t] = DARK
        return
    count, status = free_maxima(kind, t, conditions, peaks, free, net, False, found, warm)
    if count == 0:
        clear(t, outputs, False)
        outputs.codes[t] = DARK
        outputs.statuses[t] = status
        return
    best = best_of(found, count)
    top = found[best, 1]
    volts, power, code = found[best, 0], top, FREE
    high = min(limits[V_HIGH], limits[V_TOP])
    fits = limits[V_LOW] <= volts <= high and power <= limits[I_MAX] * volts
    if kind != MIXED or not fits:
        forget(warm)
    if not fits:
        if kind != CONCAVE:
            count, status = free_maxima(kind, t, conditions, peaks, free, net, True, found, warm)
        volts, power, code, bad = limited_point(found, count, limits, here, net, warm)
        status = max(status, bad)
    if code == FREE and kind == MIXED:
        warm.currents[0] = power / (volts * net.many[0])
    elif power > 0.0:
        _total, _d, _d2, bad = tracker_at_voltage(volts, here, net, warm)
        status = max(status, bad)
    write_point(t, volts, power, top, warm.currents, outputs)
    outputs.codes[t] = code
    outputs.statuses[t] = status


@compiled
def advance(state, dark, highest, volts, power, rules):
    """Carry the start and stop state through one step.

    Parameters
    ----------
    state : ndarray
        Mode (off, running, stopped earlier today) and seconds waited (2,); updated.
    dark : bool
        Whether the array is dark: everything starts afresh.
    highest, volts, power : float
        Open-circuit voltage, operating voltage [V] and power [W] the step offers.
    rules : ndarray
        Packed start and stop conditions and the step's length [s].

    Returns
    -------
    float
        Share of the step for which the tracker runs.
    """
    if dark:
        state[0] = _OFF
        state[1] = 0.0
        return 0.0
    if state[0] == _RUNNING:
        if power > 0.0 and volts >= rules[V_STOP] and power >= rules[P_STOP]:
            return 1.0
        state[0] = _STOPPED
        state[1] = 0.0
        return 0.0
    ready = power > 0.0 and highest >= rules[V_START] and power >= rules[P_START]
    ready = ready and volts >= rules[V_STOP] and power >= rules[P_STOP]
    if not ready:
        state[1] = 0.0
        return 0.0
    wait = rules[START_DELAY] if state[0] == _OFF else rules[RESTART_DELAY]
    left = max(wait - state[1], 0.0)
    if left >= rules[STEP]:
        state[1] += rules[STEP]
        return 0.0
    state[0] = _RUNNING
    state[1] = 0.0
    return 1.0 - left / rules[STEP]


@compiled
def hold_states(rules, conditions, net, outputs):
    """Apply start and stop conditions to solved steps, in their order.

    The open-circuit voltage is looked for only where a start depends on it: where the operating
    voltage, which lies below it, is not enough already.
    """
    state = np.zeros(2)
    points = outputs.points
    for t in range(points.shape[0]):
        if math.isnan(points[t, WATTS]):
            state[:] = 0.0
            continue
        dark = outputs.codes[t] == DARK
        highest = points[t, VOLTS]
        waits = not dark and state[0] != _RUNNING and points[t, WATTS] > 0.0
        if waits and highest < rules[V_START]:
            highest, bad = open_circuit(conditions[t], net)
            outputs.statuses[t] = max(outputs.statuses[t], bad)
        share = advance(state, dark, highest, points[t, VOLTS], points[t, WATTS], rules)
        run_for(t, share, outputs)


@compiled
def run_for(t, share, outputs):
    """Scale a step's mean current and power by the share of it that the tracker runs."""
    points = outputs.points
    if share >= 1.0 or points[t, WATTS] <= 0.0:
        return
    points[t, LOST] += (1.0 - share) * points[t, WATTS]
    points[t, WATTS] *= share
    points[t, AMPS] *= share
    if share == 0.0:
        points[t, VOLTS] = 0.0
    outputs.strings[t, :] *= share
    outputs.codes[t] = STARTING


@compiled
def nearest_maximum(found, count, start, slope, low, high):
    """Return the maximum that climbing from a voltage reaches, or the end of the range."""
    if slope > 0.0:
        reached = high
        for place in range(count):
            if start < found[place, 0] < reached:
                reached = found[place, 0]
        return reached
    reached = low
    for place in range(count):
        if reached < found[place, 0] <= start:
            reached = found[place, 0]
    return reached


@compiled
def climb_from(last, found, count, highest, limits, here, net, warm):
    """Hold a voltage, clip it to what is allowed, climb to a maximum: voltage, power, code.

    Parameters
    ----------
    last : float
        Voltage of the step before [V]; nan to come from open circuit.
    found : ndarray
        Voltage [V] and power [W] of the maxima, of which `count` are filled (maximum, 2).
    count : int
        How many maxima there are.
    highest : float
        Open-circuit voltage [V].
    limits : ndarray
        Packed limits: window, maximum voltage [V], input current [A].
    here : ndarray
        Packed conditions of this step (condition, 5).
    net : Net
        The tracker.
    warm : Warm
        Starts of the strings' solutions; filled with their currents.
    """
    low, low_code = limits[V_LOW], WINDOW_LOW
    if highest > low:
        low, low_code = feasible_low(limits, here, net, warm, highest)
    high = min(limits[V_HIGH], limits[V_TOP], highest)
    if low >= high:
        return 0.0, 0.0, low_code
    start = highest if math.isnan(last) else last
    start = min(max(start, low), high)
    total, i1, _i2, _bad = tracker_at_voltage(start, here, net, warm)
    volts = nearest_maximum(found, count, start, total + start * i1, low, high)
    total, _i1, _i2, _bad = tracker_at_voltage(volts, here, net, warm)
    code = FREE
    if volts <= low:
        code = low_code
    elif volts >= high:
        code = high_code(limits)
    return volts, max(volts * total, 0.0), code


@compiled
def climb(kind, conditions, peaks, even, net, limits, rules, outputs):
    """Solve all steps by local search: hold the last voltage, clip it, climb to a maximum."""
    warm = new_warm(net)
    steps = conditions.shape[0]
    found = np.empty((2 * net.runs.shape[0] + net.many.shape[0] + 2, 2))
    free = outputs.free
    if kind == CONCAVE:
        even_maxima(0, steps, conditions, even, net, free, outputs.strings)
    elif kind == MIXED:
        fill_peaks(0, steps, conditions, net.diodes, peaks)
    state = np.zeros(2)
    last = math.nan
    for t in range(steps):
        here = conditions[t]
        dark = is_dark(here, net.runs)
        if dark != 0:
            clear(t, outputs, dark < 0)
            outputs.codes[t] = DARK
            state[:] = 0.0
            last = math.nan
            continue
        forget(warm)
        count, status = free_maxima(kind, t, conditions, peaks, free, net, True, found, warm)
        highest, bad = open_circuit(here, net)
        top = found[best_of(found, count), 1] if count > 0 else 0.0
        volts, power, code = climb_from(last, found, count, highest, limits, here, net, warm)
        share = advance(state, False, highest, volts, power, rules)
        last = volts if share > 0.0 else math.nan
        write_point(t, volts, power, top, warm.currents, outputs)
        outputs.statuses[t] = max(status, bad)
        outputs.codes[t] = code
        run_for(t, share, outputs)


@compiled
def hold_bound(conditions, bound, code, net, limits, outputs):
    """Move steps whose power exceeds a bound towards open circuit until they meet it."""
    warm = new_warm(net)
    points = outputs.points
    for t in range(conditions.shape[0]):
        if not points[t, WATTS] > bound[t]:
            continue
        power = points[t, WATTS]
        lost = points[t, LOST]
        forget(warm)
        volts = 0.0
        if bound[t] > 0.0:
            volts, status = bounded_point(
                points[t, VOLTS], bound[t], limits[V_TOP], conditions[t], net, warm
            )
            outputs.statuses[t] = max(outputs.statuses[t], status)
        outputs.codes[t] = code
        if volts <= 0.0:
            clear(t, outputs, False)
            points[t, LOST] = lost + power
            continue
        points[t, LOST] = lost + power - bound[t]
        points[t, VOLTS] = volts
        points[t, WATTS] = bound[t]
        points[t, AMPS] = bound[t] / volts
        outputs.strings[t, :] = warm.currents
