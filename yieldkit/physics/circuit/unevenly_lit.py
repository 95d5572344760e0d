"""One string of groups in different light: all its power maxima, or the global one, fast.

Between the short-circuit currents of two groups the power has one maximum at most; each such
interval is searched, the most promising first.
"""

from __future__ import annotations

import math

import numpy as np

from yieldkit.physics.circuit.group import element_current
from yieldkit.physics.circuit.group_maxima import CURRENT
from yieldkit.physics.circuit.interval_maximum import bracketed_interval_maximum, joint_maximum
from yieldkit.physics.circuit.intervals import fill_bounds, fill_short_circuits, sort_by_light
from yieldkit.physics.circuit.series_string import fill_first_junctions, has_halves
from yieldkit.physics.circuit.tracker_circuit import CONDITION, PARTNER
from yieldkit.physics.compiled import compiled


@compiled
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


@compiled
def string_maxima(string, own_maxima, every, found, search):
    """Find the global power maximum of a string in uneven light, or all its local maxima.

    Parameters
    ----------
    string : SeriesString
        The string.
    own_maxima : ndarray
        Power [W] and current [A] of each condition's group at its own maximum (condition, 2).
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
    fill_short_circuits(string, search.short_circuits)
    sort_by_light(search.short_circuits, search.order)
    fill_bounds(string, own_maxima, search)
    number = string.runs.shape[0]
    bounds = search.bounds
    count = 0
    status = 0
    best = -math.inf
    for _ in range(number):
        place = np.argmax(bounds)
        if bounds[place] < 0.0 or not (every or bounds[place] > best):
            break
        bounds[place] = -1.0
        beat = -math.inf if every else best
        current, power, bad = maximum_of_interval(place, beat, string, own_maxima, search)
        status = max(status, bad)
        if math.isnan(current):
            continue
        found.volts[count] = power / current
        found.power[count] = power
        count += 1
        best = max(best, power)
    return count, status


@compiled
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
    last = place + 1 == string.runs.shape[0]
    run = search.order[place]
    high = search.short_circuits[run]
    low = 0.0 if last else search.short_circuits[search.order[place + 1]]
    if high <= 0.0 or high - low <= 1e-12 * high:
        return math.nan, 0.0, 0
    start = 0.5 * (low + high)
    if string.runs[run, PARTNER] < 0:
        start = max(own_maxima[string.runs[run, CONDITION], CURRENT], start)
    settled, current, power = quick_maximum(low, high, start, string, search)
    if settled:
        return current, power, 0
    return sure_maximum(place, start, best, string, search)


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


@compiled
def sure_maximum(place, start, best, string, search):
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
    search : IntervalSearch
        The order of the runs.

    Returns
    -------
    tuple of (float, float, int)
        As of `maximum_of_interval`.
    """
    exact = exact_short_circuits(string)
    high = exact[search.order[place]]
    low = exact[search.order[place + 1]] if place + 1 < string.runs.shape[0] else 0.0
    if high <= low:
        return math.nan, 0.0, 0
    junctions = np.full(string.runs.shape[0], math.nan)
    return bracketed_interval_maximum(low, high, start, best, string, junctions)
