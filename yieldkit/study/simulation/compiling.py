"""Solvers that are being compiled: told once, when it begins, so that nobody waits for nothing."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager

from numba.core.event import Event, Listener, install_listener

_KEPT = "Compiling the solvers, only once on this machine: under a minute, more where it is busy."
_NOT_KEPT = (
    "Compiling the solvers: under a minute, and again in every run, for there is no folder "
    "to keep them in (YIELDKIT_CACHE names one)."
)


class _Once(Listener):
    """Tells of the first solver that is compiled; one that comes from the cache is none."""

    def __init__(self, tell: Callable[[str], None]) -> None:
        self._tell = tell
        self._announced = False

    def on_start(self, event: Event) -> None:
        """Tell that a solver is being compiled, unless it was told before."""
        solver = event.data["dispatcher"]
        if self._announced or not solver.__module__.startswith("yieldkit."):
            return
        self._announced = True
        self._tell(_KEPT if solver.stats.cache_path else _NOT_KEPT)

    def on_end(self, event: Event) -> None:
        """Say nothing: what follows speaks for itself."""


@contextmanager
def announced_compiling(tell: Callable[[str], None]) -> Iterator[None]:
    """Tell a person, once, as soon as a solver has to be compiled.

    Parameters
    ----------
    tell : callable
        Called with the sentence.
    """
    with install_listener("numba:compile", _Once(tell)):
        yield
