"""Work on long series shared by threads; short ones are quicker done one after the other."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from concurrent.futures import ThreadPoolExecutor
from typing import TypeVar

_Item = TypeVar("_Item")
_Found = TypeVar("_Found")

LONG_STEPS = 50_000
"""From so many steps on numpy and the solvers work long enough without the interpreter."""
WORKERS = 2


def each_of(work: Callable[[_Item], _Found], items: Iterable[_Item], steps: int) -> list[_Found]:
    """Return what a work finds for each of several items, in their order.

    Parameters
    ----------
    work : callable
        Takes an item; must not depend on the others.
    items : iterable
        The items.
    steps : int
        Length of the series that each of them is worked out on.
    """
    if steps < LONG_STEPS:
        return [work(item) for item in items]
    with ThreadPoolExecutor(WORKERS) as pool:
        return list(pool.map(work, items))
