"""A tracker through time: every step solved by global search, or one after the other by climbing.

Steps of a global search depend on their own inputs only. A local search goes on from the last
step's voltage, and its state ends when the array is dark.
"""

from __future__ import annotations

import math

import numpy as np

from yieldkit.physics.circuit.evenly_lit import even_maxima
from yieldkit.physics.circuit.found_maxima import greatest
from yieldkit.physics.circuit.group_maxima import fill_group_maxima
from yieldkit.physics.circuit.limits import DARK, FREE, WINDOW_LOW
from yieldkit.physics.circuit.operating_step import (
    EVEN,
    UNEVEN,
    Known,
    free_maxima,
    highest_allowed,
    is_within,
    limited_point,
    lowest_allowed,
    new_step_search,
    upper_code,
)
from yieldkit.physics.circuit.start_stop import running_share, scale_step
from yieldkit.physics.circuit.tracker import open_circuit, tracker_at_voltage
from yieldkit.physics.circuit.tracker_circuit import (
    brightest_photocurrent,
    clear_starts,
    is_lit,
    new_free_maxima,
)
from yieldkit.physics.circuit.unevenly_lit_series import uneven_maxima
from yieldkit.physics.compiled import compiled


@compiled
def write_dark(t, photocurrent, outputs):
    """Write a step without light: zero, or missing where its light is.

    Parameters
    ----------
    t : int
        The step.
    photocurrent : float
        Of the brightest light [A]; nan where a value is missing.
    outputs : Outputs
        Filled in this step.
    """
    value = math.nan if math.isnan(photocurrent) else 0.0
    outputs.v_dc[t], outputs.i_dc[t], outputs.p_dc[t] = value, value, value
    outputs.p_lost[t] = value
    for s in range(outputs.i_string.shape[1]):
        outputs.i_string[t, s] = value
    outputs.binding[t] = DARK


@compiled
def write_point(t, volts, power, free_power, currents, outputs):
    """Write a step's point; what it lacks of the free maximum is lost to a limit.

    Parameters
    ----------
    t : int
        The step.
    volts, power : float
        Voltage [V] and power [W] of the point.
    free_power : float
        Power of the free maximum [W].
    currents : ndarray
        The strings' currents [A] (string,).
    outputs : Outputs
        Filled in this step.
    """
    works = power > 0.0
    outputs.v_dc[t] = volts if works else 0.0
    outputs.p_dc[t] = power if works else 0.0
    outputs.i_dc[t] = power / volts if works else 0.0
    outputs.p_lost[t] = free_power - power if works else free_power
    for s in range(currents.shape[0]):
        outputs.i_string[t, s] = currents[s] if works else 0.0


@compiled
def known_maxima(tracker, every, i_string):
    """Find for all steps what is quicker found side by side.

    Parameters
    ----------
    tracker : TrackerSteps
        The tracker.
    every : bool
        True where all maxima will be wanted, so that it is no use to know the greatest alone.
    i_string : ndarray
        Filled with the strings' currents [A] where settled (time, string).

    Returns
    -------
    Known
    """
    conditions, circuit = tracker.conditions, tracker.circuit
    steps, runs = conditions.shape[0], circuit.runs
    free = new_free_maxima(steps)
    own_maxima = np.empty((steps, runs.shape[0] if tracker.kind == UNEVEN else 0, 2))
    if tracker.kind == EVEN:
        even_maxima(conditions, tracker.even, circuit, free, i_string)
    elif tracker.kind == UNEVEN:
        fill_group_maxima(conditions, runs, circuit.reverse, own_maxima)
        if not every and circuit.reverse.breakdown.factor == 0.0:
            uneven_maxima(conditions, circuit, own_maxima, free, i_string)
    return Known(free, own_maxima)


@compiled
def solve_steps(tracker, limits, outputs):
    """Solve all steps by global search inside window and input current.

    Parameters
    ----------
    tracker : TrackerSteps
        The tracker.
    limits : PointLimits
        Window, maximum voltage and input current.
    outputs : Outputs
        Filled.
    """
    known = known_maxima(tracker, False, outputs.i_string)
    search = new_step_search(tracker.circuit)
    volts, power, settled = known.free.volts, known.free.power, known.free.settled
    v_dc, i_dc, p_dc, binding = outputs.v_dc, outputs.i_dc, outputs.p_dc, outputs.binding
    for t in range(volts.shape[0]):
        if settled[t] and is_within(volts[t], power[t], limits):
            v_dc[t] = volts[t]
            p_dc[t] = power[t]
            i_dc[t] = power[t] / volts[t]
            binding[t] = FREE
        else:
            solve_step(t, tracker, known, limits, search, outputs)


