"""Two parallel halves under one bypass diode, side by side in the lanes of `interval_lanes`.

The halves share the group's voltage V; it and both junction voltages are unknowns of Newton's
method. Near its junction voltage a half's current is i + g off + h off^2 / 2, where off is the
voltage it lacks; the bypass diode is exact at V. So their sum T(V), and from it V(I), are known up
to second order, like those of a whole group.
"""

from __future__ import annotations

from yieldkit.physics.circuit.exponential import exponential
from yieldkit.physics.circuit.interval_lanes import (
    CELLS,
    CLOSE_JUNCTION,
    FAR,
    I0,
    IL,
    INV_A,
    INV_RSH,
    INVERSE,
    JUNCTION,
    LANES,
    LEAST,
    OFF,
    OTHER,
    OUT,
    OUT_FIRST,
    OUT_GAP,
    OUT_SECOND,
    OWN_CURRENT,
    OWN_STEP,
    PAIR_INVERSE,
    PAIR_OFF,
    PAIR_VOLTS,
    POSITIVE,
    RS,
    A,
)
from yieldkit.physics.circuit.lanes import MAX_EXPONENT
from yieldkit.physics.compiled import compiled


@compiled
def move_pair(memory, base):
    """Let the voltage of a run's two halves, and their junctions, follow the step of the current.

    Parameters
    ----------
    memory : ndarray
        Rows in [V], [A], [ohm] (position,); the run's rows are updated.
    base : int
        Where the run's rows begin.
    """
    base = base & POSITIVE
    for i in range(LANES):
        one, two = memory[base + A + i], memory[base + CELLS + A + i]
        least = memory[base + LEAST + i]
        before = memory[base + PAIR_VOLTS + i]
        off = memory[base + PAIR_OFF + i] + memory[base + OWN_STEP + i]
        moved = off * memory[base + PAIR_INVERSE + i]
        most = 4.0 * (one if one < two else two)
        moved = moved if moved < most else most
        volts = before + moved
        volts = volts if volts > least else least
        moved = volts - before
        first = (memory[base + OFF + i] + moved) * memory[base + INVERSE + i]
        second = (memory[base + CELLS + OFF + i] + moved) * memory[base + CELLS + INVERSE + i]
        first = first if first < 4.0 * one else 4.0 * one
        second = second if second < 4.0 * two else 4.0 * two
        memory[base + PAIR_VOLTS + i] = volts
        memory[base + JUNCTION + i] += first
        memory[base + CELLS + JUNCTION + i] += second


@compiled
def evaluate_half(memory, base, volts_at, out):
    """Evaluate one half at its group's voltage, made up to second order.

    Parameters
    ----------
    memory : ndarray
        Rows in [V], [A], [ohm] (position,); the half's rows are updated, and the run's three rows
        of its result are filled with current [A], dI/dV [A/V], d2I/dV2 [A/V2], and one with its
        gap.
    base : int
        Where the half's rows begin.
    volts_at : int
        Where the group's voltage lies.
    out : int
        Where the rows of its result begin.
    """
    base = base & POSITIVE
    volts_at = volts_at & POSITIVE
    out = out & POSITIVE
    for i in range(LANES):
        vd = memory[base + JUNCTION + i]
        inv_a = memory[base + INV_A + i]
        inv_rsh = memory[base + INV_RSH + i]
        rs = memory[base + RS + i]
        i0 = memory[base + I0 + i]
        x = vd * inv_a
        x = x if x < MAX_EXPONENT else MAX_EXPONENT
        x = x if x > -MAX_EXPONENT else -MAX_EXPONENT
        e = i0 * exponential(x)
        i1 = -e * inv_a - inv_rsh
        i2 = -e * inv_a * inv_a
        cells = memory[base + IL + i] - (e - i0) - vd * inv_rsh
        inverse = 1.0 / (1.0 - i1 * rs)
        off = memory[volts_at + i] - (vd - cells * rs)
        g = i1 * inverse
        h = i2 * inverse * inverse * inverse
        gap = abs(off * inverse) * inv_a * (1.0 / CLOSE_JUNCTION)
        gap = gap if x < MAX_EXPONENT else FAR
        memory[base + OFF + i] = off
        memory[base + INVERSE + i] = inverse
        memory[out + i] = cells + off * (g + 0.5 * off * h)
        memory[out + LANES + i] = g + off * h
        memory[out + 2 * LANES + i] = h
        memory[out + 3 * LANES + i] = gap


@compiled
def join_halves(memory, base, leak, per_n):
    """Join two evaluated halves and their bypass diode to a group at the lanes' current.

    Parameters
    ----------
    memory : ndarray
        Rows in [V], [A], [ohm] (position,); the run's rows are updated.
    base : int
        Where the run's rows begin.
    leak : float
        Reverse current of a bypass diode [A].
    per_n : float
        Inverse of its ideality times thermal voltage [1/V].
    """
    base = base & POSITIVE
    for i in range(LANES):
        volts = memory[base + PAIR_VOLTS + i]
        y = -volts * per_n
        y = y if y < MAX_EXPONENT else MAX_EXPONENT
        y = y if y > -MAX_EXPONENT else -MAX_EXPONENT
        bypass = leak * exponential(y)
        total = memory[base + OUT + i] + memory[base + OTHER + i] + bypass - leak
        t1 = memory[base + OUT_FIRST + i] + memory[base + OTHER + LANES + i] - bypass * per_n
        t2 = memory[base + OUT_SECOND + i] + memory[base + OTHER + 2 * LANES + i]
        t2 = t2 + bypass * per_n * per_n
        inverse = 1.0 / t1
        off = memory[base + OWN_CURRENT + i] - total
        second = -t2 * inverse * inverse * inverse
        inv_one, inv_two = memory[base + INV_A + i], memory[base + CELLS + INV_A + i]
        per_scale = inv_one if inv_one > inv_two else inv_two
        per_scale = per_n if volts < 0.0 else per_scale
        gap = abs(off * inverse) * per_scale * (1.0 / CLOSE_JUNCTION)
        one, two = memory[base + OUT_GAP + i], memory[base + OTHER + 3 * LANES + i]
        gap = gap if gap > one else one
        gap = gap if gap > two else two
        gap = gap if y < MAX_EXPONENT else FAR
        memory[base + PAIR_OFF + i] = off
        memory[base + PAIR_INVERSE + i] = inverse
        memory[base + OUT + i] = volts + off * (inverse + 0.5 * off * second)
        memory[base + OUT_FIRST + i] = inverse + off * second
        memory[base + OUT_SECOND + i] = second
        memory[base + OUT_GAP + i] = gap


@compiled
def advance_halves(memory, base, leak, per_n):
    """Let a run of halves follow the step of the current, and evaluate it there.

    Parameters
    ----------
    memory : ndarray
        Rows in [V], [A], [ohm] (position,); the run's rows are updated.
    base : int
        Where the run's rows begin.
    leak : float
        Reverse current of a bypass diode [A].
    per_n : float
        Inverse of its ideality times thermal voltage [1/V].
    """
    move_pair(memory, base)
    volts_at = base + PAIR_VOLTS
    evaluate_half(memory, base, volts_at, base + OUT)
    evaluate_half(memory, base + CELLS, volts_at, base + OTHER)
    join_halves(memory, base, leak, per_n)
