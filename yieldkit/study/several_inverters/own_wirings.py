"""The wirings of one kind of inverter with which all together may be among the best."""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import FloatArray, IntArray
from yieldkit.design.permitted.combination_search import Bounds
from yieldkit.design.permitted.combinations import combinations
from yieldkit.design.permitted.completions import nothing_to_add, with_one_input
from yieldkit.physics.ac.inverter_totals import fill_totals
from yieldkit.study.several_inverters.input_bounds import InputBounds
from yieldkit.study.several_inverters.inverter_rows import SolvedKind
from yieldkit.study.several_inverters.references import Reference
from yieldkit.study.several_inverters.space import Rows, Space, Touching
from yieldkit.study.wiring_energies.arrangement_tables import WORKERS

_PER_BLOCK = 500
"""Wirings that a thread does at a time."""


def _group_values(rows: Rows, row_kwh: FloatArray) -> FloatArray:
    """Return the most that any row of a group adds (group,)."""
    if not rows.order.size:
        return np.empty(0)
    found: FloatArray = np.maximum.reduceat(row_kwh[rows.order], rows.choices.begin[:-1])
    return found


def input_tables(
    space: Space, own: SolvedKind, rows: Rows, bounds: InputBounds, after: FloatArray
) -> list[FloatArray]:
    """Return the most that the inputs of an inverter from each on, and what follows, add.

    Parameters
    ----------
    space : Space
        What is to be wired.
    own : SolvedKind
        The inverter's kind.
    rows : Rows
        What may hang on its inputs.
    bounds : InputBounds
        What each adds.
    after : ndarray
        The most that follows behind its last input [kWh] (state,).

    Returns
    -------
    list of ndarray
        For each input, and last `after` itself [kWh] (state,).
    """
    values = _group_values(rows, bounds.row_kwh)
    tables = [after]
    for place in own.kind.slots[::-1]:
        span = slice(rows.choices.kind_begin[place], rows.choices.kind_begin[place + 1])
        usage = rows.choices.usage[span]
        tables.append(with_one_input(tables[-1], space.states, usage, values[span], 0.0))
    return tables[::-1]


def inverter_table(
    space: Space, known: Touching, one: int, place: int, after: FloatArray
) -> FloatArray:
    """Return the most that an inverter and what follows add by a reference's bound (state,).

    Parameters
    ----------
    space : Space
        What is to be wired.
    known : Touching
        The bounds.
    one : int
        Which reference.
    place : int
        Which inverter.
    after : ndarray
        The most that follows [kWh] (state,).
    """
    own, kind = space.side.solved(place), int(space.side.kind_of[place])
    bounds = known.inputs[one][place]
    table = input_tables(space, own, known.rows[kind], bounds, after)[0]
    if own.fixed_rows.size:
        return table
    return np.maximum(table, after + bounds.idle_kwh)


class OwnWirings(NamedTuple):
    """Wirings of one kind of inverter.

    Parameters
    ----------
    rows : ndarray of int
        What hangs on each input, -1 for nothing (wiring, input).
    usage : ndarray of int
        Modules of each plane (wiring, plane).
    complete : bool
        False where there are more than were asked for.
    """

    rows: IntArray
    usage: IntArray
    complete: bool


@dataclass(frozen=True)
class Tables:
    """The most that what follows adds, for the wirings of one kind of inverter.

    Parameters
    ----------
    bounds : Bounds
        One for each reference and each inverter of the kind, over its inputs.
    highest_kwh : float
        No wiring can yield more [kWh].
    """

    bounds: Bounds
    highest_kwh: float


