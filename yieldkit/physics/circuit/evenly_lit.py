"""Strings in parallel that are each lit evenly: the one maximum, for many steps side by side.

With reverse currents kept, P(V) of such strings is concave. `lanes` does the arithmetic for a block
of steps. What doesn't settle there, or where bypass diodes do more than leak, is left to the
general solver.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import FloatArray, IntArray
from yieldkit.physics.circuit.lanes import (
    CURRENT,
    DONE,
    INV_A,
    JUNCTION,
    LANES,
    LOWEST,
    MAX_EXPONENT,
    SHARED,
    STATE,
    STRING,
    VOLTS,
    add_string,
    clear_sums,
    copy_shared,
    end_settled_lanes,
    evaluate,
    follow_step,
    move_to_common_voltage,
    newton_step,
    set_common_voltage,
    start_at_knee,
)
from yieldkit.physics.circuit.tracker_circuit import (
    FreeMaxima,
    TrackerCircuit,
    brightest_photocurrent,
    is_lit,
)
from yieldkit.physics.compiled import compiled

_ITERATIONS = 40
BYPASS_OFF = 40.0
"""Voltage in units of a bypass diode's n Vth from which on it only leaks."""

# Columns of evenly lit strings.
LIGHT, GROUPS, MULTIPLICITY = range(3)


class Scaled(NamedTuple):
    """Evenly lit strings as they are solved: equal ones as one.

    Parameters
    ----------
    strings : ndarray of int
        Row of the light, groups in series and multiplicity of each string (string, 3).
    series, parallel : float
        By how much voltage and current of the solution are to be multiplied [1].
    """

    strings: IntArray
    series: float
    parallel: float


class Block(NamedTuple):
    """Room for a block of steps.

    Parameters
    ----------
    memory : ndarray
        Rows of `lanes` in [V], [A], [ohm] (position,).
    bits : ndarray of int
        The same memory as whole numbers (position,).
    steps : ndarray of int
        The step of each lane (lane,).
    """

    memory: FloatArray
    bits: IntArray
    steps: IntArray


def scaled_strings(even: IntArray, resistances: FloatArray) -> Scaled:
    """Return evenly lit strings with equal ones taken as one.

    Equal strings are one, scaled, and without cable one group, scaled, bit for bit.

    Parameters
    ----------
    even : ndarray of int
        Row of the light, groups in series and multiplicity of each string (string, 3).
    resistances : ndarray
        Cable resistances [ohm] (string,).
    """
    strings = even.copy()
    series, parallel = 1.0, 1.0
    if even.shape[0] == 1:
        parallel = float(even[0, MULTIPLICITY])
        strings[0, MULTIPLICITY] = 1
        if resistances[0] == 0.0:
            series = float(even[0, GROUPS])
            strings[0, GROUPS] = 1
    return Scaled(strings, series, parallel)


def even_maxima(
    conditions: FloatArray,
    even: IntArray,
    circuit: TrackerCircuit,
    free: FreeMaxima,
    i_string: FloatArray,
) -> None:
    """Find the power maximum of evenly lit strings for many steps.

    Parameters
    ----------
    conditions : ndarray
        Diode parameters [A, A, ohm, ohm, V] (time, condition, 5).
    even : ndarray of int
        Row of the light, groups in series and multiplicity of each string (string, 3).
    circuit : TrackerCircuit
        The tracker; without breakdown.
    free : FreeMaxima
        Filled where settled.
    i_string : ndarray
        Filled with the strings' currents [A] where settled (time, string).
    """
    scaled = scaled_strings(even, circuit.resistances)
    memory = np.zeros(SHARED + even.shape[0] * STRING)
    block = Block(memory, memory.view(np.int64), np.zeros(LANES, dtype=np.int64))
    solve_blocks(block, conditions, scaled, circuit, free, i_string)


