"""Every cell group at its own maximum, side by side where nothing breaks down."""

from __future__ import annotations

import numpy as np

from yieldkit.base.arrays import FloatArray, IntArray
from yieldkit.physics.circuit.components import Bypass, ReversePath
from yieldkit.physics.circuit.diode import diode_at, half_of
from yieldkit.physics.circuit.evenly_lit import even_maxima
from yieldkit.physics.circuit.found_maxima import greatest, new_maxima
from yieldkit.physics.circuit.intervals import CURRENT, POWER
from yieldkit.physics.circuit.maxima import all_maxima
from yieldkit.physics.circuit.tracker_circuit import (
    CONDITION,
    PARTNER,
    FreeMaxima,
    TrackerCircuit,
    brightest_photocurrents,
    lit_ones,
    new_free_maxima,
)
from yieldkit.physics.compiled import compiled, compiled_owning


def fill_group_maxima(
    conditions: FloatArray, runs: IntArray, reverse: ReversePath, maxima: FloatArray
) -> None:
    """Fill power and current of each run's group at its own maximum.

    Parameters
    ----------
    conditions : ndarray
        Diode parameters [A, A, ohm, ohm, V] (time, condition, 5).
    runs : ndarray of int
        As of `TrackerCircuit` (run, 3).
    reverse : ReversePath
        Bypass diode and breakdown.
    maxima : ndarray
        Filled with power [W] and current [A]; 0 in the dark, nan where a value is missing
        (time, run, 2).
    """
    settled = np.zeros((conditions.shape[0], runs.shape[0]), dtype=bool)
    if reverse.breakdown.factor == 0.0:
        halved = runs[:, PARTNER] >= 0
        for chosen, find in ((~halved, _whole_maxima), (halved, _halved_maxima)):
            if chosen.any():
                rows = slice(None) if chosen.all() else chosen
                free = find(conditions, runs[rows], reverse)
                shape = (settled.shape[0], int(np.count_nonzero(chosen)))
                volts, power, found = (part.reshape(shape) for part in free)
                with np.errstate(invalid="ignore"):
                    maxima[:, rows, CURRENT] = power / volts
                maxima[:, rows, POWER], settled[:, rows] = power, found
    if settled.all():
        return
    for run in np.flatnonzero(~settled.all(axis=0)):
        group = _side_by_side([(runs[run, CONDITION], runs[run, PARTNER], 1)], reverse)
        left = np.flatnonzero(~settled[:, run])
        light = brightest_photocurrents(conditions[left], group.runs)
        maxima[left, run] = np.where(np.isnan(light), np.nan, 0.0)[:, np.newaxis]
        lit = left[lit_ones(light)]
        if lit.size:
            fill_left_maxima(lit, conditions, group, run, maxima)


def _side_by_side(runs: list[tuple[int, int, int]], reverse: ReversePath) -> TrackerCircuit:
    """Return runs, each a string of its own, in parallel: without cables or blocking diodes."""
    number = len(runs)
    return TrackerCircuit(
        np.array(runs, dtype=np.int64),
        np.arange(number + 1, dtype=np.int64),
        np.zeros(number),
        np.ones(number, dtype=np.int64),
        np.zeros(number, dtype=np.int64),
        reverse,
    )


def _whole_maxima(conditions: FloatArray, runs: IntArray, reverse: ReversePath) -> FreeMaxima:
    """Find the maxima of whole groups, one run's after the other's in every step."""
    lights = runs[:, CONDITION]
    as_they_lie = np.array_equal(lights, np.arange(conditions.shape[1]))
    alone = conditions if as_they_lie else np.ascontiguousarray(conditions[:, lights])
    alone = alone.reshape(-1, 1, conditions.shape[2])
    return _even_maxima(alone, _side_by_side([(0, -1, 1)], reverse))


def _halved_maxima(conditions: FloatArray, runs: IntArray, reverse: ReversePath) -> FreeMaxima:
    """Find the maxima of groups of two halves, which are strings in parallel, likewise."""
    halves = np.empty((conditions.shape[0] * runs.shape[0], 2, conditions.shape[2]))
    fill_halves(conditions, runs, halves)
    # Each of the two strings has half of what the one bypass diode leaks.
    bypass, breakdown = reverse
    leaky = ReversePath(Bypass(0.5 * bypass.saturation_current, bypass.n_vth), breakdown)
    return _even_maxima(halves, _side_by_side([(0, -1, 1), (1, -1, 1)], leaky))


def _even_maxima(conditions: FloatArray, strings: TrackerCircuit) -> FreeMaxima:
    """Find the maxima of single groups in parallel for many lights."""
    number = strings.runs.shape[0]
    free = new_free_maxima(conditions.shape[0])
    even = np.array([(place, 1, 1) for place in range(number)], dtype=np.int64)
    even_maxima(conditions, even, strings, free, np.empty((conditions.shape[0], number)))
    return free


@compiled
def fill_halves(conditions, runs, halves):
    """Fill the diode parameters of the two halves of groups.

    Parameters
    ----------
    conditions : ndarray
        Diode parameters of whole groups [A, A, ohm, ohm, V] (time, condition, 5).
    runs : ndarray of int
        As of `TrackerCircuit`, each with a partner (run, 3).
    halves : ndarray
        Filled [A, A, ohm, ohm, V] (time and run, half, 5).
    """
    number = runs.shape[0]
    for row in range(halves.shape[0]):
        step, run = conditions[row // number], runs[row % number]
        for place in range(2):
            half = half_of(diode_at(step, run[CONDITION] if place == 0 else run[PARTNER]))
            halves[row, place, 0] = half.photocurrent
            halves[row, place, 1] = half.saturation_current
            halves[row, place, 2] = half.resistance_series
            halves[row, place, 3] = half.resistance_shunt
            halves[row, place, 4] = half.n_ns_vth


@compiled_owning
def fill_left_maxima(steps, conditions, group, run, maxima):
    """Fill power and current of one group at its own maximum in some steps, one after the other.

    Parameters
    ----------
    steps : ndarray of int
        The steps, lit ones (row,).
    conditions : ndarray
        Diode parameters [A, A, ohm, ohm, V] (time, condition, 5).
    group : TrackerCircuit
        The group alone, without cable.
    run : int
        Which run's group it is.
    maxima : ndarray
        Filled with power [W] and current [A] (time, run, 2).
    """
    found = new_maxima(2 * group.runs.shape[0] + 4)
    for row in range(steps.shape[0]):
        t = steps[row]
        count, _status = all_maxima(conditions[t], group, found)
        if count > 0:
            best = greatest(found, count)
            maxima[t, run, POWER] = found.power[best]
            maxima[t, run, CURRENT] = found.power[best] / found.volts[best]
