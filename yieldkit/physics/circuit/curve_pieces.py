"""A piece of a tracker's curve between two voltages: what power it can reach, and how it bends."""

from __future__ import annotations

import math
from typing import NamedTuple

from yieldkit.physics.circuit.tracker import one_string_at_voltage
from yieldkit.physics.compiled import compiled

# Currents and slopes are known to this share of themselves at least.
_ROUNDING = 1e-9


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


class Line(NamedTuple):
    """A straight line that a string's current does not exceed, and bounds of the curve's slope.

    Parameters
    ----------
    current : float
        Of the line, at the lower voltage [A].
    slope : float
        Of the line [A/V].
    least_slope, greatest_slope : float
        Between which the curve's own slope lies [A/V].
    downwards : bool
        Whether the curve bends downwards throughout.
    """

    current: float
    slope: float
    least_slope: float
    greatest_slope: float
    downwards: bool


class EndSums(NamedTuple):
    """A tracker's current at an end of a piece, summed over the strings that carry current.

    Parameters
    ----------
    current, first, second : float
        Current [A], dI/dV [A/V] and d2I/dV2 [A/V2].
    """

    current: float
    first: float
    second: float


class Lines(NamedTuple):
    """What is sure of a tracker's current between two voltages, summed over its strings.

    Parameters
    ----------
    current, slope : float
        A line above it: current at the lower voltage [A], slope [A/V].
    other_current, other_slope : float
        Another line above it: where a string bends downwards throughout, by its tangent at the
        upper end [A], [A/V].
    least_slope, greatest_slope : float
        Between which dI/dV lies [A/V].
    concave : bool
        Whether every string's current bends downwards throughout.
    """

    current: float
    slope: float
    other_current: float
    other_slope: float
    least_slope: float
    greatest_slope: float
    concave: bool


@compiled
def fill_strings_at_voltage(volts, conditions, circuit, workspace, at_voltage):
    """Fill each string's current at a voltage with derivatives, as without blocking diodes.

    Parameters
    ----------
    volts : float
        Voltage at the input [V].
    conditions : ndarray
        Diode parameters of this step [A, A, ohm, ohm, V] (condition, 5).
    circuit : TrackerCircuit
        The tracker.
    workspace : Workspace
        Starts of the strings' solutions; updated.
    at_voltage : ndarray
        Filled with current [A], dI/dV [A/V] and d2I/dV2 [A/V2] (string, 3).

    Returns
    -------
    int
        0 when the equations were met, 1 when not.
    """
    status = 0
    for s in range(circuit.multiplicity.shape[0]):
        at_voltage[s, 0], at_voltage[s, 1], at_voltage[s, 2], bad = one_string_at_voltage(
            volts, s, conditions, circuit, workspace
        )
        status = max(status, bad)
    return status


@compiled
def most_on_line(low, first, last, current, slope):
    """Return the greatest power of a current that follows a straight line.

    Parameters
    ----------
    low : float
        Voltage at which the line begins [V].
    first, last : float
        Distances from there between which to search [V].
    current : float
        Current at the beginning [A].
    slope : float
        Of the current by the voltage [A/V].

    Returns
    -------
    float
        [W].
    """
    at = last
    if slope < 0.0:
        at = min(max(-0.5 * (current + slope * low) / slope, first), last)
    return (low + at) * (current + slope * at)


@compiled
def line_above(width, at_low, at_high, several_bends):
    """Return a straight line that a string's current does not exceed between two voltages.

    A curve that bends downwards lies below its tangents (here the one at the lower end), one that
    bends upwards below its chord, one that does one after the other below the higher of the
    two. Where slopes and chord contradict the bends, nothing is sure but that the current falls.

    Parameters
    ----------
    width : float
        Between the two voltages [V].
    at_low, at_high : ndarray
        Current [A], dI/dV [A/V] and d2I/dV2 [A/V2] at the two voltages (3,).
    several_bends : bool
        Whether the curve may bend upwards at both ends and downwards in between.

    Returns
    -------
    Line
    """
    current, start, end = at_low[0], at_low[1], at_high[1]
    chord = (at_high[0] - current) / width
    near = _ROUNDING * (abs(start) + abs(end) + abs(current) / width)
    upwards = start <= chord + near and chord <= end + near and not several_bends
    downwards = start >= chord - near and chord >= end - near
    if at_low[2] > 0.0 and at_high[2] > 0.0:
        if upwards:
            return Line(current, chord, start, end, False)
        return Line(current, 0.0, -math.inf, 0.0, False)
    if at_low[2] > 0.0:
        slope = min(end, chord)
        return Line(at_high[0] - slope * width, slope, min(start, end), 0.0, False)
    if at_high[2] > 0.0:
        return Line(current, max(start, chord), -math.inf, max(start, end), False)
    if downwards:
        return Line(current, start, end, start, True)
    return Line(current, 0.0, -math.inf, 0.0, False)


