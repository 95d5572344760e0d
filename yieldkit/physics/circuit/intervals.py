"""Intervals of a string's current between its groups' short circuits, and bounds on their power."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import FloatArray, IntArray
from yieldkit.physics.circuit.diode import diode_at
from yieldkit.physics.circuit.group_maxima import CURRENT, POWER
from yieldkit.physics.circuit.tracker_circuit import CONDITION, COUNT, PARTNER
from yieldkit.physics.compiled import compiled


class IntervalSearch(NamedTuple):
    """Room for the search through a string's intervals.

    Parameters
    ----------
    short_circuits : ndarray
        Each run's short-circuit current, near enough to sort by [A] (run,).
    order : ndarray of int
        The runs from the brightest to the darkest (place,). The interval of a place ends at its
        run's short-circuit current and begins at the next one's, or at zero.
    bounds : ndarray
        Power that is not exceeded in an interval [W] (place,).
    junctions : ndarray
        Junction voltages [V] (run,).
    missing : ndarray
        Current that each run's junction lacks [A] (run,).
    slopes : ndarray
        Slope of its junction voltage by the current [V/A] (run,).
    """

    short_circuits: FloatArray
    order: IntArray
    bounds: FloatArray
    junctions: FloatArray
    missing: FloatArray
    slopes: FloatArray


@compiled
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
    return IntervalSearch(
        np.empty(runs),
        np.empty(runs, dtype=np.int64),
        np.empty(runs),
        np.empty(runs),
        np.empty(runs),
        np.empty(runs),
    )


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
def most_between(low, high, diode, power, current):
    """Return a bound on a group's power at currents between two others.

    A group's power is concave in its current: it peaks at its own maximum, and where that lies
    outside, at the nearer end. There the ideal diode without shunt bounds the voltage.

    Parameters
    ----------
    low, high : float
        The currents [A].
    diode : Diode
        The group.
    power, current : float
        Power [W] and current [A] at its own maximum.

    Returns
    -------
    float
        [W].
    """
    if low <= current <= high:
        return power
    end = high if high < current else low
    remaining = max(diode.photocurrent - end, 0.0)
    forward = math.log1p(remaining / diode.saturation_current)
    volts = diode.n_ns_vth * forward - end * diode.resistance_series
    return min(power, end * max(volts, 0.0))


@compiled
def fill_bounds(string, own_maxima, search):
    """Fill bounds on the power between consecutive short-circuit currents.

    Parameters
    ----------
    string : SeriesString
        The string.
    own_maxima : ndarray
        Power [W] and current [A] of each condition's group at its own maximum (condition, 2).
    search : IntervalSearch
        Its bounds are filled.
    """
    conditions, runs = string.conditions, string.runs
    short_circuits, order, bounds = search.short_circuits, search.order, search.bounds
    number = runs.shape[0]
    for place in range(number):
        high = short_circuits[order[place]]
        low = short_circuits[order[place + 1]] if place + 1 < number else 0.0
        bounds[place] = 0.0
        for active in range(place + 1):
            run = order[active]
            condition, partner, count = runs[run, CONDITION], runs[run, PARTNER], runs[run, COUNT]
            power, current = own_maxima[condition, POWER], own_maxima[condition, CURRENT]
            if partner >= 0:
                bounds[place] += count * 0.5 * (power + own_maxima[partner, POWER])
                continue
            diode = diode_at(conditions, condition)
            bounds[place] += count * most_between(low, high, diode, power, current)
