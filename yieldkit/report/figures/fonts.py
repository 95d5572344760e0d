"""Signs that pictures can draw: our font, an installed one that has them, or their numbers."""

from __future__ import annotations

from functools import cache, lru_cache

from matplotlib.font_manager import findfont, fontManager
from matplotlib.ft2font import FT2Font, LoadFlags

OURS = "DejaVu Sans"
_NOT_READABLE = ("Last Resort",)
"""Fonts that have boxes for every sign."""
_INCH = 72.0
_DOT = 64.0
"""Parts of a dot in which the library that draws letters counts."""
_ROOM_FOR_HINTS = 1.07
"""Letters fitted to dots are drawn a little wider than their outlines."""


@cache
def family_with(char: str) -> str | None:
    """Return a font family that has a sign: ours where it does, None where no installed one does.

    Parameters
    ----------
    char : str
        One sign.
    """
    if ord(char) in _characters(findfont(OURS)):
        return OURS
    for entry in sorted(fontManager.ttflist, key=lambda each: (each.name, each.fname)):
        usual = entry.style == "normal" and not entry.name.startswith(_NOT_READABLE)
        if usual and ord(char) in _characters(entry.fname):
            return entry.name
    return None


def families(text: str) -> list[str]:
    """Return the font families that a text needs, ours first."""
    needed = (family_with(char) for char in text if not char.isspace())
    return list(dict.fromkeys([OURS, *(each for each in needed if each is not None)]))


def spoken(text: str) -> str:
    """Return text whose signs can be drawn: those that no font has are said by their numbers.

    Parameters
    ----------
    text : str
        Text on one line.
    """
    said = "".join(
        char if char.isspace() or family_with(char) else f" U+{ord(char):04X} " for char in text
    )
    return " ".join(said.split()) if said != text else text


@lru_cache(maxsize=4096)
def inches(text: str, size: float) -> float:
    """Return how wide a text is drawn in our font [inch].

    Parameters
    ----------
    text : str
        The text; signs that our font lacks count as wide as high.
    size : float
        Size of the letters [pt].
    """
    ours = "".join(char for char in text if char.isspace() or family_with(char) == OURS)
    wide = sum(1 for char in text if not char.isspace() and family_with(char) != OURS)
    shown = ours.replace("$", "S")
    font = FT2Font(findfont(OURS))
    font.set_size(size, _INCH)
    font.set_text(shown, 0.0, flags=LoadFlags.NO_HINTING)
    drawn = font.get_width_height()[0] / _DOT if shown.strip() else 0.0
    return _ROOM_FOR_HINTS * (drawn + wide * size) / _INCH


@cache
def _characters(path: str) -> frozenset[int]:
    """Return the signs a font file has; none where it can't be read."""
    try:
        return frozenset(FT2Font(path).get_charmap())
    except (OSError, RuntimeError):
        return frozenset()
