"""The most that inputs still to be wired can add, by the modules that are left of each plane.

Values of what hangs on an input add up, so the most that several inputs reach together follows
from one input after the other: for every number of modules left, the best choice for one input
and the best for all others on what it leaves.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import FloatArray, IntArray
from yieldkit.physics.compiled import compiled

MOST_STEPS = 600_000_000
"""Most additions for one input's table; beyond it planes are counted together."""


class LeftStates(NamedTuple):
    """Numbers of modules left, of planes or of several planes together.

    Parameters
    ----------
    group : ndarray of int
        Which number a plane counts towards (plane,).
    size : ndarray of int
        How many values each number has, from zero on (number,).
    stride : ndarray of int
        By how much one module changes the position of a state (number,).
    """

    group: IntArray
    size: IntArray
    stride: IntArray

    @property
    def number(self) -> int:
        """How many states there are."""
        return int(self.size.prod())

    def offset(self, modules: IntArray) -> IntArray:
        """Return by how much taking modules changes the position of a state.

        Parameters
        ----------
        modules : ndarray of int
            Modules of each plane (..., plane).
        """
        found: IntArray = modules @ self.stride[self.group]
        return found

    def grouped(self, modules: IntArray) -> IntArray:
        """Return modules counted as the states count them (..., number)."""
        found = np.zeros((*modules.shape[:-1], self.size.size), dtype=np.int64)
        for plane, group in enumerate(self.group):
            found[..., group] += modules[..., plane]
        return found


def left_states(modules: IntArray, usages: int) -> LeftStates:
    """Return how modules left are counted: plane by plane, or together where that is too much.

    Parameters
    ----------
    modules : ndarray of int
        Modules to be wired of each plane (plane,).
    usages : int
        How many different numbers of modules an input may take; they set the work.

    Returns
    -------
    LeftStates
        Counted together planes bound less closely, never wrongly.
    """
    members = [[plane] for plane in range(modules.size)]

    def sizes() -> list[int]:
        return [int(modules[own].sum()) + 1 for own in members]

    while len(members) > 1 and np.prod(sizes(), dtype=float) * usages > MOST_STEPS:
        order = np.argsort(sizes(), kind="stable")
        first, second = sorted(int(place) for place in order[:2])
        members[first] += members.pop(second)
    # The longest last: its states lie side by side.
    members.sort(key=lambda own: int(modules[own].sum()))
    size = np.array(sizes(), dtype=np.int64)
    group = np.zeros(modules.size, dtype=np.int64)
    for place, own in enumerate(members):
        group[own] = place
    stride = np.append(np.cumprod(size[:0:-1])[::-1], 1).astype(np.int64)
    return LeftStates(group, size, stride)


def nothing_to_add(states: LeftStates, leave_at_most: int) -> FloatArray:
    """Return what is added once every input is wired: nothing, if no more is left than may be.

    Parameters
    ----------
    states : LeftStates
        How modules left are counted.
    leave_at_most : int
        Modules that may stay unwired.
    """
    total = np.indices(tuple(states.size)).reshape(states.size.size, -1).sum(axis=0)
    return np.where(total <= leave_at_most, 0.0, -np.inf)


def with_one_input(
    after: FloatArray, states: LeftStates, usages: IntArray, values: FloatArray, idle: float
) -> FloatArray:
    """Return the most that one input and all behind it add (state,).

    Parameters
    ----------
    after : ndarray
        The most that those behind it add (state,).
    states : LeftStates
        How modules left are counted.
    usages : ndarray of int
        Modules of each plane that the input may take (usage, plane).
    values : ndarray
        The most it adds with each of them (usage,).
    idle : float
        What it adds where it takes none; minus infinity where it must take some.
    """
    found = after + idle
    ends = np.flatnonzero(after > -np.inf)
    if ends.size * 8 < after.size:
        fill_from_ends(
            after,
            ends,
            np.ascontiguousarray(np.array(np.unravel_index(ends, tuple(states.size))).T),
            states.size,
            np.ascontiguousarray(states.grouped(usages)),
            states.offset(usages),
            values,
            found,
        )
        return found
    numbers = states.size[:-1]
    every = np.indices(tuple(numbers), dtype=np.int64).reshape(numbers.size, int(numbers.prod()))
    rows = np.ascontiguousarray(every.T)
    fill_completions(
        after,
        rows,
        int(states.size[-1]),
        np.ascontiguousarray(states.grouped(usages)),
        states.offset(usages),
        values,
        found,
    )
    return found


@compiled
def fill_completions(after, rows, length, taken, offsets, values, found):
    """Fill the most that an input and those behind it add.

    Parameters
    ----------
    after : ndarray
        What those behind it add [kWh] (state,).
    rows : ndarray of int
        Numbers left but the last, for every run of states that lie side by side (row, number - 1).
    length : int
        States of a run: by the last number.
    taken : ndarray of int
        What the input may take, as the states count (usage, number).
    offsets : ndarray of int
        By how much that moves the position of a state (usage,).
    values : ndarray
        What it adds [kWh] (usage,).
    found : ndarray
        Already what there is with the input idle; raised [kWh] (state,).
    """
    last = rows.shape[1]
    for usage in range(values.size):
        value, offset, first = values[usage], offsets[usage], taken[usage, last]
        for row in range(rows.shape[0]):
            fits = True
            for number in range(last):
                if rows[row, number] < taken[usage, number]:
                    fits = False
            if not fits:
                continue
            begin = row * length
            for state in range(begin + first, begin + length):
                reached = after[state - offset] + value
                if reached > found[state]:
                    found[state] = reached


@compiled
def fill_from_ends(after, ends, numbers, size, taken, offsets, values, found):
    """Fill the same where few states may be left behind the input.

    Parameters
    ----------
    after, taken, offsets, values, found
        As for `fill_completions`.
    ends : ndarray of int
        Positions of the states that may be left (end,).
    numbers : ndarray of int
        Their numbers of modules (end, number).
    size : ndarray of int
        How many values each number has (number,).
    """
    for end in range(ends.size):
        reached = after[ends[end]]
        for usage in range(values.size):
            fits = True
            for number in range(size.size):
                if numbers[end, number] + taken[usage, number] >= size[number]:
                    fits = False
                    break
            if not fits:
                continue
            state = ends[end] + offsets[usage]
            if reached + values[usage] > found[state]:
                found[state] = reached + values[usage]
