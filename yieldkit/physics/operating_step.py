"""One tracker at one step: its best point inside the limits, and what holds it there."""

from __future__ import annotations

import math

import numpy as np

from yieldkit.physics.circuit_parallel import concave_maximum
from yieldkit.physics.circuit_tracker import (
    general_maxima,
    mixed_maxima,
    open_circuit,
    tracker_at_voltage,
    voltage_at_current,
)
from yieldkit.physics.compiled import compiled
from yieldkit.physics.diode import IL

CONCAVE, MIXED, GENERAL = 0, 1, 2
# Codes of what holds a tracker; the words are in circuit.BINDING.
FREE, DARK, STARTING, WINDOW_LOW, WINDOW_HIGH, TOP, CURRENT, POWER, BOUND = range(9)
# Columns of the packed limits.
V_LOW, V_HIGH, V_TOP, I_MAX, P_MAX = range(5)
_DARK_A = 1e-9
_ITERATIONS = 200


@compiled
def is_dark(here, runs):
    """Return 1 when no group has light, -1 when a value is missing, else 0."""
    light = 0.0
    for run in range(runs.shape[0]):
        for column in range(2):
            condition = runs[run, column]
            if condition < 0:
                continue
            for value in here[condition]:
                if math.isnan(value):
                    return -1
            light = max(light, here[condition, IL])
    return 1 if light <= _DARK_A else 0


@compiled
def even_maximum(here, even, resistances, diodes, work, currents):
    """Return the maximum of evenly lit strings; a lone one without cable is one group, scaled."""
    if even.shape[0] > 1 or resistances[0] > 0.0:
        return concave_maximum(here, even, resistances, diodes, work, currents)
    one = even.copy()
    one[0, 1] = 1
    one[0, 2] = 1
    volts, power, status = concave_maximum(here, one, resistances, diodes, work, currents)
    return even[0, 1] * volts, even[0, 2] * (even[0, 1] * power), status


@compiled
def free_maxima(
    kind,
    here,
    even,
    runs,
    first,
    resistances,
    many,
    blocked,
    diodes,
    peaks,
    every,
    work,
    found,
    currents,
):
    """Fill `found` with voltage and power of a tracker's maxima; return their number, status."""
    if kind == CONCAVE:
        volts, power, status = even_maximum(here, even, resistances, diodes, work, currents)
        if status == 0:
            found[0, 0] = volts
            found[0, 1] = power
            return 1, 0
    if kind == MIXED:
        own = np.empty(runs.shape[0])
        for run in range(runs.shape[0]):
            top = peaks[runs[run, 0]]
            if runs[run, 1] >= 0:
                top = 0.5 * (top + peaks[runs[run, 1]])
            own[run] = runs[run, 2] * top
        count, status = mixed_maxima(here, runs, resistances, diodes, own, every, found)
        if count > 0 and status == 0:
            for place in range(count):
                found[place, 1] *= many[0]
            return count, 0
    return general_maxima(here, runs, first, resistances, many, blocked, diodes, found)


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
def feasible_low(limits, here, runs, first, resistances, many, blocked, diodes, currents, highest):
    """Return the lowest voltage that window and input current allow, and which of them it is."""
    low = limits[V_LOW]
    if math.isinf(limits[I_MAX]):
        return low, WINDOW_LOW
    total, _d, _d2, _status = tracker_at_voltage(
        low, here, runs, first, resistances, many, blocked, diodes, currents
    )
    if total <= limits[I_MAX]:
        return low, WINDOW_LOW
    volts, _status = voltage_at_current(
        limits[I_MAX],
        low,
        highest,
        here,
        runs,
        first,
        resistances,
        many,
        blocked,
        diodes,
        currents,
    )
    return volts, CURRENT


@compiled
def limited_point(
    found, count, limits, here, runs, first, resistances, many, blocked, diodes, currents
):
    """Return the best point inside window and input current: voltage, power, code, status."""
    best = best_of(found, count)
    free_volts = found[best, 0]
    free_power = found[best, 1]
    high = min(limits[V_HIGH], limits[V_TOP])
    fits = limits[V_LOW] <= free_volts <= high
    if fits and free_power <= limits[I_MAX] * free_volts:
        return free_volts, free_power, FREE, 0
    highest, status = open_circuit(here, runs, first, resistances, many, blocked, diodes)
    if highest <= limits[V_LOW]:
        return 0.0, 0.0, WINDOW_LOW, status
    low, low_code = feasible_low(
        limits, here, runs, first, resistances, many, blocked, diodes, currents, highest
    )
    if low > high:
        return 0.0, 0.0, low_code, status
    total, _d, _d2, bad = tracker_at_voltage(
        low, here, runs, first, resistances, many, blocked, diodes, currents
    )
    volts = low
    power = low * total
    code = low_code
    if high < highest:
        total, _d, _d2, bad = tracker_at_voltage(
            high, here, runs, first, resistances, many, blocked, diodes, currents
        )
        if high * total > power:
            volts = high
            power = high * total
            code = TOP if limits[V_TOP] < limits[V_HIGH] else WINDOW_HIGH
    for place in range(count):
        if low < found[place, 0] < high and found[place, 1] > power:
            volts = found[place, 0]
            power = found[place, 1]
            code = low_code if free_volts < low else WINDOW_HIGH
    if power <= 0.0:
        return 0.0, 0.0, WINDOW_LOW, max(status, bad)
    return volts, power, code, max(status, bad)


@compiled
def bounded_point(
    volts, bound, top, here, runs, first, resistances, many, blocked, diodes, currents
):
    """Move from a point towards open circuit until the power meets a bound.

    Returns
    -------
    tuple
        Voltage [V] (0 when no point below the maximum voltage meets the bound), status.
    """
    highest, status = open_circuit(here, runs, first, resistances, many, blocked, diodes)
    low = volts
    high = min(highest, top)
    if high < highest:
        total, _d, _d2, bad = tracker_at_voltage(
            high, here, runs, first, resistances, many, blocked, diodes, currents
        )
        if high * total > bound:
            return 0.0, max(status, bad)
    moved = 0.5 * (low + high)
    for _ in range(_ITERATIONS):
        total, i1, _i2, bad = tracker_at_voltage(
            moved, here, runs, first, resistances, many, blocked, diodes, currents
        )
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


@compiled
def fill_currents(volts, here, runs, first, resistances, many, blocked, diodes, currents):
    """Fill the strings' currents at a voltage; return the tracker's current and a status."""
    _total, _d, _d2, status = tracker_at_voltage(
        volts, here, runs, first, resistances, many, blocked, diodes, currents
    )
    return total_current_of(many, currents), status


@compiled
def total_current_of(many, currents):
    """Return the sum of string currents times multiplicities [A]."""
    total = 0.0
    for s in range(many.shape[0]):
        total += many[s] * currents[s]
    return total
