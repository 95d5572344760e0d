"""The power maxima of single steps, those that lanes left over: one after the other."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import FloatArray, IntArray
from yieldkit.physics.circuit.evenly_lit import BYPASS_OFF
from yieldkit.physics.circuit.found_maxima import greatest, new_maxima
from yieldkit.physics.circuit.intervals import new_interval_search
from yieldkit.physics.circuit.maxima import all_maxima, best_maxima, climbed_maximum, highest_of
from yieldkit.physics.circuit.series_string import SeriesString
from yieldkit.physics.circuit.tracker import strings_open_circuit
from yieldkit.physics.circuit.tracker_circuit import (
    COUNT,
    TrackerCircuit,
    clear_starts,
    new_workspace,
)
from yieldkit.physics.circuit.unevenly_lit import string_maxima
from yieldkit.physics.compiled import compiled, compiled_owning


class StepMaxima(NamedTuple):
    """Power maxima of some steps, a row each.

    Parameters
    ----------
    number : ndarray of int
        How many are filled (row,).
    best : ndarray of int
        Which of them has the greatest power (row,).
    volts, power : ndarray
        Voltage [V] and power [W] (row, maximum).
    status : ndarray of int8
        0 where all searches settled, 1 where not (row,).
    """

    number: IntArray
    best: IntArray
    volts: FloatArray
    power: FloatArray
    status: IntArray


def new_step_maxima(rows: int, circuit: TrackerCircuit) -> StepMaxima:
    """Return room for the maxima of some steps.

    Parameters
    ----------
    rows : int
        How many steps.
    circuit : TrackerCircuit
        The tracker, which decides how many maxima there may be.
    """
    most = 2 * circuit.runs.shape[0] + circuit.multiplicity.shape[0] + 2
    return StepMaxima(
        np.zeros(rows, dtype=np.int64),
        np.zeros(rows, dtype=np.int64),
        np.zeros((rows, most)),
        np.zeros((rows, most)),
        np.zeros(rows, dtype=np.int8),
    )


@compiled
def keep_maxima(row, count, status, found, table):
    """Put the maxima of a step into its row.

    Parameters
    ----------
    row : int
        The row.
    count : int
        How many maxima were found.
    status : int
        0 when all searches settled, 1 when not.
    found : Maxima
        The maxima.
    table : StepMaxima
        Filled in this row.
    """
    for place in range(count):
        table.volts[row, place] = found.volts[place]
        table.power[row, place] = found.power[place]
    table.number[row] = count
    table.best[row] = greatest(found, count)
    table.status[row] = status


@compiled_owning
def fill_string_maxima(steps, conditions, circuit, own_maxima, every, table):
    """Find the maxima of one string in uneven light, where its searches settle.

    Parameters
    ----------
    steps : ndarray of int
        The steps (row,).
    conditions : ndarray
        Diode parameters [A, A, ohm, ohm, V] (time, condition, 5).
    circuit : TrackerCircuit
        The string, as often as it is there.
    own_maxima : ndarray
        Power [W] and current [A] of each run's group at its own maximum (time, run, 2).
    every : bool
        True for all maxima, False where the best is enough.
    table : StepMaxima
        Filled; rows that don't settle are left without any maximum.
    """
    runs, resistance = circuit.runs.shape[0], circuit.resistances[0]
    found, search = new_maxima(table.volts.shape[1]), new_interval_search(runs)
    for row in range(steps.shape[0]):
        t = steps[row]
        string = SeriesString(conditions[t], circuit.runs, resistance, circuit.reverse)
        count, status = string_maxima(string, own_maxima[t], every, found, search)
        if status != 0:
            continue
        for place in range(count):
            found.power[place] *= circuit.multiplicity[0]
        keep_maxima(row, count, status, found, table)


@compiled_owning
def fill_even_maxima(steps, conditions, circuit, table):
    """Find the one maximum of evenly lit strings in the rows that have none.

    As for `evenly_lit`: there is one maximum where bypass diodes do no more than leak, and rows
    where they do more are left.

    Parameters
    ----------
    steps : ndarray of int
        The steps (row,).
    conditions : ndarray
        Diode parameters [A, A, ohm, ohm, V] (time, condition, 5).
    circuit : TrackerCircuit
        The tracker; without breakdown.
    table : StepMaxima
        Rows without maxima are filled where that is sure.
    """
    workspace = new_workspace(circuit)
    least = BYPASS_OFF * circuit.reverse.bypass.n_vth
    for row in range(steps.shape[0]):
        if table.number[row] > 0:
            continue
        step = conditions[steps[row]]
        clear_starts(workspace)
        highest = highest_of(strings_open_circuit(step, circuit))
        volts, power, status = climbed_maximum(-1.0, highest, step, circuit, workspace)
        lowest = volts
        for s in range(circuit.resistances.shape[0]):
            own = volts + circuit.resistances[s] * workspace.currents[s]
            lowest = min(lowest, own / circuit.runs[circuit.first_run[s], COUNT])
        if status == 0 and lowest > least:
            table.volts[row, 0], table.power[row, 0] = volts, power
            table.number[row] = 1


@compiled_owning
def fill_general_maxima(steps, conditions, circuit, every, free, table):
    """Find the maxima of any tracker in the rows that have none.

    Parameters
    ----------
    steps, conditions, every
        As for `fill_string_maxima`.
    circuit : TrackerCircuit
        The tracker.
    free : FreeMaxima
        Maxima that are known, though not to be the greatest.
    table : StepMaxima
        Rows without maxima are filled.
    """
    found = new_maxima(table.volts.shape[1])
    for row in range(steps.shape[0]):
        if table.number[row] > 0:
            continue
        t = steps[row]
        step = conditions[t]
        if every:
            count, status = all_maxima(step, circuit, found)
        else:
            count, status = best_maxima(step, circuit, free.volts[t], found)
        keep_maxima(row, count, status, found, table)
