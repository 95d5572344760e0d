"""What a wiring may be called: forbidden, open, or permitted. The one place that has the words."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from yieldkit.design.checks.findings import NOT_CHECKED, NOT_PERMITTED, Finding

PERMITTED = "permitted"
OPEN = "nothing forbidden found"
FORBIDDEN = NOT_PERMITTED
"""What a wiring is called."""
ESSENTIAL_KINDS = "voltage, short circuit, fuses or ampacity"
_NAMED = 3
"""Checks named in a sentence; the others are counted."""


@dataclass(frozen=True)
class Permission:
    """What the findings of a wiring allow to be said of it.

    Parameters
    ----------
    forbidding : tuple of str
        Checks that forbid it, each once, in the findings' order.
    essential : tuple of str
        Essential checks that are NOT CHECKED, each once.
    not_checked : int
        All findings that are NOT CHECKED.
    """

    forbidding: tuple[str, ...]
    essential: tuple[str, ...]
    not_checked: int

    @property
    def word(self) -> str:
        """FORBIDDEN, OPEN or PERMITTED; never the last while an essential limit is NOT CHECKED."""
        if self.forbidding:
            return FORBIDDEN
        return OPEN if self.essential else PERMITTED

    def sentence(self) -> str:
        """Return what it is called and why, without a full stop."""
        if self.forbidding:
            return f"{FORBIDDEN}: {_some(self.forbidding)}"
        if self.essential:
            return f"{OPEN}; {self.limits()}, among them {_some(self.essential)}"
        if self.not_checked:
            return f"{PERMITTED}; {self.limits()}, none of {ESSENTIAL_KINDS}"
        return f"{PERMITTED}; every limit that applies was checked"

    def limits(self) -> str:
        """Return how many limits were not checked, in words."""
        return f"{self.not_checked} limit{'' if self.not_checked == 1 else 's'} not checked"

    def best_of(self) -> str:
        """Return in brief what the best of several wirings may be called."""
        if self.word == OPEN:
            return f"best of those with nothing forbidden; {self.limits()}"
        return self.word


def permission(findings: Iterable[Finding]) -> Permission:
    """Return what the findings of a wiring allow to be said of it.

    Parameters
    ----------
    findings : iterable of Finding
        All findings of one wiring.
    """
    found = tuple(findings)
    unchecked = [each for each in found if each.verdict == NOT_CHECKED]
    return Permission(
        _names(each for each in found if each.verdict == NOT_PERMITTED),
        _names(each for each in unchecked if each.essential),
        len(unchecked),
    )


def _names(findings: Iterable[Finding]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(finding.check for finding in findings))


def _some(names: tuple[str, ...]) -> str:
    """Return the first names, and how many more there are."""
    more = len(names) - _NAMED
    shown = "; ".join(names[:_NAMED])
    return f"{shown}; {more} more" if more > 0 else shown
