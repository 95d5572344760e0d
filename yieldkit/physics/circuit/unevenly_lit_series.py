"""One string in uneven light through time: the searches of many steps, side by side in lanes.

A lane works through the intervals of one step as `unevenly_lit` does, the most promising first,
until no bound exceeds the best power found; then it takes the next step. A step with an interval
that doesn't settle there is left to be searched by itself.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import FloatArray, IntArray
from yieldkit.physics.circuit.half_lanes import advance_halves
from yieldkit.physics.circuit.interval_bounds import fill_bounds
from yieldkit.physics.circuit.interval_lanes import (
    BEST,
    BEST_CURRENT,
    CURRENT,
    FAILED,
    FLOOR,
    IDLE,
    LANES,
    LEFT,
    LIVE,
    NEXT,
    NOTHING,
    PLACE,
    RIGHT,
    RISING,
    RUN,
    SHARED,
    STATE,
    STEP,
    TIME,
    TURN,
    WAITS,
    add_run,
    advance_groups,
    clear_sums,
    copy_shared,
    newton_step,
)
from yieldkit.physics.circuit.intervals import (
    Intervals,
    fill_short_circuits,
    interval_of,
    most_promising,
    sort_by_light,
    start_of,
)
from yieldkit.physics.circuit.lane_starts import load_diodes, load_junctions
from yieldkit.physics.circuit.series_string import SeriesString
from yieldkit.physics.circuit.tracker_circuit import (
    PARTNER,
    FreeMaxima,
    TrackerCircuit,
    brightest_photocurrent,
    is_lit,
)
from yieldkit.physics.compiled import compiled

# How far left of its start a search may go, as a share, before its junctions are near.
_FLOOR = 0.3


class LaneSearches(NamedTuple):
    """What the lanes are searching.

    Parameters
    ----------
    memory : ndarray
        Rows of `interval_lanes` in [V], [A], [ohm] (position,).
    bits : ndarray of int
        The same memory as whole numbers (position,).
    short_circuits, bounds : ndarray
        As of `Intervals` [A], [W] (lane, run).
    order : ndarray of int
        Likewise (lane, place).
    next_step : ndarray of int
        The first step that no lane has had (1,).
    """

    memory: FloatArray
    bits: IntArray
    short_circuits: FloatArray
    bounds: FloatArray
    order: IntArray
    next_step: IntArray


def new_searches(runs: int) -> LaneSearches:
    """Return room for the searches of a string, without any interval yet.

    Parameters
    ----------
    runs : int
        Number of the string's runs.
    """
    memory = np.zeros(SHARED + runs * RUN)
    return LaneSearches(
        memory,
        memory.view(np.int64),
        np.empty((LANES, runs)),
        np.full((LANES, runs), -1.0),
        np.empty((LANES, runs), dtype=np.int64),
        np.zeros(1, dtype=np.int64),
    )


def uneven_maxima(
    conditions: FloatArray,
    circuit: TrackerCircuit,
    own_maxima: FloatArray,
    free: FreeMaxima,
    i_string: FloatArray,
) -> None:
    """Find the global power maximum of one string in uneven light for many steps.

    Parameters
    ----------
    conditions : ndarray
        Diode parameters [A, A, ohm, ohm, V] (time, condition, 5).
    circuit : TrackerCircuit
        The string, as often as it is there; without breakdown.
    own_maxima : ndarray
        Power [W] and current [A] of each run's group at its own maximum (time, run, 2).
    free : FreeMaxima
        Filled where settled.
    i_string : ndarray
        Filled with the string's current [A] where settled (time, 1).
    """
    searches = new_searches(circuit.runs.shape[0])
    search_lanes(searches, conditions, circuit, own_maxima, free, i_string)


@compiled
def search_lanes(searches, conditions, circuit, own_maxima, free, i_string):
    """Let the lanes search one step after the other until none is left.

    Parameters
    ----------
    searches : LaneSearches
        Room.
    conditions, circuit, own_maxima, free, i_string
        As for `uneven_maxima`.
    """
    runs, reverse = circuit.runs, circuit.reverse
    memory = searches.memory
    for lane in range(LANES):
        memory[STATE + lane], memory[NEXT + lane] = NOTHING, -1.0
    live = LANES
    while live > 0:
        live = 0
        for lane in range(LANES):
            while memory[STATE + lane] > LIVE:
                failed = memory[STATE + lane] == FAILED
                more = memory[NEXT + lane] > memory[BEST + lane] and not failed
                if more and begin_interval(lane, runs, reverse.bypass, own_maxima, searches):
                    break
                write_step(lane, memory, circuit.multiplicity[0], free, i_string)
                begin_step(lane, conditions, runs, reverse, own_maxima, searches)
            live += 1 if memory[STATE + lane] == LIVE else 0
        iterate(memory, runs, circuit.resistances[0], reverse.bypass)


@compiled
def iterate(memory, runs, resistance, bypass):
    """Let every lane take one iteration.

    Parameters
    ----------
    memory : ndarray
        Rows in [V], [A], [ohm] (position,); updated.
    runs : ndarray of int
        As of `TrackerCircuit` (run, 3).
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
        if runs[run, PARTNER] >= 0:
            advance_halves(memory, base, leak, per_n)
        else:
            advance_groups(memory, base, leak, per_n)
        add_run(memory, base)
    newton_step(memory)


