"""Runs cut into parts of one to two seconds that leave together what shares work."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import pairwise

from yieldkit.study.batch.run import Run, order_key

TARGET_S = 1.5
"""How long a part shall take [s]: what is lost at most when a worker is killed, and long enough
that handing it out and writing it cost little."""
_LEAST, _MOST = 0.7, 1.3
_FIRST_GUESS_S = 0.05
_WEIGHT = 0.3


class Pace:
    """How long a run takes, learned from the parts that are done."""

    def __init__(self) -> None:
        self.run_s = _FIRST_GUESS_S
        self._told = False

    def learn(self, runs: int, seconds: float) -> None:
        """Take in how long a part took.

        Parameters
        ----------
        runs : int
            Runs of the part.
        seconds : float
            How long they took [s].
        """
        if runs == 0:
            return
        one = max(seconds / runs, 1e-6)
        self.run_s = (1.0 - _WEIGHT) * self.run_s + _WEIGHT * one if self._told else one
        self._told = True

    @property
    def known(self) -> bool:
        """Whether anything was learned yet."""
        return self._told

    @property
    def runs(self) -> float:
        """How many runs take as long as a part shall."""
        return TARGET_S / self.run_s


def cut(runs: Iterable[Run], pace: Pace, most: int = 100_000) -> Iterator[tuple[Run, ...]]:
    """Cut runs into parts where neighbours share least.

    Parameters
    ----------
    runs : iterable of Run
        In the order of what they share.
    pace : Pace
        Looked at before each cut, so that parts follow what was learned meanwhile.
    most : int
        Runs of a part at most.

    Returns
    -------
    iterator of tuple of Run
        A part ends where the next run differs in what most runs share, between 70 and 130 % of
        the time that a part shall take. A run that takes longer is a part of its own.
    """
    waiting: list[Run] = []
    for run in runs:
        waiting.append(run)
        # One more than a part may have: whether it ends there is told by the run behind it.
        while len(waiting) > max(int(_MOST * min(pace.runs, most)), 1):
            end = _end(waiting, min(pace.runs, most))
            yield tuple(waiting[:end])
            waiting = waiting[end:]
    while waiting:
        wanted = min(pace.runs, most)
        end = _end(waiting, wanted) if len(waiting) > _MOST * wanted else len(waiting)
        yield tuple(waiting[:end])
        waiting = waiting[end:]


def _end(waiting: list[Run], wanted: float) -> int:
    """Return how many of the waiting runs are the next part, where about so many are wanted."""
    least = max(int(_LEAST * wanted), 1)
    most = max(min(int(_MOST * wanted), len(waiting) - 1), least)
    keys = [order_key(run) for run in waiting[least - 1 : most + 1]]
    shared = [_shared(before, after) for before, after in pairwise(keys)]
    if not shared:
        return least
    fewest = min(shared)
    ends = [least + place for place, each in enumerate(shared) if each == fewest]
    return min(ends, key=lambda end: abs(end - wanted))


def _shared(before: tuple[object, ...], after: tuple[object, ...]) -> int:
    """Return how much two neighbours share, from what most runs share on."""
    count = 0
    for left, right in zip(before, after, strict=True):
        if left != right:
            break
        count += 1
    return count
