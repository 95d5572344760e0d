"""The exceptions of the house and the one form in which a problem is told to a person."""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from dataclasses import dataclass
from typing import NoReturn


@dataclass(frozen=True)
class Problem:
    """One thing that is wrong with what a person gave us.

    Parameters
    ----------
    where : str
        File and line, key, object or argument.
    got : str
        The value found.
    needed : str
        What is expected in its place.
    cause : str
        The likely cause, where one is known.
    remedy : str
        What to do.
    """

    where: str
    got: str
    needed: str
    cause: str = ""
    remedy: str = ""

    def sentence(self) -> str:
        """Return the problem as one readable sentence block."""
        parts = [f"{self.where}: got {self.got}; expected {self.needed}."]
        if self.cause:
            parts.append(f"{self.cause}")
        if self.remedy:
            parts.append(f"{self.remedy}")
        return " ".join(part if part.endswith((".", "?", "!")) else part + "." for part in parts)


class YieldkitError(Exception):
    """Base of every exception that yieldkit raises on purpose."""


class InputError(YieldkitError):
    """What a person gave can't be used; holds every problem found, not only the first."""

    def __init__(self, problems: Iterable[Problem]):
        self.problems = tuple(problems)
        super().__init__("\n".join(problem.sentence() for problem in self.problems))

    def _render_traceback_(self) -> list[str]:
        """Return what a notebook shows of it: the sentences, for the way to them tells nothing."""
        return [f"{type(self).__name__}: {self}"]


class NothingPermitted(InputError):
    """What was asked for is clear, but every wiring of that kind is forbidden by a limit."""


def refuse(where: str, got: str, needed: str, cause: str = "", remedy: str = "") -> NoReturn:
    """Raise an `InputError` with one problem.

    Raises
    ------
    InputError
        Always.
    """
    raise InputError((Problem(where, got, needed, cause, remedy),))


def nearest(word: str, candidates: Iterable[str]) -> str | None:
    """Return the candidate that looks most like `word`, or None if none is close."""
    known = list(candidates)
    alike = next((each for each in known if each.casefold() == word.casefold()), None)
    if alike is not None:
        return alike
    matches = difflib.get_close_matches(word, known, n=1, cutoff=0.6)
    return matches[0] if matches else None
