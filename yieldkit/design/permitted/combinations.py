"""Every choice of one thing for each place whose value may reach a threshold.

The places are the inputs of an inverter and what may hang on them, or inverters and what they may
carry. Places of one kind are exchangeable: they take theirs in rising order.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import FloatArray, IntArray
from yieldkit.design.permitted.combination_search import (
    Bounds,
    Choices,
    Walk,
    fill_combinations,
)
from yieldkit.design.permitted.completions import LeftStates


class Combinations(NamedTuple):
    """Choices that may reach a threshold.

    Parameters
    ----------
    chosen : ndarray of int
        A thing for each place, -1 for none (choice, place).
    bound : ndarray
        The least of all bounds, with the most that follows behind the last place (choice,).
    complete : bool
        False where there are more than were asked for.
    """

    chosen: IntArray
    bound: FloatArray
    complete: bool


def combinations(
    kinds: IntArray,
    choices: Choices,
    bounds: Bounds,
    left: IntArray,
    state: int,
    threshold: float,
    most: int,
    use_up: bool = False,
) -> Combinations:
    """Return every choice that all bounds let reach a threshold.

    Parameters
    ----------
    kinds : ndarray of int
        The kind of each place, equal ones side by side (place,).
    choices : Choices
        What there is to choose from.
    bounds : Bounds
        What it is worth at most.
    left : ndarray of int
        Modules of each plane that may be taken (plane,).
    state : int
        Its position among the states.
    threshold : float
        What is to be reached.
    most : int
        How many choices at most.
    use_up : bool
        Whether the last place must take all that is left.
    """
    chosen = np.full((most, kinds.size), -1, dtype=np.int64)
    bound = np.empty(most)
    best = _group_best(choices, bounds)
    walk = _walk(kinds.size, left, state, bounds.start)
    found = fill_combinations(kinds, choices, bounds, best, walk, threshold, use_up, chosen, bound)
    known = min(found, most)
    return Combinations(chosen[:known], bound[:known], found <= most)


def _group_best(choices: Choices, bounds: Bounds) -> FloatArray:
    """Return the most that any thing of a group adds (bound, place, group)."""
    if not choices.offset.size:
        return np.empty((*bounds.value.shape[:2], 0))
    best: FloatArray = np.maximum.reduceat(bounds.value, choices.begin[:-1], axis=2)
    return best


def _walk(places: int, left: IntArray, state: int, start: FloatArray) -> Walk:
    """Return a search at the beginning of its first place."""
    group, last_group, thing = (np.zeros(places, dtype=np.int64) for _ in range(3))
    walk = Walk(
        np.zeros((places + 1, left.size), dtype=np.int64),
        np.zeros(places + 1, dtype=np.int64),
        np.zeros((places + 1, start.size)),
        group,
        last_group,
        thing,
        np.full(places, -1, dtype=np.int64),
        np.zeros(places, dtype=bool),
    )
    walk.rest[0], walk.states[0], walk.sums[0] = left, state, start
    return walk


def choices_of(kind: IntArray, usage: IntArray, states: LeftStates) -> tuple[IntArray, Choices]:
    """Return things in the order of `Choices`, and the choices.

    Parameters
    ----------
    kind : ndarray of int
        The kind of each thing, from zero on without a gap (thing,).
    usage : ndarray of int
        Modules of each plane that it takes (thing, plane).
    states : LeftStates
        How modules left are counted.

    Returns
    -------
    tuple of (ndarray of int, Choices)
        Positions of the things in their new order (thing,), and the groups.
    """
    offset = states.offset(usage)
    order = np.lexsort((*usage.T[::-1], offset, kind))
    by_group = np.column_stack([kind, offset, usage])[order]
    new = np.ones(order.size, dtype=bool)
    new[1:] = (by_group[1:] != by_group[:-1]).any(axis=1)
    begin = np.flatnonzero(new)
    kinds = kind[order][begin]
    count = int(kind.max(initial=-1)) + 1
    return order, Choices(
        np.ascontiguousarray(usage[order][begin]),
        np.ascontiguousarray(offset[order][begin]),
        np.append(begin, order.size),
        np.searchsorted(kinds, np.arange(count + 1)),
    )
