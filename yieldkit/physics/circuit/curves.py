"""Curves of strings and trackers: current by voltage, voltage by current, all maxima."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from yieldkit.base.arrays import FloatArray
from yieldkit.physics.circuit.layout import lay_out, pack
from yieldkit.physics.circuit.maxima import general_maxima
from yieldkit.physics.circuit.net import forget, new_warm
from yieldkit.physics.circuit.string import string_at_current
from yieldkit.physics.circuit.tracker import open_circuit, tracker_at_voltage
from yieldkit.physics.circuit.types import Breakdown, Bypass, CellConditions, StringCircuit
from yieldkit.physics.compiled import compiled


@compiled
def _voltages(conditions, current, runs, resistance, diodes):
    volts = np.empty(conditions.shape[0])
    for t in range(conditions.shape[0]):
        junctions = np.full(runs.shape[0], math.nan)
        volts[t], _d, _d2, status = string_at_current(
            current[t], conditions[t], runs, resistance, diodes, junctions
        )
        if status != 0:
            volts[t] = math.nan
    return volts


@compiled
def _currents(conditions, volts, net):
    strings = np.empty((conditions.shape[0], net.many.shape[0]))
    warm = new_warm(net)
    for t in range(conditions.shape[0]):
        forget(warm)
        _i, _d, _d2, status = tracker_at_voltage(volts[t], conditions[t], net, warm)
        for s in range(net.many.shape[0]):
            strings[t, s] = warm.currents[s] if status == 0 else math.nan
    return strings


@compiled
def _open_voltages(conditions, net):
    volts = np.empty(conditions.shape[0])
    for t in range(conditions.shape[0]):
        volts[t], _status = open_circuit(conditions[t], net)
    return volts


def _columns(conditions: CellConditions) -> range:
    return range(np.asarray(conditions.photocurrent).shape[1])


def string_voltage(
    conditions: CellConditions,
    string: StringCircuit,
    current: FloatArray,
    bypass: Bypass | None = None,
    breakdown: Breakdown | None = None,
) -> FloatArray:
    """Return a string's voltage behind its cable at given currents.

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
    volts: FloatArray = _voltages(
        pack(conditions),
        np.asarray(current, dtype=float),
        layout.net.runs,
        float(layout.net.resistances[0]),
        layout.net.diodes,
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
    found: FloatArray = _currents(
        pack(conditions),
        np.asarray(volts, dtype=float),
        layout.net,
    )
    return found[:, layout.original]


def string_current(
    conditions: CellConditions,
    string: StringCircuit,
    voltage: FloatArray,
    bypass: Bypass | None = None,
    breakdown: Breakdown | None = None,
) -> FloatArray:
    """Return a string's current at given voltages behind its cable.

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
        [A] (time, string): negative where a string is fed backwards by the others.
    """
    layout = lay_out(_columns(conditions), strings, bypass, breakdown)
    packed = pack(conditions)
    volts = _open_voltages(packed, layout.net)
    found: FloatArray = _currents(packed, volts, layout.net)
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
    found = np.empty((2 * layout.net.runs.shape[0] + layout.net.many.size + 2, 2))
    steps = []
    for here in pack(conditions):
        if np.isnan(here).any() or not (here[:, 0] > 0.0).any():
            steps.append(np.empty((0, 2)))
            continue
        count, _status = general_maxima(here, layout.net, True, found)
        steps.append(found[:count].copy())
    return steps
