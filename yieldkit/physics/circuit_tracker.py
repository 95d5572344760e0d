"""Any tracker: the current at a voltage, and all power maxima of strings in parallel."""

from __future__ import annotations

import math

import numpy as np

from yieldkit.physics.circuit_group import element_short_circuit
from yieldkit.physics.circuit_net import forget, new_warm
from yieldkit.physics.circuit_string import string_at_current, string_at_voltage
from yieldkit.physics.compiled import compiled
from yieldkit.physics.diode import IL, RS, RSH

_ITERATIONS = 200
_SETTLED = 1e-6
# A module's usual voltage at its maximum, as a share of the open-circuit voltage.
_USUAL = 0.8
# A short-circuit current is its light's within a thousandth; above this it surely lies above.
_SURELY_ABOVE = 0.999
_INSIDE = (0.004, 0.02, 0.06, 0.14, 0.26, 0.4, 0.55, 0.68, 0.8, 0.89, 0.95, 0.985, 0.997)


@compiled
def tracker_at_voltage(volts, here, net, warm):
    """Return a tracker's current at a voltage with derivatives; fill the strings' currents.

    Parameters
    ----------
    volts : float
        Voltage at the input [V].
    here : ndarray
        Packed conditions (condition, 5).
    net : Net
        The tracker.
    warm : Warm
        Starts; filled with the strings' currents and the junctions' voltages.

    Returns
    -------
    tuple
        Current [A], dI/dV, d2I/dV2, status.
    """
    total = 0.0
    slope = 0.0
    bend = 0.0
    status = 0
    for s in range(net.many.shape[0]):
        begin, end = net.first[s], net.first[s + 1]
        current, i1, i2, bad = string_at_voltage(
            volts,
            here,
            net.runs[begin:end],
            net.resistances[s],
            net.diodes,
            warm.junctions[begin:end],
            warm.states[begin:end],
            warm.currents[s],
        )
        status = max(status, bad)
        if net.blocked[s] == 1 and current < 0.0:
            warm.currents[s] = 0.0
            continue
        warm.currents[s] = current
        total += net.many[s] * current
        slope += net.many[s] * i1
        bend += net.many[s] * i2
    return total, slope, bend, status


@compiled
def strings_open_circuit(here, net):
    """Return the open-circuit voltage of each string standing alone [V] (string,)."""
    opens = np.empty(net.many.shape[0])
    for s in range(net.many.shape[0]):
        own = net.runs[net.first[s] : net.first[s + 1]]
        junctions = np.full(own.shape[0], math.nan)
        opens[s], _d, _d2, _status = string_at_current(
            0.0, here, own, net.resistances[s], net.diodes, junctions
        )
    return opens


@compiled
def open_circuit(here, net):
    """Return the voltage [V] at which the tracker's current is zero, and a status."""
    opens = strings_open_circuit(here, net)
    low, high = opens.min(), max(opens.max(), 0.0)
    if net.many.shape[0] == 1 or high - low <= 1e-12 * abs(high):
        return high, 0
    for s in range(net.many.shape[0]):
        if net.blocked[s] == 1:
            # A blocked string carries nothing above its own open-circuit voltage.
            return high, 0
    warm = new_warm(net)
    forget(warm)
    return voltage_at_current(0.0, low, high, here, net, warm)


@compiled
def voltage_at_current(wanted, low, high, here, net, warm):
    """Return the voltage between two others at which the tracker carries a current."""
    volts = 0.5 * (low + high)
    close = 1e-12 * (abs(wanted) + here[:, IL].max()) + 1e-15
    for _ in range(_ITERATIONS):
        total, slope, _bend, status = tracker_at_voltage(volts, here, net, warm)
        gap = total - wanted
        if abs(gap) <= close:
            return volts, status
        if gap > 0.0:
            low = volts
        else:
            high = volts
        moved = volts - gap / slope if slope < 0.0 else volts
        if not low < moved < high:
            moved = 0.5 * (low + high)
        if moved == volts or high - low <= 4e-16 * high:
            return volts, status
        volts = moved
    return volts, 1


@compiled
def bracketed_maximum(low, high, start, here, net, warm):
    """Return the power maximum between a rising and a falling place: voltage, power, status.

    Newton on dP/dV from a start; the last step is made up to second order.
    """
    volts = start
    for _ in range(_ITERATIONS):
        total, i1, i2, status = tracker_at_voltage(volts, here, net, warm)
        slope = total + volts * i1
        bend = 2.0 * i1 + volts * i2
        if bend < 0.0 and abs(slope) <= _SETTLED * (abs(total) + abs(volts * i1)):
            step = -slope / bend
            return volts + step, volts * total + 0.5 * step * slope, status
        if slope > 0.0:
            low = volts
        else:
            high = volts
        if high - low <= 1e-14 * high:
            return volts, volts * total, status
        moved = volts - slope / bend if bend < 0.0 else low
        if not low < moved < high:
            moved = 0.5 * (low + high)
        volts = moved
    return volts, 0.0, 1


