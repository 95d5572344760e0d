"""Strings in parallel, some in uneven light: their power maximum, for a block of steps in lanes.

Newton on dP/dV with all strings' currents and junction voltages: each string is evaluated at a
current of its own as in `interval_lanes`, and what its voltage lacks of the common one is made up
to second order. Then it is proved that no other maximum is greater; where a lane doesn't settle, or
the proof fails, the step is left to the general solver, with the maximum that was found.

The proof. Below `P / I`, with the maximum's power and the sum of the strings' brightest
photocurrents, no power is greater. Above that voltage there is one maximum where every string's
current bends downwards, and it does where none of its groups is near its bypass diode: a group's
voltage is concave in its current there, hence so is the string's, and falling. The current at which
the first group comes near is known, and at that current the string's voltage is found: all higher
ones are free of bypass diodes.

A string's memory is that of `interval_lanes`; beside it all strings share `common`, rows of `LANES`
numbers.
"""

from __future__ import annotations

from yieldkit.physics.circuit.exponential import exponential
from yieldkit.physics.circuit.interval_lanes import (
    BEST,
    BEST_CURRENT,
    CURRENT,
    FIRST,
    FLOOR,
    GAP,
    I0,
    IL,
    INV_A,
    INV_RSH,
    LANES,
    LEFT,
    LIVE,
    POSITIVE,
    RIGHT,
    RS,
    RUN,
    SECOND,
    SHARED,
    STEP,
    VOLTS,
    add_run,
    advance_groups,
    clear_sums,
    copy_shared,
)
from yieldkit.physics.circuit.lanes import MAX_EXPONENT
from yieldkit.physics.compiled import compiled

# Rows of `common`: voltage [V]; sums over the strings of current [A], dI/dV [A/V] and d2I/dV2
# [A/V2]; greatest gap, 1 for near enough [1]; step of the voltage [V]; state; power of the settled
# maximum [W]; voltage below which no power is greater [V].
(
    COMMON_VOLTS,
    SUM,
    SLOPES,
    BENDS,
    COMMON_GAP,
    COMMON_STEP,
    COMMON_STATE,
    POWER,
    PASSED,
) = (LANES * row for row in range(9))
COMMON = 9 * LANES
"""Numbers of the rows that all strings share."""
SETTLED, UNPROVED = 2.0, 3.0
"""States of a lane beside `LIVE`."""
# Rows of a string that its search in intervals uses for other things: what its voltage lacks of the
# common one [V], its dI/dV [A/V] and d2I/dV2 [A/V2] there, and its current at the common voltage.
_LACKS, _SLOPE, _BEND, AT_COMMON = LEFT, RIGHT, BEST, BEST_CURRENT
# The current at which its first group comes near its bypass diode [A].
NEAREST = FLOOR
# Of the gap that a search in intervals allows this share is left when a lane settles: the currents
# are told as well, not only the power.
_NEAR = 0.4
# A string's current this close to the common voltage's leaves an error of its cube,
_CLOSE_CURRENT = 3e-4
# and so does a step of the voltage this small.
_CLOSE = 2e-5
# The second order counts while it changes a string's slope by a smaller share than this.
_BENT = 0.7
# How far a string's current may go at once towards where its first group is bypassed.
_CREEP = 0.8
# The longest step of the common voltage, as a share of it.
_MOST = 0.2
# Voltages at the nearest current are found to better than this share.
_SURE = 1.0 + 1e-7


@compiled
def evaluate_string(memory, runs, resistance, bypass):
    """Let a string's junctions follow its current's step, and evaluate all its runs.

    Parameters
    ----------
    memory : ndarray
        The string's rows in [V], [A], [ohm] (position,); updated.
    runs : ndarray of int
        Its runs, as of `TrackerCircuit` (run, 3).
    resistance : float
        Cable resistance [ohm].
    bypass : Bypass
        The bypass diode of every group.
    """
    leak, per_n = bypass.saturation_current, 1.0 / bypass.n_vth
    clear_sums(memory, resistance)
    for run in range(runs.shape[0]):
        base = SHARED + run * RUN
        copy_shared(memory, base)
        advance_groups(memory, base, leak, per_n)
        add_run(memory, base)


@compiled
def clear_common(common):
    """Begin the sums over strings.

    Parameters
    ----------
    common : ndarray
        Rows in [V], [A] (position,); the sums are cleared.
    """
    for i in range(LANES):
        common[SUM + i] = 0.0
        common[SLOPES + i] = 0.0
        common[BENDS + i] = 0.0
        common[COMMON_GAP + i] = 0.0


