"""The one maximum of evenly lit strings in parallel, for a block of steps in vector instructions.

Newton on dP/dV, with one exponential a string and iteration: junction voltages follow the common
voltage, and what they lack is made up to second order. A block holds `LANES` steps side by side in
plain arithmetic that compilers turn into vector instructions; a lane that is settled is left
alone, so no lane depends on its neighbours.

The memory of a block is one flat array of rows of `LANES` numbers: first the rows that all strings
share, then `STRING` numbers for each string. A position in it is a row's begin plus the lane.
"""

from __future__ import annotations

import numpy as np

from yieldkit.physics.circuit.exponential import exponential
from yieldkit.physics.compiled import compiled

LANES = 32
"""Steps that are solved side by side."""
# A step this small leaves an error of its square, and currents to third order: below 1e-9.
_CLOSE = 2e-4
MAX_EXPONENT = 44.0
"""Greatest exponent that is computed; a lane that comes near it is not settled."""
# A straight line through a double's bits is its logarithm, the exponent's bias less what makes
# the error least.
LN2, MANTISSA, BIAS = float(np.log(2.0)), 2.0**-52, 1023.0 - 0.043
_LN25 = float(np.log(25.0))
# Any position below this many values keeps its sign for the compiler, which can then vectorise.
_POSITIVE = 0xFFFFFF

# Rows that all strings share: common voltage [V]; sums over the strings of current [A], dI/dV
# [A/V] and d2I/dV2 [A/V2]; greatest voltage that a string lacks [V]; lowest voltage of a group
# [V]; state of the lane; step of the voltage [V].
VOLTS, _SUM, _SLOPES, _BENDS, _GAP, LOWEST, STATE, _STEP = (LANES * row for row in range(8))
SHARED = 8 * LANES
"""Where the rows of the first string begin."""
# Rows of each string: its diode's five parameters as in `Diode`, 1 / n Ns Vth and 1 / R_sh,
# junction voltage [V], current [A], dI/dV, d2I/dV2, voltage it lacks [V], dVd/dV [1], its own
# group's voltage [V]; and copies of the shared voltage, state and step.
(
    _IL,
    _I0,
    _RS,
    _RSH,
    _A,
    INV_A,
    _INV_RSH,
    JUNCTION,
    CURRENT,
    _SLOPE,
    _BEND,
    _OFF,
    _INVERSE,
    _OWN,
    _OWN_VOLTS,
    _OWN_STATE,
    _OWN_STEP,
) = (LANES * row for row in range(17))
STRING = 17 * LANES
"""Numbers of each string."""
# States of a lane.
_FAILED, DONE, _LIVE, _SETTLING = -1.0, 0.0, 1.0, 2.0


@compiled
def start_at_knee(memory, bits, base, groups, resistance, multiplicity):
    """Set a string's junction voltages near maximum power, and its weight in the common voltage.

    From the ideal diode (1 + x) exp(x) = I_L / I_0 + 1 by the asymptotic Lambert function with
    cheap logarithms, and a first-order shift for R_s.

    Parameters
    ----------
    memory : ndarray
        The block's memory, rows in [V], [A] and [ohm] (position,); the string's rows are updated.
    bits : ndarray of int
        The same memory as whole numbers (position,).
    base : int
        Where the string's rows begin.
    groups : float
        Groups in series [1].
    resistance : float
        Cable resistance [ohm].
    multiplicity : float
        Equal strings in parallel [1].
    """
    base = base & _POSITIVE
    for i in range(LANES):
        memory[base + INV_A + i] = 1.0 / memory[base + _A + i]
        memory[base + _INV_RSH + i] = 1.0 / memory[base + _RSH + i]
        memory[base + _OFF + i] = 1.0 + memory[base + _IL + i] / memory[base + _I0 + i]
    for i in range(LANES):
        log = LN2 * (float(bits[base + _OFF + i]) * MANTISSA - BIAS)
        whole = 1.0 + log
        inner = _LN25 + 2.0 * (whole - 25.0) / (whole + 25.0)
        inner = inner if inner < log else log
        x = log - inner + inner / whole
        x = x if x > 0.05 else 0.05
        il = memory[base + _IL + i]
        rs = memory[base + _RS + i]
        a = memory[base + _A + i]
        current = il * x / (1.0 + x)
        shift = il * rs / (a * (1.0 + x))
        moved = x - shift / (1.0 + 0.5 * shift)
        vd = a * (moved if moved > 0.1 * x else 0.1 * x)
        volts = groups * (vd - current * rs) - resistance * current
        memory[base + JUNCTION + i] = vd
        memory[base + CURRENT + i] = multiplicity * current
        memory[base + _OWN + i] = multiplicity * current * volts