@compiled
def knots(here, net, lowest, highest, currents, opens):
    """Return the sorted voltages at which a group of any string changes over (knot,).

    Parameters
    ----------
    here, net
        As for `tracker_at_voltage`.
    lowest, highest : float
        Voltages between which to look [V]; both are among the knots.
    currents : ndarray
        The strings' currents at `lowest` [A] (string,): a group whose short-circuit current lies
        above changes over at a lower voltage.
    opens : ndarray
        The strings' open-circuit voltages [V] (string,).
    """
    places = np.empty(net.runs.shape[0] + net.many.shape[0] + 2)
    count = 0
    for s in range(net.many.shape[0]):
        own = net.runs[net.first[s] : net.first[s + 1]]
        junctions = np.full(own.shape[0], math.nan)
        for run in range(own.shape[0]):
            row = here[own[run, 0]]
            below = currents[s] * (1.0 + row[RS] / row[RSH])
            if own[run, 1] < 0 and _SURELY_ABOVE * row[IL] > below:
                continue
            current = element_short_circuit(here, own[run, 0], own[run, 1], net.diodes)
            volts, _d, _d2, _status = string_at_current(
                current, here, own, net.resistances[s], net.diodes, junctions
            )
            if lowest < volts < highest:
                places[count] = volts
                count += 1
        if net.many.shape[0] > 1 and lowest < opens[s] < highest:
            places[count] = opens[s]
            count += 1
    places[count] = lowest
    places[count + 1] = highest
    return np.sort(places[: count + 2])


@compiled
def most_current(here, net):
    """Return a bound on the tracker's current at voltages above zero [A]."""
    total = 0.0
    for s in range(net.many.shape[0]):
        top = 0.0
        for run in range(net.first[s], net.first[s + 1]):
            top = max(top, here[net.runs[run, 0], IL])
            if net.runs[run, 1] >= 0:
                top = max(top, here[net.runs[run, 1], IL])
        total += net.many[s] * top
    return total


@compiled
def first_maximum(highest, here, net, warm):
    """Return a power maximum near where the global one usually lies: voltage, power, status."""
    return bracketed_maximum(0.0, highest, _USUAL * highest, here, net, warm)


@compiled
def is_rising(volts, here, net, warm):
    """Return whether a tracker's power rises at a voltage, its current, and a status."""
    total, i1, _i2, status = tracker_at_voltage(volts, here, net, warm)
    return total + volts * i1 > 0.0, total, status


@compiled
def general_maxima(here, net, every, found):
    """Find power maxima of strings in parallel, whatever their light: all, or the best.

    The slope of P is looked at between all voltages at which a group of any string changes
    over, close to their ends and inside; every change from rising to falling is a maximum. Where
    the best is enough, voltages are passed over at which nothing can beat it: the current falls
    with the voltage, so that up to best / I(v) no power exceeds the best.

    Returns
    -------
    tuple of int
        Number of maxima filled into `found` (voltage, power), status.
    """
    warm = new_warm(net)
    forget(warm)
    opens = strings_open_circuit(here, net)
    if every:
        highest, status = open_circuit(here, net)
        warm.currents[:] = math.inf
        places = knots(here, net, 0.0, highest, warm.currents, opens)
        count, bad = scanned_maxima(places, -math.inf, math.nan, 0, here, net, warm, found)
        return count, max(status, bad)
    highest = max(opens.max(), 0.0)
    known, best, status = first_maximum(highest, here, net, warm)
    found[0, 0], found[0, 1] = known, best
    passed = min(best / most_current(here, net), known)
    tracker_at_voltage(passed, here, net, warm)
    places = knots(here, net, passed, highest, warm.currents, opens)
    count, bad = scanned_maxima(places, best, known, 1, here, net, warm, found)
    return count, max(status, bad)


@compiled
def scanned_maxima(places, best, known, count, here, net, warm, found):
    """Find the maxima between knots, beside `count` that were found before.

    Parameters
    ----------
    places : ndarray
        The knots, rising [V] (knot,).
    best, known : float
        Power of the best maximum so far and its voltage, which is not looked for again; minus
        infinity where all maxima are wanted.
    count : int
        Maxima in `found` already.
    here, net, warm, found
        As for `general_maxima`.

    Returns
    -------
    tuple of int
        As `general_maxima`.
    """
    every = math.isinf(best)
    lowest, highest = places[0], places[-1]
    forget(warm)
    status = 0
    passed = lowest
    # Below zero: where voltages were passed over, it has to be looked at afresh.
    rising_at = -1.0
    for interval in range(places.shape[0] - 1):
        width = places[interval + 1] - places[interval]
        if width <= 1e-9 * highest:
            continue
        if places[interval + 1] <= passed:
            rising_at = -1.0
            continue
        for share in _INSIDE:
            volts = places[interval] + share * width
            if volts < passed:
                rising_at = -1.0
                continue
            if rising_at < 0.0 and passed > 0.0:
                rises, _total, bad = is_rising(passed, here, net, warm)
                rising_at = passed if rises else 0.0
            rises, total, bad = is_rising(volts, here, net, warm)
            status = max(status, bad)
            if not every:
                passed = max(passed, best / total) if total > 0.0 else highest
            if rises:
                rising_at = volts
                continue
            if rising_at > 0.0 and count < found.shape[0] and not rising_at < known < volts:
                found[count, 0], found[count, 1], bad = bracketed_maximum(
                    rising_at, volts, 0.5 * (rising_at + volts), here, net, warm
                )
                status = max(status, bad)
                best = max(best, found[count, 1])
                count += 1
            rising_at = 0.0
    if rising_at > 0.0 and count < found.shape[0] and not rising_at < known < highest:
        found[count, 0], found[count, 1], bad = bracketed_maximum(
            rising_at, highest, 0.5 * (rising_at + highest), here, net, warm
        )
        status = max(status, bad)
        count += 1
    return count, status
