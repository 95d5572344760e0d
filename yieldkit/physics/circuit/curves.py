"""Curves of strings and trackers: current by voltage, voltage by current, all maxima."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from yieldkit.base.arrays import FloatArray
from yieldkit.physics.circuit.components import Breakdown, Bypass, CellConditions, StringCircuit
from yieldkit.physics.circuit.diode import PHOTOCURRENT
from yieldkit.physics.circuit.found_maxima import new_maxima
from yieldkit.physics.circuit.layout import lay_out, pack
from yieldkit.physics.circuit.maxima import all_maxima
from yieldkit.physics.circuit.series_string import string_at_current
from yieldkit.physics.circuit.tracker import open_voltages, string_of, tracker_at_voltage
from yieldkit.physics.circuit.tracker_circuit import clear_starts, new_workspace, no_junctions
from yieldkit.physics.compiled import compiled_owning


@compiled_owning
def _string_voltages(conditions, current, circuit):
    """Return the first string's voltage at a current in every step.

    Parameters
    ----------
    conditions : ndarray
        Diode parameters [A, A, ohm, ohm, V] (time, condition, 5).
    current : ndarray
        String current [A] (time,).
    circuit : TrackerCircuit
        The string.

    Returns
    -------
    ndarray
        [V] (time,), nan where the equations were not met.
    """
    volts = np.empty(conditions.shape[0])
    for t in range(conditions.shape[0]):
        junctions = no_junctions(circuit.runs.shape[0])
        string = string_of(circuit, 0, conditions[t])
        volts[t], _d, _d2, status = string_at_current(current[t], string, junctions)
        if status != 0:
            volts[t] = math.nan
    return volts


@compiled_owning
def _distinct_currents(conditions, volts, circuit):
    """Return the currents of a tracker's distinct strings at a voltage in every step.

    Parameters
    ----------
    conditions : ndarray
        Diode parameters [A, A, ohm, ohm, V] (time, condition, 5).
    volts : ndarray
        Voltage at the input [V] (time,).
    circuit : TrackerCircuit
        The tracker.

    Returns
    -------
    ndarray
        [A] (time, string), nan where the equations were not met.
    """
    strings = np.empty((conditions.shape[0], circuit.multiplicity.shape[0]))
    workspace = new_workspace(circuit)
    for t in range(conditions.shape[0]):
        clear_starts(workspace)
        _i, _d, _d2, status = tracker_at_voltage(volts[t], conditions[t], circuit, workspace)
        for s in range(circuit.multiplicity.shape[0]):
            strings[t, s] = workspace.currents[s] if status == 0 else math.nan
    return strings


def _columns(conditions: CellConditions) -> range:
    return range(np.asarray(conditions.photocurrent).shape[1])


def string_voltage(
    conditions: CellConditions,
    string: StringCircuit,
    current: FloatArray,
    bypass: Bypass | None = None,
    breakdown: Breakdown | None = None,
) -> FloatArray:
    """Return a string's voltage at the far end of its cable at given currents.

    Parameters
    ----------
    conditions : CellConditions
        Diode parameters (time, condition).
    string : StringCircuit
        The string.
    current : ndarray
        [A] (time,); above a group's short-circuit current its bypass diode carries the rest.
    bypass, breakdown : optional
        As for `operating_point`.

    Returns
    -------
    ndarray
        [V] (time,); missing where a condition is.
    """
    layout = lay_out(_columns(conditions), (string,), bypass, breakdown)
    volts: FloatArray = _string_voltages(
        pack(conditions), np.asarray(current, dtype=float), layout.circuit
    )
    return volts


def _string_currents(
    conditions: CellConditions,
    strings: Sequence[StringCircuit],
    volts: FloatArray,
    bypass: Bypass | None,
    breakdown: Breakdown | None,
) -> FloatArray:
    layout = lay_out(_columns(conditions), strings, bypass, breakdown)
    found: FloatArray = _distinct_currents(
        pack(conditions), np.asarray(volts, dtype=float), layout.circuit
    )
    return found[:, layout.original]


def string_current(
    conditions: CellConditions,
    string: StringCircuit,
    voltage: FloatArray,
    bypass: Bypass | None = None,
    breakdown: Breakdown | None = None,
) -> FloatArray:
    """Return a string's current at given voltages at the far end of its cable.

    Parameters
    ----------
    conditions, string, bypass, breakdown
        As for `string_voltage`.
    voltage : ndarray
        [V] (time,).

    Returns
    -------
    ndarray
        [A] (time,), negative above open circuit unless a blocking diode is there.
    """
    return _string_currents(conditions, (string,), voltage, bypass, breakdown)[:, 0]


def tracker_current(
    conditions: CellConditions,
    strings: Sequence[StringCircuit],
    voltage: FloatArray,
    bypass: Bypass | None = None,
    breakdown: Breakdown | None = None,
) -> FloatArray:
    """Return a tracker's current at given voltages: the sum of its strings' [A] (time,)."""
    found = _string_currents(conditions, strings, voltage, bypass, breakdown)
    total: FloatArray = found.sum(axis=1)
    return total


def currents_at_open_circuit(
    conditions: CellConditions,
    strings: Sequence[StringCircuit],
    bypass: Bypass | None = None,
    breakdown: Breakdown | None = None,
) -> FloatArray:
    """Return the strings' currents when nothing is drawn from the tracker.

    Parameters
    ----------
    conditions, strings, bypass, breakdown
        As for `operating_point`.

    Returns
    -------
    ndarray
        [A] (time, string): negative where a string takes back current from the others.
    """
    layout = lay_out(_columns(conditions), strings, bypass, breakdown)
    packed = pack(conditions)
    volts = open_voltages(packed, layout.circuit, np.zeros(packed.shape[0], dtype=np.int8))
    found: FloatArray = _distinct_currents(packed, volts, layout.circuit)
    return found[:, layout.original]


def tracker_maxima(
    conditions: CellConditions,
    strings: Sequence[StringCircuit],
    bypass: Bypass | None = None,
    breakdown: Breakdown | None = None,
) -> list[FloatArray]:
    """Return all local power maxima of a tracker at every step.

    Parameters
    ----------
    conditions, strings, bypass, breakdown
        As for `operating_point`.

    Returns
    -------
    list of ndarray
        For each step voltage [V] and power [W] of its maxima (maximum, 2), by voltage.
    """
    layout = lay_out(_columns(conditions), strings, bypass, breakdown)
    circuit = layout.circuit
    found = new_maxima(2 * circuit.runs.shape[0] + circuit.multiplicity.size + 2)
    steps = []
    for step in pack(conditions):
        if np.isnan(step).any() or not (step[:, PHOTOCURRENT] > 0.0).any():
            steps.append(np.empty((0, 2)))
            continue
        count, _status = all_maxima(step, circuit, found)
        steps.append(np.stack([found.volts[:count], found.power[:count]], axis=1))
    return steps
