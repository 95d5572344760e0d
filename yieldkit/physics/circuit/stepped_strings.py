"""Strings whose runs change from step to step: made of levels, and packed for the kernels."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import FloatArray, IntArray
from yieldkit.physics.circuit.components import CellConditions
from yieldkit.physics.circuit.levels import Levels
from yieldkit.physics.circuit.tracker_circuit import CONDITION, COUNT, OWN_COUNT, PARTNER
from yieldkit.physics.compiled import compiled

COLUMNS = OWN_COUNT + 1
"""Columns of packed conditions: the diode parameters, and how many groups a run has."""


class SteppedString(NamedTuple):
    """A string whose runs change from step to step.

    Parameters
    ----------
    first : ndarray of int
        Position of each step's first run, and the end (time + 1,); a step without runs is dark.
    runs : ndarray of int
        As of `TrackerCircuit`, with positions among lights instead of columns (run, 3).
    resistance : float
        Resistance of the cable, out and back [ohm].
    blocking_diode : bool
        Whether reverse current is blocked (without voltage drop).
    """

    first: IntArray
    runs: IntArray
    resistance: float = 0.0
    blocking_diode: bool = False

    def at(self, steps: IntArray) -> SteppedString:
        """Return the same string at some steps only, in their order."""
        number = np.diff(self.first)[steps]
        ends = np.concatenate([[0], np.cumsum(number)])
        taken = np.arange(ends[-1]) + np.repeat(self.first[steps] - ends[:-1], number)
        return self._replace(first=ends, runs=self.runs[taken])


class Widths(NamedTuple):
    """How many runs of whole and of halved groups each string has room for.

    Parameters
    ----------
    whole, halved : ndarray of int
        (string,).
    """

    whole: IntArray
    halved: IntArray


def counted_runs(levels: Levels, groups: IntArray, partners: IntArray, offset: int) -> Levelled:
    """Count groups in the levels of every step [1].

    Parameters
    ----------
    levels : Levels
        The levels of all groups.
    groups : ndarray of int
        Which of the groups are in the string.
    partners : ndarray of int
        Position of each level's brighter halves among these groups' lights, -1 where groups are
        whole (level,).
    offset : int
        Position of the first level's light among all lights.
    """
    steps = levels.first.size - 1
    number = np.zeros(steps, dtype=np.int64)
    counts = np.zeros(levels.light.size, dtype=np.int64)
    count_groups(levels.first, levels.level_of, np.asarray(groups, dtype=np.int64), counts, number)
    used = np.flatnonzero(counts)
    other = np.where(partners[used] < 0, -1, partners[used] + offset)
    runs = np.column_stack([used + offset, other, counts[used]])
    return Levelled(number, runs)


class Levelled(NamedTuple):
    """Runs of some steps, one step's after the other's.

    Parameters
    ----------
    number : ndarray of int
        How many runs each step has (step,).
    runs : ndarray of int
        As of `SteppedString` (run, 3).
    """

    number: IntArray
    runs: IntArray


@compiled
def count_groups(first, level_of, groups, counts, number):
    """Count some groups in the levels of every step.

    Parameters
    ----------
    first : ndarray of int
        As of `Levels` (step + 1,).
    level_of : ndarray of int
        Likewise (step, group).
    groups : ndarray of int
        The groups that are counted (place,).
    counts : ndarray of int
        Filled with the groups of each level, 0 for none (level,).
    number : ndarray of int
        Filled with the levels of each step that have any (step,).
    """
    for t in range(number.shape[0]):
        for place in range(groups.shape[0]):
            level = first[t] + level_of[t, groups[place]]
            number[t] += 1 if counts[level] == 0 else 0
            counts[level] += 1


def joined_runs(parts: Sequence[Levelled]) -> Levelled:
    """Put the runs of a string's parts together, step by step.

    Parameters
    ----------
    parts : sequence of Levelled
        Parts on different planes, for the same steps.
    """
    if len(parts) == 1:
        return parts[0]
    steps = np.concatenate([np.repeat(np.arange(each.number.size), each.number) for each in parts])
    order = np.argsort(steps, kind="stable")
    number = np.sum([each.number for each in parts], axis=0)
    return Levelled(number, np.concatenate([each.runs for each in parts])[order])


def kinds_of_runs(string: SteppedString) -> tuple[IntArray, IntArray]:
    """Return how many runs of whole and of halved groups a string has [1], each (time,)."""
    halves = np.concatenate([[0], np.cumsum(string.runs[:, PARTNER] >= 0)])
    halved = np.diff(halves[string.first])
    return np.diff(string.first) - halved, halved


def static_runs(widths: Widths) -> tuple[IntArray, IntArray]:
    """Return the runs of packed conditions, and where each string's begin.

    Parameters
    ----------
    widths : Widths
        Room of each string.

    Returns
    -------
    tuple of ndarray of int
        Runs (run, 3) and positions (string + 1,) [1], as of `TrackerCircuit`; each run has one
        group, and as many in a step as the conditions say.
    """
    runs: list[tuple[int, int, int]] = []
    ends, column = [0], 0
    for whole, halved in zip(widths.whole, widths.halved, strict=True):
        runs += [(column + place, -1, 1) for place in range(whole)]
        pairs = column + whole
        runs += [(pairs + 2 * place, pairs + 2 * place + 1, 1) for place in range(halved)]
        column = pairs + 2 * int(halved)
        ends.append(len(runs))
    return np.array(runs, dtype=np.int64), np.array(ends)


def packed_steps(
    lights: FloatArray, strings: Sequence[SteppedString], steps: IntArray, widths: Widths
) -> FloatArray:
    """Return the conditions of some steps as the kernels want them, each with its own counts.

    Parameters
    ----------
    lights : ndarray
        Diode parameters [A, A, ohm, ohm, V] (light, 5).
    strings : sequence of SteppedString
        The strings.
    steps : ndarray of int
        The steps (row,).
    widths : Widths
        Room of each string, at least what it needs.

    Returns
    -------
    ndarray
        [A, A, ohm, ohm, V, 1] (row, column, 6). A column that isn't needed repeats another one's
        light, with no groups; in the dark all are dark.
    """
    columns = int(widths.whole.sum() + 2 * widths.halved.sum())
    packed = np.ones((steps.size, columns, COLUMNS))
    begin = 0
    for place, string in enumerate(strings):
        whole, halved = int(widths.whole[place]), int(widths.halved[place])
        fill_columns(lights, string.first, string.runs, steps, whole, halved, begin, packed)
        begin += whole + 2 * halved
    return packed


@compiled
def fill_columns(lights, first, runs, steps, whole, halved, begin, packed):
    """Fill a string's columns of packed conditions.

    Parameters
    ----------
    lights : ndarray
        Diode parameters [A, A, ohm, ohm, V] (light, 5).
    first : ndarray of int
        As of `SteppedString` (time + 1,).
    runs : ndarray of int
        Likewise (run, 3).
    steps : ndarray of int
        The steps (row,).
    whole, halved : int
        Room for runs of whole and of halved groups.
    begin : int
        The string's first column.
    packed : ndarray
        Filled [A, A, ohm, ohm, V, 1] (row, column, 6).
    """
    pairs = begin + whole
    for row in range(steps.shape[0]):
        t = steps[row]
        step = packed[row]
        one, two = 0, 0
        for run in range(first[t], first[t + 1]):
            light, partner = runs[run, CONDITION], runs[run, PARTNER]
            count = float(runs[run, COUNT])
            if partner < 0:
                put_light(lights, light, count, step, begin + one)
                one += 1
            else:
                put_light(lights, light, count, step, pairs + 2 * two)
                put_light(lights, partner, count, step, pairs + 2 * two + 1)
                two += 1
        lit = first[t] < first[t + 1]
        light = runs[first[t], CONDITION] if lit else -1
        partner = runs[first[t], PARTNER] if lit else -1
        for place in range(one, whole):
            put_light(lights, light, 0.0, step, begin + place)
        for place in range(two, halved):
            put_light(lights, light, 0.0, step, pairs + 2 * place)
            other = partner if partner >= 0 else light
            put_light(lights, other, 0.0, step, pairs + 2 * place + 1)


@compiled
def put_light(lights, light, count, step, column):
    """Put a light's diode parameters and the groups in it into a column.

    Parameters
    ----------
    lights : ndarray
        Diode parameters [A, A, ohm, ohm, V] (light, 5).
    light : int
        Which light; -1 for darkness.
    count : float
        Groups in series [1].
    step : ndarray
        Filled in this column [A, A, ohm, ohm, V, 1] (column, 6).
    column : int
        Which column.
    """
    if light < 0:
        step[column, 0] = 0.0
    else:
        for place in range(OWN_COUNT):
            step[column, place] = lights[light, place]
    step[column, OWN_COUNT] = count


def packed_lights(lights: CellConditions) -> FloatArray:
    """Return lights as one array [A, A, ohm, ohm, V] (light, 5); negative light counts as dark.

    Parameters
    ----------
    lights : CellConditions
        Diode parameters [A, A, ohm, ohm, V] (light,).
    """
    packed = np.column_stack([np.asarray(part, dtype=float) for part in lights])
    np.maximum(packed[:, 0], 0.0, out=packed[:, 0])
    return np.ascontiguousarray(packed)
