"""Any tracker: its current at a voltage, its voltage at a current, and its open circuit."""

from __future__ import annotations

import numpy as np

from yieldkit.physics.circuit.diode import PHOTOCURRENT
from yieldkit.physics.circuit.series_string import (
    SeriesString,
    string_at_current,
    string_at_voltage,
)
from yieldkit.physics.circuit.tracker_circuit import clear_starts, new_workspace
from yieldkit.physics.compiled import compiled, compiled_owning

_ITERATIONS = 200


@compiled_owning
def string_of(circuit, place, conditions):
    """Return one string of a tracker in its light.

    Parameters
    ----------
    circuit : TrackerCircuit
        The tracker.
    place : int
        Which string.
    conditions : ndarray
        Diode parameters of this step [A, A, ohm, ohm, V] (condition, 5).

    Returns
    -------
    SeriesString
    """
    runs = circuit.runs[circuit.first_run[place] : circuit.first_run[place + 1]]
    return SeriesString(conditions, runs, circuit.resistances[place], circuit.reverse)


@compiled
def one_string_at_voltage(volts, place, conditions, circuit, workspace):
    """Return the current of one string of a tracker at a voltage, as without a blocking diode.

    Parameters
    ----------
    volts : float
        Voltage at the tracker's input [V].
    place : int
        Which string.
    conditions : ndarray
        Diode parameters of this step [A, A, ohm, ohm, V] (condition, 5).
    circuit : TrackerCircuit
        The tracker.
    workspace : Workspace
        Starts of the strings' solutions; the string's junctions and current are updated.

    Returns
    -------
    tuple of (float, float, float, int)
        Current [A], dI/dV [A/V], d2I/dV2 [A/V2]; 0 when the equations were met, 1 when not.
    """
    begin, end = circuit.first_run[place], circuit.first_run[place + 1]
    runs, resistance = circuit.runs[begin:end], circuit.resistances[place]
    current, i1, i2, status = string_at_voltage(
        volts,
        SeriesString(conditions, runs, resistance, circuit.reverse),
        workspace.junctions[begin:end],
        workspace.states[begin:end],
        workspace.currents[place],
    )
    workspace.currents[place] = current
    return current, i1, i2, status


@compiled
def tracker_at_voltage(volts, conditions, circuit, workspace):
    """Return a tracker's current at a voltage, and leave the strings' currents in the workspace.

    Parameters
    ----------
    volts : float
        Voltage at the input [V].
    conditions : ndarray
        Diode parameters of this step [A, A, ohm, ohm, V] (condition, 5).
    circuit : TrackerCircuit
        The tracker.
    workspace : Workspace
        Starts; filled with the strings' currents and the junctions' voltages.

    Returns
    -------
    tuple of (float, float, float, int)
        Current [A], dI/dV [A/V], d2I/dV2 [A/V2]; 0 when the equations were met, 1 when not.
    """
    total = 0.0
    slope = 0.0
    bend = 0.0
    status = 0
    for s in range(circuit.multiplicity.shape[0]):
        current, i1, i2, bad = one_string_at_voltage(volts, s, conditions, circuit, workspace)
        status = max(status, bad)
        if circuit.blocked[s] == 1 and current < 0.0:
            workspace.currents[s] = 0.0
            continue
        total += circuit.multiplicity[s] * current
        slope += circuit.multiplicity[s] * i1
        bend += circuit.multiplicity[s] * i2
    return total, slope, bend, status


@compiled_owning
def strings_open_circuit(conditions, circuit):
    """Return the open-circuit voltage of each string standing alone.

    Parameters
    ----------
    conditions : ndarray
        Diode parameters of this step [A, A, ohm, ohm, V] (condition, 5).
    circuit : TrackerCircuit
        The tracker.

    Returns
    -------
    ndarray
        [V] (string,).
    """
    workspace = new_workspace(circuit)
    fill_opens(conditions, circuit, workspace)
    return workspace.opens


