"""Cutting the modules of a plane into runs of neighbours, one for each string.

Strings follow rows or columns there and back, from any corner; where a gap breaks every such way,
runs are grown one by one into the tightest corners. Along its run a string's cable goes from
neighbour to neighbour, or, where the modules' leads reach, over every other module and back over
those left out, which brings both its ends to one place.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import accumulate, pairwise, permutations
from typing import NamedTuple

import numpy as np

Cell = tuple[int, int]
"""Row and column of a module."""

_MOST_PERMUTED = 5
_MOST_STEPS, _ATTEMPTS = 2_000, 40


class Roof(NamedTuple):
    """A plane's modules as places in rows and columns.

    Parameters
    ----------
    cells : tuple of (int, int)
        Row and column of every module.
    pitch : tuple of float
        Width of a column and height of a row; any common unit if the sizes aren't known.
    exit : tuple of float, optional
        Row and column where the cables leave.
    reach : float, optional
        Longest distance between modules that the leads of two bridge, in the pitch's unit;
        unknown if left out.
    """

    cells: tuple[Cell, ...]
    pitch: tuple[float, float]
    exit: tuple[float, float] | None = None
    reach: float | None = None

    def distance(self, one: tuple[float, float], other: tuple[float, float]) -> float:
        """Return the way between two places along rows and columns."""
        width, height = self.pitch
        return abs(one[0] - other[0]) * height + abs(one[1] - other[1]) * width


class Run(NamedTuple):
    """The modules of one string.

    Parameters
    ----------
    path : tuple of int
        The modules in the order of the cable, as positions in the roof's cells.
    connected : bool
        Whether the modules lie side by side, each touching another of the run.
    skips : bool
        Whether the cable leaves out every other module and comes back over those.
    ends : float
        Way from the roof's exit to the first module and from the last back to the exit; without
        an exit the way from the last to the first.
    longest_step : float
        Longest distance between two modules that follow one another.
    """

    path: tuple[int, ...]
    connected: bool
    skips: bool
    ends: float
    longest_step: float


def runs(roof: Roof, lengths: Sequence[int]) -> tuple[Run, ...]:
    """Cut a plane's modules into runs of given lengths.

    Parameters
    ----------
    roof : Roof
        The plane.
    lengths : sequence of int
        Modules of each string; together no more than there are.

    Returns
    -------
    tuple of Run
        In the order of `lengths`: those with the fewest broken runs, and of these those with the
        least way to their ends.
    """
    best = min(
        (_placed(roof, path, order, lengths) for path in _ways(roof) for order in _orders(lengths)),
        key=_cost,
    )
    if all(run.connected for run in best):
        return best
    grown = _grown(roof, sorted(range(len(lengths)), key=lambda own: -lengths[own]), lengths)
    return best if grown is None else min(best, grown, key=_cost)


def _cost(found: tuple[Run, ...]) -> tuple[int, float]:
    return sum(not run.connected for run in found), round(sum(run.ends for run in found), 6)


def _orders(lengths: Sequence[int]) -> list[tuple[int, ...]]:
    """Return the orders of the strings along the way that differ."""
    plain = tuple(range(len(lengths)))
    if len(lengths) > _MOST_PERMUTED:
        return [plain]
    distinct = {tuple(lengths[own] for own in order): order for order in permutations(plain)}
    return list(distinct.values())


def _ways(roof: Roof) -> Iterator[tuple[int, ...]]:
    """Yield the ways there and back through all modules: by rows or columns, from each corner."""
    for along in (0, 1):
        lines = sorted({cell[along] for cell in roof.cells})
        for backwards in (False, True):
            for turned in (0, 1):
                yield _way(roof, along, list(reversed(lines)) if backwards else lines, turned)


def _way(roof: Roof, along: int, lines: list[int], turned: int) -> tuple[int, ...]:
    place = {line: number for number, line in enumerate(lines)}

    def key(number: int) -> tuple[int, int]:
        cell = roof.cells[number]
        line, other = place[cell[along]], cell[1 - along]
        return line, -other if (line + turned) % 2 else other

    return tuple(sorted(range(len(roof.cells)), key=key))


def _placed(
    roof: Roof, path: tuple[int, ...], order: Sequence[int], lengths: Sequence[int]
) -> tuple[Run, ...]:
    """Cut a way into the strings in an order, and cable each."""
    found: dict[int, Run] = {}
    start = 0
    for own in order:
        found[own] = _cabled(roof, path[start : start + lengths[own]])
        start += lengths[own]
    return tuple(found[own] for own in range(len(lengths)))


def _cabled(roof: Roof, path: tuple[int, ...]) -> Run:
    """Return a run with its cable there and back, or over every other module if that is shorter."""
    connected = all(_touch(roof, a, b) for a, b in pairwise(path))
    choices = [_run(roof, path, connected, skips=False)]
    if connected and roof.reach is not None and len(path) > 2:
        for way in (path, path[::-1]):
            back = way[1::2][::-1]
            own = _run(roof, (*way[::2], *back), connected, skips=True)
            if own.longest_step <= roof.reach:
                choices.append(own)
    return min(choices, key=lambda run: round(run.ends, 6))


def _run(roof: Roof, path: tuple[int, ...], connected: bool, *, skips: bool) -> Run:
    first, last = roof.cells[path[0]], roof.cells[path[-1]]
    ends = (
        roof.distance(first, last)
        if roof.exit is None
        else roof.distance(roof.exit, first) + roof.distance(last, roof.exit)
    )
    steps = [roof.distance(roof.cells[a], roof.cells[b]) for a, b in pairwise(path)]
    return Run(path, connected, skips, ends, max(steps, default=0.0))


def path_run(roof: Roof, path: tuple[int, ...]) -> Run:
    """Return a run whose modules are given in the order of their cable.

    Parameters
    ----------
    roof : Roof
        The plane.
    path : tuple of int
        The modules, as positions in the roof's cells.
    """
    beside = [any(_touch(roof, own, other) for other in path) for own in path]
    return _run(roof, path, len(path) == 1 or all(beside), skips=False)


def _touch(roof: Roof, one: int, other: int) -> bool:
    a, b = roof.cells[one], roof.cells[other]
    return abs(a[0] - b[0]) + abs(a[1] - b[1]) == 1


def _grown(roof: Roof, order: Sequence[int], lengths: Sequence[int]) -> tuple[Run, ...] | None:
    """Grow the runs into the tightest places, several times with ties broken otherwise."""
    beside = [
        [other for other in range(len(roof.cells)) if _touch(roof, own, other)]
        for own in range(len(roof.cells))
    ]
    rng = np.random.default_rng(1)
    ties = list(range(len(roof.cells)))
    for _ in range(_ATTEMPTS):
        path = _one_growth([lengths[own] for own in order], beside, ties)
        if path is not None:
            return _placed(roof, path, order, lengths)
        ties = rng.permutation(len(roof.cells)).tolist()
    return None


def _one_growth(
    lengths: Sequence[int], beside: list[list[int]], ties: list[int]
) -> tuple[int, ...] | None:
    """Grow the runs module by module, going back where one is stuck."""
    free = set(range(len(beside)))
    starts = {0, *accumulate(lengths)}
    total = sum(lengths)
    path: list[int] = []

    def tightness(own: int) -> tuple[int, int]:
        return sum(other in free for other in beside[own]), ties[own]

    def choices() -> Iterator[int]:
        open_to = free if len(path) in starts else free.intersection(beside[path[-1]])
        return iter(sorted(open_to, key=tightness))

    waiting = [choices()]
    for _ in range(_MOST_STEPS):
        if not waiting:
            return None
        own = next(waiting[-1], None)
        if own is None:
            waiting.pop()
            if path:
                free.add(path.pop())
            continue
        path.append(own)
        free.remove(own)
        if len(path) == total:
            return tuple(path)
        waiting.append(choices())
    return None
