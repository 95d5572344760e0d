"""One string of groups in different light: all its power maxima, or the global one, fast."""

from __future__ import annotations

import math

import numpy as np

from yieldkit.physics.circuit.diode import BYPASS_NVTH, I0, IL, RS, RSH, A, group_state
from yieldkit.physics.circuit.group import element_current
from yieldkit.physics.circuit.string import has_halves, junction_starts, string_at_current
from yieldkit.physics.compiled import compiled

_MAX_ITERATIONS = 200
_SETTLED = 1e-8
_JOINT_ITERATIONS = 25
# Junction voltages this close (in units of their diode's n Vth) leave an error of its cube.
_JOINT_CLOSE = 2e-3
# A step of the current this small leaves an error of its square.
_CLOSE = 1e-4


@compiled
def short_circuits(here, runs, diodes):
    """Return each run's own short-circuit current [A] (run,)."""
    currents = np.empty(runs.shape[0])
    for run in range(runs.shape[0]):
        currents[run] = element_current(0.0, here, runs[run, 0], runs[run, 1], diodes)
    return currents


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
def joint_maximum(low, high, start, here, runs, resistance, diodes, junctions, offs, follows):
    """Climb to a power maximum of a string with all its junctions at once.

    Newton on dP/dI with one look at each run an iteration: junction voltages follow the current,
    and what they lack is made up to second order. Quick where it settles; where not, the caller
    takes the bracketed way.

    Returns
    -------
    tuple
        Whether it settled on a maximum, current [A], power [W].
    """
    current = start
    for _ in range(_JOINT_ITERATIONS):
        volts = -resistance * current
        first = -resistance
        second = 0.0
        apart = False
        for run in range(runs.shape[0]):
            row = here[runs[run, 0]]
            a = row[A]
            i, v, i1, i2, v1, v2 = group_state(
                junctions[run], row[IL], row[I0], row[RS], row[RSH], a, diodes
            )
            inverse = 1.0 / i1
            off = current - i
            d1 = v1 * inverse
            d2 = (v2 * i1 - v1 * i2) * inverse * inverse * inverse
            count = runs[run, 2]
            volts += count * (v + off * (d1 + 0.5 * off * d2))
            first += count * (d1 + off * d2)
            second += count * d2
            offs[run] = off
            follows[run] = inverse
            scale = diodes[BYPASS_NVTH] if v < 0.0 else a
            apart = apart or abs(off * inverse) > _JOINT_CLOSE * scale
        slope = volts + current * first
        bend = 2.0 * first + current * second
        if not bend < 0.0:
            return False, 0.0, 0.0
        # Beyond the limiting group's short circuit lies another interval: only creep up to it.
        step = min(max(-slope / bend, 0.6 * (low - current)), 0.6 * (high - current))
        current += step
        if not apart and abs(step) <= _CLOSE * current:
            return True, current, current * (volts + step * (first + 0.5 * step * second))
        for run in range(runs.shape[0]):
            a = here[runs[run, 0], A]
            moved = (offs[run] + step) * follows[run]
            junctions[run] += min(max(moved, -30.0 * a), 4.0 * a)
    return False, 0.0, 0.0


@compiled
def fill_light_limits(here, runs, limits):
    """Fill each run's short-circuit current, near enough to sort by [A] (run,)."""
    for run in range(runs.shape[0]):
        row = here[runs[run, 0]]
        limits[run] = row[IL] / (1.0 + row[RS] / row[RSH])
        if runs[run, 1] >= 0:
            other = here[runs[run, 1]]
            limits[run] = 0.5 * (limits[run] + other[IL] / (1.0 + other[RS] / other[RSH]))


@compiled
def sort_by_light(tops, order):
    """Fill the runs from the brightest to the darkest, equal ones in their order (run,)."""
    for run in range(tops.shape[0]):
        place = run
        while place > 0 and tops[order[place - 1]] < tops[run]:
            order[place] = order[place - 1]
            place -= 1
        order[place] = run


