"""How far a piece of work is: told to whoever shows it, who may answer that it shall stop."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from typing import TypeVar

Progress = Callable[[str, int, int], bool | None]
"""Called with a word, how many are done and how many there are, 0 where nobody knows; a true answer
stops the work, and what is done so far is kept."""

T = TypeVar("T")


def silent(_word: str, _done: int, _every: int) -> bool | None:
    """Show nothing and go on."""


def counted(things: Iterable[T], tell: Progress, word: str, step: int) -> Iterator[T]:
    """Pass things on and tell how many there were; a search that is stopped keeps nothing.

    Parameters
    ----------
    things : iterable
        What is searched through.
    tell : callable
        Whom to tell.
    word : str
        What they are.
    step : int
        Tell after so many each.

    Raises
    ------
    KeyboardInterrupt
        If the answer is to stop.
    """
    for number, thing in enumerate(things):
        if number % step == 0 and tell(word, number, 0):
            raise KeyboardInterrupt(f"stopped: {number} {word}")
        yield thing


def time_left(done: int, every: int, seconds: float) -> float | None:
    """Return how long the rest of some work will take at the pace so far [s]; None where unknown.

    Parameters
    ----------
    done, every : int
        How many are done, those not counted that were there before, and how many there are.
    seconds : float
        How long the done ones took [s].
    """
    if done <= 0 or every <= done:
        return None
    return seconds * (every - done) / done
