"""The search for every choice whose value may reach a threshold, place by place."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import BoolArray, FloatArray, IntArray
from yieldkit.physics.compiled import compiled, compiled_owning


class Choices(NamedTuple):
    """Things to choose from, those of one kind and with equal numbers of modules side by side.

    Parameters
    ----------
    usage : ndarray of int
        Modules of each plane that a group of things takes (group, plane).
    offset : ndarray of int
        By how much that moves the position of a state of modules left, rising in each kind
        (group,).
    begin : ndarray of int
        Where each group begins among the things, and behind the last where it ends (group + 1,).
    kind_begin : ndarray of int
        Where the groups of each kind begin, and behind the last where they end (kind + 1,).
    """

    usage: IntArray
    offset: IntArray
    begin: IntArray
    kind_begin: IntArray


class Bounds(NamedTuple):
    """Several upper bounds on what a choice for all places is worth.

    Parameters
    ----------
    start : ndarray
        What each has before anything is chosen (bound,).
    value : ndarray
        What each thing adds at each place (bound, place, thing).
    idle : ndarray
        What a place adds that takes nothing, minus infinity where it must take something
        (bound, place).
    after : ndarray
        The most that the places behind one add, and what comes behind the last
        (bound, place, state).
    """

    start: FloatArray
    value: FloatArray
    idle: FloatArray
    after: FloatArray


class Walk(NamedTuple):
    """Where a search stands at each place.

    Parameters
    ----------
    rest : ndarray of int
        Modules of each plane left before the place (place + 1, plane).
    states : ndarray of int
        Their position among the states (place + 1,).
    sums : ndarray
        What is chosen before it is worth by each bound (place + 1, bound).
    group, last_group : ndarray of int
        The group that it looks at, and the one at which it ends (place,).
    thing : ndarray of int
        The next thing of that group (place,).
    taken : ndarray of int
        What it has chosen, -1 for nothing (place,).
    opened : ndarray of bool
        Whether the group's things are being tried (place,).
    """

    rest: IntArray
    states: IntArray
    sums: FloatArray
    group: IntArray
    last_group: IntArray
    thing: IntArray
    taken: IntArray
    opened: BoolArray


@compiled
def may_reach(place, state, at, table, sums, after, threshold):
    """Tell whether all bounds let what is chosen, one more and what follows reach a threshold.

    Parameters
    ----------
    place : int
        Where.
    state : int
        The state behind it.
    at : int
        Which entry of the table is chosen.
    table : ndarray
        What entries add [kWh] (bound, place, entry).
    sums, after, threshold
        As for `Walk`, `Bounds` and `combinations`.

    Returns
    -------
    bool
        Whether they do.
    """
    for b in range(table.shape[0]):
        if sums[place, b] + table[b, place, at] + after[b, place, state] < threshold:
            return False
    return True


@compiled
def enter(place, kinds, choices, walk, use_up):
    """Set the search at a place to its beginning.

    Parameters
    ----------
    place : int
        Where.
    kinds, choices, use_up
        As for `combinations`.
    walk : Walk
        Changed.
    """
    kind = kinds[place]
    first, last = choices.kind_begin[kind], choices.kind_begin[kind + 1]
    walk.opened[place] = False
    walk.group[place], walk.last_group[place] = first - 1, last
    if use_up and place == kinds.size - 1:
        # Only groups that take all that is left: they lie side by side.
        offsets = choices.offset[first:last]
        walk.group[place] += np.searchsorted(offsets, walk.states[place])
        walk.last_group[place] = first + np.searchsorted(offsets, walk.states[place], side="right")


@compiled
def take(place, at, table, walk, usage, own, state):
    """Choose an entry of a table at a place.

    Parameters
    ----------
    place, at, table, state
        As for `may_reach`.
    walk : Walk
        Changed.
    usage : ndarray of int
        Modules of each plane that groups take [1] (group, plane).
    own : int
        The entry's group, -1 where nothing is taken.
    """
    for b in range(table.shape[0]):
        walk.sums[place + 1, b] = walk.sums[place, b] + table[b, place, at]
    for plane in range(walk.rest.shape[1]):
        taken = usage[own, plane] if own >= 0 else 0
        walk.rest[place + 1, plane] = walk.rest[place, plane] - taken
    walk.states[place + 1] = state


@compiled
def open_group(place, kinds, choices, best, after, walk, threshold):
    """Open the next group at a place that fits and may reach a threshold.

    Parameters
    ----------
    place : int
        Where.
    kinds, choices, threshold
        As for `combinations`.
    best : ndarray
        The most that any thing of a group adds [kWh] (bound, place, group).
    after
        As for `Bounds`.
    walk : Walk
        Changed.

    Returns
    -------
    bool
        False where there is none.
    """
    floor = -1
    if place > 0 and kinds[place - 1] == kinds[place]:
        floor = walk.taken[place - 1]
        if floor < 0:
            # Idle places come last: one behind an idle one stays idle.
            return False
    while walk.group[place] + 1 < walk.last_group[place]:
        walk.group[place] += 1
        own = walk.group[place]
        if choices.begin[own + 1] <= floor:
            continue
        fits = True
        for plane in range(walk.rest.shape[1]):
            if choices.usage[own, plane] > walk.rest[place, plane]:
                fits = False
                break
        state = walk.states[place] - choices.offset[own]
        if fits and may_reach(place, state, own, best, walk.sums, after, threshold):
            walk.thing[place] = max(choices.begin[own], floor)
            walk.opened[place] = True
            return True
    return False


@compiled
def take_next(place, kinds, choices, bounds, best, walk, threshold):
    """Choose the next thing at a place that may reach a threshold.

    Parameters
    ----------
    place, kinds, choices, best, walk, threshold
        As for `open_group`.
    bounds : Bounds
        What things are worth at most.

    Returns
    -------
    bool
        False where there is none.
    """
    while True:
        if not walk.opened[place] and not open_group(
            place, kinds, choices, best, bounds.after, walk, threshold
        ):
            return False
        own = walk.group[place]
        state = walk.states[place] - choices.offset[own]
        while walk.thing[place] < choices.begin[own + 1]:
            at = walk.thing[place]
            walk.thing[place] += 1
            if may_reach(place, state, at, bounds.value, walk.sums, bounds.after, threshold):
                walk.taken[place] = at
                take(place, at, bounds.value, walk, choices.usage, own, state)
                return True
        walk.opened[place] = False


@compiled
def take_nothing(place, bounds, idle, choices, walk, threshold):
    """Leave a place idle, if that may reach a threshold.

    Parameters
    ----------
    place, bounds, choices, walk, threshold
        As for `take_next`.
    idle : ndarray
        As for `Bounds`, as a table of one entry [kWh] (bound, place, 1).

    Returns
    -------
    bool
        Whether it may.
    """
    state = walk.states[place]
    if not may_reach(place, state, 0, idle, walk.sums, bounds.after, threshold):
        return False
    walk.taken[place] = -1
    take(place, 0, idle, walk, choices.usage, -1, state)
    return True


@compiled_owning
def fill_combinations(kinds, choices, bounds, best, walk, threshold, use_up, chosen, bound):
    """Fill the choices that all bounds let reach a threshold.

    Parameters
    ----------
    kinds, choices, bounds, threshold, use_up
        As for `combinations`.
    best : ndarray
        The most that any thing of a group adds [kWh] (bound, place, group).
    walk : Walk
        At the beginning of the first place.
    chosen : ndarray of int
        Filled with a thing for each place, -1 for none (choice, place).
    bound : ndarray
        Filled with the least of all bounds [kWh] (choice,).

    Returns
    -------
    int
        How many there are, or one more than there is room for.
    """
    last, found, place = kinds.size - 1, 0, 0
    idle = bounds.idle.reshape(bounds.idle.shape[0], kinds.size, 1)
    enter(0, kinds, choices, walk, use_up)
    chosen_one = take_nothing(0, bounds, idle, choices, walk, threshold)
    while place >= 0:
        if not chosen_one and not take_next(place, kinds, choices, bounds, best, walk, threshold):
            place -= 1
            continue
        chosen_one = False
        if place < last:
            place += 1
            enter(place, kinds, choices, walk, use_up)
            chosen_one = take_nothing(place, bounds, idle, choices, walk, threshold)
            continue
        if found == bound.size:
            return found + 1
        chosen[found] = walk.taken
        bound[found] = np.inf
        for b in range(bounds.start.size):
            reached = walk.sums[last + 1, b] + bounds.after[b, last, walk.states[last + 1]]
            bound[found] = min(bound[found], reached)
        found += 1
    return found