@compiled
def begin_step(lane, conditions, runs, reverse, own_maxima, searches):
    """Give a lane the next step that has light.

    Parameters
    ----------
    lane : int
        Which lane.
    conditions, own_maxima
        As for `uneven_maxima`.
    runs : ndarray of int
        As of `TrackerCircuit` (run, 3).
    reverse : ReversePath
        Bypass diode and breakdown of every group.
    searches : LaneSearches
        The lane's are updated; idle when no step is left.
    """
    memory = searches.memory
    while searches.next_step[0] < conditions.shape[0]:
        t = searches.next_step[0]
        step = conditions[t]
        light = brightest_photocurrent(step, runs)
        searches.next_step[0] = t + 1
        if not is_lit(light):
            continue
        string = SeriesString(step, runs, 0.0, reverse)
        intervals = Intervals(
            searches.short_circuits[lane], searches.order[lane], searches.bounds[lane]
        )
        fill_short_circuits(string, intervals.short_circuits)
        sort_by_light(intervals.short_circuits, intervals.order)
        fill_bounds(string, own_maxima[t], intervals)
        memory[TIME + lane] = float(t)
        memory[BEST + lane] = -math.inf
        memory[BEST_CURRENT + lane] = 0.0
        memory[NEXT + lane] = math.inf
        memory[STATE + lane] = NOTHING
        load_diodes(memory, lane, step, runs, light, reverse.bypass)
        return
    memory[STATE + lane] = IDLE


@compiled
def begin_interval(lane, runs, bypass, own_maxima, searches):
    """Give a lane the most promising interval that is left of its step.

    Parameters
    ----------
    lane : int
        Which lane.
    runs : ndarray of int
        As of `TrackerCircuit` (run, 3).
    bypass : Bypass
        The bypass diode of every group.
    own_maxima : ndarray
        As for `uneven_maxima` (time, run, 2).
    searches : LaneSearches
        The lane's are updated.

    Returns
    -------
    bool
        Whether there was one.
    """
    memory = searches.memory
    intervals = Intervals(
        searches.short_circuits[lane], searches.order[lane], searches.bounds[lane]
    )
    while True:
        place, after = most_promising(intervals.bounds, memory[BEST + lane])
        if place < 0:
            return False
        intervals.bounds[place] = -1.0
        low, high = interval_of(place, intervals)
        if high > 0.0 and high - low > 1e-12 * high:
            break
    memory[NEXT + lane] = after
    start = start_of(place, own_maxima[int(memory[TIME + lane])], intervals)
    memory[PLACE + lane] = float(place)
    memory[LEFT + lane], memory[RIGHT + lane] = low, high
    # Just above the short circuit that begins the interval its group has not gone over yet.
    memory[FLOOR + lane] = low + _FLOOR * (start - low)
    memory[CURRENT + lane] = start
    memory[STEP + lane], memory[WAITS + lane] = 0.0, 0.0
    memory[RISING + lane] = 0.0
    memory[TURN + lane] = 0.0
    memory[STATE + lane] = LIVE
    load_junctions(memory, searches.bits, lane, start, runs, bypass)
    return True


@compiled
def write_step(lane, memory, multiplicity, free, i_string):
    """Write the maximum of a lane's step.

    Parameters
    ----------
    lane : int
        Which lane.
    memory : ndarray
        Rows of `interval_lanes` in [V], [A], [ohm] (position,).
    multiplicity : int
        How often the string is there.
    free, i_string
        As for `uneven_maxima`.
    """
    power, current = memory[BEST + lane], memory[BEST_CURRENT + lane]
    if memory[STATE + lane] == FAILED or not power > 0.0:
        return
    t = int(memory[TIME + lane])
    free.volts[t] = power / current
    free.power[t] = power * multiplicity
    free.settled[t] = True
    i_string[t, 0] = current
