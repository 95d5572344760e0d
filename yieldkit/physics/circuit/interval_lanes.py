"""Power maxima between short circuits of a string's groups, side by side in vector instructions.

Newton on the current and all junction voltages together: each iteration evaluates every run once,
and what its junctions lack is made up to second order. A lane holds one search of one step. It
keeps a bracket of its current, which only moves when all junctions are near enough for the slope
of the power to be trusted; steps that would leave the bracket are shortened. Lanes never depend on
their neighbours.

The memory is one flat array of rows of `LANES` numbers, as in `lanes`: first the rows that all
runs share, then `RUN` numbers for each run. A position in it is a row's begin plus the lane.
"""

from __future__ import annotations

from yieldkit.physics.circuit.exponential import exponential
from yieldkit.physics.circuit.lanes import MAX_EXPONENT
from yieldkit.physics.compiled import compiled

LANES = 16
"""Searches side by side."""
_TURNS = 60
# Junction voltages this close (in units of their diode's n Vth) leave an error of its cube,
CLOSE_JUNCTION = 1e-3
# and so does a step of the current this small: together less than 1e-9 of the power.
_CLOSE = 5e-5
# Brackets narrower than this share of the current hold no maximum that is worth a search: the
# power's slope can't change by more than the voltage within.
_NARROW = 1e-10
# A power that is passed over is estimated to better than this.
_SURE = 1.0 + 1e-9
# How far a step may go towards the bracket's ends: while junctions are far, and when near.
_CREEP, _JUMP = 0.6, 0.9
POSITIVE = 0xFFFFFF
"""Any position below this many values keeps its sign for the compiler, which can then vectorise."""
FAR = 1e300
"""The gap of a junction that can't be trusted."""

# Rows that all runs share: current [A]; sums over the runs of voltage [V], dV/dI [V/A] and
# d2V/dI2 [V/A2]; greatest gap of a junction, 1 for near enough [1]; step of the current [A]; ends
# of the bracket [A]; current below which no step goes while junctions are far [A]; whether they
# have been near, so that the current waits for them; greatest power so far [W] and its current
# [A]; whether the power was seen rising; number of iterations; state of the lane; and what is
# searched: the step of time, its interval, the greatest bound of those that are left [W].
(
    CURRENT,
    VOLTS,
    FIRST,
    SECOND,
    GAP,
    STEP,
    LEFT,
    RIGHT,
    FLOOR,
    WAITS,
    BEST,
    BEST_CURRENT,
    RISING,
    TURN,
    STATE,
    TIME,
    PLACE,
    NEXT,
) = (LANES * row for row in range(18))
SHARED = 18 * LANES
"""Where the rows of the first run begin."""
# Rows of one half's cells, or of a whole group's: photocurrent and saturation current [A], R_s
# [ohm], 1 / R_sh [1/ohm], n Ns Vth [V] and its inverse; junction voltage [V]; what it lacks and by
# how much it moves for that: current [A] and dVd/dI [V/A] of a group, voltage [V] and dVd/dV [1]
# of a half.
IL, I0, RS, INV_RSH, A, INV_A, JUNCTION, OFF, INVERSE = (LANES * row for row in range(9))
CELLS = 9 * LANES
"""Numbers of one half's cells, or of a whole group's."""
# Rows of a run beside its two halves: copies of current and step; lowest voltage of a group [V];
# of two halves their voltage [V], the current they lack [A] and dV/dI [V/A]; what the run adds to
# the sums: voltage, dV/dI, d2V/dI2 of a group, and its gap; four rows for the other half; and its
# groups in series.
(
    OWN_CURRENT,
    OWN_STEP,
    LEAST,
    PAIR_VOLTS,
    PAIR_OFF,
    PAIR_INVERSE,
    OUT,
    OUT_FIRST,
    OUT_SECOND,
    OUT_GAP,
    OTHER,
) = (2 * CELLS + LANES * row for row in range(11))
IN_SERIES = 2 * CELLS + 14 * LANES
RUN = 2 * CELLS + 15 * LANES
"""Numbers of each run."""
# States of a lane.
IDLE, LIVE, FOUND, NOTHING, FAILED = 0.0, 1.0, 2.0, 3.0, 4.0


@compiled
def clear_sums(memory, resistance):
    """Begin the sums over runs with the cable.

    Parameters
    ----------
    memory : ndarray
        Rows in [V], [A], [ohm] (position,); the shared rows are updated.
    resistance : float
        Cable resistance [ohm].
    """
    for i in range(LANES):
        memory[VOLTS + i] = -resistance * memory[CURRENT + i]
        memory[FIRST + i] = -resistance
        memory[SECOND + i] = 0.0
        memory[GAP + i] = 0.0


@compiled
def copy_shared(memory, base):
    """Copy current and step into a run's own rows, where vector instructions reach them.

    Parameters
    ----------
    memory : ndarray
        Rows in [V], [A], [ohm] (position,); the run's rows are updated.
    base : int
        Where the run's rows begin.
    """
    base = base & POSITIVE
    for i in range(LANES):
        memory[base + OWN_CURRENT + i] = memory[CURRENT + i]
        memory[base + OWN_STEP + i] = memory[STEP + i]


