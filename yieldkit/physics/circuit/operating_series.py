"""A tracker through time: every step solved by global search, or one after the other by climbing.

Steps of a global search depend on their own inputs only. A local search goes on from the last
step's voltage, and its state ends when the array is dark. What is quicker found side by side is
found for all steps at once; only what is left over needs other kernels, which are not compiled
before.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import BoolArray, FloatArray, IntArray
from yieldkit.physics.circuit.climbing import climb_steps
from yieldkit.physics.circuit.evenly_lit import even_maxima
from yieldkit.physics.circuit.group_maxima import fill_group_maxima
from yieldkit.physics.circuit.limits import PointLimits, StartStop
from yieldkit.physics.circuit.operating_step import limit_steps
from yieldkit.physics.circuit.parallel_lit_series import parallel_maxima
from yieldkit.physics.circuit.settled_steps import take_settled
from yieldkit.physics.circuit.step_maxima import (
    StepMaxima,
    fill_even_maxima,
    fill_general_maxima,
    fill_string_maxima,
    new_step_maxima,
)
from yieldkit.physics.circuit.tracker_circuit import (
    EVEN,
    UNEVEN,
    FreeMaxima,
    Outputs,
    TrackerCircuit,
    brightest_photocurrents,
    lit_ones,
    new_free_maxima,
)
from yieldkit.physics.circuit.unevenly_lit_series import uneven_maxima

_BLOCK = 4096


class TrackerSteps(NamedTuple):
    """A tracker in its light of all steps.

    Parameters
    ----------
    kind : int
        `EVEN`, `UNEVEN` or `GENERAL`: which solver fits.
    conditions : ndarray
        Diode parameters [A, A, ohm, ohm, V] (time, condition, 5).
    even : ndarray of int
        Row of the light, groups in series and multiplicity of evenly lit strings (string, 3).
    circuit : TrackerCircuit
        The distinct strings.
    """

    kind: int
    conditions: FloatArray
    even: IntArray
    circuit: TrackerCircuit


class Known(NamedTuple):
    """What is found for many steps before each is solved.

    Parameters
    ----------
    free : FreeMaxima
        Unlimited maxima: the greatest, where a string in uneven light has several.
    own_maxima : ndarray
        Power [W] and current [A] of each run's group at its own maximum, for a string in uneven
        light (time, run, 2); empty for others.
    """

    free: FreeMaxima
    own_maxima: FloatArray


def known_maxima(tracker: TrackerSteps, every: bool, i_string: FloatArray) -> Known:
    """Find for all steps what is quicker found side by side.

    Parameters
    ----------
    tracker : TrackerSteps
        The tracker.
    every : bool
        True where all maxima will be wanted, so that it is no use to know the greatest alone.
    i_string : ndarray
        Filled with the strings' currents [A] where settled (time, string).
    """
    conditions, circuit = tracker.conditions, tracker.circuit
    steps, runs = conditions.shape[0], circuit.runs
    free = new_free_maxima(steps)
    own_maxima = np.empty((steps, runs.shape[0] if tracker.kind == UNEVEN else 0, 2))
    if tracker.kind == EVEN:
        even_maxima(conditions, tracker.even, circuit, free, i_string)
    elif tracker.kind == UNEVEN:
        fill_group_maxima(conditions, runs, circuit.reverse, own_maxima)
        if not every and circuit.reverse.breakdown.factor == 0.0:
            uneven_maxima(conditions, circuit, own_maxima, free, i_string)
    elif not every:
        parallel_maxima(conditions, circuit, free, i_string)
    return Known(free, own_maxima)


def maxima_of(steps: IntArray, tracker: TrackerSteps, known: Known, every: bool) -> StepMaxima:
    """Return the power maxima of some steps without any limit [V], [W].

    Parameters
    ----------
    steps : ndarray of int
        The steps, lit ones (row,).
    tracker : TrackerSteps
        The tracker.
    known : Known
        What was found for many steps.
    every : bool
        True for all maxima, False where the best is enough.
    """
    table = new_step_maxima(steps.size, tracker.circuit)
    if tracker.kind == EVEN or not every:
        settled = known.free.settled[steps]
        table.number[settled] = 1
        table.volts[settled, 0] = known.free.volts[steps[settled]]
        table.power[settled, 0] = known.free.power[steps[settled]]
    conditions, circuit = tracker.conditions, tracker.circuit
    if tracker.kind == EVEN and not table.number.all():
        fill_even_maxima(steps, conditions, circuit, table)
    elif tracker.kind == UNEVEN and not table.number.all():
        fill_string_maxima(steps, conditions, circuit, known.own_maxima, every, table)
    if not table.number.all():
        fill_general_maxima(steps, conditions, circuit, every, known.free, table)
    return table


def solve_steps(tracker: TrackerSteps, limits: PointLimits, outputs: Outputs) -> None:
    """Solve all steps by global search inside window and input current.

    Parameters
    ----------
    tracker : TrackerSteps
        The tracker.
    limits : PointLimits
        Window, maximum voltage and input current.
    outputs : Outputs
        Filled.
    """
    conditions, circuit = tracker.conditions, tracker.circuit
    known = known_maxima(tracker, False, outputs.i_string)
    left = np.empty(conditions.shape[0], dtype=np.int64)
    left = left[: take_settled(known.free, limits, conditions, circuit.runs, outputs, left)]
    for begin in range(0, left.size, _BLOCK):
        steps = left[begin : begin + _BLOCK]
        found = maxima_of(steps, tracker, known, False)
        rows = np.arange(steps.size)
        free_power = found.power[rows, found.best]
        outside = _outside(found.volts[rows, found.best], free_power, limits)
        if tracker.kind != EVEN and outside.any():
            every = maxima_of(steps[outside], tracker, known, True)
            for own, whole in zip(every, found, strict=True):
                whole[outside] = own
        uneven = tracker.kind == UNEVEN
        limit_steps(steps, uneven, conditions, circuit, limits, found, free_power, outputs)


def _outside(volts: FloatArray, power: FloatArray, limits: PointLimits) -> BoolArray:
    """Return which points [V], [W] lie outside of the limits (row,)."""
    highest = min(limits.v_mpp_max, limits.v_max)
    inside: BoolArray = (volts >= limits.v_mpp_min) & (volts <= highest)
    if not math.isinf(limits.i_max):
        inside &= power <= limits.i_max * volts
    return ~inside


def climb_through_steps(
    tracker: TrackerSteps, limits: PointLimits, rules: StartStop, outputs: Outputs
) -> None:
    """Solve all steps by local search: each goes on from the last voltage.

    Parameters
    ----------
    tracker : TrackerSteps
        The tracker.
    limits : PointLimits
        Window, maximum voltage and input current.
    rules : StartStop
        Start and stop conditions.
    outputs : Outputs
        Filled.
    """
    conditions, circuit = tracker.conditions, tracker.circuit
    known = known_maxima(tracker, True, outputs.i_string)
    state = np.array([0.0, 0.0, math.nan])
    for begin in range(0, conditions.shape[0], _BLOCK):
        end = min(begin + _BLOCK, conditions.shape[0])
        light = brightest_photocurrents(conditions[begin:end], circuit.runs)
        steps = begin + np.flatnonzero(lit_ones(light))
        found = maxima_of(steps, tracker, known, True)
        climb_steps(begin, end, conditions, circuit, limits, rules, found, state, outputs)
