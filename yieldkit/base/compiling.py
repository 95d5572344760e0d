"""Solvers that are being compiled: told once, when it begins, so that nobody waits for nothing.

What compiles says here that it begins; whoever wants to tell a person listens here. So a command
can listen without loading the compiler.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager

_KEPT = "Compiling the solvers, only once on this machine: under a minute, more where it is busy."
_NOT_KEPT = (
    "Compiling the solvers: under a minute, and again in every run, for there is no folder "
    "to keep them in (YIELDKIT_CACHE names one)."
)


class _Once:
    """Tells of the first solver that is compiled."""

    def __init__(self, tell: Callable[[str], None]) -> None:
        self._tell = tell
        self._announced = False

    def hear(self, kept: bool) -> None:
        """Tell that a solver is being compiled, unless it was told before."""
        if not self._announced:
            self._announced = True
            self._tell(_KEPT if kept else _NOT_KEPT)


_LISTENING: list[_Once] = []


@contextmanager
def announced_compiling(tell: Callable[[str], None]) -> Iterator[None]:
    """Tell a person, once, as soon as a solver has to be compiled.

    Parameters
    ----------
    tell : callable
        Called with the sentence.
    """
    once = _Once(tell)
    _LISTENING.append(once)
    try:
        yield
    finally:
        _LISTENING.remove(once)


def begins_compiling(kept: bool) -> None:
    """Say that a solver is about to be compiled.

    Parameters
    ----------
    kept : bool
        Whether what is compiled is kept for the next process.
    """
    for once in tuple(_LISTENING):
        once.hear(kept)
