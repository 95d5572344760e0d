"""One tracker at one step: its best point inside the limits, and what determines it."""

from __future__ import annotations

import math
from typing import NamedTuple

from yieldkit.base.arrays import FloatArray, IntArray
from yieldkit.physics.circuit.found_maxima import Maxima, greatest, new_maxima
from yieldkit.physics.circuit.intervals import IntervalSearch, new_interval_search
from yieldkit.physics.circuit.limits import CURRENT, FREE, TOP, WINDOW_HIGH, WINDOW_LOW
from yieldkit.physics.circuit.maxima import general_maxima
from yieldkit.physics.circuit.tracker import (
    open_circuit,
    string_of,
    tracker_at_voltage,
    voltage_at_current,
)
from yieldkit.physics.circuit.tracker_circuit import (
    FreeMaxima,
    TrackerCircuit,
    Workspace,
    new_workspace,
)
from yieldkit.physics.circuit.unevenly_lit import string_maxima
from yieldkit.physics.compiled import compiled

# Which solver fits a tracker: evenly lit strings, one string in uneven light, or anything.
EVEN, UNEVEN, GENERAL = range(3)


class TrackerSteps(NamedTuple):
    """A tracker in its light of all steps.

    Parameters
    ----------
    kind : int
        `EVEN`, `UNEVEN` or `GENERAL`: which solver fits.
    conditions : ndarray
        Diode parameters [A, A, ohm, ohm, V] (time, condition, 5).
    even : ndarray of int
        Row of the light, groups in series and multiplicity of evenly lit strings (string, 3).
    circuit : TrackerCircuit
        The distinct strings.
    """

    kind: int
    conditions: FloatArray
    even: IntArray
    circuit: TrackerCircuit


class Known(NamedTuple):
    """What is found for many steps before each is solved.

    Parameters
    ----------
    free : FreeMaxima
        Unlimited maxima: the greatest, where a string in uneven light has several.
    own_maxima : ndarray
        Power [W] and current [A] of each run's group at its own maximum, for a string in uneven
        light (time, run, 2); empty for others.
    """

    free: FreeMaxima
    own_maxima: FloatArray


class StepSearch(NamedTuple):
    """Room for the search at a step.

    Parameters
    ----------
    found : Maxima
        The power maxima.
    intervals : IntervalSearch
        For a string in uneven light.
    workspace : Workspace
        Starts of the strings' solutions.
    """

    found: Maxima
    intervals: IntervalSearch
    workspace: Workspace


@compiled
def new_step_search(circuit):
    """Return room for the search at the steps of a tracker.

    Parameters
    ----------
    circuit : TrackerCircuit
        The tracker.

    Returns
    -------
    StepSearch
    """
    runs = circuit.runs.shape[0]
    return StepSearch(
        new_maxima(2 * runs + circuit.multiplicity.shape[0] + 2),
        new_interval_search(runs),
        new_workspace(circuit),
    )


@compiled
def free_maxima(t, tracker, known, every, search):
    """Find the power maxima of a step without any limit.

    Parameters
    ----------
    t : int
        The step.
    tracker : TrackerSteps
        The tracker.
    known : Known
        What was found for many steps.
    every : bool
        True for all maxima, False where the best is enough.
    search : StepSearch
        Its maxima are filled.

    Returns
    -------
    tuple of int
        Number of maxima filled in; 0 when all searches settled, 1 when not.
    """
    found = search.found
    if known.free.settled[t] and (tracker.kind == EVEN or not every):
        found.volts[0] = known.free.volts[t]
        found.power[0] = known.free.power[t]
        return 1, 0
    conditions, circuit = tracker.conditions[t], tracker.circuit
    if tracker.kind == UNEVEN:
        string = string_of(circuit, 0, conditions)
        own = known.own_maxima[t]
        count, status = string_maxima(string, own, every, found, search.intervals)
        if count > 0 and status == 0:
            for place in range(count):
                found.power[place] *= circuit.multiplicity[0]
            return count, 0
    return general_maxima(conditions, circuit, every, found)


