"""All power maxima of strings in parallel, or the best of them, whatever their light.

The current of a string falls with the voltage. Close to each voltage at which one of its groups
goes over to its bypass diode the curve bends upwards, in between it bends downwards. So between
two such places of all strings, and knowing which way each string's curve bends at both ends, a
straight line above each curve can be drawn, and their sum bounds the power: pieces that can't
beat the best maximum are left, the others are halved until every string bends downwards in them,
where the power has one maximum at most.
"""

from __future__ import annotations

import math

import numpy as np

from yieldkit.physics.circuit.diode import BYPASS_IS, BYPASS_NVTH, IL, RS, RSH
from yieldkit.physics.circuit.group import element_current
from yieldkit.physics.circuit.net import forget, new_warm
from yieldkit.physics.circuit.pieces import LOOKS, look_at, piece_between
from yieldkit.physics.circuit.string import string_at_current
from yieldkit.physics.circuit.tracker import (
    open_circuit,
    strings_open_circuit,
    tracker_at_voltage,
)
from yieldkit.physics.compiled import compiled

_ITERATIONS = 200
_SETTLED = 1e-6
# A module's usual voltage at its maximum, as a share of the open-circuit voltage.
_USUAL = 0.8
# A short-circuit current is its light's within a thousandth; above this it surely lies above.
_SURELY_ABOVE = 0.999
# No maximum is worth looking for that betters the best by a smaller share than this.
_BETTER = 1e-10
# Pieces narrower than this share of the open-circuit voltage are not halved.
_NARROWEST = 1e-7
# In pieces narrower than this P'' that has one sign at both ends has it in between.
_SHORT = 2e-4


@compiled
def bracketed_maximum(low, high, start, here, net, warm):
    """Return the power maximum between a rising and a falling place: voltage, power, status.

    Newton on dP/dV inside the bracket; the last step is made up to second order. Steps that turn
    round and round would stay inside a bracket for ever: where three of them have not halved it,
    it is halved.

    Parameters
    ----------
    low, high : float
        Voltages [V] at which the power rises and falls.
    start : float
        Voltage [V] to start from.
    here : ndarray
        Packed conditions of this step (condition, 5).
    net : Net
        The tracker.
    warm : Warm
        Starts of the strings' solutions.
    """
    volts = start
    wide = high - low
    for turn in range(_ITERATIONS):
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
        if turn % 3 == 2:
            moved = moved if high - low <= 0.5 * wide else low
            wide = high - low
        if not low < moved < high:
            moved = 0.5 * (low + high)
        volts = moved
    return volts, 0.0, 1


@compiled
def changeover_current(here, run, diodes):
    """Return the current [A] at which a run's groups have gone over to their bypass diode.

    There the diode's slope is half that of the shunt and the curve bends most sharply: a little
    above the short-circuit current, at a small negative voltage.

    Parameters
    ----------
    here : ndarray
        Packed conditions of this step (condition, 5).
    run : ndarray of int
        Condition, partner (-1 for none) and count (3,).
    diodes : ndarray
        Packed bypass and breakdown values.
    """
    shunt = here[run[0], RSH]
    if run[1] >= 0:
        other = here[run[1], RSH]
        shunt = 2.0 / (1.0 / shunt + 1.0 / other)
    n_vth = diodes[BYPASS_NVTH]
    steps = math.log(max(0.5 * n_vth / (diodes[BYPASS_IS] * shunt), 1.0))
    return element_current(-n_vth * steps, here, run[0], run[1], diodes)


