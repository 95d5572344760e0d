"""Diodes and first junction voltages of a step's search, put into a lane of `interval_lanes`."""

from __future__ import annotations

import math

from yieldkit.physics.circuit.diode import diode_at, half_of
from yieldkit.physics.circuit.interval_lanes import (
    CELLS,
    I0,
    IL,
    IN_SERIES,
    INV_A,
    INV_RSH,
    INVERSE,
    JUNCTION,
    LEAST,
    OFF,
    PAIR_INVERSE,
    PAIR_OFF,
    PAIR_VOLTS,
    RS,
    RUN,
    SHARED,
    A,
)
from yieldkit.physics.circuit.lanes import BIAS, LN2, MANTISSA
from yieldkit.physics.circuit.tracker_circuit import CONDITION, PARTNER, groups_in_series
from yieldkit.physics.compiled import compiled


@compiled
def load_diodes(memory, lane, conditions, runs, light, bypass):
    """Put the diodes of a step into a lane.

    Parameters
    ----------
    memory : ndarray
        Rows in [V], [A], [ohm] (position,); the lane is updated.
    lane : int
        Which lane.
    conditions : ndarray
        Diode parameters of the step [A, A, ohm, ohm, V] (condition, 5).
    runs : ndarray of int
        As of `TrackerCircuit` (run, 3).
    light : float
        Photocurrent of the brightest run [A]: no group carries more.
    bypass : Bypass
        The bypass diode of every group.
    """
    least = -bypass.n_vth * math.log1p(light / bypass.saturation_current)
    for run in range(runs.shape[0]):
        base = SHARED + run * RUN + lane
        diode = diode_at(conditions, runs[run, CONDITION])
        memory[base + LEAST] = least
        memory[base + IN_SERIES] = groups_in_series(conditions, runs, run)
        if runs[run, PARTNER] >= 0:
            load_cells(memory, base, half_of(diode))
            other = diode_at(conditions, runs[run, PARTNER])
            load_cells(memory, base + CELLS, half_of(other))
        else:
            load_cells(memory, base, diode)


@compiled
def load_cells(memory, base, diode):
    """Put one half's diode, or a whole group's, into a lane.

    Parameters
    ----------
    memory : ndarray
        Rows in [V], [A], [ohm] (position,); the lane is updated.
    base : int
        Where its rows begin, and the lane.
    diode : Diode
        The cells.
    """
    memory[base + IL] = diode.photocurrent
    memory[base + I0] = diode.saturation_current
    memory[base + RS] = diode.resistance_series
    memory[base + INV_RSH] = 1.0 / diode.resistance_shunt
    memory[base + A] = diode.n_ns_vth
    memory[base + INV_A] = 1.0 / diode.n_ns_vth


@compiled
def load_junctions(memory, bits, lane, current, runs, bypass):
    """Put junction voltages near a current into a lane, to begin an interval there.

    Parameters
    ----------
    memory : ndarray
        Rows in [V], [A], [ohm] (position,); the lane is updated.
    bits : ndarray of int
        The same memory as whole numbers (position,).
    lane : int
        Which lane.
    current : float
        String current [A].
    runs : ndarray of int
        As of `TrackerCircuit` (run, 3).
    bypass : Bypass
        The bypass diode of every group.
    """
    for run in range(runs.shape[0]):
        base = SHARED + run * RUN + lane
        memory[base + OFF] = 0.0
        memory[base + INVERSE] = 0.0
        if runs[run, PARTNER] >= 0:
            load_pair(memory, bits, base, current, bypass)
            continue
        remaining = memory[base + IL] - current
        if remaining > 0.0:
            memory[base + JUNCTION] = 1.0 + remaining / memory[base + I0]
            a, shunt = memory[base + A], memory[base + INV_RSH]
            ideal = a * quick_logarithm(bits[base + JUNCTION])
            # What the shunt takes of it lowers the logarithm about so much.
            less = ideal - a * ideal * shunt / remaining
            memory[base + JUNCTION] = less if ideal * shunt < remaining else remaining / shunt
        else:
            memory[base + JUNCTION] = 1.0 - remaining / bypass.saturation_current
            volts = -bypass.n_vth * quick_logarithm(bits[base + JUNCTION])
            memory[base + JUNCTION] = volts + memory[base + IL] * memory[base + RS]


@compiled
def quick_logarithm(bits):
    """Return the natural logarithm of a positive number from its bits, within 0.03.

    Parameters
    ----------
    bits : int
        The bits of the number as a double.

    Returns
    -------
    float
        [1].
    """
    return LN2 * (float(bits) * MANTISSA - BIAS)


@compiled
def load_pair(memory, bits, base, current, bypass):
    """Put voltages of two halves near a current into a lane.

    Their diodes share what their photocurrents exceed the current by; above it the bypass diode
    carries the rest.

    Parameters
    ----------
    memory : ndarray
        Rows in [V], [A], [ohm] (position,); the lane is updated.
    bits : ndarray of int
        The same memory as whole numbers (position,).
    base : int
        Where the run's rows begin, and the lane.
    current : float
        Current of both together [A].
    bypass : Bypass
        Their bypass diode.
    """
    two = base + CELLS
    memory[two + OFF] = 0.0
    memory[two + INVERSE] = 0.0
    memory[base + PAIR_OFF] = 0.0
    memory[base + PAIR_INVERSE] = 0.0
    remaining = memory[base + IL] + memory[two + IL] - current
    less = 0.0
    if remaining > 0.0:
        less = 0.5 * remaining
        memory[base + JUNCTION] = 1.0 + remaining / (memory[base + I0] + memory[two + I0])
        forward = quick_logarithm(bits[base + JUNCTION])
        forward = 0.5 * (memory[base + A] + memory[two + A]) * forward
        leak = max(memory[base + INV_RSH], memory[two + INV_RSH])
        forward = remaining / leak if leak * forward > remaining else forward
        drop = 0.25 * current * (memory[base + RS] + memory[two + RS])
        volts = max(forward - drop, 0.0)
    else:
        memory[base + JUNCTION] = 1.0 - remaining / bypass.saturation_current
        volts = -bypass.n_vth * quick_logarithm(bits[base + JUNCTION])
    memory[base + PAIR_VOLTS] = volts
    memory[base + JUNCTION] = volts + (memory[base + IL] - less) * memory[base + RS]
    memory[two + JUNCTION] = volts + (memory[two + IL] - less) * memory[two + RS]