@compiled
def solve_step(t, tracker, known, limits, search, outputs):
    """Solve one step by global search inside window and input current.

    Parameters
    ----------
    t : int
        The step.
    tracker : TrackerSteps
        The tracker.
    known : Known
        What was found for many steps.
    limits : PointLimits
        Window, maximum voltage and input current.
    search : StepSearch
        Room.
    outputs : Outputs
        Filled in this step.
    """
    conditions, circuit, found = tracker.conditions[t], tracker.circuit, search.found
    light = brightest_photocurrent(conditions, circuit.runs)
    if not is_lit(light):
        write_dark(t, light, outputs)
        return
    count, status = free_maxima(t, tracker, known, False, search)
    if count == 0:
        write_dark(t, light, outputs)
        outputs.status[t] = status
        return
    best = greatest(found, count)
    free_power = found.power[best]
    volts, power, code = found.volts[best], free_power, FREE
    within = is_within(volts, power, limits)
    if tracker.kind != UNEVEN or not within:
        clear_starts(search.workspace)
    if not within:
        if tracker.kind != EVEN:
            count, status = free_maxima(t, tracker, known, True, search)
        volts, power, code, bad = limited_point(count, limits, conditions, circuit, search)
        status = max(status, bad)
    if code == FREE and tracker.kind == UNEVEN:
        search.workspace.currents[0] = power / (volts * circuit.multiplicity[0])
    elif power > 0.0:
        _total, _d, _d2, bad = tracker_at_voltage(volts, conditions, circuit, search.workspace)
        status = max(status, bad)
    write_point(t, volts, power, free_power, search.workspace.currents, outputs)
    outputs.binding[t] = code
    outputs.status[t] = status


@compiled
def nearest_maximum(found, count, start, slope, low, high):
    """Return the maximum that climbing from a voltage reaches, or the end of the range.

    Parameters
    ----------
    found : Maxima
        The maxima.
    count : int
        How many are filled.
    start : float
        Voltage to climb from [V].
    slope : float
        dP/dV there [A].
    low, high : float
        Ends of the range [V].

    Returns
    -------
    float
        [V].
    """
    if slope > 0.0:
        reached = high
        for place in range(count):
            if start < found.volts[place] < reached:
                reached = found.volts[place]
        return reached
    reached = low
    for place in range(count):
        if reached < found.volts[place] <= start:
            reached = found.volts[place]
    return reached


@compiled
def climb_from(last, count, highest, limits, conditions, circuit, search):
    """Go on from a voltage: clip it to what is allowed, and climb to a maximum.

    Parameters
    ----------
    last : float
        Voltage of the step before [V]; nan to come from open circuit.
    count : int
        How many maxima are found.
    highest : float
        Open-circuit voltage [V].
    limits : PointLimits
        Window, maximum voltage and input current.
    conditions : ndarray
        Diode parameters of this step [A, A, ohm, ohm, V] (condition, 5).
    circuit : TrackerCircuit
        The tracker.
    search : StepSearch
        The maxima; its workspace is filled with the strings' currents.

    Returns
    -------
    tuple of (float, float, int)
        Voltage [V], power [W]; code of what determines it.
    """
    workspace = search.workspace
    low, low_code = limits.v_mpp_min, WINDOW_LOW
    if highest > low:
        low, low_code = lowest_allowed(limits, conditions, circuit, workspace, highest)
    high = min(highest_allowed(limits), highest)
    if low >= high:
        return 0.0, 0.0, low_code
    start = highest if math.isnan(last) else last
    start = min(max(start, low), high)
    total, i1, _i2, _bad = tracker_at_voltage(start, conditions, circuit, workspace)
    volts = nearest_maximum(search.found, count, start, total + start * i1, low, high)
    total, _i1, _i2, _bad = tracker_at_voltage(volts, conditions, circuit, workspace)
    code = FREE
    if volts <= low:
        code = low_code
    elif volts >= high:
        code = upper_code(limits)
    return volts, max(volts * total, 0.0), code


@compiled
def climb_through_steps(tracker, limits, rules, outputs):
    """Solve all steps by local search: each goes on from the last voltage.

    Parameters
    ----------
    tracker : TrackerSteps
        The tracker.
    limits : PointLimits
        Window, maximum voltage and input current.
    rules : StartStop
        Start and stop conditions.
    outputs : Outputs
        Filled.
    """
    known = known_maxima(tracker, True, outputs.i_string)
    search = new_step_search(tracker.circuit)
    circuit, found = tracker.circuit, search.found
    state = np.zeros(2)
    last = math.nan
    for t in range(tracker.conditions.shape[0]):
        conditions = tracker.conditions[t]
        light = brightest_photocurrent(conditions, circuit.runs)
        if not is_lit(light):
            write_dark(t, light, outputs)
            state[:] = 0.0
            last = math.nan
            continue
        clear_starts(search.workspace)
        count, status = free_maxima(t, tracker, known, True, search)
        highest, bad = open_circuit(conditions, circuit)
        free_power = found.power[greatest(found, count)] if count > 0 else 0.0
        volts, power, code = climb_from(last, count, highest, limits, conditions, circuit, search)
        share = running_share(state, False, highest, volts, power, rules)
        last = volts if share > 0.0 else math.nan
        write_point(t, volts, power, free_power, search.workspace.currents, outputs)
        outputs.status[t] = max(status, bad)
        outputs.binding[t] = code
        scale_step(t, share, outputs)