@compiled
def highest_allowed(limits):
    """Return the highest voltage that window and maximum voltage allow.

    Parameters
    ----------
    limits : PointLimits
        The limits.

    Returns
    -------
    float
        [V].
    """
    return min(limits.v_mpp_max, limits.v_max)


@compiled
def is_within(volts, power, limits):
    """Return whether a point lies inside window and input current.

    Parameters
    ----------
    volts, power : float
        Voltage [V] and power [W] of the point.
    limits : PointLimits
        The limits.

    Returns
    -------
    bool
    """
    return limits.v_mpp_min <= volts <= highest_allowed(limits) and power <= limits.i_max * volts


@compiled
def lowest_allowed(limits, conditions, circuit, workspace, highest):
    """Return the lowest voltage that window and input current allow, and which of them it is.

    Parameters
    ----------
    limits : PointLimits
        The limits.
    conditions : ndarray
        Diode parameters of this step [A, A, ohm, ohm, V] (condition, 5).
    circuit : TrackerCircuit
        The tracker.
    workspace : Workspace
        Starts of the strings' solutions; updated.
    highest : float
        Open-circuit voltage [V], above the window's lower end.

    Returns
    -------
    tuple of (float, int)
        Voltage [V]; code of what determines it.
    """
    low = limits.v_mpp_min
    if math.isinf(limits.i_max):
        return low, WINDOW_LOW
    total, _d, _d2, _status = tracker_at_voltage(low, conditions, circuit, workspace)
    if total <= limits.i_max:
        return low, WINDOW_LOW
    volts, _status = voltage_at_current(limits.i_max, low, highest, conditions, circuit, workspace)
    return volts, CURRENT


@compiled
def upper_code(limits):
    """Return what determines a point at the highest voltage: window or maximum voltage.

    Parameters
    ----------
    limits : PointLimits
        The limits.

    Returns
    -------
    int
        Code.
    """
    return TOP if limits.v_max < limits.v_mpp_max else WINDOW_HIGH


@compiled
def limited_point(count, limits, conditions, circuit, search):
    """Return the best point inside window and input current.

    Parameters
    ----------
    count : int
        How many maxima are found, at least one.
    limits : PointLimits
        The limits.
    conditions : ndarray
        Diode parameters of this step [A, A, ohm, ohm, V] (condition, 5).
    circuit : TrackerCircuit
        The tracker.
    search : StepSearch
        The maxima, and starts of the strings' solutions.

    Returns
    -------
    tuple of (float, float, int, int)
        Voltage [V], power [W]; code of what determines it; 0 when the equations were met, 1 when
        not.
    """
    found, workspace = search.found, search.workspace
    best = greatest(found, count)
    free_volts = found.volts[best]
    if is_within(free_volts, found.power[best], limits):
        return free_volts, found.power[best], FREE, 0
    highest, status = open_circuit(conditions, circuit)
    if highest <= limits.v_mpp_min:
        return 0.0, 0.0, WINDOW_LOW, status
    low, low_code = lowest_allowed(limits, conditions, circuit, workspace, highest)
    high = highest_allowed(limits)
    if low > high:
        return 0.0, 0.0, low_code, status
    total, _d, _d2, bad = tracker_at_voltage(low, conditions, circuit, workspace)
    volts, power, code = low, low * total, low_code
    if high < highest:
        total, _d, _d2, bad = tracker_at_voltage(high, conditions, circuit, workspace)
        if high * total > power:
            volts, power, code = high, high * total, upper_code(limits)
    for place in range(count):
        if low < found.volts[place] < high and found.power[place] > power:
            volts, power = found.volts[place], found.power[place]
            code = low_code if free_volts < low else upper_code(limits)
    if power <= 0.0:
        return 0.0, 0.0, low_code, max(status, bad)
    return volts, power, code, max(status, bad)