@compiled
def fill_opens(conditions, circuit, workspace):
    """Write the open-circuit voltage of each string standing alone.

    Parameters
    ----------
    conditions : ndarray
        Diode parameters of this step [A, A, ohm, ohm, V] (condition, 5).
    circuit : TrackerCircuit
        The tracker.
    workspace : Workspace
        Filled with the voltages, and with the junctions' at them; the currents are cleared.
    """
    clear_starts(workspace)
    for s in range(circuit.multiplicity.shape[0]):
        begin, end = circuit.first_run[s], circuit.first_run[s + 1]
        runs, resistance = circuit.runs[begin:end], circuit.resistances[s]
        own = SeriesString(conditions, runs, resistance, circuit.reverse)
        found = string_at_current(0.0, own, workspace.junctions[begin:end])
        workspace.opens[s] = found[0]


@compiled_owning
def open_circuit(conditions, circuit):
    """Return the lowest voltage at which a tracker's strings carry no current in sum.

    Parameters
    ----------
    conditions : ndarray
        Diode parameters of this step [A, A, ohm, ohm, V] (condition, 5).
    circuit : TrackerCircuit
        The tracker.

    Returns
    -------
    tuple of (float, int)
        As from `open_circuit_within`.
    """
    return open_circuit_within(conditions, circuit, new_workspace(circuit))


@compiled
def open_circuit_within(conditions, circuit, workspace):
    """Return the lowest voltage at which a tracker's strings carry no current in sum.

    Strings without blocking diode take back what the others give. Where all are blocked, nothing
    flows from the highest open-circuit voltage on.

    Parameters
    ----------
    conditions : ndarray
        Diode parameters of this step [A, A, ohm, ohm, V] (condition, 5).
    circuit : TrackerCircuit
        The tracker.
    workspace : Workspace
        Room to work in; what it held is lost.

    Returns
    -------
    tuple of (float, int)
        Voltage [V]; 0 when the equations were met, 1 when not.
    """
    fill_opens(conditions, circuit, workspace)
    opens = workspace.opens
    low, high, unblocked = opens[0], 0.0, 0
    for s in range(opens.shape[0]):
        low, high = min(low, opens[s]), max(high, opens[s])
        unblocked += 1 - circuit.blocked[s]
    if high - low <= 1e-12 * abs(high) or unblocked == 0:
        return high, 0
    clear_starts(workspace)
    return voltage_at_current(0.0, low, high, conditions, circuit, workspace)


@compiled
def voltage_at_current(wanted, low, high, conditions, circuit, workspace):
    """Return the voltage between two others at which a tracker carries a current.

    Parameters
    ----------
    wanted : float
        Current at the input [A].
    low, high : float
        Voltages [V] at which it is greater and smaller.
    conditions : ndarray
        Diode parameters of this step [A, A, ohm, ohm, V] (condition, 5).
    circuit : TrackerCircuit
        The tracker.
    workspace : Workspace
        Starts of the strings' solutions; updated.

    Returns
    -------
    tuple of (float, int)
        Voltage [V]; 0 when the equations were met, 1 when not.
    """
    volts = 0.5 * (low + high)
    brightest = 0.0
    for condition in range(conditions.shape[0]):
        brightest = max(brightest, conditions[condition, PHOTOCURRENT])
    close = 1e-12 * (abs(wanted) + brightest) + 1e-15
    for _ in range(_ITERATIONS):
        total, slope, _bend, status = tracker_at_voltage(volts, conditions, circuit, workspace)
        gap = total - wanted
        if abs(gap) <= close:
            return volts, status
        if gap > 0.0:
            low = volts
        else:
            high = volts
        moved = volts - gap / slope if slope < 0.0 else volts
        if not low < moved < high:
            moved = 0.5 * (low + high)
        if moved == volts or high - low <= 4e-16 * high:
            return volts, status
        volts = moved
    return volts, 1


@compiled_owning
def open_voltages(conditions, circuit, status):
    """Return a tracker's open-circuit voltage in every step.

    Parameters
    ----------
    conditions : ndarray
        Diode parameters [A, A, ohm, ohm, V] (time, condition, 5).
    circuit : TrackerCircuit
        The tracker.
    status : ndarray of int8
        Filled with 0 where the equations were met, 1 where not (time,).

    Returns
    -------
    ndarray
        [V] (time,).
    """
    volts = np.empty(conditions.shape[0])
    for t in range(conditions.shape[0]):
        volts[t], status[t] = open_circuit(conditions[t], circuit)
    return volts
