"""The scan for power maxima between the voltages at which groups go over to their bypass diodes."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import FloatArray
from yieldkit.physics.circuit.curve_pieces import fill_strings_at_voltage, piece_between
from yieldkit.physics.circuit.found_maxima import Maxima
from yieldkit.physics.circuit.tracker import tracker_at_voltage
from yieldkit.physics.circuit.tracker_circuit import TrackerCircuit, Workspace
from yieldkit.physics.compiled import compiled, compiled_owning

ENDS = 40
"""Ends of pieces that are kept at a time: each halving adds one."""
NARROWEST = 1e-7
"""Pieces narrower than this share of the open-circuit voltage are not halved."""
_ITERATIONS = 200
_SETTLED = 1e-6
# No maximum is worth looking for that betters the best by a smaller share than this.
_BETTER = 1e-10
# In pieces narrower than this P'' that has one sign at both ends has it in between.
_SHORT = 2e-4


class Scan(NamedTuple):
    """A search for maxima from one changeover voltage to the next.

    Parameters
    ----------
    every : bool
        True for all maxima, False for those alone that beat the best so far.
    found_before : int
        Number of maxima found before the scan: one or none.
    known : float
        Voltage of the maximum found before the scan [V], negative for none.
    narrow : float
        Pieces up to this width are not halved [V].
    conditions : ndarray
        Diode parameters of this step [A, A, ohm, ohm, V] (condition, 5).
    circuit : TrackerCircuit
        The tracker.
    opens : ndarray
        The strings' open-circuit voltages [V] (string,).
    workspace : Workspace
        Starts of the strings' solutions.
    ends : ndarray
        Room for each string's current [A], dI/dV [A/V] and d2I/dV2 [A/V2] at the ends of pieces
        (end, string, 3).
    found : Maxima
        Filled.
    """

    every: bool
    found_before: int
    known: float
    narrow: float
    conditions: FloatArray
    circuit: TrackerCircuit
    opens: FloatArray
    workspace: Workspace
    ends: FloatArray
    found: Maxima


@compiled
def bracketed_maximum(low, high, start, conditions, circuit, workspace):
    """Return the power maximum between a rising and a falling place.

    Newton on dP/dV inside the bracket; the last step is made up to second order. Steps that turn
    round and round would stay inside a bracket for ever: where three of them have not halved it,
    it is halved.

    Parameters
    ----------
    low, high : float
        Voltages [V] at which the power rises and falls.
    start : float
        Voltage [V] to start from.
    conditions : ndarray
        Diode parameters of this step [A, A, ohm, ohm, V] (condition, 5).
    circuit : TrackerCircuit
        The tracker.
    workspace : Workspace
        Starts of the strings' solutions; updated.

    Returns
    -------
    tuple of (float, float, int)
        Voltage [V], power [W]; 0 when it settled, 1 when not.
    """
    volts = start
    wide = high - low
    for turn in range(_ITERATIONS):
        total, i1, i2, status = tracker_at_voltage(volts, conditions, circuit, workspace)
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


@compiled_owning
def scanned_maxima(places, scan):
    """Find the maxima between changeover voltages, beside the one found before.

    Parameters
    ----------
    places : ndarray
        The changeover voltages, rising [V] (place,).
    scan : Scan
        The search; its maxima are filled.

    Returns
    -------
    tuple of int
        As of `all_maxima`.
    """
    last = places.shape[0] - 1
    low = places[0]
    count = scan.found_before
    status = fill_strings_at_voltage(
        low, scan.conditions, scan.circuit, scan.workspace, scan.ends[0]
    )
    for place in range(1, last + 1):
        high = places[place]
        if high - low <= 0.01 * scan.narrow and place < last:
            continue
        count, bad = maxima_between(low, high, count, scan)
        status = max(status, bad)
        low = high
    return count, status


@compiled_owning
def maxima_between(low, high, count, scan):
    """Find the maxima between two neighbouring changeover voltages.

    Parameters
    ----------
    low, high : float
        The voltages [V].
    count : int
        Maxima found already.
    scan : Scan
        The search: its maxima are filled. The strings at `low` are in its first end, and those at
        `high` are left there.

    Returns
    -------
    tuple of int
        As of `all_maxima`.
    """
    # The left end of a piece is kept in front, right ends on a pile after it.
    conditions, circuit, workspace = scan.conditions, scan.circuit, scan.workspace
    ends, found = scan.ends, scan.found
    volts = np.empty(ENDS)
    halved = np.zeros(ENDS, dtype=np.int64)
    volts[0], volts[1] = low, high
    status = fill_strings_at_voltage(high, conditions, circuit, workspace, ends[1])
    best = 0.0
    for place in range(count):
        best = max(best, found.power[place])
    top = 1
    while top > 0:
        low, high = volts[0], volts[top]
        piece = piece_between(low, high, ends[0], ends[top], circuit, scan.opens, halved[top] == 0)
        promising = may_hold_maximum(piece, best, scan.every)
        done = high - low <= scan.narrow or is_sure(piece, high - low, scan.narrow)
        if promising and not done and top + 1 < ENDS:
            halved[top] += 1
            top += 1
            volts[top], halved[top] = 0.5 * (low + high), halved[top - 1]
            bad = fill_strings_at_voltage(volts[top], conditions, circuit, workspace, ends[top])
            status = max(status, bad)
            continue
        peaks = promising and piece.rises and piece.falls and not low < scan.known < high
        if peaks and count < found.volts.shape[0]:
            found.volts[count], found.power[count], bad = bracketed_maximum(
                low, high, 0.5 * (low + high), conditions, circuit, workspace
            )
            status = max(status, bad)
            best = max(best, found.power[count])
            count += 1
        volts[0] = volts[top]
        for s in range(ends.shape[1]):
            ends[0, s, 0], ends[0, s, 1], ends[0, s, 2] = (
                ends[top, s, 0],
                ends[top, s, 1],
                ends[top, s, 2],
            )
        top -= 1
    return count, status


@compiled
def may_hold_maximum(piece, best, every):
    """Return whether a maximum that is looked for may lie in a piece.

    Parameters
    ----------
    piece : Piece
        What is known of it.
    best : float
        Greatest power found so far [W].
    every : bool
        True when all maxima are looked for, False for those alone that beat the best.

    Returns
    -------
    bool
    """
    if every:
        return piece.concave or piece.level
    return piece.bound > best * (1.0 + _BETTER)


@compiled
def is_sure(piece, width, narrow):
    """Return whether a piece is known to have one maximum at most.

    Parameters
    ----------
    piece : Piece
        What is known of it.
    width : float
        Its width [V].
    narrow : float
        Width up to which pieces are not halved [V].

    Returns
    -------
    bool
    """
    return piece.concave or (piece.one_sign and width <= narrow * (_SHORT / NARROWEST))