@compiled
def set_common_voltage(memory, strings):
    """Set the common voltage to the strings' own knees, weighted with their currents.

    Parameters
    ----------
    memory : ndarray
        The block's memory, rows in [V], [A] and [ohm] (position,); the shared rows are updated.
    strings : int
        Number of strings.
    """
    for i in range(LANES):
        weight = 0.0
        volts = 0.0
        for s in range(strings):
            base = (SHARED + s * STRING) & _POSITIVE
            weight += memory[base + CURRENT + i]
            volts += memory[base + _OWN + i]
        memory[VOLTS + i] = volts / weight
        memory[STATE + i] = _LIVE


@compiled
def clear_sums(memory):
    """Set the sums over strings to zero.

    Parameters
    ----------
    memory : ndarray
        The block's memory, rows in [V], [A] and [ohm] (position,); the shared rows are updated.
    """
    for i in range(LANES):
        memory[_SUM + i] = 0.0
        memory[_SLOPES + i] = 0.0
        memory[_BENDS + i] = 0.0
        memory[_GAP + i] = 0.0
        memory[LOWEST + i] = 1e300


@compiled
def copy_shared(memory, base):
    """Copy what the strings share into a string's own rows, where vector instructions reach it.

    Parameters
    ----------
    memory : ndarray
        The block's memory, rows in [V], [A] and [ohm] (position,); the string's rows are updated.
    base : int
        Where the string's rows begin.
    """
    base = base & _POSITIVE
    for i in range(LANES):
        memory[base + _OWN_VOLTS + i] = memory[VOLTS + i]
        memory[base + _OWN_STATE + i] = memory[STATE + i]
        memory[base + _OWN_STEP + i] = memory[_STEP + i]


@compiled
def move_to_common_voltage(memory, base, groups):
    """Move a string's junction voltages to the common voltage, not far above their knee.

    Parameters
    ----------
    memory : ndarray
        The block's memory, rows in [V], [A] and [ohm] (position,); the string's rows are updated.
    base : int
        Where the string's rows begin.
    groups : float
        Groups in series [1].
    """
    base = base & _POSITIVE
    inverse = 1.0 / groups
    for i in range(LANES):
        series = 0.9 * memory[base + _IL + i] * memory[base + _RS + i]
        wanted = memory[base + _OWN_VOLTS + i] * inverse + series
        most = memory[base + JUNCTION + i] + 3.0 * memory[base + _A + i]
        memory[base + JUNCTION + i] = wanted if wanted < most else most


@compiled
def evaluate(memory, base, groups, resistance, leak):
    """Evaluate a string: its current at the common voltage, with derivatives and what it lacks.

    Parameters
    ----------
    memory : ndarray
        The block's memory, rows in [V], [A] and [ohm] (position,); the string's rows are updated.
    base : int
        Where the string's rows begin.
    groups : float
        Groups in series [1].
    resistance : float
        Cable resistance [ohm].
    leak : float
        Reverse current of a bypass diode [A].
    """
    base = base & _POSITIVE
    for i in range(LANES):
        vd = memory[base + JUNCTION + i]
        inv_a = memory[base + INV_A + i]
        inv_rsh = memory[base + _INV_RSH + i]
        rs = memory[base + _RS + i]
        i0 = memory[base + _I0 + i]
        x = vd * inv_a
        x = x if x < MAX_EXPONENT else MAX_EXPONENT
        x = x if x > -MAX_EXPONENT else -MAX_EXPONENT
        e = i0 * exponential(x)
        cells = memory[base + _IL + i] - (e - i0) - vd * inv_rsh
        g = -e * inv_a - inv_rsh
        g2 = -e * inv_a * inv_a
        own = vd - cells * rs
        stretch = groups * (1.0 - g * rs) - resistance * g
        inverse = 1.0 / stretch
        total = cells - leak
        off = memory[base + _OWN_VOLTS + i] - groups * own + resistance * total
        i1 = g * inverse
        i2 = g2 * (stretch + g * (groups * rs + resistance)) * inverse * inverse * inverse
        current = total + i1 * off + 0.5 * i2 * off * off
        live = memory[base + _OWN_STATE + i] == _LIVE
        memory[base + _OFF + i] = off
        memory[base + _INVERSE + i] = inverse
        memory[base + _SLOPE + i] = i1 + i2 * off
        memory[base + _BEND + i] = i2
        memory[base + _OWN + i] = own
        memory[base + CURRENT + i] = current if live else memory[base + CURRENT + i]


