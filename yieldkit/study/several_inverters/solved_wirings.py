"""Wirings solved exactly from the highest bound down, bounds lowered where they are too high."""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import FloatArray, IntArray
from yieldkit.base.progress import Progress
from yieldkit.study.several_inverters.own_wirings import totals_of
from yieldkit.study.several_inverters.references import reference_of
from yieldkit.study.several_inverters.shared_side import Wired
from yieldkit.study.several_inverters.space import Space
from yieldkit.study.several_inverters.whole_wirings import WholeWirings, exchanges
from yieldkit.study.wiring_energies.behind_meter import Delivered

ROOM = 200_000
"""Most wirings of a kind of inverter that are looked at at once, unless asked otherwise."""
PAD = 1e-9
"""Share by which bounds are raised, so that rounding never puts one below what it bounds."""
_MOST_SOLVED = 3_000
"""Most wirings that are solved exactly; what is left then stays bounded."""
_WHOLE = 20
"""As how many of them one counts whose trackers must be solved once more, for a limit of theirs."""
_WORTH = 8
"""How many wirings cost as much to solve as a bound that touches one of them."""

Group = tuple[tuple[int, ...], ...]
"""What tells wirings of one group from those of another."""


class Wanted(NamedTuple):
    """What a search looks for.

    Parameters
    ----------
    most : int
        How many of the best: one wiring of each group counts.
    group : callable
        Returns the group of a wiring: itself, or how it shares the planes out.
    counts : callable
        Tells whether a wiring counts: only the first of those that exchanged planes make equal.
    room : int
        Most wirings of a kind of inverter that are looked at at once; with fewer less is proven.
    """

    most: int
    group: Callable[[Wired], Group]
    counts: Callable[[Wired], bool]
    room: int = ROOM


def each_wiring(wired: Wired) -> Group:
    """Put every wiring into a group of its own."""
    return wired


def every_wiring(_wired: Wired) -> bool:
    """Let every wiring count."""
    return True


class Solved:
    """Wirings that were solved exactly, each once, and the best of every group.

    Parameters
    ----------
    space : Space
        What is to be wired.
    wanted : Wanted
        What is looked for.
    """

    def __init__(self, space: Space, wanted: Wanted) -> None:
        self._space, self._wanted = space, wanted
        self._seen: set[Wired] = set()
        self._best: dict[Group, tuple[Wired, Delivered]] = {}
        self.number = self._effort = 0

    @property
    def ended(self) -> bool:
        """Whether as many are solved as may be."""
        return self._effort >= _MOST_SOLVED

    def solve(self, wired: Wired, bound_kwh: float) -> None:
        """Solve a wiring, unless its group has a better one than it can be."""
        group = self._wanted.group(wired)
        best = self._best.get(group)
        if wired in self._seen or (best and best[1].energy_kwh > bound_kwh * (1.0 + PAD)):
            return
        self._seen.add(wired)
        if not self._wanted.counts(wired):
            return
        found, whole = self._space.side.solved_whole(wired)
        self.number += 1
        self._effort += _WHOLE if whole else 1
        if best is None or (-found.energy_kwh, wired) < (-best[1].energy_kwh, best[0]):
            self._best[group] = wired, found

    def best(self) -> tuple[tuple[Wired, Delivered], ...]:
        """Return the best so far."""
        ranked = sorted(self._best.values(), key=lambda each: (-each[1].energy_kwh, each[0]))
        return tuple(ranked[: self._wanted.most])

    def threshold(self) -> float:
        """Return the energy that a wiring of another group must reach to be among the best."""
        best = self.best()
        return best[-1][1].energy_kwh if len(best) == self._wanted.most else -np.inf


def wired_of(whole: WholeWirings, place: int) -> Wired:
    """Return one of the wirings as rows on the inputs of each inverter, idle ones left out."""
    return tuple(tuple(int(row) for row in rows[place] if row >= 0) for rows in whole.rows)


def solved_down_to(
    space: Space, whole: WholeWirings, proven: float, solved: Solved, tell: Progress
) -> float:
    """Solve wirings from the highest bound down, until none can be among the best.

    Where bounds turn out too high for many of them, all get one more that touches one of those
    solved; the more seldom the less that helps.

    Parameters
    ----------
    space : Space
        What is to be wired.
    whole : WholeWirings
        The wirings, bounded.
    proven : float
        What none of the others exceeds [kWh].
    solved : Solved
        What is solved so far, and is added to.
    tell : callable
        Told how many are done; a true answer ends the work.

    Returns
    -------
    float
        What no wiring of another group can exceed [kWh].
    """
    bounds = whole.bound_kwh.copy()
    left = np.argsort(-bounds, kind="stable")
    next_look, patience = solved.number + _WORTH, _WORTH
    for number in range(bounds.size):
        place, left = int(left[0]), left[1:]
        bound = float(bounds[place])
        if bound * (1.0 + PAD) < solved.threshold() or solved.ended:
            return max(bound, proven)
        if tell("wirings solved", number, bounds.size):
            return max(bound, proven)
        solved.solve(wired_of(whole, place), bound)
        above = left[bounds[left] * (1.0 + PAD) >= solved.threshold()]
        if solved.number < next_look or above.size <= patience:
            continue
        bounds[above] = np.minimum(bounds[above], _touching(space, whole, place, above))
        gone = np.count_nonzero(bounds[above] * (1.0 + PAD) < solved.threshold())
        patience = _WORTH if gone > patience else 2 * patience
        next_look = solved.number + patience
        left = left[np.argsort(-bounds[left], kind="stable")]
    return proven


def _touching(space: Space, whole: WholeWirings, place: int, which: IntArray) -> FloatArray:
    """Return the bound by inverter that touches a wiring, for some of the others [kWh]."""
    one = reference_of(space.side, wired_of(whole, place), space.caps)
    kind_of = space.side.kind_of
    # What each inverter's wiring counts in the role of each inverter of its kind.
    counted = np.zeros((kind_of.size, kind_of.size, which.size))
    for kind in range(len(space.side.kinds)):
        inverters = space.inverters_of(kind)
        rows = np.concatenate([whole.rows[each][which] for each in inverters])
        own, at = np.unique(rows, axis=0, return_inverse=True)
        totals = totals_of(space, (one,), kind, own)[at.ravel(), 0]
        for number, each in enumerate(inverters):
            counted[each, inverters] = totals[number * which.size : (number + 1) * which.size].T
    places = np.arange(kind_of.size)
    bound = np.full(which.size, np.inf)
    for roles in exchanges(kind_of):
        bound = np.minimum(bound, counted[places, roles].sum(axis=0))
    return one.constant_kwh + bound
