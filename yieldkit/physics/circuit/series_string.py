"""A string: runs of cell groups in series with its cable, by current or by voltage."""

from __future__ import annotations

import math
from typing import NamedTuple

from yieldkit.base.arrays import FloatArray, IntArray
from yieldkit.physics.circuit.components import ReversePath
from yieldkit.physics.circuit.diode import PHOTOCURRENT, diode_at, group_state
from yieldkit.physics.circuit.group import element_at_current
from yieldkit.physics.circuit.halved_string import (
    fill_first_voltages,
    joint_current_of_halves,
    move_voltages,
)
from yieldkit.physics.circuit.junction import first_junction
from yieldkit.physics.circuit.tracker_circuit import CONDITION, PARTNER, groups_in_series
from yieldkit.physics.compiled import compiled

_MAX_ITERATIONS = 200
_JOINT_ITERATIONS = 40


class SeriesString(NamedTuple):
    """A string in its light of one step.

    Parameters
    ----------
    conditions : ndarray
        Diode parameters of this step [A, A, ohm, ohm, V] (condition, 5), as of `Diode`.
    runs : ndarray of int
        The string's runs, as of `TrackerCircuit` (run, 3).
    resistance : float
        Cable resistance [ohm].
    reverse : ReversePath
        Bypass diode and breakdown of every group.
    """

    conditions: FloatArray
    runs: IntArray
    resistance: float
    reverse: ReversePath


@compiled
def string_at_current(current, string, junctions):
    """Return a string's voltage at the far end of its cable at a current.

    Parameters
    ----------
    current : float
        String current [A].
    string : SeriesString
        The string.
    junctions : ndarray
        Junction voltages to start from [V], nan for none (run,); updated.

    Returns
    -------
    tuple of (float, float, float, int)
        Voltage [V], dV/dI [V/A], d2V/dI2 [V/A2]; 0 when the equations were met, 1 when not.
    """
    conditions, runs, reverse = string.conditions, string.runs, string.reverse
    volts = -string.resistance * current
    first = -string.resistance
    second = 0.0
    status = 0
    for run in range(runs.shape[0]):
        one, one1, one2, junctions[run], bad = element_at_current(
            current,
            conditions,
            runs[run, CONDITION],
            runs[run, PARTNER],
            reverse,
            junctions[run],
        )
        count = groups_in_series(conditions, runs, run)
        volts += count * one
        first += count * one1
        second += count * one2
        status = max(status, bad)
    return volts, first, second, status


@compiled
def has_halves(runs):
    """Return whether any run's groups are two halves under one diode, lit differently.

    Parameters
    ----------
    runs : ndarray of int
        As of `TrackerCircuit` (run, 3).

    Returns
    -------
    bool
    """
    halves = 0
    for run in range(runs.shape[0]):
        halves += 1 if runs[run, PARTNER] >= 0 else 0
    return halves > 0


@compiled
def has_unknown(junctions):
    """Return whether any voltage to start from is unknown.

    Parameters
    ----------
    junctions : ndarray
        Voltages [V], nan for none (run,).

    Returns
    -------
    bool
    """
    unknown = 0
    for run in range(junctions.shape[0]):
        unknown += 1 if math.isnan(junctions[run]) else 0
    return unknown > 0


@compiled
def fill_first_junctions(current, string, junctions):
    """Fill junction voltages of whole groups near a current.

    Parameters
    ----------
    current : float
        String current [A].
    string : SeriesString
        The string, without halves that are lit differently.
    junctions : ndarray
        Filled [V] (run,).
    """
    conditions, runs, reverse = string.conditions, string.runs, string.reverse
    for run in range(runs.shape[0]):
        diode = diode_at(conditions, runs[run, CONDITION])
        junctions[run] = first_junction(current, diode, reverse)


@compiled
def joint_current(volts, string, junctions, states, start):
    """Find a string's current at a voltage with all its junctions at once.

    Newton on the current and the junction voltages together, so an iteration costs one
    evaluation of each run. Quick where it settles; where not, the caller takes
    `bracketed_current`.

    Parameters
    ----------
    volts : float
        Voltage at the far end of the cable [V].
    string : SeriesString
        The string, without halves that are lit differently.
    junctions : ndarray
        Junction voltages to start from [V] (run,); updated.
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
    for _ in range(_JOINT_ITERATIONS):
        total = -volts
        first = -string.resistance
        second = 0.0
        for run in range(runs.shape[0]):
            diode = diode_at(conditions, runs[run, CONDITION])
            i, v, i1, i2, v1, v2 = group_state(junctions[run], diode, reverse)
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
def string_at_voltage(volts, string, junctions, states, start):
    """Return a string's current at a voltage at the far end of its cable.

    Parameters
    ----------
    volts : float
        Voltage [V].
    string : SeriesString
        The string.
    junctions : ndarray
        Junction voltages to start from [V], nan for none (run,); updated.
    states : ndarray
        Room, as of `Workspace` [A, V, V/A] (run, 3).
    start : float
        Current to start from [A], nan for none.

    Returns
    -------
    tuple of (float, float, float, int)
        Current [A], dI/dV [A/V], d2I/dV2 [A/V2]; 0 when the equations were met, 1 when not.
    """
    conditions, runs = string.conditions, string.runs
    brightest = 0.0
    for run in range(runs.shape[0]):
        brightest = max(brightest, conditions[runs[run, CONDITION], PHOTOCURRENT])
    current = start if not math.isnan(start) else 0.9 * brightest
    if has_halves(runs):
        if has_unknown(junctions):
            fill_first_voltages(current, string, junctions)
        settled, found, i1, i2 = joint_current_of_halves(volts, string, junctions, states, current)
    else:
        if math.isnan(junctions[0]):
            fill_first_junctions(current, string, junctions)
        settled, found, i1, i2 = joint_current(volts, string, junctions, states, current)
    if settled:
        return found, i1, i2, 0
    junctions[:] = math.nan
    return bracketed_current(volts, string, junctions, current, brightest)


@compiled
def bracketed_current(volts, string, junctions, start, brightest):
    """Find a string's current at a voltage inside a bracket: slower than `joint_current`, and sure.

    Parameters
    ----------
    volts : float
        Voltage at the far end of the cable [V].
    string : SeriesString
        The string.
    junctions : ndarray
        Junction voltages to start from [V], nan for none (run,); updated.
    start : float
        Current to start from [A].
    brightest : float
        Photocurrent of the brightest run [A].

    Returns
    -------
    tuple of (float, float, float, int)
        As of `string_at_voltage`.
    """
    current = start
    low = -math.inf
    high = math.inf
    stride = 0.2 * brightest + 1e-9
    one_run = diode_at(string.conditions, string.runs[0, CONDITION])
    count = groups_in_series(string.conditions, string.runs, 0)
    scale = 1e-12 * (abs(volts) + count * one_run.n_ns_vth)
    for _ in range(_MAX_ITERATIONS):
        found, first, second, status = string_at_current(current, string, junctions)
        gap = found - volts
        # A steep curve can't be met closer than a few last digits of the current.
        if abs(gap) <= scale + 2e-15 * abs(current * first) or high - low <= 4e-16 * abs(current):
            return current, 1.0 / first, -second / (first * first * first), status
        if gap > 0.0:
            low = current
        else:
            high = current
        moved = current - gap / first
        if not low < moved < high:
            if math.isinf(high):
                moved = current + stride
                stride *= 4.0
            elif math.isinf(low):
                moved = current - stride
                stride *= 4.0
            else:
                moved = 0.5 * (low + high)
        current = moved
    return current, math.nan, math.nan, 1
