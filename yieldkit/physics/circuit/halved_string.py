"""A string with groups of two halves lit differently: its current with all unknowns at once.

A whole group's unknown is its junction voltage, that of two halves the voltage that they share.
"""

from __future__ import annotations

import math

from yieldkit.physics.circuit.diode import diode_at, group_state
from yieldkit.physics.circuit.group import (
    first_pair_voltage,
    lowest_pair_voltage,
    pair_at_voltage,
)
from yieldkit.physics.circuit.junction import first_junction, lowest_junction
from yieldkit.physics.circuit.tracker_circuit import CONDITION, PARTNER, groups_in_series
from yieldkit.physics.compiled import compiled

_ITERATIONS = 40
# Voltages this close (in units of their diode's n Vth) leave an error of its square.
_CLOSE = 1e-7


@compiled
def fill_first_voltages(current, string, junctions):
    """Fill junction voltages of whole groups near a current, and the voltages of halved ones.

    Parameters
    ----------
    current : float
        String current [A].
    string : SeriesString
        The string.
    junctions : ndarray
        Filled [V] (run,).
    """
    conditions, runs, reverse = string.conditions, string.runs, string.reverse
    for run in range(runs.shape[0]):
        diode = diode_at(conditions, runs[run, CONDITION])
        if runs[run, PARTNER] >= 0:
            other = diode_at(conditions, runs[run, PARTNER])
            junctions[run] = first_pair_voltage(current, diode, other, reverse)
        else:
            junctions[run] = first_junction(current, diode, reverse)


@compiled
def run_state(junction, conditions, runs, run, reverse):
    """Return what a run's group does at its junction voltage, or at its halves' common voltage.

    Parameters
    ----------
    junction : float
        Junction voltage of a whole group, voltage of two halves [V].
    conditions : ndarray
        Diode parameters of this step [A, A, ohm, ohm, V] (condition, 5).
    runs : ndarray of int
        As of `TrackerCircuit` (run, 3).
    run : int
        Which run.
    reverse : ReversePath
        Bypass diode and breakdown of every group.

    Returns
    -------
    tuple of (float, float, float, float, float, float)
        As `group_state`, by the one voltage or the other.
    """
    diode = diode_at(conditions, runs[run, CONDITION])
    if runs[run, PARTNER] < 0:
        return group_state(junction, diode, reverse)
    other = diode_at(conditions, runs[run, PARTNER])
    total, first, second, status = pair_at_voltage(junction, diode, other, reverse)
    return total if status == 0 else math.nan, junction, first, second, 1.0, 0.0


@compiled
def joint_current_of_halves(volts, string, junctions, states, start):
    """Find a string's current at a voltage with all its junctions at once.

    Newton on the current and the junction voltages together, so an iteration costs one
    evaluation of each run. As `joint_current`, where some groups are two
    halves, which is slower.

    Parameters
    ----------
    volts : float
        Voltage at the far end of the cable [V].
    string : SeriesString
        The string.
    junctions : ndarray
        Junction voltages to start from, of halves their common voltage [V] (run,); updated.
    states : ndarray
        Room, as of `Workspace` [A, V, V/A] (run, 3).
    start : float
        Current to start from [A].

    Returns
    -------
    tuple of (bool, float, float, float)
        Whether it settled; current [A], dI/dV [A/V], d2I/dV2 [A/V2].
    """
    conditions, runs, reverse = string.conditions, string.runs, string.reverse
    current = start
    for _ in range(_ITERATIONS):
        total = -volts
        first = -string.resistance
        second = 0.0
        for run in range(runs.shape[0]):
            i, v, i1, i2, v1, v2 = run_state(junctions[run], conditions, runs, run, reverse)
            inverse = 1.0 / i1
            count = groups_in_series(conditions, runs, run)
            total += count * (v - v1 * inverse * i)
            first += count * v1 * inverse
            second += count * (v2 * i1 - v1 * i2) * inverse * inverse * inverse
            states[run, 0] = i
            states[run, 1] = v
            states[run, 2] = inverse
        current = -total / first
        if math.isnan(current):
            break
        if move_voltages(current, string, junctions, states):
            slope = 1.0 / first
            return True, current, slope, -second * slope * slope * slope
    return False, current, math.nan, math.nan


@compiled
def move_voltages(current, string, junctions, states):
    """Move a string's junction voltages to where they would carry a current.

    Parameters
    ----------
    current : float
        String current [A].
    string : SeriesString
        The string.
    junctions : ndarray
        Junction voltages, of halves their common voltage [V] (run,); updated.
    states : ndarray
        Current, voltage and slope at these junction voltages, as of `Workspace` [A, V, V/A]
        (run, 3).

    Returns
    -------
    bool
        Whether all of them were there already, near enough.
    """
    conditions, runs, reverse = string.conditions, string.runs, string.reverse
    apart = False
    for run in range(runs.shape[0]):
        diode = diode_at(conditions, runs[run, CONDITION])
        a = diode.n_ns_vth
        moved = (current - states[run, 0]) * states[run, 2]
        scale = reverse.bypass.n_vth if states[run, 1] < 0.0 else a
        apart = apart or abs(moved) > _CLOSE * scale
        aim = junctions[run] + min(moved, 6.0 * a)
        if moved < -a:
            if runs[run, PARTNER] < 0:
                aim = max(aim, lowest_junction(current, diode, reverse))
            else:
                aim = max(aim, lowest_pair_voltage(current, reverse))
        junctions[run] = aim
    return not apart
