"""A tracker through time: blocks of steps, start and stop, local search, power bounds.

Steps of a global search depend on their own inputs only. State lives in start and stop and in
local search alone, and ends when the array is dark.
"""

from __future__ import annotations

import math

import numpy as np

from yieldkit.physics.circuit_parallel import WORK_COLUMNS
from yieldkit.physics.circuit_tracker import open_circuit, tracker_at_voltage
from yieldkit.physics.compiled import compiled
from yieldkit.physics.operating_step import (
    DARK,
    FREE,
    STARTING,
    V_HIGH,
    V_LOW,
    V_TOP,
    WINDOW_LOW,
    best_of,
    bounded_point,
    feasible_low,
    fill_currents,
    free_maxima,
    is_dark,
    limited_point,
)

# Columns of the packed start and stop conditions.
V_START, P_START, START_DELAY, V_STOP, P_STOP, RESTART_DELAY, STEP = range(7)
# Columns of the outputs.
VOLTS, AMPS, WATTS, LOST, OPEN = range(5)
OUTPUTS = 5
_OFF, _RUNNING, _STOPPED = 0, 1, 2


@compiled
def clear(t, out, strings_out, missing):
    """Set a step's outputs to zero, or to missing."""
    value = math.nan if missing else 0.0
    for column in range(out.shape[1]):
        out[t, column] = value
    for s in range(strings_out.shape[1]):
        strings_out[t, s] = value


@compiled
def solve_block(
    begin,
    end,
    kind,
    conditions,
    peaks,
    even,
    runs,
    first,
    resistances,
    many,
    blocked,
    diodes,
    limits,
    need_open,
    out,
    strings_out,
    codes,
    statuses,
):
    """Solve steps `begin` to `end` by global search inside window and input current."""
    number = many.shape[0]
    work = np.empty((number, WORK_COLUMNS))
    found = np.empty((2 * runs.shape[0] + number + 2, 2))
    currents = np.empty(number)
    for t in range(begin, end):
        here = conditions[t]
        dark = is_dark(here, runs)
        if dark != 0:
            clear(t, out, strings_out, dark < 0)
            codes[t] = DARK
            continue
        for s in range(number):
            currents[s] = math.nan
        count, status = free_maxima(
            kind,
            here,
            even,
            runs,
            first,
            resistances,
            many,
            blocked,
            diodes,
            peaks[t],
            False,
            work,
            found,
            currents,
        )
        if count == 0:
            clear(t, out, strings_out, False)
            codes[t] = DARK
            statuses[t] = status
            continue
        best = best_of(found, count)
        top = found[best, 1]
        volts, power, code = found[best, 0], top, FREE
        high = min(limits[V_HIGH], limits[V_TOP])
        bound = not (limits[V_LOW] <= volts <= high and power <= limits[3] * volts)
        if bound:
            if kind != 0:
                count, status = free_maxima(
                    kind,
                    here,
                    even,
                    runs,
                    first,
                    resistances,
                    many,
                    blocked,
                    diodes,
                    peaks[t],
                    True,
                    work,
                    found,
                    currents,
                )
                for s in range(number):
                    currents[s] = math.nan
            volts, power, code, bad = limited_point(
                found,
                count,
                limits,
                here,
                runs,
                first,
                resistances,
                many,
                blocked,
                diodes,
                currents,
            )
            status = max(status, bad)
        if power > 0.0 and (kind != 0 or bound):
            _total, bad = fill_currents(
                volts, here, runs, first, resistances, many, blocked, diodes, currents
            )
            status = max(status, bad)
        write_point(t, volts, power, top, currents, out, strings_out)
        if need_open and power > 0.0:
            out[t, OPEN], bad = open_circuit(here, runs, first, resistances, many, blocked, diodes)
        codes[t] = code
        statuses[t] = status


@compiled
def write_point(t, volts, power, top, currents, out, strings_out):
    """Write a step's point; what it lacks of the free maximum is lost to a limit."""
    clear(t, out, strings_out, False)
    out[t, LOST] = top - max(power, 0.0)
    if power <= 0.0:
        return
    out[t, VOLTS] = volts
    out[t, WATTS] = power
    out[t, AMPS] = power / volts
    for s in range(currents.shape[0]):
        strings_out[t, s] = currents[s]


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
def hold_states(rules, out, strings_out, codes):
    """Apply start and stop conditions to solved steps, in their order."""
    state = np.zeros(2)
    for t in range(out.shape[0]):
        if math.isnan(out[t, WATTS]):
            state[:] = 0.0
            continue
        share = advance(state, codes[t] == DARK, out[t, OPEN], out[t, VOLTS], out[t, WATTS], rules)
        run_for(t, share, out, strings_out, codes)