@compiled
def knots(here, net, lowest, highest, currents, opens):
    """Return the sorted voltages at which a group of any string changes over [V] (knot,).

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
            volts, _d, _d2, _status = string_at_current(
                changeover_current(here, own[run], net.diodes),
                here,
                own,
                net.resistances[s],
                net.diodes,
                junctions,
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
    """Return a bound on the tracker's current at voltages above zero [A].

    Parameters are those of `knots`.
    """
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
def general_maxima(here, net, every, found):
    """Find power maxima of strings in parallel, whatever their light: all, or the best.

    Parameters
    ----------
    here : ndarray
        Packed conditions of this step (condition, 5).
    net : Net
        The tracker.
    every : bool
        True for all maxima, False where the best is enough: others are then found by chance.
    found : ndarray
        Filled with voltage [V] and power [W] of the maxima (maximum, 2).

    Returns
    -------
    tuple of int
        Number of maxima filled into `found`, status.
    """
    warm = new_warm(net)
    forget(warm)
    opens = strings_open_circuit(here, net)
    if every:
        highest, status = open_circuit(here, net)
        warm.currents[:] = math.inf
        places = knots(here, net, 0.0, highest, warm.currents, opens)
        forget(warm)
        count, bad = scanned_maxima(places, True, 0, here, net, opens, warm, found)
        return count, max(status, bad)
    highest = max(opens.max(), 0.0)
    known, best, bad = bracketed_maximum(0.0, highest, _USUAL * highest, here, net, warm)
    count, passed = 0, 0.0
    # A search that failed hands on nothing: all voltages are looked at.
    if bad == 0:
        found[0, 0], found[0, 1] = known, best
        count = 1
        passed = min(best / most_current(here, net), known)
    tracker_at_voltage(passed, here, net, warm)
    places = knots(here, net, passed, highest, warm.currents, opens)
    return scanned_maxima(places, False, count, here, net, opens, warm, found)


@compiled
def scanned_maxima(places, every, count, here, net, opens, warm, found):
    """Find the maxima between knots, beside the one that may have been found before.

    Parameters
    ----------
    places : ndarray
        The knots, rising [V] (knot,).
    every : bool
        True for all maxima, False for those alone that beat the best so far.
    count : int
        Maxima in `found` already: one or none.
    here, net, found
        As for `general_maxima`.
    opens : ndarray
        The strings' open-circuit voltages [V] (string,).
    warm : Warm
        Starts of the strings' solutions.

    Returns
    -------
    tuple of int
        As `general_maxima`.
    """
    known = found[0, 0] if count > 0 else -1.0
    last = places.shape[0] - 1
    narrow = _NARROWEST * places[last]
    looks = np.empty((LOOKS, net.many.shape[0], 3))
    low = places[0]
    status = look_at(low, here, net, warm, looks[0])
    for place in range(1, last + 1):
        high = places[place]
        if high - low <= 0.01 * narrow and place < last:
            continue
        count, bad = maxima_between(
            low, high, narrow, every, known, count, here, net, opens, warm, looks, found
        )
        status = max(status, bad)
        low = high
    return count, status


@compiled
def maxima_between(low, high, narrow, every, known, count, here, net, opens, warm, looks, found):
    """Find the maxima between two neighbouring knots.

    Parameters
    ----------
    low, high : float
        The knots [V].
    narrow : float
        Pieces up to this width are not halved [V].
    known : float
        Voltage of the maximum found before the scan [V], negative for none.
    every, count, here, net, opens, warm, found
        As for `scanned_maxima`.
    looks : ndarray
        Room for each string's current [A], dI/dV and d2I/dV2 at ends of pieces
        (end, string, 3); those at `low` are in front, and those at `high` are left there.

    Returns
    -------
    tuple of int
        As `general_maxima`.
    """
    # The left end of a piece is kept in front, right ends on a pile behind it.
    volts = np.empty(LOOKS)
    halved = np.zeros(LOOKS, dtype=np.int64)
    volts[0], volts[1] = low, high
    status = look_at(high, here, net, warm, looks[1])
    best = found[:count, 1].max() if count > 0 else 0.0
    short = narrow * (_SHORT / _NARROWEST)
    top = 1
    while top > 0:
        low, high = volts[0], volts[top]
        piece = piece_between(low, high, looks[0], looks[top], net, opens, halved[top] == 0)
        sure = piece.concave or (piece.one_sign and high - low <= short)
        if every:
            open_question = piece.concave or piece.level
        else:
            open_question = piece.bound > best * (1.0 + _BETTER)
        if open_question and not sure and high - low > narrow and top + 1 < LOOKS:
            halved[top] += 1
            top += 1
            volts[top], halved[top] = 0.5 * (low + high), halved[top - 1]
            status = max(status, look_at(volts[top], here, net, warm, looks[top]))
            continue
        peaks = open_question and piece.rises and piece.falls and not low < known < high
        if peaks and count < found.shape[0]:
            found[count, 0], found[count, 1], bad = bracketed_maximum(
                low, high, 0.5 * (low + high), here, net, warm
            )
            status = max(status, bad)
            best = max(best, found[count, 1])
            count += 1
        volts[0] = volts[top]
        looks[0] = looks[top]
        top -= 1
    return count, status
