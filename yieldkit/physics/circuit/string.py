"""A string: runs of cell groups in series with its cable, by current or by voltage."""

from __future__ import annotations

import math

from yieldkit.physics.circuit.diode import (
    BYPASS_NVTH,
    I0,
    IL,
    RS,
    RSH,
    A,
    first_junction,
    group_state,
    lowest_junction,
)
from yieldkit.physics.circuit.group import element_at_current
from yieldkit.physics.compiled import compiled

_MAX_ITERATIONS = 200
_JOINT_ITERATIONS = 40
# Junction voltages this close (in units of their diode's n Vth) leave an error of its square.
_JOINT_CLOSE = 1e-7


@compiled
def string_at_current(current, here, runs, resistance, diodes, junctions):
    """Return a string's voltage behind its cable at a current, with derivatives.

    Parameters
    ----------
    current : float
        String current [A].
    here : ndarray
        Packed conditions of this step (condition, 5).
    runs : ndarray of int
        Condition, partner (-1 for none) and count of each run (run, 3).
    resistance : float
        Cable resistance [ohm].
    diodes : ndarray
        Packed bypass and breakdown values.
    junctions : ndarray
        Junction voltages to start from, nan for none (run,); updated.

    Returns
    -------
    tuple
        Voltage [V], dV/dI, d2V/dI2, status.
    """
    volts = -resistance * current
    first = -resistance
    second = 0.0
    status = 0
    for run in range(runs.shape[0]):
        one, one1, one2, junctions[run], bad = element_at_current(
            current, here, runs[run, 0], runs[run, 1], diodes, junctions[run]
        )
        count = runs[run, 2]
        volts += count * one
        first += count * one1
        second += count * one2
        status = max(status, bad)
    return volts, first, second, status


@compiled
def has_halves(runs):
    """Return whether a run's groups are two halves under one diode, lit differently."""
    halves = 0
    for run in range(runs.shape[0]):
        halves += 1 if runs[run, 1] >= 0 else 0
    return halves > 0


@compiled
def junction_starts(current, here, runs, diodes, junctions):
    """Set junction voltages of plain groups near a current.

    Parameters are those of `string_at_current`.
    """
    for run in range(runs.shape[0]):
        row = here[runs[run, 0]]
        junctions[run] = first_junction(
            current, row[IL], row[I0], row[RS], row[RSH], row[A], diodes
        )


@compiled
def joint_current(volts, here, runs, resistance, diodes, junctions, states, start):
    """Find a string's current at a voltage with all its junctions at once.

    Newton on the current and the junction voltages together, so an iteration costs one look at
    each run. Quick where it settles; where not, the caller takes the bracketed way.

    Returns
    -------
    tuple
        Whether it settled, current [A], dI/dV, d2I/dV2.
    """
    current = start
    for _ in range(_JOINT_ITERATIONS):
        total = -volts
        first = -resistance
        second = 0.0
        for run in range(runs.shape[0]):
            row = here[runs[run, 0]]
            i, v, i1, i2, v1, v2 = group_state(
                junctions[run], row[IL], row[I0], row[RS], row[RSH], row[A], diodes
            )
            inverse = 1.0 / i1
            count = runs[run, 2]
            total += count * (v - v1 * inverse * i)
            first += count * v1 * inverse
            second += count * (v2 * i1 - v1 * i2) * inverse * inverse * inverse
            states[run, 0] = i
            states[run, 1] = v
            states[run, 2] = inverse
        current = -total / first
        if math.isnan(current):
            break
        apart = False
        for run in range(runs.shape[0]):
            a = here[runs[run, 0], A]
            moved = (current - states[run, 0]) * states[run, 2]
            scale = diodes[BYPASS_NVTH] if states[run, 1] < 0.0 else a
            apart = apart or abs(moved) > _JOINT_CLOSE * scale
            aim = junctions[run] + min(moved, 6.0 * a)
            if moved < -a:
                row = here[runs[run, 0]]
                aim = max(aim, lowest_junction(current, row[IL], row[RS], diodes))
            junctions[run] = aim
        if not apart:
            slope = 1.0 / first
            return True, current, slope, -second * slope * slope * slope
    return False, current, math.nan, math.nan


@compiled
def string_at_voltage(volts, here, runs, resistance, diodes, junctions, states, start):
    """Return a string's current at a voltage behind its cable, dI/dV, d2I/dV2 and a status."""
    top = 0.0
    for run in range(runs.shape[0]):
        top = max(top, here[runs[run, 0], IL])
    current = start if not math.isnan(start) else 0.9 * top
    if not has_halves(runs):
        if math.isnan(junctions[0]):
            junction_starts(current, here, runs, diodes, junctions)
        settled, found, i1, i2 = joint_current(
            volts, here, runs, resistance, diodes, junctions, states, current
        )
        if settled:
            return found, i1, i2, 0
    junctions[:] = math.nan
    return bracketed_current(volts, here, runs, resistance, diodes, junctions, current, top)


@compiled
def bracketed_current(volts, here, runs, resistance, diodes, junctions, current, top):
    """Find a string's current at a voltage inside a bracket: slow, and sure."""
    low = -math.inf
    high = math.inf
    room = 0.2 * top + 1e-9
    scale = 1e-12 * (abs(volts) + runs[0, 2] * here[runs[0, 0], A])
    for _ in range(_MAX_ITERATIONS):
        found, first, second, status = string_at_current(
            current, here, runs, resistance, diodes, junctions
        )
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
                moved = current + room
                room *= 4.0
            elif math.isinf(low):
                moved = current - room
                room *= 4.0
            else:
                moved = 0.5 * (low + high)
        current = moved
    return current, math.nan, math.nan, 1
