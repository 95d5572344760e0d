"""The best wirings over several inverters: by bounds, from inputs to inverters to the whole."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import FloatArray
from yieldkit.base.progress import Progress
from yieldkit.study.several_inverters.own_wirings import (
    OwnWirings,
    Tables,
    own_wirings,
    tables_of,
    totals_of,
)
from yieldkit.study.several_inverters.references import Reference, reference, reference_of
from yieldkit.study.several_inverters.shared_side import Wired
from yieldkit.study.several_inverters.solved_wirings import (
    PAD,
    Solved,
    Wanted,
    solved_down_to,
    wired_of,
)
from yieldkit.study.several_inverters.space import Space, Touching, touching
from yieldkit.study.several_inverters.whole_wirings import WholeWirings, whole_wirings
from yieldkit.study.wiring_energies.behind_meter import Delivered

_ENOUGH, _ENOUGH_EACH = 200, 20
"""Wirings of an inverter that are enough to find a good start among, and for each one wanted."""
_MOST_PROMISING = 40_000
"""Most of them that are looked at for a start."""
_MOST_WHOLE = 2_000_000
"""Most wirings of all inverters that are listed by their bounds."""
_ROUNDS = 4
_FIRST_GAP = 2e-4
_FEWEST = 4
"""Fewest wirings that are solved for a good start."""
_HALVINGS = 40
"""How often a threshold is raised half-way to the highest bound before it counts as that."""


class Found(NamedTuple):
    """The best wirings that a search has found, and what it proves.

    Parameters
    ----------
    best : tuple of (Wired, Delivered)
        What hangs on each inverter's inputs and what that delivers, best first, one of each group.
    bound_kwh : float
        No wiring of another group yields more [kWh].
    solved : int
        How many were solved exactly.
    bounded : int
        How many were bounded one by one.
    """

    best: tuple[tuple[Wired, Delivered], ...]
    bound_kwh: float
    solved: int
    bounded: int


def search(space: Space, wanted: Wanted, tell: Progress) -> Found:
    """Find the best wirings.

    Parameters
    ----------
    space : Space
        What is to be wired.
    wanted : Wanted
        What is looked for.
    tell : callable
        Told what is being done; a true answer ends the search, and what is proven so far is kept.

    Returns
    -------
    Found
        Nothing where no wiring uses the modules up.
    """
    solved = Solved(space, wanted)
    known, tables = _references(space, solved, wanted.most, tell)
    if not solved.number:
        return Found((), -np.inf, 0, 0)
    own, proven = _own_above(space, known, tables, solved.threshold(), wanted.room)
    totals = _totals(space, known, own)
    highest = min(each.highest_kwh for each in tables)
    whole, proven = _whole_above(space, known, own, totals, proven, highest)
    bound = solved_down_to(space, whole, proven, solved, tell)
    return Found(solved.best(), bound, solved.number, whole.bound_kwh.size)


def _references(
    space: Space, solved: Solved, most: int, tell: Progress
) -> tuple[Touching, list[Tables]]:
    """Return bounds that touch good wirings, and their tables for each kind of inverter.

    Each round solves the most promising wirings by the bounds so far; the best of them gives the
    next bound, until it touches already.
    """
    known = touching(space, _even_share(space))
    for number in range(_ROUNDS):
        tables = [tables_of(space, known, kind) for kind in range(len(space.side.kinds))]
        if number + 1 == _ROUNDS or tell("bounds", number, _ROUNDS):
            break
        highest = min(each.highest_kwh for each in tables)
        whole = _promising(space, known, tables, highest, most)
        for place in np.argsort(-whole.bound_kwh, kind="stable")[: max(2 * most, _FEWEST)]:
            if float(whole.bound_kwh[place]) < solved.threshold() or solved.ended:
                break
            solved.solve(wired_of(whole, int(place)), float(whole.bound_kwh[place]))
        if not solved.number:
            break
        (rows, _best), *_ = solved.best()
        if any(one.rows == rows for one in known.references):
            break
        known = touching(space, reference_of(space.side, rows, space.caps), known)
    return known, tables


def _even_share(space: Space) -> Reference:
    """Return the bound by inverters that share all modules' power by their size."""
    side = space.side
    per_module = np.array([_module_power(space, plane) for plane in range(space.left.size)])
    power = space.left @ per_module
    sizes = space.caps.max(axis=1, initial=0.0)
    dc = np.outer(sizes / sizes.sum(), power)
    return reference(side, dc, 0.97 * dc, space.caps)


