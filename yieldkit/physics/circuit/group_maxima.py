"""Every cell group at its own maximum, side by side where nothing breaks down."""

from __future__ import annotations

import math

import numpy as np

from yieldkit.physics.circuit.components import Bypass, ReversePath
from yieldkit.physics.circuit.diode import diode_at, half_of
from yieldkit.physics.circuit.evenly_lit import even_maxima
from yieldkit.physics.circuit.found_maxima import greatest, new_maxima
from yieldkit.physics.circuit.intervals import CURRENT, POWER
from yieldkit.physics.circuit.maxima import general_maxima
from yieldkit.physics.circuit.tracker_circuit import (
    CONDITION,
    COUNT,
    PARTNER,
    TrackerCircuit,
    brightest_photocurrent,
    is_lit,
    new_free_maxima,
)
from yieldkit.physics.compiled import compiled


@compiled
def fill_group_maxima(conditions, runs, reverse, maxima):
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
    steps = conditions.shape[0]
    free = new_free_maxima(steps)
    volts, power, settled = free.volts, free.power, free.settled
    found = new_maxima(6)
    zero = np.zeros(1)
    one = np.ones(1, dtype=np.int64)
    unblocked = np.zeros(1, dtype=np.int64)
    for run in range(runs.shape[0]):
        alone = runs[run : run + 1].copy()
        alone[0, COUNT] = 1
        group = TrackerCircuit(alone, np.array([0, 1]), zero, one, unblocked, reverse)
        settled[:] = False
        if reverse.breakdown.factor == 0.0:
            fill_side_by_side(conditions, group, free)
        for t in range(steps):
            if settled[t]:
                maxima[t, run, POWER] = power[t]
                maxima[t, run, CURRENT] = power[t] / volts[t]
            else:
                fill_one_maximum(conditions[t], group, found, maxima[t, run])


@compiled
def fill_side_by_side(conditions, group, free):
    """Find the maxima of a group for many steps; two halves are strings in parallel.

    Parameters
    ----------
    conditions : ndarray
        Diode parameters [A, A, ohm, ohm, V] (time, condition, 5).
    group : TrackerCircuit
        The group alone, without cable and breakdown.
    free : FreeMaxima
        Filled where settled.
    """
    condition, partner = group.runs[0, CONDITION], group.runs[0, PARTNER]
    if partner < 0:
        currents = np.empty((conditions.shape[0], 1))
        even_maxima(conditions, np.array([[condition, 1, 1]]), group, free, currents)
        return
    halves = np.empty((conditions.shape[0], 2, conditions.shape[2]))
    for t in range(conditions.shape[0]):
        for place, column in enumerate((condition, partner)):
            half = half_of(diode_at(conditions[t], column))
            halves[t, place, 0] = half.photocurrent
            halves[t, place, 1] = half.saturation_current
            halves[t, place, 2] = half.resistance_series
            halves[t, place, 3] = half.resistance_shunt
            halves[t, place, 4] = half.n_ns_vth
    # Each of the two strings has half of what the one bypass diode leaks.
    bypass = group.reverse.bypass
    leaky = Bypass(0.5 * bypass.saturation_current, bypass.n_vth)
    pair = TrackerCircuit(
        np.array([[0, -1, 1], [1, -1, 1]]),
        np.array([0, 1, 2]),
        np.zeros(2),
        np.ones(2, dtype=np.int64),
        np.zeros(2, dtype=np.int64),
        ReversePath(leaky, group.reverse.breakdown),
    )
    currents = np.empty((conditions.shape[0], 2))
    even_maxima(halves, np.array([[0, 1, 1], [1, 1, 1]]), pair, free, currents)


@compiled
def fill_one_maximum(conditions, group, found, own):
    """Fill power and current of one group at its own maximum by the general solver.

    Parameters
    ----------
    conditions : ndarray
        Diode parameters of this step [A, A, ohm, ohm, V] (condition, 5).
    group : TrackerCircuit
        The group alone, without cable.
    found : Maxima
        Room for its maxima.
    own : ndarray
        Filled with power [W] and current [A]; 0 in the dark, nan where a value is missing (2,).
    """
    light = brightest_photocurrent(conditions, group.runs)
    own[:] = math.nan if math.isnan(light) else 0.0
    if not is_lit(light):
        return
    count, _status = general_maxima(conditions, group, True, found)
    if count > 0:
        best = greatest(found, count)
        own[POWER] = found.power[best]
        own[CURRENT] = found.power[best] / found.volts[best]