@compiled
def solve_blocks(block, conditions, scaled, circuit, free, i_string):
    """Find the power maximum of evenly lit strings for many steps, a block at a time.

    Parameters
    ----------
    block : Block
        Room.
    conditions, circuit, free, i_string
        As for `even_maxima`.
    scaled : Scaled
        The strings.
    """
    memory, bits, steps = block
    least = BYPASS_OFF * circuit.reverse.bypass.n_vth
    runs = circuit.runs
    t, end = 0, conditions.shape[0]
    while t < end:
        count = 0
        while t < end and count < LANES:
            if is_lit(brightest_photocurrent(conditions[t], runs)):
                steps[count] = t
                count += 1
            t += 1
        if count == 0:
            return
        for i in range(count, LANES):
            steps[i] = steps[0]
        load_lanes(memory, conditions, steps, scaled.strings)
        solve_lanes(memory, bits, scaled.strings, circuit)
        for i in range(count):
            read_lane(memory, i, steps[i], least, scaled, free, i_string)


@compiled
def load_lanes(memory, conditions, steps, strings):
    """Put the diode parameters of a block of steps into its memory.

    Parameters
    ----------
    memory : ndarray
        The block's memory, rows in [V], [A] and [ohm] (position,); updated.
    conditions : ndarray
        Diode parameters [A, A, ohm, ohm, V] (time, condition, 5).
    steps : ndarray of int
        The step of each lane (lane,).
    strings : ndarray of int
        As of `Scaled` (string, 3).
    """
    for s in range(strings.shape[0]):
        base = SHARED + s * STRING
        for i in range(LANES):
            for place in range(5):
                parameter = conditions[steps[i], strings[s, LIGHT], place]
                memory[base + LANES * place + i] = parameter


@compiled
def solve_lanes(memory, bits, strings, circuit):
    """Solve a block of lanes whose diode parameters are in place.

    Parameters
    ----------
    memory : ndarray
        The block's memory, rows in [V], [A] and [ohm] (position,); updated.
    bits : ndarray of int
        The same memory as whole numbers (position,).
    strings : ndarray of int
        As of `Scaled` (string, 3).
    circuit : TrackerCircuit
        The tracker.
    """
    number = strings.shape[0]
    resistances = circuit.resistances
    leak = circuit.reverse.bypass.saturation_current
    for s in range(number):
        base = SHARED + s * STRING
        groups, multiplicity = float(strings[s, GROUPS]), float(strings[s, MULTIPLICITY])
        start_at_knee(memory, bits, base, groups, resistances[s], multiplicity)
    set_common_voltage(memory, number)
    for s in range(number):
        base = SHARED + s * STRING
        copy_shared(memory, base)
        move_to_common_voltage(memory, base, float(strings[s, GROUPS]))
    for _ in range(_ITERATIONS):
        clear_sums(memory)
        for s in range(number):
            base = SHARED + s * STRING
            evaluate(memory, base, float(strings[s, GROUPS]), resistances[s], leak)
            add_string(memory, base, float(strings[s, MULTIPLICITY]))
        newton_step(memory)
        for s in range(number):
            base = SHARED + s * STRING
            copy_shared(memory, base)
            follow_step(memory, base)
        if end_settled_lanes(memory) == 0:
            return


@compiled
def read_lane(memory, lane, t, least, scaled, free, i_string):
    """Take a settled lane's voltage, power and currents out of the memory.

    Parameters
    ----------
    memory : ndarray
        The block's memory, rows in [V], [A] and [ohm] (position,).
    lane : int
        Which lane.
    t : int
        Its step.
    least : float
        Group voltage above which bypass diodes only leak [V].
    scaled : Scaled
        The strings as they were solved.
    free : FreeMaxima
        Filled in this step where the lane is settled.
    i_string : ndarray
        Likewise filled with the strings' currents [A] (time, string).
    """
    if memory[STATE + lane] != DONE or memory[LOWEST + lane] <= least:
        return
    total = 0.0
    strings = scaled.strings
    for s in range(strings.shape[0]):
        base = SHARED + s * STRING
        if memory[base + JUNCTION + lane] * memory[base + INV_A + lane] >= MAX_EXPONENT:
            return
        i_string[t, s] = memory[base + CURRENT + lane]
        total += strings[s, MULTIPLICITY] * i_string[t, s]
    volts = memory[VOLTS + lane]
    free.volts[t] = scaled.series * volts
    free.power[t] = scaled.parallel * (scaled.series * (volts * total))
    free.settled[t] = True
