"""Slips and how probable they are, in words."""

from __future__ import annotations

from yieldkit.base.plain_text import plain_line

_SHOWN = 3
"""Members of a group of slips that are told by name; the others are counted."""


def in_words(members: tuple[str, ...]) -> str:
    """Return slips that the readings can't part, in words.

    Parameters
    ----------
    members : tuple of str
        Their words, the most probable first.
    """
    shown = "; or ".join(plain_line(own) for own in members[:_SHOWN])
    more = len(members) - _SHOWN
    return f"{shown}; or {more} more that these readings can't tell apart" if more > 0 else shown


def percent(share: float) -> str:
    """Return a probability in words; never certain.

    Parameters
    ----------
    share : float
        The probability [1].
    """
    return "over 99 %" if share > 0.99 else f"{100.0 * share:.0f} %"