def tables_of(space: Space, known: Touching, kind: int) -> Tables:
    """Return the tables by which wirings of a kind of inverter are looked for.

    Parameters
    ----------
    space : Space
        What is to be wired.
    known : Touching
        The bounds.
    kind : int
        Which kind.
    """
    own, rows = space.side.kinds[kind], known.rows[kind]
    wanted = [
        (one, int(place))
        for one in range(len(known.references))
        for place in space.inverters_of(kind)
    ]
    with ThreadPoolExecutor(WORKERS) as pool:
        tables = list(pool.map(lambda each: _tables(space, known, *each), wanted))
    starts = np.array([known.start(one, space) for one, _ in wanted])
    values = np.array([known.inputs[one][place].row_kwh[rows.order] for one, place in wanted])
    idle = np.array([known.inputs[one][place].idle_kwh for one, place in wanted])
    first = np.array([each[0][space.state] for each in tables])
    others = np.array([each[-1][space.state] for each in tables])
    inputs = own.kind.slots.size
    return Tables(
        Bounds(
            starts,
            np.ascontiguousarray(np.repeat(values[:, None, :], inputs, axis=1)),
            np.zeros((starts.size, inputs)),
            np.array([each[1:] for each in tables]).reshape(starts.size, inputs, -1),
        ),
        float((starts + np.maximum(first, others + idle)).min()),
    )


def _tables(space: Space, known: Touching, one: int, place: int) -> list[FloatArray]:
    """Return `input_tables` of an inverter, with all others behind it."""
    others = nothing_to_add(space.states, space.leave_at_most)
    for other in range(space.side.kind_of.size):
        if other != place:
            others = inverter_table(space, known, one, other, others)
    kind = int(space.side.kind_of[place])
    return input_tables(
        space, space.side.kinds[kind], known.rows[kind], known.inputs[one][place], others
    )


def own_wirings(
    space: Space, known: Touching, tables: Tables, kind: int, threshold: float, most: int
) -> OwnWirings:
    """Return the wirings of a kind of inverter with which all together may reach a threshold.

    Parameters
    ----------
    space : Space
        What is to be wired.
    known : Touching
        The bounds.
    tables : Tables
        From `tables_of`.
    kind : int
        Which kind.
    threshold : float
        What is to be reached [kWh].
    most : int
        How many at most.
    """
    own, rows = space.side.kinds[kind], known.rows[kind]
    inputs = own.kind.slots.size
    found = combinations(
        own.kind.slots, rows.choices, tables.bounds, space.left, space.state, threshold, most
    )
    chosen = np.where(found.chosen >= 0, rows.order[found.chosen], -1)
    chosen = chosen[(chosen >= 0).any(axis=1)]
    amperes = np.where(chosen >= 0, own.short_circuit_a[chosen], 0.0).sum(axis=1)
    chosen = chosen[amperes <= own.short_circuit_left_a]
    # An idle inverter always counts: it costs nothing to keep.
    chosen = np.vstack([np.full((1, inputs), -1, dtype=np.int64), chosen])
    usage = np.where(chosen[:, :, None] >= 0, own.usage[chosen], 0).sum(axis=1)
    return OwnWirings(chosen, usage, found.complete)


def totals_of(
    space: Space, references: Sequence[Reference], kind: int, rows: IntArray
) -> FloatArray:
    """Return what wirings of a kind of inverter count by the bounds by inverter.

    Parameters
    ----------
    space : Space
        What is to be wired.
    references : sequence of Reference
        The bounds.
    kind : int
        Which kind.
    rows : ndarray of int
        What hangs on each input, -1 for nothing (wiring, input).

    Returns
    -------
    ndarray
        [kWh] (wiring, reference, inverter of the kind).
    """
    solved, inverters = space.side.kinds[kind], space.inverters_of(kind)
    fixed = np.broadcast_to(solved.fixed_rows, (len(rows), solved.fixed_rows.size))
    inputs = np.ascontiguousarray(np.hstack([rows, fixed]))
    weights = np.ascontiguousarray(np.concatenate([one.weight[inverters] for one in references]))
    found = np.empty((len(inputs), len(weights)))
    cap, night = space.caps[inverters[0]], float(space.side.limits.night[inverters[0]])
    edges = np.unique(np.append(np.arange(0, len(inputs), _PER_BLOCK), len(inputs)))
    with ThreadPoolExecutor(WORKERS) as pool:
        blocks = [
            pool.submit(
                fill_totals,
                *span,
                inputs,
                solved.arrangements,
                solved.path,
                cap,
                night,
                weights,
                found,
            )
            for span in pairwise(edges.tolist())
        ]
        for each in blocks:
            each.result()
    return found.reshape(len(inputs), len(references), inverters.size)
