"""What is to be wired over several inverters, and the bounds by input that touch known wirings."""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import FloatArray, IntArray
from yieldkit.design.permitted.combination_search import Choices
from yieldkit.design.permitted.combinations import choices_of
from yieldkit.design.permitted.completions import LeftStates, left_states, with_one_input
from yieldkit.study.several_inverters.input_bounds import InputBounds, input_bounds
from yieldkit.study.several_inverters.inverter_rows import SolvedKind
from yieldkit.study.several_inverters.references import Reference, own_caps
from yieldkit.study.several_inverters.shared_side import SharedSide
from yieldkit.study.wiring_energies.arrangement_tables import WORKERS


@dataclass(frozen=True)
class Space:
    """What is to be wired: modules, and inputs by kind of inverter.

    Parameters
    ----------
    side : SharedSide
        The inverters behind their connection point.
    left : ndarray of int
        Modules to be wired of each plane (plane,).
    leave_at_most : int
        Modules that may stay unwired.
    states : LeftStates
        How modules left are counted.
    caps : ndarray
        Largest power of each inverter by limits of its own [W] (inverter, lit step).
    """

    side: SharedSide
    left: IntArray
    leave_at_most: int
    states: LeftStates
    caps: FloatArray

    @property
    def state(self) -> int:
        """Position of the state in which nothing is wired yet."""
        return int(self.states.offset(self.left))

    def inverters_of(self, kind: int) -> IntArray:
        """Return the inverters of a kind."""
        return np.flatnonzero(self.side.kind_of == kind)


def space_of(side: SharedSide, modules: Sequence[int], leave_at_most: int) -> Space:
    """Return what is to be wired.

    Parameters
    ----------
    side : SharedSide
        The inverters behind their connection point.
    modules : sequence of int
        Modules to be wired of each plane (plane,).
    leave_at_most : int
        Modules that may stay unwired.
    """
    left = np.array(modules, dtype=np.int64)
    usages = max(len(np.unique(own.usage, axis=0)) for own in side.kinds)
    return Space(side, left, leave_at_most, left_states(left, usages), own_caps(side))


class Rows(NamedTuple):
    """Rows of a kind of inverter in the order of its choices.

    Parameters
    ----------
    order : ndarray of int
        The row of each thing to choose.
    choices : Choices
        Their groups, by class of inputs.
    """

    order: IntArray
    choices: Choices


class Touching(NamedTuple):
    """Bounds that touch some known wirings.

    Parameters
    ----------
    references : tuple of Reference
        By inverter.
    inputs : tuple of tuple of InputBounds
        By input: for each reference and each inverter.
    rows : tuple of Rows
        What there is to choose from, for each kind.
    """

    references: tuple[Reference, ...]
    inputs: tuple[tuple[InputBounds, ...], ...]
    rows: tuple[Rows, ...]

    def start(self, one: int, space: Space) -> float:
        """Return what a reference's bound has before anything is wired [kWh]."""
        found = self.references[one].constant_kwh
        for place, own in enumerate(self.inputs[one]):
            fixed = space.side.solved(place).fixed_rows
            found += own.constant_kwh + float(own.row_kwh[fixed].sum())
        return found


def touching(space: Space, one: Reference, known: Touching | None = None) -> Touching:
    """Return the bounds by input that touch a known wiring, behind those that there are already.

    Parameters
    ----------
    space : Space
        What is to be wired.
    one : Reference
        The bound by inverter.
    known : Touching, optional
        Bounds that there are; those that touch no wiring go.
    """
    with ThreadPoolExecutor(WORKERS) as pool:
        places = range(space.side.kind_of.size)
        inputs = tuple(pool.map(lambda place: _input_bounds(space, one, place), places))
    if known is None:
        rows = tuple(_rows(own, space.states) for own in space.side.kinds)
        return Touching((one,), (inputs,), rows)
    kept = [place for place, each in enumerate(known.references) if each.rows]
    return Touching(
        (*(known.references[place] for place in kept), one),
        (*(known.inputs[place] for place in kept), inputs),
        known.rows,
    )


def _input_bounds(space: Space, one: Reference, place: int) -> InputBounds:
    own = space.side.solved(place)
    known = np.array(one.rows[place] if one.rows else (), dtype=np.int64)
    return input_bounds(
        own,
        np.concatenate([known, own.fixed_rows]) if one.rows else known,
        one.dc[place],
        one.ac[place],
        space.caps[place],
        float(space.side.limits.night[place]),
        one.weight[place],
    )


def _rows(own: SolvedKind, states: LeftStates) -> Rows:
    classes = np.array([place for place, _ in own.rows], dtype=np.int64)
    return Rows(*choices_of(classes, own.usage, states))


def fewest_left(space: Space) -> int:
    """Return the fewest modules that any wiring leaves out.

    Parameters
    ----------
    space : Space
        What is to be wired; where planes are counted together, a lower bound.
    """
    shape = tuple(space.states.size)
    left = np.indices(shape).reshape(len(shape), -1).sum(axis=0)
    table = -left.astype(float)
    for kind in space.side.kind_of:
        own = space.side.kinds[int(kind)]
        classes = np.array([place for place, _ in own.rows], dtype=np.int64)
        for place in own.kind.slots:
            usages = np.unique(own.usage[classes == place], axis=0)
            table = with_one_input(table, space.states, usages, np.zeros(len(usages)), 0.0)
    return int(-table[space.state])