def _module_power(space: Space, plane: int) -> FloatArray:
    """Return the power of a module of a plane in the best string of it alone [W] (lit step,)."""
    found = np.zeros(space.side.lit.size)
    for own in space.side.kinds:
        alone = np.flatnonzero(own.usage[:, plane] == own.usage.sum(axis=1))
        if alone.size:
            per = own.arrangements.power[alone] / own.usage[alone, plane][:, None]
            found = np.maximum(found, per[np.argmax(per.sum(axis=1))])
    return found


def _promising(
    space: Space, known: Touching, tables: Sequence[Tables], highest: float, most: int
) -> WholeWirings:
    """Return some of the most promising wirings, more than are wanted where there are."""
    scale = max(abs(highest), 1.0)
    gap, wanted = _FIRST_GAP * scale, max(_ENOUGH, _ENOUGH_EACH * most)
    while True:
        threshold = highest - gap
        own = [
            own_wirings(space, known, each, kind, threshold, _MOST_PROMISING)
            for kind, each in enumerate(tables)
        ]
        full = any(not each.complete for each in own)
        enough = all(len(each.rows) > wanted for each in own)
        if full or enough or gap > scale:
            totals = _totals(space, known, own)
            whole = _above_some(space, known, own, totals, highest, gap, most)
            if whole.bound_kwh.size >= most or full or gap > scale:
                return whole
        gap *= 2.0


def _totals(space: Space, known: Touching, own: Sequence[OwnWirings]) -> list[FloatArray]:
    return [totals_of(space, known.references, kind, each.rows) for kind, each in enumerate(own)]


def _above_some(
    space: Space,
    known: Touching,
    own: Sequence[OwnWirings],
    totals: Sequence[FloatArray],
    highest: float,
    gap: float,
    most: int,
) -> WholeWirings:
    """Return the best combinations of some wirings by inverter, at least so many if there are."""
    step, scale = gap / 64.0, max(abs(highest), 1.0)
    while True:
        whole = whole_wirings(
            space, known.references, own, totals, highest - step, _MOST_WHOLE // 20
        )
        if whole.bound_kwh.size >= 4 * most or not whole.complete or step > scale:
            return whole
        step *= 2.0


def _own_above(
    space: Space, known: Touching, tables: Sequence[Tables], threshold: float, room: int
) -> tuple[list[OwnWirings], float]:
    """Return every kind's wirings above a threshold, and the threshold that there is room for."""
    highest = min(each.highest_kwh for each in tables)
    lowest = threshold if np.isfinite(threshold) else -10.0 * max(abs(highest), 1.0)
    for _ in range(_HALVINGS):
        found = [
            own_wirings(space, known, each, kind, lowest - PAD * abs(highest), room)
            for kind, each in enumerate(tables)
        ]
        if all(each.complete for each in found):
            return found, lowest
        lowest = 0.5 * (lowest + highest)
    return found, highest  # more than there is room for tie with the best


def _whole_above(
    space: Space,
    known: Touching,
    own: Sequence[OwnWirings],
    totals: Sequence[FloatArray],
    threshold: float,
    highest: float,
) -> tuple[WholeWirings, float]:
    """Return all wirings above a threshold by inverter, and the one that there is room for."""
    lowest = threshold
    for _ in range(_HALVINGS):
        whole = whole_wirings(
            space, known.references, own, totals, lowest - PAD * abs(lowest), _MOST_WHOLE
        )
        if whole.complete:
            return whole, lowest
        lowest = 0.5 * (lowest + highest)
    return whole, highest
