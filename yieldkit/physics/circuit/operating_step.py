"""One tracker at one step: its best point inside the limits, and what holds it there."""

from __future__ import annotations

import math

from yieldkit.physics.circuit.maxima import general_maxima
from yieldkit.physics.circuit.mixed import string_maxima
from yieldkit.physics.circuit.tracker import (
    open_circuit,
    tracker_at_voltage,
    voltage_at_current,
)
from yieldkit.physics.compiled import compiled

CONCAVE, MIXED, GENERAL = 0, 1, 2
# Codes of what holds a tracker; the words are in circuit.BINDING.
FREE, DARK, STARTING, WINDOW_LOW, WINDOW_HIGH, TOP, CURRENT, POWER, BOUND = range(9)
# Columns of the packed limits.
V_LOW, V_HIGH, V_TOP, I_MAX, P_MAX = range(5)
_ITERATIONS = 200


@compiled
def free_maxima(kind, t, conditions, peaks, free, net, every, found, warm):
    """Fill `found` with voltage and power of a step's maxima; return their number, status.

    Parameters
    ----------
    kind : int
        Which solver fits.
    t : int
        The step.
    conditions, peaks, free : ndarray
        Packed conditions, own maxima of a mixed string's conditions (time, condition, 2), and what
        was found side by side for evenly lit strings.
    net : Net
        The tracker.
    every : bool
        True for all maxima, False where the best is enough.
    found : ndarray
        Filled (maximum, 2).
    warm : Warm
        Room for the search.
    """
    if kind == CONCAVE and free[t, 2] == 1.0:
        found[0, 0] = free[t, 0]
        found[0, 1] = free[t, 1]
        return 1, 0
    here = conditions[t]
    if kind == MIXED:
        count, status = string_maxima(
            here, net.runs, net.resistances[0], net.diodes, peaks[t], every, found, warm
        )
        if count > 0 and status == 0:
            for place in range(count):
                found[place, 0] = found[place, 1] / found[place, 0]
                found[place, 1] *= net.many[0]
            return count, 0
    return general_maxima(here, net, every, found)


@compiled
def best_of(found, count):
    """Return the position of the greatest power; the lower voltage wins a tie."""
    best = 0
    for place in range(1, count):
        more = found[place, 1] > found[best, 1]
        tie = found[place, 1] == found[best, 1] and found[place, 0] < found[best, 0]
        if more or tie:
            best = place
    return best


@compiled
def feasible_low(limits, here, net, warm, highest):
    """Return the lowest voltage that window and input current allow, and which of them it is."""
    low = limits[V_LOW]
    if math.isinf(limits[I_MAX]):
        return low, WINDOW_LOW
    total, _d, _d2, _status = tracker_at_voltage(low, here, net, warm)
    if total <= limits[I_MAX]:
        return low, WINDOW_LOW
    volts, _status = voltage_at_current(limits[I_MAX], low, highest, here, net, warm)
    return volts, CURRENT


@compiled
def high_code(limits):
    """Return what holds a tracker at its highest voltage: window or maximum voltage.

    Parameters
    ----------
    limits : ndarray
        Packed limits: window, maximum voltage [V], input current [A].
    """
    return TOP if limits[V_TOP] < limits[V_HIGH] else WINDOW_HIGH


@compiled
def limited_point(found, count, limits, here, net, warm):
    """Return the best point inside window and input current: voltage, power, code, status.

    Parameters
    ----------
    found : ndarray
        Voltage [V] and power [W] of the maxima, of which `count` are filled (maximum, 2).
    count : int
        How many maxima there are, at least one.
    limits : ndarray
        Packed limits: window, maximum voltage [V], input current [A].
    here : ndarray
        Packed conditions of this step (condition, 5).
    net : Net
        The tracker.
    warm : Warm
        Starts of the strings' solutions.
    """
    best = best_of(found, count)
    free_volts = found[best, 0]
    free_power = found[best, 1]
    high = min(limits[V_HIGH], limits[V_TOP])
    fits = limits[V_LOW] <= free_volts <= high
    if fits and free_power <= limits[I_MAX] * free_volts:
        return free_volts, free_power, FREE, 0
    highest, status = open_circuit(here, net)
    if highest <= limits[V_LOW]:
        return 0.0, 0.0, WINDOW_LOW, status
    low, low_code = feasible_low(limits, here, net, warm, highest)
    if low > high:
        return 0.0, 0.0, low_code, status
    total, _d, _d2, bad = tracker_at_voltage(low, here, net, warm)
    volts = low
    power = low * total
    code = low_code
    if high < highest:
        total, _d, _d2, bad = tracker_at_voltage(high, here, net, warm)
        if high * total > power:
            volts = high
            power = high * total
            code = high_code(limits)
    for place in range(count):
        if low < found[place, 0] < high and found[place, 1] > power:
            volts = found[place, 0]
            power = found[place, 1]
            code = low_code if free_volts < low else high_code(limits)
    if power <= 0.0:
        return 0.0, 0.0, low_code, max(status, bad)
    return volts, power, code, max(status, bad)


@compiled
def bounded_point(volts, bound, top, here, net, warm):
    """Move from a point towards open circuit until the power meets a bound.

    Returns
    -------
    tuple
        Voltage [V] (0 when no point below the maximum voltage meets the bound), status.
    """
    highest, status = open_circuit(here, net)
    low = volts
    high = min(highest, top)
    if high < highest:
        total, _d, _d2, bad = tracker_at_voltage(high, here, net, warm)
        if high * total > bound:
            return 0.0, max(status, bad)
    moved = 0.5 * (low + high)
    for _ in range(_ITERATIONS):
        total, i1, _i2, bad = tracker_at_voltage(moved, here, net, warm)
        gap = moved * total - bound
        if abs(gap) <= 1e-13 * bound or high - low <= 4e-16 * high:
            return moved, max(status, bad)
        if gap > 0.0:
            low = moved
        else:
            high = moved
        slope = total + moved * i1
        aim = moved - gap / slope if slope < 0.0 else low
        moved = aim if low < aim < high else 0.5 * (low + high)
    return moved, 1