@compiled
def run_for(t, share, out, strings_out, codes):
    """Scale a step's mean current and power by the share of it that the tracker runs."""
    if share >= 1.0 or out[t, WATTS] <= 0.0:
        return
    out[t, LOST] += (1.0 - share) * out[t, WATTS]
    out[t, WATTS] *= share
    out[t, AMPS] *= share
    if share == 0.0:
        out[t, VOLTS] = 0.0
    for s in range(strings_out.shape[1]):
        strings_out[t, s] *= share
    codes[t] = STARTING


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
def climb(
    kind,
    conditions,
    peaks,
    even,
    runs,
    first,
    resistances,
    many,
    blocked,
    diodes,
    limits,
    rules,
    out,
    strings_out,
    codes,
    statuses,
):
    """Solve all steps by local search: hold the last voltage, clip it, climb to a maximum."""
    number = many.shape[0]
    work = np.empty((number, WORK_COLUMNS))
    found = np.empty((2 * runs.shape[0] + number + 2, 2))
    currents = np.empty(number)
    state = np.zeros(2)
    last = math.nan
    for t in range(conditions.shape[0]):
        here = conditions[t]
        dark = is_dark(here, runs)
        if dark != 0:
            clear(t, out, strings_out, dark < 0)
            codes[t] = DARK
            state[:] = 0.0
            last = math.nan
            continue
        currents[:] = math.nan
        count, status = free_maxima(
            kind,
            here,
            even,
            runs,
            first,
            resistances,
            many,
            blocked,
            diodes,
            peaks[t],
            True,
            work,
            found,
            currents,
        )
        currents[:] = math.nan
        highest, bad = open_circuit(here, runs, first, resistances, many, blocked, diodes)
        low, low_code = limits[V_LOW], WINDOW_LOW
        if highest > low:
            low, low_code = feasible_low(
                limits, here, runs, first, resistances, many, blocked, diodes, currents, highest
            )
        high = min(limits[V_HIGH], limits[V_TOP], highest)
        top = found[best_of(found, count), 1] if count > 0 else 0.0
        clear(t, out, strings_out, False)
        volts, power, code = 0.0, 0.0, low_code
        if low < high:
            start = highest if math.isnan(last) else last
            start = min(max(start, low), high)
            total, i1, _i2, _bad = tracker_at_voltage(
                start, here, runs, first, resistances, many, blocked, diodes, currents
            )
            volts = nearest_maximum(found, count, start, total + start * i1, low, high)
            total, _i1, _i2, _bad = tracker_at_voltage(
                volts, here, runs, first, resistances, many, blocked, diodes, currents
            )
            power = max(volts * total, 0.0)
            code = FREE if low < volts < high else low_code
        share = advance(state, False, highest, volts, power, rules)
        last = volts if share > 0.0 else math.nan
        statuses[t] = max(status, bad)
        codes[t] = code
        out[t, OPEN] = highest
        out[t, LOST] = top - power
        if power > 0.0:
            out[t, VOLTS] = volts
            out[t, WATTS] = power
            out[t, AMPS] = power / volts
            strings_out[t, :] = currents
            run_for(t, share, out, strings_out, codes)


@compiled
def hold_bound(
    begin,
    end,
    conditions,
    bound,
    code,
    runs,
    first,
    resistances,
    many,
    blocked,
    diodes,
    limits,
    out,
    strings_out,
    codes,
    statuses,
):
    """Move steps whose power exceeds a bound towards open circuit until they meet it."""
    currents = np.empty(many.shape[0])
    for t in range(begin, end):
        if not out[t, WATTS] > bound[t]:
            continue
        power = out[t, WATTS]
        here = conditions[t]
        currents[:] = math.nan
        volts = 0.0
        if bound[t] > 0.0:
            volts, status = bounded_point(
                out[t, VOLTS],
                bound[t],
                limits[V_TOP],
                here,
                runs,
                first,
                resistances,
                many,
                blocked,
                diodes,
                currents,
            )
            statuses[t] = max(statuses[t], status)
        codes[t] = code
        if volts <= 0.0:
            lost = out[t, LOST]
            clear(t, out, strings_out, False)
            out[t, LOST] = lost + power
            continue
        out[t, LOST] += power - bound[t]
        out[t, VOLTS] = volts
        out[t, WATTS] = bound[t]
        out[t, AMPS] = bound[t] / volts
        for s in range(many.shape[0]):
            strings_out[t, s] = currents[s]


@compiled
def peaks_of(conditions, diodes):
    """Return the stand-alone maximum of every condition's group [W] (time, condition)."""
    peaks = np.zeros(conditions.shape[:2])
    one = np.array([[0, 1, 1]])
    run = np.array([[0, -1, 1]])
    first = np.array([0, 1])
    zero = np.zeros(1)
    many = np.ones(1, dtype=np.int64)
    blocked = np.zeros(1, dtype=np.int64)
    work = np.empty((1, WORK_COLUMNS))
    found = np.empty((4, 2))
    currents = np.empty(1)
    for t in range(conditions.shape[0]):
        for column in range(conditions.shape[1]):
            here = conditions[t, column : column + 1]
            dark = is_dark(here, run)
            if dark != 0:
                peaks[t, column] = 0.0 if dark > 0 else math.nan
                continue
            currents[0] = math.nan
            count, _status = free_maxima(
                0,
                here,
                one,
                run,
                first,
                zero,
                many,
                blocked,
                diodes,
                zero,
                False,
                work,
                found,
                currents,
            )
            peaks[t, column] = found[best_of(found, count), 1] if count > 0 else 0.0
    return peaks