@compiled
def most_between(low, high, row, top, top_current):
    """Return a bound on a group's power at currents between two others [W].

    A group's power is concave in its current: it peaks at its own maximum, and where that lies
    outside, at the nearer end. There the ideal diode without shunt bounds the voltage.
    """
    if low <= top_current <= high:
        return top
    current = high if high < top_current else low
    room = max(row[IL] - current, 0.0)
    volts = row[A] * math.log1p(room / row[I0]) - current * row[RS]
    return min(top, current * max(volts, 0.0))


@compiled
def interval_bounds(here, runs, peaks, tops, order, bounds):
    """Fill bounds on the power between consecutive short-circuit currents [W] (place in order)."""
    number = runs.shape[0]
    for place in range(number):
        high = tops[order[place]]
        low = tops[order[place + 1]] if place + 1 < number else 0.0
        bounds[place] = 0.0
        for active in range(place + 1):
            run = order[active]
            condition, partner, count = runs[run, 0], runs[run, 1], runs[run, 2]
            if partner >= 0:
                bounds[place] += count * 0.5 * (peaks[condition, 0] + peaks[partner, 0])
                continue
            bounds[place] += count * most_between(
                low, high, here[condition], peaks[condition, 0], peaks[condition, 1]
            )


@compiled
def string_maxima(here, runs, resistance, diodes, peaks, every, found, warm):
    """Find a mixed string's global power maximum, or all its local maxima.

    Parameters
    ----------
    here, runs, resistance, diodes
        As for `string_at_current`.
    peaks : ndarray
        Power [W] and current [A] of each condition's group at its own maximum (condition, 2).
    every : bool
        True to find every local maximum, False to skip what can't be the global one.
    found : ndarray
        Filled with current and power of the maxima (run, 2).
    warm : Warm
        Room for the search.

    Returns
    -------
    tuple of int
        Number of maxima filled in, status.
    """
    number = runs.shape[0]
    tops, bounds = warm.room[0], warm.room[1]
    order = warm.order
    fill_light_limits(here, runs, tops)
    sort_by_light(tops, order)
    interval_bounds(here, runs, peaks, tops, order, bounds)
    count = 0
    status = 0
    best = -math.inf
    for _ in range(number):
        place = np.argmax(bounds)
        if bounds[place] < 0.0 or not (every or bounds[place] > best):
            break
        bounds[place] = -1.0
        run = order[place]
        low = tops[order[place + 1]] if place + 1 < number else 0.0
        if tops[run] <= 0.0 or tops[run] - low <= 1e-12 * tops[run]:
            continue
        start = 0.5 * (low + tops[run])
        if runs[run, 1] < 0:
            start = max(peaks[runs[run, 0], 1], start)
        settled, current, power = quick_maximum(
            low, tops[run], start, here, runs, resistance, diodes, warm.room
        )
        if not settled:
            current, power, bad = sure_maximum(
                place, order, start, -math.inf if every else best, here, runs, resistance, diodes
            )
            status = max(status, bad)
        if math.isnan(current):
            continue
        found[count, 0] = current
        found[count, 1] = power
        count += 1
        best = max(best, power)
    return count, status


@compiled
def quick_maximum(low, high, start, here, runs, resistance, diodes, room):
    """Try the joint way to the maximum between two currents; tell whether it is that one's own."""
    if has_halves(runs):
        return False, math.nan, 0.0
    junction_starts(start, here, runs, diodes, room[2])
    settled, current, power = joint_maximum(
        low, high, start, here, runs, resistance, diodes, room[2], room[3], room[4]
    )
    return settled and 1.001 * low < current < high, current, power


@compiled
def sure_maximum(place, order, start, best, here, runs, resistance, diodes):
    """Find the maximum of one interval inside a bracket, from exact short-circuit currents."""
    exact = short_circuits(here, runs, diodes)
    high = exact[order[place]]
    low = exact[order[place + 1]] if place + 1 < runs.shape[0] else 0.0
    if high <= low:
        return math.nan, 0.0, 0
    junctions = np.full(runs.shape[0], math.nan)
    return interval_maximum(low, high, start, best, here, runs, resistance, diodes, junctions)