@compiled
def join_string(memory, common, multiplicity):
    """Add a string at the common voltage to the sums.

    Parameters
    ----------
    memory : ndarray
        The string's rows in [V], [A], [ohm] (position,); updated.
    common : ndarray
        Rows in [V], [A] (position,); the sums are updated.
    multiplicity : float
        Equal strings in parallel [1].
    """
    for i in range(LANES):
        inverse = 1.0 / memory[FIRST + i]
        lacks = common[COMMON_VOLTS + i] - memory[VOLTS + i]
        bend = -memory[SECOND + i] * inverse * inverse * inverse
        # Far away the second order leads astray.
        bent = lacks * bend
        bent = bent if abs(bent) < _BENT * abs(inverse) else 0.0
        slope = inverse + bent
        current = memory[CURRENT + i] + lacks * (inverse + 0.5 * bent)
        memory[_LACKS + i] = lacks
        memory[_SLOPE + i] = slope
        memory[_BEND + i] = bend
        live = common[COMMON_STATE + i] == LIVE
        memory[AT_COMMON + i] = current if live else memory[AT_COMMON + i]
        far = abs(lacks * inverse) * (1.0 / _CLOSE_CURRENT) / memory[SHARED + IL + i]
        gap = memory[GAP + i]
        gap = gap if gap > far else far
        common[SUM + i] += multiplicity * current
        common[SLOPES + i] += multiplicity * slope
        common[BENDS + i] += multiplicity * bend
        common[COMMON_GAP + i] = gap if gap > common[COMMON_GAP + i] else common[COMMON_GAP + i]


@compiled
def climb(common):
    """Take Newton's step on dP/dV, or a plain one uphill, and mark the lanes that have settled.

    Parameters
    ----------
    common : ndarray
        Rows in [V], [A] (position,); updated.
    """
    for i in range(LANES):
        volts = common[COMMON_VOLTS + i]
        total, first, second = common[SUM + i], common[SLOPES + i], common[BENDS + i]
        slope = total + volts * first
        bend = 2.0 * first + volts * second
        concave = bend < 0.0
        most = _MOST * volts
        step = -slope / bend if concave else (most if slope > 0.0 else -most)
        step = step if step < most else most
        step = step if step > -most else -most
        close = concave & (abs(step) <= _CLOSE * volts) & (common[COMMON_GAP + i] <= _NEAR)
        live = common[COMMON_STATE + i] == LIVE
        state = SETTLED if close else LIVE
        step = step if live else 0.0
        moved = volts + step
        power = moved * (total + step * (first + 0.5 * step * second))
        common[POWER + i] = power if live else common[POWER + i]
        common[COMMON_STATE + i] = state if live else common[COMMON_STATE + i]
        common[COMMON_STEP + i] = step
        common[COMMON_VOLTS + i] = moved


@compiled
def follow(memory, common):
    """Let a string's current follow the common voltage, or end with the lane.

    Parameters
    ----------
    memory : ndarray
        The string's rows in [V], [A], [ohm] (position,); updated.
    common : ndarray
        Rows in [V], [A] (position,).
    """
    for i in range(LANES):
        step = common[COMMON_STEP + i]
        slope, bend = memory[_SLOPE + i], memory[_BEND + i]
        live = common[COMMON_STATE + i] == LIVE
        settling = step != 0.0
        moved = memory[AT_COMMON + i] + step * (slope + 0.5 * step * bend)
        moved = moved if settling else memory[AT_COMMON + i]
        plain = memory[CURRENT + i] + (memory[_LACKS + i] + step) / memory[FIRST + i]
        most = memory[CURRENT + i] + _CREEP * (memory[NEAREST + i] - memory[CURRENT + i])
        aim = plain if plain < most else most
        memory[AT_COMMON + i] = moved
        memory[STEP + i] = aim - memory[CURRENT + i] if live else 0.0
        memory[CURRENT + i] = aim if live else memory[CURRENT + i]


@compiled
def limit_nearest(memory, base, off, leak):
    """Lower the current at which a string's first group comes near its bypass diode.

    Parameters
    ----------
    memory : ndarray
        The string's rows in [V], [A], [ohm] (position,); one is updated.
    base : int
        Where a run's rows begin.
    off : float
        Voltage from which on a bypass diode only leaks [V].
    leak : float
        What it leaks [A].
    """
    base = base & POSITIVE
    for i in range(LANES):
        light = memory[base + IL + i]
        # Its current is less than the light's, so that its voltage is at least `off` here.
        vd = off + light * memory[base + RS + i]
        x = vd * memory[base + INV_A + i]
        x = x if x < MAX_EXPONENT else MAX_EXPONENT
        i0 = memory[base + I0 + i]
        current = light - i0 * (exponential(x) - 1.0) - vd * memory[base + INV_RSH + i] - leak
        nearest = memory[NEAREST + i]
        memory[NEAREST + i] = current if current < nearest else nearest


@compiled
def require_free(memory, common):
    """Mark the settled lanes in which a string isn't free of bypass diodes at all that matters.

    Parameters
    ----------
    memory : ndarray
        The string's rows in [V], [A], [ohm] (position,), evaluated at its nearest current.
    common : ndarray
        Rows in [V], [A] (position,); states are updated.
    """
    for i in range(LANES):
        volts = memory[VOLTS + i] * _SURE
        free = (memory[GAP + i] <= 1.0) & (volts <= common[PASSED + i])
        state = common[COMMON_STATE + i]
        common[COMMON_STATE + i] = state if free | (state == LIVE) else UNPROVED
