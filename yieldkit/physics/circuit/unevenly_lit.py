"""One string of groups in different light: all its power maxima, or the global one, fast.

Between the short-circuit currents of two groups the power has one maximum at most; each such
interval is searched, the most promising first.
"""

from __future__ import annotations

import math

import numpy as np

from yieldkit.physics.circuit.group import element_current
from yieldkit.physics.circuit.interval_bounds import fill_bounds
from yieldkit.physics.circuit.interval_maximum import bracketed_interval_maximum, joint_maximum
from yieldkit.physics.circuit.intervals import (
    fill_short_circuits,
    interval_of,
    most_promising,
    sort_by_light,
    start_of,
)
from yieldkit.physics.circuit.series_string import fill_first_junctions, has_halves
from yieldkit.physics.circuit.tracker_circuit import CONDITION, PARTNER, no_junctions
from yieldkit.physics.compiled import compiled, compiled_owning


@compiled_owning
def exact_short_circuits(string):
    """Return each run's own short-circuit current.

    Parameters
    ----------
    string : SeriesString
        The string.

    Returns
    -------
    ndarray
        [A] (run,).
    """
    runs = string.runs
    currents = np.empty(runs.shape[0])
    for run in range(runs.shape[0]):
        currents[run] = element_current(
            0.0, string.conditions, runs[run, CONDITION], runs[run, PARTNER], string.reverse
        )
    return currents


@compiled_owning
def string_maxima(string, own_maxima, every, found, search):
    """Find the global power maximum of a string in uneven light, or all its local maxima.

    Parameters
    ----------
    string : SeriesString
        The string.
    own_maxima : ndarray
        Power [W] and current [A] of each run's group at its own maximum (run, 2).
    every : bool
        True to find every local maximum, False to skip what can't be the global one.
    found : Maxima
        Filled.
    search : IntervalSearch
        Room.

    Returns
    -------
    tuple of int
        Number of maxima filled in; 0 when all searches settled, 1 when not.
    """
    intervals = search.intervals
    fill_short_circuits(string, intervals.short_circuits)
    sort_by_light(intervals.short_circuits, intervals.order)
    fill_bounds(string, own_maxima, intervals)
    count = 0
    status = 0
    best = -math.inf
    for _ in range(string.runs.shape[0]):
        beat = -math.inf if every else best
        place, _after = most_promising(intervals.bounds, beat)
        if place < 0:
            break
        intervals.bounds[place] = -1.0
        current, power, bad = maximum_of_interval(place, beat, string, own_maxima, search)
        status = max(status, bad)
        if math.isnan(current):
            continue
        found.volts[count] = power / current
        found.power[count] = power
        count += 1
        best = max(best, power)
    return count, status


@compiled_owning
def maximum_of_interval(place, best, string, own_maxima, search):
    """Find the maximum of one interval, quickly if that settles.

    Parameters
    ----------
    place : int
        Which interval.
    best : float
        Power to beat [W]; minus infinity for none.
    string, own_maxima, search
        As for `string_maxima`.

    Returns
    -------
    tuple of (float, float, int)
        Current [A] (nan when there is no maximum, or none above `best`), power [W]; 0 when the
        equations were met, 1 when not.
    """
    low, high = interval_of(place, search.intervals)
    if high <= 0.0 or high - low <= 1e-12 * high:
        return math.nan, 0.0, 0
    start = start_of(place, own_maxima, search.intervals)
    settled, current, power = quick_maximum(low, high, start, string, search)
    if settled:
        return current, power, 0
    return sure_maximum(place, start, best, string, search.intervals)


@compiled
def quick_maximum(low, high, start, string, search):
    """Try to find the maximum between two currents with all junctions at once.

    Parameters
    ----------
    low, high : float
        The currents [A].
    start : float
        Current to start from [A].
    string : SeriesString
        The string.
    search : IntervalSearch
        Room.

    Returns
    -------
    tuple of (bool, float, float)
        Whether that settled between the two; current [A], power [W].
    """
    if has_halves(string.runs):
        return False, math.nan, 0.0
    fill_first_junctions(start, string, search.junctions)
    settled, current, power = joint_maximum(low, high, start, string, search)
    return settled and 1.001 * low < current < high, current, power


@compiled_owning
def sure_maximum(place, start, best, string, intervals):
    """Find the maximum of one interval inside a bracket, from exact short-circuit currents.

    Parameters
    ----------
    place : int
        Which interval.
    start : float
        Current to start from [A].
    best : float
        Power to beat [W]; minus infinity for none.
    string : SeriesString
        The string.
    intervals : Intervals
        The order of the runs.

    Returns
    -------
    tuple of (float, float, int)
        As of `maximum_of_interval`.
    """
    exact = exact_short_circuits(string)
    high = exact[intervals.order[place]]
    low = exact[intervals.order[place + 1]] if place + 1 < string.runs.shape[0] else 0.0
    if high <= low:
        return math.nan, 0.0, 0
    junctions = no_junctions(string.runs.shape[0])
    return bracketed_interval_maximum(low, high, start, best, string, junctions)
