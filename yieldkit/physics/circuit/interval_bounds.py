"""Bounds on a string's power between the short circuits of its groups."""

from __future__ import annotations

import math

from yieldkit.physics.circuit.diode import diode_at
from yieldkit.physics.circuit.intervals import CURRENT, POWER, interval_of
from yieldkit.physics.circuit.tracker_circuit import CONDITION, PARTNER, groups_in_series
from yieldkit.physics.compiled import compiled


@compiled
def most_voltage(current, conditions, condition, partner):
    """Return a voltage that two halves' doesn't exceed at a current, 0 where it is negative.

    At a voltage V >= 0 a half that feeds has less than f = (I_L - I_0 (exp(V / a) - 1)) / 2, as its
    junction lies above V, and one that is fed less than nothing. So together they have less than
    the greater of both f in sum and the brighter one's f alone: with the smaller I_0 and the
    greater a, V is less than an ideal diode's with the mean photocurrent at I, or than that with
    the brighter one's at 2 I.

    Parameters
    ----------
    current : float
        Current of the group [A].
    conditions : ndarray
        Diode parameters of this step [A, A, ohm, ohm, V] (condition, 5).
    condition, partner : int
        Rows of the halves' light.

    Returns
    -------
    float
        [V].
    """
    one, two = diode_at(conditions, condition), diode_at(conditions, partner)
    a = max(one.n_ns_vth, two.n_ns_vth)
    i0 = min(one.saturation_current, two.saturation_current)
    brighter = max(one.photocurrent, two.photocurrent)
    mean = 0.5 * (one.photocurrent + two.photocurrent)
    remaining = max(mean - current, brighter - 2.0 * current)
    return a * math.log1p(max(remaining, 0.0) / i0)


@compiled
def diode_at_maximum(power, current, diode, bypass):
    """Return the current of a whole group's diode itself at the group's own maximum.

    Parameters
    ----------
    power, current : float
        Power [W] and current [A] of the group at its own maximum, not in the dark.
    diode : Diode
        The group.
    bypass : Bypass
        Its bypass diode, which leaks there.

    Returns
    -------
    float
        [A].
    """
    carried = current + bypass.saturation_current
    vd = power / current + carried * diode.resistance_series
    remaining = diode.photocurrent + diode.saturation_current - carried
    return remaining - vd / diode.resistance_shunt


@compiled
def add_bounds_of_group(first, count, own, diode, bypass, intervals):
    """Add a run of whole groups to the bounds of the intervals in which it isn't bypassed.

    A group's voltage is concave in the current, so it lies below its tangent at the own maximum,
    whose slope is -V / I. Below that current the diode itself carries more by what the group gives
    less at most, since the shunt doesn't carry less: with u that share the junction voltage rises
    by n Ns Vth ln(1 + u) at most, which is less than n Ns Vth u / sqrt(1 + u).

    Parameters
    ----------
    first : int
        Place of the run among the intervals.
    count : float
        Groups in series [1].
    own : tuple of float
        Power [W] and current [A] of its group at its own maximum, not in the dark.
    diode : Diode
        The group.
    bypass : Bypass
        Its bypass diode.
    intervals : Intervals
        Their bounds are updated.
    """
    most, at = own
    per_at = 1.0 / at
    per_forward = 0.0
    a, rs = diode.n_ns_vth, diode.resistance_series
    for place in range(first, intervals.order.shape[0]):
        low, high = interval_of(place, intervals)
        power = most
        if low > at:
            share = low * per_at
            power = most * share * (2.0 - share)
        elif high < at:
            share = high * per_at
            less = at - high
            if per_forward == 0.0:
                forward = diode_at_maximum(most, at, diode, bypass)
                per_forward = 1.0 / forward if forward > 0.0 else math.inf
            u = less * per_forward
            rise = less * rs + a * u / math.sqrt(1.0 + u)
            power = share * min(most * (2.0 - share), most + at * rise)
        intervals.bounds[place] += count * power


@compiled
def add_bounds_of_halves(first, count, own, conditions, lights, intervals):
    """Add a run of halves to the bounds of the intervals in which it isn't bypassed.

    Parameters
    ----------
    first, count, own
        As for `add_bounds_of_group`.
    conditions : ndarray
        Diode parameters of this step [A, A, ohm, ohm, V] (condition, 5).
    lights : tuple of int
        Rows of the halves' light.
    intervals : Intervals
        Their bounds are updated.
    """
    most, at = own
    for place in range(first, intervals.order.shape[0]):
        low, high = interval_of(place, intervals)
        power = most
        if not low <= at <= high:
            end = high if high < at else low
            power = min(power, end * most_voltage(end, conditions, lights[0], lights[1]))
        intervals.bounds[place] += count * power


@compiled
def fill_bounds(string, own_maxima, intervals):
    """Fill bounds on the power between consecutive short-circuit currents.

    A group's power is concave in its current up to its short circuit: it peaks at its own maximum,
    and where that lies outside an interval, at the nearer end. Above the short circuit it falls.
    So an interval above the own maxima of all groups that it doesn't bypass has no maximum.

    Parameters
    ----------
    string : SeriesString
        The string.
    own_maxima : ndarray
        Power [W] and current [A] of each run's group at its own maximum (run, 2).
    intervals : Intervals
        Their bounds are filled, with -1 where there is no maximum.
    """
    conditions, runs = string.conditions, string.runs
    order, bounds = intervals.order, intervals.bounds
    number = runs.shape[0]
    for place in range(number):
        bounds[place] = 0.0
    for first in range(number):
        run = order[first]
        condition, partner = runs[run, CONDITION], runs[run, PARTNER]
        count = groups_in_series(conditions, runs, run)
        own = (own_maxima[run, POWER], own_maxima[run, CURRENT])
        if not own[1] > 0.0:
            continue
        if partner >= 0:
            lights = (condition, partner)
            add_bounds_of_halves(first, count, own, conditions, lights, intervals)
        else:
            diode = diode_at(conditions, condition)
            bypass = string.reverse.bypass
            add_bounds_of_group(first, count, own, diode, bypass, intervals)
    highest = 0.0
    for place in range(number):
        highest = max(highest, own_maxima[order[place], CURRENT])
        low, _high = interval_of(place, intervals)
        if highest <= low:
            bounds[place] = -1.0
