"""A string: runs of cell groups in series with its cable, by current or by voltage."""

from __future__ import annotations

import math

import numpy as np

from yieldkit.physics.circuit_group import element_at_current, element_short_circuit
from yieldkit.physics.circuit_parallel import knee
from yieldkit.physics.compiled import compiled
from yieldkit.physics.diode import I0, IL, RS, A

_MAX_ITERATIONS = 200
_SETTLED = 1e-8


@compiled
def string_at_current(current, here, runs, resistance, diodes, junctions):
    """Return a string's voltage behind its cable at a current, with derivatives.

    Parameters
    ----------
    current : float
        String current [A].
    here : ndarray
        Packed conditions of this step (condition, 5).
    runs : ndarray of int
        Condition, partner (-1 for none) and count of each run (run, 3).
    resistance : float
        Cable resistance [ohm].
    diodes : ndarray
        Packed bypass and breakdown values.
    junctions : ndarray
        Junction voltages to start from, nan for none (run,); updated.

    Returns
    -------
    tuple
        Voltage [V], dV/dI, d2V/dI2, status.
    """
    volts = -resistance * current
    first = -resistance
    second = 0.0
    status = 0
    for run in range(runs.shape[0]):
        one, one1, one2, junctions[run], bad = element_at_current(
            current, here, runs[run, 0], runs[run, 1], diodes, junctions[run]
        )
        count = runs[run, 2]
        volts += count * one
        first += count * one1
        second += count * one2
        status = max(status, bad)
    return volts, first, second, status


@compiled
def string_at_voltage(volts, here, runs, resistance, diodes, junctions, start):
    """Return a string's current at a voltage behind its cable, dI/dV, d2I/dV2 and a status."""
    top = 0.0
    for run in range(runs.shape[0]):
        row = here[runs[run, 0]]
        top = max(top, row[IL])
    current = start if not math.isnan(start) else 0.9 * top
    low = -math.inf
    high = math.inf
    room = 0.2 * top + 1e-9
    scale = 1e-12 * (abs(volts) + runs[0, 2] * here[runs[0, 0], A])
    for _ in range(_MAX_ITERATIONS):
        found, first, second, status = string_at_current(
            current, here, runs, resistance, diodes, junctions
        )
        gap = found - volts
        if abs(gap) <= scale or high - low <= 4e-16 * abs(current):
            return current, 1.0 / first, -second / (first * first * first), status
        if gap > 0.0:
            low = current
        else:
            high = current
        moved = current - gap / first
        if not low < moved < high:
            if math.isinf(high):
                moved = current + room
                room *= 4.0
            elif math.isinf(low):
                moved = current - room
                room *= 4.0
            else:
                moved = 0.5 * (low + high)
        current = moved
    return current, math.nan, math.nan, 1


@compiled
def short_circuits(here, runs, diodes):
    """Return each run's own short-circuit current [A] (run,)."""
    currents = np.empty(runs.shape[0])
    for run in range(runs.shape[0]):
        currents[run] = element_short_circuit(here, runs[run, 0], runs[run, 1], diodes)
    return currents


@compiled
def knee_current(here, condition, partner):
    """Return a start for the current at maximum power of an element."""
    row = here[condition]
    _vd, current = knee(row[IL], row[I0], row[RS], row[A])
    if partner < 0:
        return current
    other = here[partner]
    _vd, second = knee(other[IL], other[I0], other[RS], other[A])
    return 0.5 * (current + second)


@compiled
def interval_maximum(low, high, start, best, here, runs, resistance, diodes, junctions):
    """Find the power maximum of a string between two short-circuit currents.

    Between two consecutive short-circuit currents the power falls convexly while a group goes
    over to its bypass diode, rises, and falls at the next knee: at most one interior maximum,
    right of the place where dP/dI peaks. Newton on dP/dI inside a bracket; an interval that
    can't beat `best` is left early (the voltage falls with the current, hence
    P <= I_high V(I_low)).

    Returns
    -------
    tuple
        Current [A] (nan when there is no maximum, or none above `best`), power [W], status.
    """
    left = low
    right = high
    rising = False
    current = min(max(start, low + 1e-3 * (high - low)), high - 1e-9 * (high - low))
    for _ in range(_MAX_ITERATIONS):
        volts, first, second, status = string_at_current(
            current, here, runs, resistance, diodes, junctions
        )
        slope = volts + current * first
        bend = 2.0 * first + current * second
        if bend < 0.0 and abs(slope) <= _SETTLED * (abs(volts) + abs(current * first)):
            polished = current - slope / bend
            power = current * volts + 0.5 * (polished - current) * slope
            return polished, power, status
        if slope > 0.0 or bend >= 0.0:
            left = current
            rising = rising or slope > 0.0
            if right * volts <= best:
                return math.nan, 0.0, 0
        else:
            right = current
        if right - left <= 1e-13 * high:
            return (current, current * volts, status) if rising else (math.nan, 0.0, 0)
        moved = current - slope / bend if bend < 0.0 else right
        if not left < moved < right:
            moved = 0.5 * (left + right)
        current = moved
    return math.nan, 0.0, 1


@compiled
def string_maxima(here, runs, resistance, diodes, maxima, every, found):
    """Find a mixed string's global power maximum, or all its local maxima.

    Parameters
    ----------
    here, runs, resistance, diodes
        As for `string_at_current`.
    maxima : ndarray
        Each run's groups' own maximum power, whole run [W] (run,): the bound for skipping.
    every : bool
        True to find every local maximum, False to skip what can't be the global one.
    found : ndarray
        Filled with current and power of the maxima (run, 2).

    Returns
    -------
    tuple of int
        Number of maxima filled in, status.
    """
    currents = short_circuits(here, runs, diodes)
    order = np.argsort(-currents, kind="mergesort")
    bound = 0.0
    for run in range(runs.shape[0]):
        bound += maxima[run]
    count = 0
    status = 0
    best = -math.inf
    for place in range(runs.shape[0] - 1, -1, -1):
        run = order[place]
        high = currents[run]
        low = currents[order[place + 1]] if place + 1 < runs.shape[0] else 0.0
        worth = every or bound > best
        bound -= maxima[run]
        if high <= 0.0 or high - low <= 1e-12 * high or not worth:
            continue
        start = knee_current(here, runs[run, 0], runs[run, 1])
        junctions = np.full(runs.shape[0], math.nan)
        current, power, bad = interval_maximum(
            low,
            high,
            start,
            -math.inf if every else best,
            here,
            runs,
            resistance,
            diodes,
            junctions,
        )
        status = max(status, bad)
        if math.isnan(current):
            continue
        found[count, 0] = current
        found[count, 1] = power
        count += 1
        best = max(best, power)
    return count, status
