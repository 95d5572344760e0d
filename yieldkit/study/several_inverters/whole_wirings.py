"""Wirings of all inverters together, by bounds that add up over inverters."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import islice, permutations, product
from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import FloatArray, IntArray
from yieldkit.design.permitted.combination_search import Bounds, Choices
from yieldkit.design.permitted.combinations import choices_of, combinations
from yieldkit.design.permitted.completions import nothing_to_add, with_one_input
from yieldkit.study.several_inverters.own_wirings import OwnWirings
from yieldkit.study.several_inverters.references import Reference
from yieldkit.study.several_inverters.space import Space

_MOST_EXCHANGES = 24
"""Most exchanges of equal inverters by which a bound is taken."""
_MOST_TABLE_BYTES = 300_000_000
"""Room for what the inverters behind each place add [byte]."""


class WholeWirings(NamedTuple):
    """Wirings of all inverters that may reach a threshold.

    Parameters
    ----------
    rows : tuple of ndarray
        For each inverter what hangs on each of its inputs, -1 for nothing (wiring, input).
    bound_kwh : ndarray
        What each yields at most [kWh] (wiring,).
    complete : bool
        False where there are more than were asked for.
    """

    rows: tuple[IntArray, ...]
    bound_kwh: FloatArray
    complete: bool


def exchanges(kind_of: IntArray) -> list[tuple[int, ...]]:
    """Return the exchanges of equal inverters: for each the inverter that takes a place.

    Parameters
    ----------
    kind_of : ndarray of int
        The kind of each inverter (inverter,).
    """
    groups = [np.flatnonzero(kind_of == kind) for kind in range(int(kind_of.max()) + 1)]
    found = []
    orders = product(*(list(islice(permutations(group), _MOST_EXCHANGES)) for group in groups))
    for chosen in islice(orders, _MOST_EXCHANGES):
        taken = np.arange(kind_of.size)
        for group, order in zip(groups, chosen, strict=True):
            taken[group] = order
        found.append(tuple(int(each) for each in taken))
    return found


def whole_wirings(
    space: Space,
    references: Sequence[Reference],
    own: Sequence[OwnWirings],
    totals: Sequence[FloatArray],
    threshold: float,
    most: int,
) -> WholeWirings:
    """Return the wirings of all inverters whose bounds by inverter reach a threshold.

    Parameters
    ----------
    space : Space
        What is to be wired.
    references : sequence of Reference
        The bounds.
    own : sequence of OwnWirings
        The wirings of each kind.
    totals : sequence of ndarray
        What each counts by each reference, on each inverter of its kind [kWh]
        (wiring, reference, inverter of the kind).
    threshold : float
        What is to be reached [kWh].
    most : int
        How many at most.
    """
    kind_of = space.side.kind_of
    places = np.argsort(kind_of, kind="stable")
    kind = np.concatenate([np.full(len(each.rows), at) for at, each in enumerate(own)])
    first = np.cumsum([0, *(len(each.rows) for each in own)])
    usage = np.concatenate([each.usage for each in own])
    order, choices = choices_of(kind, usage, space.states)
    starts, values = [], []
    per_bound = places.size * space.states.number * 8 * len(references)
    most_exchanges = max(_MOST_TABLE_BYTES // per_bound, 1)
    for one, bound in enumerate(references):
        for taken in exchanges(kind_of)[:most_exchanges]:
            value = np.full((places.size, kind.size), -np.inf)
            for at, place in enumerate(places):
                number = int(kind_of[place])
                role = int(np.searchsorted(space.inverters_of(number), taken[place]))
                value[at, first[number] : first[number + 1]] = totals[number][:, one, role]
            starts.append(bound.constant_kwh)
            values.append(value[:, order])
    value = np.array(values)
    after = _after_inverters(space, kind_of[places], choices, value)
    found = combinations(
        kind_of[places],
        choices,
        Bounds(np.array(starts), value, np.full(value.shape[:2], -np.inf), after),
        space.left,
        space.state,
        threshold,
        most,
        use_up=space.leave_at_most == 0,
    )
    thing = order[found.chosen]
    rows: list[IntArray] = [np.empty((0, 0), dtype=np.int64)] * places.size
    for at, place in enumerate(places):
        number = int(kind_of[place])
        rows[place] = own[number].rows[thing[:, at] - first[number]]
    return WholeWirings(tuple(rows), found.bound, found.complete)


def _after_inverters(
    space: Space, kinds: IntArray, choices: Choices, value: FloatArray
) -> FloatArray:
    """Return the most that the inverters behind each place add (bound, place, state)."""
    after = np.empty((*value.shape[:2], space.states.number))
    for bound in range(value.shape[0]):
        after[bound, -1] = nothing_to_add(space.states, space.leave_at_most)
        for place in range(kinds.size - 1, 0, -1):
            span = slice(choices.kind_begin[kinds[place]], choices.kind_begin[kinds[place] + 1])
            best = np.maximum.reduceat(value[bound, place], choices.begin[:-1])[span]
            after[bound, place - 1] = with_one_input(
                after[bound, place], space.states, choices.usage[span], best, -np.inf
            )
    return after
