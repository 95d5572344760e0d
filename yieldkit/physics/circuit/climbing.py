"""A tracker that climbs: from the last step's voltage to the maximum it can reach from there."""

from __future__ import annotations

import math

from yieldkit.physics.circuit.found_maxima import greatest, new_maxima
from yieldkit.physics.circuit.limits import FREE, WINDOW_LOW
from yieldkit.physics.circuit.operating_step import lowest_allowed, take_maxima, upper_code
from yieldkit.physics.circuit.settled_steps import highest_allowed, write_dark, write_point
from yieldkit.physics.circuit.start_stop import MODE, WAITED_S, running_share, scale_step
from yieldkit.physics.circuit.tracker import open_circuit, tracker_at_voltage
from yieldkit.physics.circuit.tracker_circuit import (
    brightest_photocurrent,
    clear_starts,
    is_lit,
    new_workspace,
)
from yieldkit.physics.compiled import compiled, compiled_owning

LAST = 2
"""Where the state of start and stop is followed by the last step's voltage."""


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
def climb_from(last, count, found, highest, limits, conditions, circuit, workspace):
    """Go on from a voltage: clip it to what is allowed, and climb to a maximum.

    Parameters
    ----------
    last : float
        Voltage of the step before [V]; nan to come from open circuit.
    count : int
        How many maxima are found.
    found : Maxima
        The maxima.
    highest : float
        Open-circuit voltage [V].
    limits : PointLimits
        Window, maximum voltage and input current.
    conditions : ndarray
        Diode parameters of this step [A, A, ohm, ohm, V] (condition, 5).
    circuit : TrackerCircuit
        The tracker.
    workspace : Workspace
        Starts of the strings' solutions; filled with their currents.

    Returns
    -------
    tuple of (float, float, int)
        Voltage [V], power [W]; code of what determines it.
    """
    low, low_code = limits.v_mpp_min, WINDOW_LOW
    if highest > low:
        low, low_code = lowest_allowed(limits, conditions, circuit, workspace, highest)
    high = min(highest_allowed(limits), highest)
    if low >= high:
        return 0.0, 0.0, low_code
    start = highest if math.isnan(last) else last
    start = min(max(start, low), high)
    total, i1, _i2, _bad = tracker_at_voltage(start, conditions, circuit, workspace)
    volts = nearest_maximum(found, count, start, total + start * i1, low, high)
    total, _i1, _i2, _bad = tracker_at_voltage(volts, conditions, circuit, workspace)
    code = FREE
    if volts <= low:
        code = low_code
    elif volts >= high:
        code = upper_code(limits)
    return volts, max(volts * total, 0.0), code


@compiled_owning
def climb_steps(begin, end, conditions, circuit, limits, rules, table, state, outputs):
    """Solve some steps by local search, each going on from the last voltage.

    Parameters
    ----------
    begin, end : int
        The first step, and the one after the last.
    conditions : ndarray
        Diode parameters [A, A, ohm, ohm, V] (time, condition, 5).
    circuit : TrackerCircuit
        The tracker.
    limits : PointLimits
        Window, maximum voltage and input current.
    rules : StartStop
        Start and stop conditions.
    table : StepMaxima
        All maxima of the lit steps among them, in their order.
    state : ndarray
        Mode [1], time waited [s] and the last voltage [V] (3,), nan for none; updated.
    outputs : Outputs
        Filled.
    """
    found, workspace = new_maxima(table.volts.shape[1]), new_workspace(circuit)
    row = 0
    for t in range(begin, end):
        light = brightest_photocurrent(conditions[t], circuit.runs)
        if not is_lit(light):
            write_dark(t, light, outputs)
            state[MODE], state[WAITED_S], state[LAST] = 0.0, 0.0, math.nan
            continue
        clear_starts(workspace)
        count, status = take_maxima(row, table, found), table.status[row]
        row += 1
        highest, bad = open_circuit(conditions[t], circuit)
        free_power = found.power[greatest(found, count)] if count > 0 else 0.0
        volts, power, code = climb_from(
            state[LAST], count, found, highest, limits, conditions[t], circuit, workspace
        )
        share = running_share(state, False, highest, volts, power, rules)
        state[LAST] = volts if share > 0.0 else math.nan
        write_point(t, volts, power, free_power, workspace.currents, outputs)
        outputs.status[t] = max(status, bad)
        outputs.binding[t] = code
        scale_step(t, share, outputs)
