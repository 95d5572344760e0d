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
from yieldkit.physics.compiled import compiled


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
    for run in range(runs.shape[0]):
        group = _side_by_side([(runs[run, CONDITION], runs[run, PARTNER], 1)], reverse)
        free = new_free_maxima(conditions.shape[0])
        if reverse.breakdown.factor == 0.0:
            _fill_side_by_side(conditions, group, free)
        own, settled = maxima[:, run], free.settled
        own[:, POWER] = free.power
        with np.errstate(invalid="ignore"):
            own[:, CURRENT] = free.power / free.volts
        if settled.all():
            continue
        left = np.flatnonzero(~settled)
        light = brightest_photocurrents(conditions[left], group.runs)
        own[left] = np.where(np.isnan(light), np.nan, 0.0)[:, np.newaxis]
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


def _fill_side_by_side(conditions: FloatArray, group: TrackerCircuit, free: FreeMaxima) -> None:
    """Find the maxima of a group for many steps; two halves are strings in parallel."""
    condition, partner, _one = group.runs[0].tolist()
    currents = np.empty((conditions.shape[0], 2))
    if partner < 0:
        alone = np.array([(condition, 1, 1)], dtype=np.int64)
        even_maxima(conditions, alone, group, free, currents)
        return
    halves = np.empty((conditions.shape[0], 2, conditions.shape[2]))
    fill_halves(conditions, condition, partner, halves)
    # Each of the two strings has half of what the one bypass diode leaks.
    bypass, breakdown = group.reverse
    leaky = ReversePath(Bypass(0.5 * bypass.saturation_current, bypass.n_vth), breakdown)
    pair = _side_by_side([(0, -1, 1), (1, -1, 1)], leaky)
    both = np.array([(0, 1, 1), (1, 1, 1)], dtype=np.int64)
    even_maxima(halves, both, pair, free, currents)


@compiled
def fill_halves(conditions, condition, partner, halves):
    """Fill the diode parameters of the two halves of a group.

    Parameters
    ----------
    conditions : ndarray
        Diode parameters of whole groups [A, A, ohm, ohm, V] (time, condition, 5).
    condition, partner : int
        Rows of the halves' light.
    halves : ndarray
        Filled [A, A, ohm, ohm, V] (time, half, 5).
    """
    for t in range(halves.shape[0]):
        for place in range(2):
            half = half_of(diode_at(conditions[t], condition if place == 0 else partner))
            halves[t, place, 0] = half.photocurrent
            halves[t, place, 1] = half.saturation_current
            halves[t, place, 2] = half.resistance_series
            halves[t, place, 3] = half.resistance_shunt
            halves[t, place, 4] = half.n_ns_vth


@compiled
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
