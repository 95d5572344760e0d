"""Every cell group at its own maximum, side by side where nothing breaks down."""

from __future__ import annotations

import math

import numpy as np

from yieldkit.physics.circuit.diode import BREAK_A
from yieldkit.physics.circuit.even import even_maxima
from yieldkit.physics.circuit.maxima import general_maxima
from yieldkit.physics.circuit.net import Net, is_dark
from yieldkit.physics.circuit.operating_step import best_of
from yieldkit.physics.compiled import compiled


@compiled
def fill_peaks(begin, end, conditions, diodes, peaks):
    """Fill power and current of every condition's group at its own maximum.

    Parameters
    ----------
    begin, end : int
        Steps to fill.
    conditions : ndarray
        Packed conditions (time, condition, 5).
    diodes : ndarray
        Packed bypass and breakdown values.
    peaks : ndarray
        Filled with power [W] and current [A]; 0 in the dark, nan where a value is missing
        (time, condition, 2).
    """
    block = conditions[begin:end]
    free = np.zeros((end - begin, 3))
    currents = np.empty((end - begin, 1))
    found = np.empty((6, 2))
    zero = np.zeros(1)
    one = np.ones(1, dtype=np.int64)
    for column in range(conditions.shape[1]):
        runs = np.array([[column, -1, 1]])
        net = Net(runs, np.array([0, 1]), zero, one, np.zeros(1, dtype=np.int64), diodes)
        free[:, 2] = 0.0
        if diodes[BREAK_A] == 0.0:
            even_maxima(0, end - begin, block, np.array([[column, 1, 1]]), net, free, currents)
        for t in range(end - begin):
            own = peaks[begin + t, column]
            if free[t, 2] == 1.0:
                own[0] = free[t, 1]
                own[1] = free[t, 1] / free[t, 0]
                continue
            dark = is_dark(block[t], runs)
            own[:] = 0.0 if dark >= 0 else math.nan
            if dark != 0:
                continue
            count, _status = general_maxima(block[t], net, True, found)
            if count > 0:
                best = best_of(found, count)
                own[0] = found[best, 1]
                own[1] = found[best, 1] / found[best, 0]