@compiled
def add_string(memory, base, multiplicity):
    """Add a string to the sums.

    Parameters
    ----------
    memory : ndarray
        The block's memory, rows in [V], [A] and [ohm] (position,); the shared rows are updated.
    base : int
        Where the string's rows begin.
    multiplicity : float
        Equal strings in parallel [1].
    """
    base = base & _POSITIVE
    for i in range(LANES):
        memory[_SUM + i] += multiplicity * memory[base + CURRENT + i]
        memory[_SLOPES + i] += multiplicity * memory[base + _SLOPE + i]
        memory[_BENDS + i] += multiplicity * memory[base + _BEND + i]
        gap = abs(memory[base + _OFF + i])
        memory[_GAP + i] = gap if gap > memory[_GAP + i] else memory[_GAP + i]
        own = memory[base + _OWN + i]
        memory[LOWEST + i] = own if own < memory[LOWEST + i] else memory[LOWEST + i]


@compiled
def newton_step(memory):
    """Take Newton's step on dP/dV, and mark the lanes that are settled or have failed.

    Parameters
    ----------
    memory : ndarray
        The block's memory, rows in [V], [A] and [ohm] (position,); the shared rows are updated.
    """
    for i in range(LANES):
        volts = memory[VOLTS + i]
        slope = memory[_SUM + i] + volts * memory[_SLOPES + i]
        curve = 2.0 * memory[_SLOPES + i] + volts * memory[_BENDS + i]
        step = -slope / curve
        most = 0.3 * volts
        step = step if step < most else most
        step = step if step > -most else -most
        near = _CLOSE * volts
        close = (abs(step) <= near) & (memory[_GAP + i] <= near)
        concave = curve < 0.0
        live = memory[STATE + i] == _LIVE
        after = _SETTLING if close else _LIVE
        after = after if concave else _FAILED
        moves = live & concave
        step = step if moves else 0.0
        memory[STATE + i] = after if live else memory[STATE + i]
        memory[_STEP + i] = step
        memory[VOLTS + i] = volts + step


@compiled
def follow_step(memory, base):
    """Let a string's junction voltages follow the step, or end with its current.

    Parameters
    ----------
    memory : ndarray
        The block's memory, rows in [V], [A] and [ohm] (position,); the string's rows are updated.
    base : int
        Where the string's rows begin.
    """
    base = base & _POSITIVE
    for i in range(LANES):
        state = memory[base + _OWN_STATE + i]
        step = memory[base + _OWN_STEP + i]
        bend = 0.5 * step * memory[base + _BEND + i]
        current = memory[base + CURRENT + i] + step * (memory[base + _SLOPE + i] + bend)
        settles = state == _SETTLING
        memory[base + CURRENT + i] = current if settles else memory[base + CURRENT + i]
        moved = (memory[base + _OFF + i] + step) * memory[base + _INVERSE + i]
        most = 4.0 * memory[base + _A + i]
        moved = moved if moved < most else most
        memory[base + JUNCTION + i] += moved if state == _LIVE else 0.0


@compiled
def end_settled_lanes(memory):
    """End the lanes that were settling.

    Parameters
    ----------
    memory : ndarray
        The block's memory, rows in [V], [A] and [ohm] (position,); the lanes' states are updated.

    Returns
    -------
    int
        How many lanes are still live.
    """
    left = 0
    for i in range(LANES):
        if memory[STATE + i] == _SETTLING:
            memory[STATE + i] = DONE
        elif memory[STATE + i] == _LIVE:
            left += 1
    return left
