"""Every cell group at its own maximum, side by side where nothing breaks down."""

from __future__ import annotations

import math

import numpy as np

from yieldkit.physics.circuit.evenly_lit import even_maxima
from yieldkit.physics.circuit.found_maxima import greatest, new_maxima
from yieldkit.physics.circuit.maxima import general_maxima
from yieldkit.physics.circuit.tracker_circuit import (
    TrackerCircuit,
    brightest_photocurrent,
    is_lit,
    new_free_maxima,
)
from yieldkit.physics.compiled import compiled

# Columns of the maxima of cell groups.
POWER, CURRENT = range(2)


@compiled
def fill_group_maxima(conditions, reverse, maxima):
    """Fill power and current of every condition's group at its own maximum.

    Parameters
    ----------
    conditions : ndarray
        Diode parameters [A, A, ohm, ohm, V] (time, condition, 5).
    reverse : ReversePath
        Bypass diode and breakdown.
    maxima : ndarray
        Filled with power [W] and current [A]; 0 in the dark, nan where a value is missing
        (time, condition, 2).
    """
    steps = conditions.shape[0]
    free = new_free_maxima(steps)
    volts, power, settled = free.volts, free.power, free.settled
    currents = np.empty((steps, 1))
    found = new_maxima(6)
    zero = np.zeros(1)
    one = np.ones(1, dtype=np.int64)
    for column in range(conditions.shape[1]):
        runs = np.array([[column, -1, 1]])
        unblocked = np.zeros(1, dtype=np.int64)
        group = TrackerCircuit(runs, np.array([0, 1]), zero, one, unblocked, reverse)
        settled[:] = False
        if reverse.breakdown.factor == 0.0:
            even_maxima(conditions, np.array([[column, 1, 1]]), group, free, currents)
        for t in range(steps):
            if settled[t]:
                maxima[t, column, POWER] = power[t]
                maxima[t, column, CURRENT] = power[t] / volts[t]
            else:
                fill_one_maximum(conditions[t], group, found, maxima[t, column])


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
