"""A tracker's circuit as the kernels take it: one tuple of flat arrays."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import FloatArray, IntArray
from yieldkit.physics.circuit.diode import IL
from yieldkit.physics.compiled import compiled

_DARK_A = 1e-9


class Net(NamedTuple):
    """Distinct strings in parallel.

    Parameters
    ----------
    runs : ndarray of int
        Condition, partner (-1 for none) and count of the runs of all strings (run, 3).
    first : ndarray of int
        Position of each string's first run, and the end (string + 1,).
    resistances, many, blocked : ndarray
        Cable resistance [ohm], multiplicity and blocking diode (0 or 1) of each string.
    diodes : ndarray
        Bypass saturation current and n Vth; breakdown factor, voltage and exponent.
    """

    runs: IntArray
    first: IntArray
    resistances: FloatArray
    many: IntArray
    blocked: IntArray
    diodes: FloatArray


class Warm(NamedTuple):
    """What one step's solutions start from, and leave for the next solution of the same step.

    Parameters
    ----------
    currents : ndarray
        String currents [A], nan for none (string,).
    junctions : ndarray
        Junction voltages [V], nan for none (run,).
    states : ndarray
        Room for what each run's junction gave: current, voltage, slope (run, 3).
    room : ndarray
        Room for a mixed string's search: short circuits, bounds, junctions, offsets and slopes
        (5, run).
    order : ndarray of int
        Room for the runs by their light (run,).
    """

    currents: FloatArray
    junctions: FloatArray
    states: FloatArray
    room: FloatArray
    order: IntArray


class Outputs(NamedTuple):
    """What a solver fills.

    Parameters
    ----------
    free : ndarray
        Voltage, power and 1 where the unlimited maximum was found side by side (time, 3).
    points : ndarray
        Operating points (time, column of `operating`).
    strings : ndarray
        String currents [A] (time, string).
    codes, statuses : ndarray of int8
        What holds the tracker; 0 where the equations were met (time,).
    """

    free: FloatArray
    points: FloatArray
    strings: FloatArray
    codes: IntArray
    statuses: IntArray


@compiled
def new_warm(net):
    """Return room for the warm starts of a tracker's steps."""
    runs = net.runs.shape[0]
    return Warm(
        np.empty(net.many.shape[0]),
        np.empty(runs),
        np.empty((runs, 3)),
        np.empty((5, runs)),
        np.empty(runs, dtype=np.int64),
    )


@compiled
def forget(warm):
    """Forget all starts: a new step, or a place far away."""
    warm.currents[:] = math.nan
    warm.junctions[:] = math.nan


@compiled
def is_dark(here, runs):
    """Return 1 when no group has light, -1 when a value is missing, else 0."""
    light = 0.0
    for run in range(runs.shape[0]):
        for column in range(2):
            condition = runs[run, column]
            if condition < 0:
                continue
            for place in range(here.shape[1]):
                if math.isnan(here[condition, place]):
                    return -1
            light = max(light, here[condition, IL])
    return 1 if light <= _DARK_A else 0


@compiled
def total_current(many, currents):
    """Return the sum of string currents times multiplicities [A]."""
    total = 0.0
    for s in range(many.shape[0]):
        total += many[s] * currents[s]
    return total
