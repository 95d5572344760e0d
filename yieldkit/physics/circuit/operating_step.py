"""One tracker at one step: its best point inside the limits, and what determines it."""

from __future__ import annotations

import math

from yieldkit.physics.circuit.found_maxima import greatest, new_maxima
from yieldkit.physics.circuit.limits import CURRENT, FREE, TOP, WINDOW_HIGH, WINDOW_LOW
from yieldkit.physics.circuit.settled_steps import (
    highest_allowed,
    is_within,
    write_dark,
    write_point,
)
from yieldkit.physics.circuit.tracker import (
    open_circuit,
    tracker_at_voltage,
    voltage_at_current,
)
from yieldkit.physics.circuit.tracker_circuit import clear_starts, new_workspace
from yieldkit.physics.compiled import compiled, compiled_owning


@compiled
def lowest_allowed(limits, conditions, circuit, workspace, highest):
    """Return the lowest voltage that window and input current allow, and which of them it is.

    Parameters
    ----------
    limits : PointLimits
        The limits.
    conditions : ndarray
        Diode parameters of this step [A, A, ohm, ohm, V] (condition, 5).
    circuit : TrackerCircuit
        The tracker.
    workspace : Workspace
        Starts of the strings' solutions; updated.
    highest : float
        Open-circuit voltage [V], above the window's lower end.

    Returns
    -------
    tuple of (float, int)
        Voltage [V]; code of what determines it.
    """
    low = limits.v_mpp_min
    if math.isinf(limits.i_max):
        return low, WINDOW_LOW
    total, _d, _d2, _status = tracker_at_voltage(low, conditions, circuit, workspace)
    if total <= limits.i_max:
        return low, WINDOW_LOW
    volts, _status = voltage_at_current(limits.i_max, low, highest, conditions, circuit, workspace)
    return volts, CURRENT


@compiled
def upper_code(limits):
    """Return what determines a point at the highest voltage: window or maximum voltage.

    Parameters
    ----------
    limits : PointLimits
        The limits.

    Returns
    -------
    int
        Code.
    """
    return TOP if limits.v_max < limits.v_mpp_max else WINDOW_HIGH


@compiled_owning
def limited_point(count, found, limits, conditions, circuit, workspace):
    """Return the best point inside window and input current.

    Parameters
    ----------
    count : int
        How many maxima are found, at least one.
    found : Maxima
        The maxima.
    limits : PointLimits
        The limits.
    conditions : ndarray
        Diode parameters of this step [A, A, ohm, ohm, V] (condition, 5).
    circuit : TrackerCircuit
        The tracker.
    workspace : Workspace
        Starts of the strings' solutions; updated.

    Returns
    -------
    tuple of (float, float, int, int)
        Voltage [V], power [W]; code of what determines it; 0 when the equations were met, 1 when
        not.
    """
    best = greatest(found, count)
    free_volts = found.volts[best]
    if is_within(free_volts, found.power[best], limits):
        return free_volts, found.power[best], FREE, 0
    highest, status = open_circuit(conditions, circuit)
    if highest <= limits.v_mpp_min:
        return 0.0, 0.0, WINDOW_LOW, status
    low, low_code = lowest_allowed(limits, conditions, circuit, workspace, highest)
    high = highest_allowed(limits)
    if low > high:
        return 0.0, 0.0, low_code, status
    total, _d, _d2, bad = tracker_at_voltage(low, conditions, circuit, workspace)
    volts, power, code = low, low * total, low_code
    if high < highest:
        total, _d, _d2, bad = tracker_at_voltage(high, conditions, circuit, workspace)
        if high * total > power:
            volts, power, code = high, high * total, upper_code(limits)
    for place in range(count):
        if low < found.volts[place] < high and found.power[place] > power:
            volts, power = found.volts[place], found.power[place]
            code = low_code if free_volts < low else upper_code(limits)
    if power <= 0.0:
        return 0.0, 0.0, low_code, max(status, bad)
    return volts, power, code, max(status, bad)


@compiled
def take_maxima(row, table, found):
    """Take the maxima of a step out of its row.

    Parameters
    ----------
    row : int
        The row.
    table : StepMaxima
        The maxima of some steps.
    found : Maxima
        Filled.

    Returns
    -------
    int
        How many they are.
    """
    for place in range(table.number[row]):
        found.volts[place] = table.volts[row, place]
        found.power[place] = table.power[row, place]
    return table.number[row]


@compiled_owning
def limit_steps(steps, uneven, conditions, circuit, limits, table, free_power, outputs):
    """Write the best points inside window and input current of some steps.

    Parameters
    ----------
    steps : ndarray of int
        The steps, lit ones (row,).
    uneven : bool
        Whether the tracker is one string in uneven light: its current follows from its power.
    conditions : ndarray
        Diode parameters [A, A, ohm, ohm, V] (time, condition, 5).
    circuit : TrackerCircuit
        The tracker.
    limits : PointLimits
        Window, maximum voltage and input current.
    table : StepMaxima
        The steps' maxima: all of them where the greatest lies outside of the limits.
    free_power : ndarray
        Power of the greatest maximum [W] (row,).
    outputs : Outputs
        Filled in these steps.
    """
    found, workspace = new_maxima(table.volts.shape[1]), new_workspace(circuit)
    for row in range(steps.shape[0]):
        t = steps[row]
        count, status = take_maxima(row, table, found), table.status[row]
        if count == 0:
            write_dark(t, 0.0, outputs)
            outputs.status[t] = status
            continue
        clear_starts(workspace)
        volts, power, code, bad = limited_point(
            count, found, limits, conditions[t], circuit, workspace
        )
        status = max(status, bad)
        if code == FREE and uneven:
            workspace.currents[0] = power / (volts * circuit.multiplicity[0])
        elif power > 0.0:
            _total, _d, _d2, bad = tracker_at_voltage(volts, conditions[t], circuit, workspace)
            status = max(status, bad)
        write_point(t, volts, power, free_power[row], workspace.currents, outputs)
        outputs.binding[t] = code
        outputs.status[t] = status
