"""Intervals of a string's current between its groups' short circuits, the brightest first."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import FloatArray, IntArray
from yieldkit.physics.circuit.diode import diode_at
from yieldkit.physics.circuit.tracker_circuit import CONDITION, PARTNER
from yieldkit.physics.compiled import compiled, compiled_owning

# Columns of the groups' own maxima.
POWER, CURRENT = range(2)


class Intervals(NamedTuple):
    """A string's intervals of current.

    Parameters
    ----------
    short_circuits : ndarray
        Each run's short-circuit current, near enough to sort by [A] (run,).
    order : ndarray of int
        The runs from the brightest to the darkest (place,). The interval of a place ends at its
        run's short-circuit current and begins at the next one's, or at zero.
    bounds : ndarray
        Power that is not exceeded in an interval [W] (place,); negative where none is to be found.
    """

    short_circuits: FloatArray
    order: IntArray
    bounds: FloatArray


class IntervalSearch(NamedTuple):
    """Room for the search through a string's intervals.

    Parameters
    ----------
    intervals : Intervals
        The intervals.
    junctions : ndarray
        Junction voltages [V] (run,).
    missing : ndarray
        Current that each run's junction lacks [A] (run,).
    slopes : ndarray
        Slope of its junction voltage by the current [V/A] (run,).
    """

    intervals: Intervals
    junctions: FloatArray
    missing: FloatArray
    slopes: FloatArray


@compiled_owning
def new_interval_search(runs):
    """Return room for a search through a string's intervals.

    Parameters
    ----------
    runs : int
        Number of the string's runs.

    Returns
    -------
    IntervalSearch
    """
    intervals = Intervals(np.empty(runs), np.empty(runs, dtype=np.int64), np.empty(runs))
    return IntervalSearch(intervals, np.empty(runs), np.empty(runs), np.empty(runs))


@compiled
def near_short_circuit(diode):
    """Return a group's short-circuit current, near enough to sort by.

    Parameters
    ----------
    diode : Diode
        The group.

    Returns
    -------
    float
        [A].
    """
    return diode.photocurrent / (1.0 + diode.resistance_series / diode.resistance_shunt)


@compiled
def fill_short_circuits(string, short_circuits):
    """Fill each run's short-circuit current, near enough to sort by.

    Parameters
    ----------
    string : SeriesString
        The string.
    short_circuits : ndarray
        Filled [A] (run,).
    """
    conditions, runs = string.conditions, string.runs
    for run in range(runs.shape[0]):
        current = near_short_circuit(diode_at(conditions, runs[run, CONDITION]))
        if runs[run, PARTNER] >= 0:
            other = near_short_circuit(diode_at(conditions, runs[run, PARTNER]))
            current = 0.5 * (current + other)
        short_circuits[run] = current


@compiled
def sort_by_light(short_circuits, order):
    """Fill the runs from the brightest to the darkest, equal ones in their order.

    Parameters
    ----------
    short_circuits : ndarray
        Each run's short-circuit current [A] (run,).
    order : ndarray of int
        Filled with positions of runs (place,).
    """
    for run in range(short_circuits.shape[0]):
        place = run
        while place > 0 and short_circuits[order[place - 1]] < short_circuits[run]:
            order[place] = order[place - 1]
            place -= 1
        order[place] = run


@compiled
def most_promising(bounds, best):
    """Return the interval of the greatest bound that exceeds a power.

    Parameters
    ----------
    bounds : ndarray
        As of `Intervals` [W] (place,); negative for intervals that are done.
    best : float
        Power to beat [W].

    Returns
    -------
    tuple of (int, float)
        Which interval, -1 for none; and the next greatest bound [W], -1 for none.
    """
    place, most, after = -1, -1.0, -1.0
    for other in range(bounds.shape[0]):
        bound = bounds[other]
        if bound > most:
            place, most, after = other, bound, most
        elif bound > after:
            after = bound
    return (place, after) if most > best else (-1, -1.0)


@compiled
def interval_of(place, intervals):
    """Return the ends of an interval.

    Parameters
    ----------
    place : int
        Which interval.
    intervals : Intervals
        The runs by their light.

    Returns
    -------
    tuple of float
        Currents [A]: of the interval's begin and its end.
    """
    last = place + 1 == intervals.order.shape[0]
    low = 0.0 if last else intervals.short_circuits[intervals.order[place + 1]]
    return low, intervals.short_circuits[intervals.order[place]]


@compiled
def start_of(place, own_maxima, intervals):
    """Return a current to start the search of an interval from.

    Parameters
    ----------
    place : int
        Which interval.
    own_maxima : ndarray
        Power [W] and current [A] of each run's group at its own maximum (run, 2).
    intervals : Intervals
        The runs by their light.

    Returns
    -------
    float
        [A].
    """
    low, high = interval_of(place, intervals)
    start = max(own_maxima[intervals.order[place], CURRENT], 0.5 * (low + high))
    return min(start, high - 1e-9 * (high - low))