@compiled
def carries(circuit, place, middle, opens):
    """Return whether a string gives current between two voltages: no blocking diode stops it.

    Parameters
    ----------
    circuit : TrackerCircuit
        The tracker.
    place : int
        Which string.
    middle : float
        Midway between the voltages [V]; its open-circuit voltage is not between them.
    opens : ndarray
        The strings' open-circuit voltages [V] (string,).

    Returns
    -------
    bool
    """
    return not (circuit.blocked[place] == 1 and middle >= opens[place])


@compiled
def end_sums(middle, at_voltage, circuit, opens):
    """Return a tracker's current at an end of a piece, from its strings' that carry current.

    Parameters
    ----------
    middle : float
        Voltage midway between the ends [V].
    at_voltage : ndarray
        Each string's current [A], dI/dV [A/V] and d2I/dV2 [A/V2] at the end (string, 3).
    circuit : TrackerCircuit
        The tracker.
    opens : ndarray
        The strings' open-circuit voltages [V] (string,).

    Returns
    -------
    EndSums
    """
    current, first, second = 0.0, 0.0, 0.0
    for s in range(circuit.multiplicity.shape[0]):
        if carries(circuit, s, middle, opens):
            multiplicity = float(circuit.multiplicity[s])
            current += multiplicity * at_voltage[s, 0]
            first += multiplicity * at_voltage[s, 1]
            second += multiplicity * at_voltage[s, 2]
    return EndSums(current, first, second)


@compiled
def lines_above(low, high, at_low, at_high, circuit, opens, several_bends):
    """Return straight lines that a tracker's current does not exceed between two voltages.

    Parameters
    ----------
    low, high, at_low, at_high, circuit, opens, several_bends
        As for `piece_between`.

    Returns
    -------
    Lines
    """
    width = high - low
    current, slope, current2, slope2 = 0.0, 0.0, 0.0, 0.0
    least, greatest = 0.0, 0.0
    concave = True
    for s in range(circuit.multiplicity.shape[0]):
        if not carries(circuit, s, 0.5 * (low + high), opens):
            continue
        multiplicity = float(circuit.multiplicity[s])
        line = line_above(width, at_low[s], at_high[s], several_bends)
        current += multiplicity * line.current
        slope += multiplicity * line.slope
        least += multiplicity * line.least_slope
        greatest += multiplicity * line.greatest_slope
        other, other_slope = line.current, line.slope
        if line.downwards:
            # The tangent at the upper end is above it, too.
            other_slope = at_high[s, 1]
            other = at_high[s, 0] - other_slope * width
        else:
            concave = False
        current2 += multiplicity * other
        slope2 += multiplicity * other_slope
    return Lines(current, slope, current2, slope2, least, greatest, concave)


@compiled
def piece_between(low, high, at_low, at_high, circuit, opens, several_bends):
    """Return what the strings' currents at two voltages say about the power in between.

    Parameters
    ----------
    low, high : float
        The voltages [V].
    at_low, at_high : ndarray
        Each string's current [A], dI/dV [A/V] and d2I/dV2 [A/V2] there (string, 3).
    circuit : TrackerCircuit
        The tracker.
    opens : ndarray
        The strings' open-circuit voltages [V] (string,); none with a blocking diode lies between.
    several_bends : bool
        Whether a string's curve may bend upwards at both ends and downwards in between.

    Returns
    -------
    Piece
    """
    width = high - low
    middle = 0.5 * (low + high)
    start = end_sums(middle, at_low, circuit, opens)
    end = end_sums(middle, at_high, circuit, opens)
    lines = lines_above(low, high, at_low, at_high, circuit, opens, several_bends)
    cross = width
    if lines.slope > lines.other_slope:
        meets = (lines.other_current - lines.current) / (lines.slope - lines.other_slope)
        cross = min(max(meets, 0.0), width)
    bound = max(
        most_on_line(low, 0.0, cross, lines.current, lines.slope),
        most_on_line(low, cross, width, lines.other_current, lines.other_slope),
    )
    bends = (2.0 * start.first + low * start.second) * (2.0 * end.first + high * end.second)
    may_rise = start.current + low * lines.greatest_slope >= 0.0
    may_fall = end.current + high * lines.least_slope <= 0.0
    return Piece(
        bound,
        lines.concave,
        bends > 0.0,
        may_rise and may_fall,
        start.current + low * start.first > 0.0,
        end.current + high * end.first <= 0.0,
    )
