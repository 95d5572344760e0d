"""A piece of a tracker's curve between two voltages: what power it can hold, and how it bends."""

from __future__ import annotations

import math
from typing import NamedTuple

from yieldkit.physics.circuit.string import string_at_voltage
from yieldkit.physics.compiled import compiled

# Currents and slopes are known to this share of themselves at least.
_ROUNDING = 1e-9
# Ends of pieces that are kept at a time: each halving adds one.
LOOKS = 40


class Piece(NamedTuple):
    """What is known about a tracker's power between two voltages.

    Parameters
    ----------
    bound : float
        Power that is not exceeded between them [W].
    concave : bool
        Whether every string's current bends downwards throughout: at most one maximum.
    one_sign : bool
        Whether the power's second derivative has one sign at both ends.
    level : bool
        Whether dP/dV may become zero.
    rises, falls : bool
        Whether the power rises at the lower end and falls at the upper end.
    """

    bound: float
    concave: bool
    one_sign: bool
    level: bool
    rises: bool
    falls: bool


@compiled
def look_at(volts, here, net, warm, look):
    """Fill each string's current at a voltage with derivatives; return a status.

    Parameters
    ----------
    volts : float
        Voltage at the input [V].
    here : ndarray
        Packed conditions of this step (condition, 5).
    net : Net
        The tracker.
    warm : Warm
        Starts of the strings' solutions; updated.
    look : ndarray
        Filled with current [A], dI/dV and d2I/dV2, as without blocking diodes (string, 3).
    """
    status = 0
    for s in range(net.many.shape[0]):
        begin, end = net.first[s], net.first[s + 1]
        look[s, 0], look[s, 1], look[s, 2], bad = string_at_voltage(
            volts,
            here,
            net.runs[begin:end],
            net.resistances[s],
            net.diodes,
            warm.junctions[begin:end],
            warm.states[begin:end],
            warm.currents[s],
        )
        warm.currents[s] = look[s, 0]
        status = max(status, bad)
    return status


@compiled
def most_on_line(low, first, last, amps, slope):
    """Return the greatest power of a current that follows a straight line [W].

    Parameters
    ----------
    low : float
        Voltage at which the line begins [V].
    first, last : float
        Between which distances from there to look [V].
    amps : float
        Current at the beginning [A].
    slope : float
        Of the current by the voltage [A/V].
    """
    at = last
    if slope < 0.0:
        at = min(max(-0.5 * (amps + slope * low) / slope, first), last)
    return (low + at) * (amps + slope * at)


@compiled
def line_above(width, at_low, at_high, whole):
    """Return a straight line that a string's current does not exceed, and bounds of its slope.

    A curve that bends downwards lies below its tangents (here the one at the lower end), one that
    bends upwards below its chord, one that does one after the other below the higher of the
    two. Where slopes and chord contradict the bends, nothing is sure but that the current falls.

    Parameters
    ----------
    width : float
        Between the two voltages [V].
    at_low, at_high : ndarray
        Current [A], dI/dV and d2I/dV2 at the two voltages (3,).
    whole : bool
        Whether the curve may bend upwards at both ends and downwards in between.

    Returns
    -------
    tuple
        Current at the lower voltage [A], slope [A/V], least and greatest dI/dV [A/V], and
        whether the curve bends downwards throughout.
    """
    amps, start, end = at_low[0], at_low[1], at_high[1]
    chord = (at_high[0] - amps) / width
    near = _ROUNDING * (abs(start) + abs(end) + abs(amps) / width)
    upwards = start <= chord + near and chord <= end + near and not whole
    downwards = start >= chord - near and chord >= end - near
    if at_low[2] > 0.0 and at_high[2] > 0.0:
        if upwards:
            return amps, chord, start, end, False
        return amps, 0.0, -math.inf, 0.0, False
    if at_low[2] > 0.0:
        slope = min(end, chord)
        return at_high[0] - slope * width, slope, min(start, end), 0.0, False
    if at_high[2] > 0.0:
        return amps, max(start, chord), -math.inf, max(start, end), False
    if downwards:
        return amps, start, end, start, True
    return amps, 0.0, -math.inf, 0.0, False


@compiled
def piece_between(low, high, at_low, at_high, net, opens, whole):
    """Return what the strings' currents at two voltages tell about the power in between.

    Parameters
    ----------
    low, high : float
        The voltages [V].
    at_low, at_high : ndarray
        Each string's current [A], dI/dV and d2I/dV2 there (string, 3).
    net : Net
        The tracker.
    opens : ndarray
        The strings' open-circuit voltages [V] (string,); none with a blocking diode lies between.
    whole : bool
        Whether a string's curve may bend upwards at both ends and downwards in between.

    Returns
    -------
    Piece
    """
    width = high - low
    amps, slope, amps2, slope2 = 0.0, 0.0, 0.0, 0.0
    least, most = 0.0, 0.0
    total, total1, total2 = 0.0, 0.0, 0.0
    after, after1, after2 = 0.0, 0.0, 0.0
    concave = True
    for s in range(net.many.shape[0]):
        if net.blocked[s] == 1 and 0.5 * (low + high) >= opens[s]:
            continue
        many = float(net.many[s])
        total += many * at_low[s, 0]
        total1 += many * at_low[s, 1]
        total2 += many * at_low[s, 2]
        after += many * at_high[s, 0]
        after1 += many * at_high[s, 1]
        after2 += many * at_high[s, 2]
        own, along, lowest, highest, downwards = line_above(width, at_low[s], at_high[s], whole)
        amps += many * own
        slope += many * along
        least += many * lowest
        most += many * highest
        if downwards:
            # The tangent at the upper end is above it, too.
            along = at_high[s, 1]
            own = at_high[s, 0] - along * width
        else:
            concave = False
        amps2 += many * own
        slope2 += many * along
    cross = width
    if slope > slope2:
        cross = min(max((amps2 - amps) / (slope - slope2), 0.0), width)
    bound = max(
        most_on_line(low, 0.0, cross, amps, slope), most_on_line(low, cross, width, amps2, slope2)
    )
    bends = (2.0 * total1 + low * total2) * (2.0 * after1 + high * after2)
    level = total + low * most >= 0.0 and after + high * least <= 0.0
    rises = total + low * total1 > 0.0
    return Piece(bound, concave, bends > 0.0, level, rises, after + high * after1 <= 0.0)