@compiled
def advance_groups(memory, base, leak, per_n):
    """Let a run of whole groups follow the step of the current, and evaluate it there.

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
        a = memory[base + A + i]
        inv_a = memory[base + INV_A + i]
        inv_rsh = memory[base + INV_RSH + i]
        rs = memory[base + RS + i]
        i0 = memory[base + I0 + i]
        least = memory[base + LEAST + i]
        moved = (memory[base + OFF + i] + memory[base + OWN_STEP + i]) * memory[base + INVERSE + i]
        moved = moved if moved < 4.0 * a else 4.0 * a
        vd = memory[base + JUNCTION + i] + moved
        vd = vd if vd > least else least
        x = vd * inv_a
        x = x if x < MAX_EXPONENT else MAX_EXPONENT
        x = x if x > -MAX_EXPONENT else -MAX_EXPONENT
        e = i0 * exponential(x)
        g = -e * inv_a
        i1 = g - inv_rsh
        i2 = g * inv_a
        cells = memory[base + IL + i] - (e - i0) - vd * inv_rsh
        volts = vd - cells * rs
        v1 = 1.0 - i1 * rs
        v2 = -i2 * rs
        y = -volts * per_n
        y = y if y < MAX_EXPONENT else MAX_EXPONENT
        y = y if y > -MAX_EXPONENT else -MAX_EXPONENT
        bypass = leak * exponential(y)
        slope = bypass * per_n
        t1 = i1 - slope * v1
        t2 = i2 + slope * per_n * v1 * v1 - slope * v2
        inverse = 1.0 / t1
        off = memory[base + OWN_CURRENT + i] - (cells + bypass - leak)
        first = v1 * inverse
        second = (v2 * t1 - v1 * t2) * inverse * inverse * inverse
        per_scale = per_n if volts < 0.0 else inv_a
        gap = abs(off * inverse) * per_scale * (1.0 / CLOSE_JUNCTION)
        gap = gap if x < MAX_EXPONENT else FAR
        gap = gap if y < MAX_EXPONENT else FAR
        memory[base + JUNCTION + i] = vd
        memory[base + OFF + i] = off
        memory[base + INVERSE + i] = inverse
        memory[base + OUT + i] = volts + off * (first + 0.5 * off * second)
        memory[base + OUT_FIRST + i] = first + off * second
        memory[base + OUT_SECOND + i] = second
        memory[base + OUT_GAP + i] = gap


@compiled
def add_run(memory, base):
    """Add a run to the sums.

    Parameters
    ----------
    memory : ndarray
        Rows in [V], [A], [ohm] (position,); the shared rows are updated.
    base : int
        Where the run's rows begin.
    """
    base = base & POSITIVE
    for i in range(LANES):
        count = memory[base + IN_SERIES + i]
        memory[VOLTS + i] += count * memory[base + OUT + i]
        memory[FIRST + i] += count * memory[base + OUT_FIRST + i]
        memory[SECOND + i] += count * memory[base + OUT_SECOND + i]
        gap = memory[base + OUT_GAP + i]
        memory[GAP + i] = gap if gap > memory[GAP + i] else memory[GAP + i]


@compiled
def newton_step(memory):
    """Take a step on dP/dI inside the bracket, and mark the lanes whose search has ended.

    Between two short circuits the power falls convexly while a group goes over to its bypass
    diode, rises, and falls at the next knee: one maximum at most, right of the place where dP/dI
    peaks. From there on it is concave and lies below its tangents; before, as the voltage falls
    with the current, P <= I_right V(I_left).

    Parameters
    ----------
    memory : ndarray
        Rows in [V], [A], [ohm] (position,); the shared rows are updated.
    """
    for i in range(LANES):
        current = memory[CURRENT + i]
        volts = memory[VOLTS + i]
        first = memory[FIRST + i]
        second = memory[SECOND + i]
        left = memory[LEFT + i]
        right = memory[RIGHT + i]
        rising = memory[RISING + i]
        slope = volts + current * first
        bend = 2.0 * first + current * second
        newton = -slope / bend
        near = memory[GAP + i] <= 1.0
        concave = bend < 0.0
        rises = slope > 0.0
        climbs = rises | (bend >= 0.0)
        floor = memory[FLOOR + i]
        down = _CREEP * ((left if left > floor else floor) - current)
        up = _CREEP * (right - current)
        crept = newton if newton < up else up
        crept = crept if crept > down else down
        waits = memory[WAITS + i]
        crept = crept if concave & (waits == 0.0) else 0.0
        left = current if near & climbs else left
        right = current if near & concave & (slope <= 0.0) else right
        rising = 1.0 if near & rises else rising
        aim = current + newton
        inside = concave & (aim > left) & (aim < right)
        most = _JUMP * (right - current)
        half = 0.5 * (left + right) - current
        leaves = most if concave & rises else half
        step = newton if inside else leaves
        memory[WAITS + i] = 1.0 if near else waits
        step = step if near else crept
        settles = near & inside & (abs(newton) <= _CLOSE * current)
        tangent = current * volts + slope * ((right if rises else left) - current)
        most = tangent if concave else right * volts
        loses = near & (most * _SURE <= memory[BEST + i])
        collapses = near & (right - left <= _NARROW * right)
        lasts = (memory[TURN + i] < _TURNS) & (memory[GAP + i] < FAR)
        state = LIVE if lasts else FAILED
        state = NOTHING if loses | (collapses & (rising == 0.0)) else state
        ends = collapses & (rising > 0.0) & (not loses)
        state = FOUND if settles | ends else state
        step = 0.0 if ends & (not settles) else step
        moved = current + step
        power = moved * (volts + step * (first + 0.5 * step * second))
        best, best_current = memory[BEST + i], memory[BEST_CURRENT + i]
        better = (state == FOUND) & (memory[STATE + i] == LIVE) & (power > best)
        memory[BEST + i] = power if better else best
        memory[BEST_CURRENT + i] = moved if better else best_current
        memory[LEFT + i] = left
        memory[RIGHT + i] = right
        memory[RISING + i] = rising
        memory[TURN + i] += 1.0
        memory[CURRENT + i] = moved
        memory[STEP + i] = step
        memory[STATE + i] = state if memory[STATE + i] == LIVE else memory[STATE + i]
