"""Strings in parallel in any light, through time: what lanes settle of it, block after block."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import FloatArray, IntArray
from yieldkit.physics.circuit.diode import PHOTOCURRENT
from yieldkit.physics.circuit.evenly_lit import BYPASS_OFF
from yieldkit.physics.circuit.interval_lanes import CURRENT, LANES, LIVE, RUN, SHARED, STEP, VOLTS
from yieldkit.physics.circuit.lane_starts import load_diodes, load_junctions
from yieldkit.physics.circuit.parallel_lanes import (
    AT_COMMON,
    COMMON,
    COMMON_STATE,
    COMMON_VOLTS,
    NEAREST,
    PASSED,
    POWER,
    SETTLED,
    clear_common,
    climb,
    evaluate_string,
    follow,
    join_string,
    limit_nearest,
    require_free,
)
from yieldkit.physics.circuit.tracker_circuit import (
    CONDITION,
    PARTNER,
    FreeMaxima,
    TrackerCircuit,
    brightest_photocurrent,
    is_lit,
    most_current,
)
from yieldkit.physics.compiled import compiled

_ITERATIONS = 24
# Evaluations that take junctions from their first voltages to where they carry a current.
_APPROACHES = 6
# A string's usual current at its maximum, as a share of its darkest light.
_USUAL = 0.93


class ParallelBlock(NamedTuple):
    """Room for a block of steps.

    Parameters
    ----------
    memory : ndarray
        Each string's rows of `interval_lanes` in [V], [A], [ohm], one after the other (position,).
    bits : ndarray of int
        The same memory as whole numbers (position,).
    common : ndarray
        Rows that all strings share, as of `parallel_lanes` (position,).
    begins : ndarray of int
        Where each string's rows begin, and the end (string + 1,).
    steps : ndarray of int
        The step of each lane (lane,).
    """

    memory: FloatArray
    bits: IntArray
    common: FloatArray
    begins: IntArray
    steps: IntArray


def parallel_maxima(
    conditions: FloatArray, circuit: TrackerCircuit, free: FreeMaxima, i_string: FloatArray
) -> None:
    """Find the greatest power maximum of strings in parallel for many steps, where that settles.

    Parameters
    ----------
    conditions : ndarray
        Diode parameters [A, A, ohm, ohm, V] (time, condition, 5).
    circuit : TrackerCircuit
        The tracker; with breakdown, halves or blocking diodes nothing settles.
    free : FreeMaxima
        Filled where settled.
    i_string : ndarray
        Filled with the strings' currents [A] where settled (time, string).
    """
    halves = (circuit.runs[:, PARTNER] >= 0).any()
    if halves or circuit.blocked.any() or circuit.reverse.breakdown.factor != 0.0:
        return
    strings = np.arange(circuit.first_run.size)
    begins = SHARED * strings + RUN * circuit.first_run
    memory = np.zeros(int(begins[-1]))
    block = ParallelBlock(
        memory,
        memory.view(np.int64),
        np.zeros(COMMON),
        begins,
        np.zeros(LANES, dtype=np.int64),
    )
    solve_parallel(block, conditions, circuit, free, i_string)


@compiled
def solve_parallel(block, conditions, circuit, free, i_string):
    """Find the greatest maximum for many steps, a block at a time.

    Parameters
    ----------
    block : ParallelBlock
        Room.
    conditions, circuit, free, i_string
        As for `parallel_maxima`.
    """
    steps = block.steps
    t, end = 0, conditions.shape[0]
    while t < end:
        count = 0
        while t < end and count < LANES:
            if is_lit(brightest_photocurrent(conditions[t], circuit.runs)):
                steps[count] = t
                count += 1
            t += 1
        if count == 0:
            return
        for lane in range(count, LANES):
            steps[lane] = steps[0]
        for lane in range(LANES):
            load_lane(lane, conditions[steps[lane]], block, circuit)
        for s in range(circuit.multiplicity.shape[0]):
            find_nearest(s, block, circuit)
        climb_block(block, circuit)
        prove_block(block, conditions, circuit)
        for lane in range(count):
            read_parallel(lane, block, free, i_string)


@compiled
def load_lane(lane, conditions, block, circuit):
    """Put a step into a lane: its diodes, and a first guess of all voltages.

    Parameters
    ----------
    lane : int
        Which lane.
    conditions : ndarray
        Diode parameters of the step [A, A, ohm, ohm, V] (condition, 5).
    block : ParallelBlock
        The lane is filled.
    circuit : TrackerCircuit
        The tracker.
    """
    light = brightest_photocurrent(conditions, circuit.runs)
    for s in range(circuit.multiplicity.shape[0]):
        memory = block.memory[block.begins[s] : block.begins[s + 1]]
        bits = block.bits[block.begins[s] : block.begins[s + 1]]
        runs = circuit.runs[circuit.first_run[s] : circuit.first_run[s + 1]]
        load_diodes(memory, lane, conditions, runs, light, circuit.reverse.bypass)
        darkest = light
        for run in range(runs.shape[0]):
            darkest = min(darkest, conditions[runs[run, CONDITION], PHOTOCURRENT])
        load_junctions(memory, bits, lane, _USUAL * darkest, runs, circuit.reverse.bypass)
        memory[CURRENT + lane] = _USUAL * darkest
        memory[STEP + lane] = 0.0
    block.common[COMMON_STATE + lane] = LIVE
    block.common[POWER + lane] = 0.0


@compiled
def find_nearest(place, block, circuit):
    """Find the current at which a string's first group comes near its bypass diode, in all lanes.

    Parameters
    ----------
    place : int
        Which string.
    block : ParallelBlock
        The lanes, loaded; updated.
    circuit : TrackerCircuit
        The tracker.
    """
    memory = block.memory[block.begins[place] : block.begins[place + 1]]
    bypass = circuit.reverse.bypass
    for lane in range(LANES):
        memory[NEAREST + lane] = math.inf
    for run in range(circuit.first_run[place + 1] - circuit.first_run[place]):
        off = BYPASS_OFF * bypass.n_vth
        limit_nearest(memory, SHARED + run * RUN, off, bypass.saturation_current)


@compiled
def climb_block(block, circuit):
    """Let all lanes climb to a maximum.

    Parameters
    ----------
    block : ParallelBlock
        The lanes; updated.
    circuit : TrackerCircuit
        The tracker.
    """
    common = block.common
    strings = circuit.multiplicity.shape[0]
    for turn in range(_ITERATIONS):
        for s in range(strings):
            memory = block.memory[block.begins[s] : block.begins[s + 1]]
            runs = circuit.runs[circuit.first_run[s] : circuit.first_run[s + 1]]
            evaluate_string(memory, runs, circuit.resistances[s], circuit.reverse.bypass)
            if turn == 0:
                lower_start(memory, common, s == 0)
        clear_common(common)
        for s in range(strings):
            memory = block.memory[block.begins[s] : block.begins[s + 1]]
            join_string(memory, common, float(circuit.multiplicity[s]))
        climb(common)
        live = 0
        for lane in range(LANES):
            live += 1 if common[COMMON_STATE + lane] == LIVE else 0
        for s in range(strings):
            follow(block.memory[block.begins[s] : block.begins[s + 1]], common)
        if live == 0:
            return


@compiled
def lower_start(memory, common, first):
    """Start from the lowest of the strings' voltages.

    Parameters
    ----------
    memory : ndarray
        A string's rows in [V], [A], [ohm] (position,).
    common : ndarray
        Rows in [V], [A] (position,); the common voltage is updated.
    first : bool
        Whether it is the first string.
    """
    for lane in range(LANES):
        volts, before = memory[VOLTS + lane], common[COMMON_VOLTS + lane]
        common[COMMON_VOLTS + lane] = volts if first or volts < before else before


@compiled
def prove_block(block, conditions, circuit):
    """Mark the settled lanes in which another maximum may be greater.

    Parameters
    ----------
    block : ParallelBlock
        The lanes, settled where they are; updated.
    conditions : ndarray
        Diode parameters [A, A, ohm, ohm, V] (time, condition, 5).
    circuit : TrackerCircuit
        The tracker.
    """
    common, bypass = block.common, circuit.reverse.bypass
    for lane in range(LANES):
        most = most_current(conditions[block.steps[lane]], circuit)
        common[PASSED + lane] = min(common[POWER + lane] / most, common[COMMON_VOLTS + lane])
    for s in range(circuit.multiplicity.shape[0]):
        memory = block.memory[block.begins[s] : block.begins[s + 1]]
        bits = block.bits[block.begins[s] : block.begins[s + 1]]
        runs = circuit.runs[circuit.first_run[s] : circuit.first_run[s + 1]]
        for lane in range(LANES):
            memory[CURRENT + lane], memory[STEP + lane] = memory[NEAREST + lane], 0.0
            load_junctions(memory, bits, lane, memory[NEAREST + lane], runs, bypass)
        for _ in range(_APPROACHES):
            evaluate_string(memory, runs, circuit.resistances[s], bypass)
        require_free(memory, common)


@compiled
def read_parallel(lane, block, free, i_string):
    """Take a settled lane's voltage, power and currents out of the memory.

    Parameters
    ----------
    lane : int
        Which lane.
    block : ParallelBlock
        The lanes.
    free : FreeMaxima
        Filled in the lane's step: a maximum, settled where no other is greater.
    i_string : ndarray
        Likewise filled with the strings' currents [A] (time, string).
    """
    common, t = block.common, block.steps[lane]
    state = common[COMMON_STATE + lane]
    if state == LIVE or not common[POWER + lane] > 0.0:
        return
    for s in range(i_string.shape[1]):
        i_string[t, s] = block.memory[block.begins[s] + AT_COMMON + lane]
    free.volts[t] = common[COMMON_VOLTS + lane]
    free.power[t] = common[POWER + lane]
    free.settled[t] = state == SETTLED
