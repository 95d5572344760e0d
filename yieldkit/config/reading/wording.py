"""Values as messages show them: short, on one line, and with nothing that steers a terminal."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any, TypeGuard

from yieldkit.base.plain_text import steers

_LONGEST = 80
_LONGEST_PATH = 1000
_LARGEST = 1e100


def visible(text: str, longest: int = _LONGEST) -> str:
    """Return text on one line in which signs that steer a terminal are written out."""
    spelt = text
    if not (text.isascii() and text.isprintable()):
        spelt = "".join(
            f"\\u{ord(char):04x}" if steers(char) and char not in "\n\t" else char for char in text
        )
    line = " ".join(spelt.split())
    return line if len(line) <= longest else line[: longest - 3] + "..."


def shown_path(path: Path) -> str:
    """Return a path for a message: whole, since its end says which file it is."""
    return visible(str(path), _LONGEST_PATH)


def shown(value: Any) -> str:
    """Return a value for a message."""
    if value is None:
        return "nothing"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return f"'{visible(value)}'"
    if isinstance(value, dict):
        return visible("the keys " + ", ".join(map(str, value))) if value else "no keys"
    if isinstance(value, list | tuple):
        return f"a list of {len(value)}"
    if is_number(value):
        return f"{value:g}" if isinstance(value, float) else str(value)
    if isinstance(value, int):
        return "a number that is too large"
    return visible(str(value))


def is_number(value: Any) -> TypeGuard[float]:
    """Return whether a value is a finite number that one can reckon with, not a truth value."""
    return (
        isinstance(value, int | float)
        and not isinstance(value, bool)
        and -_LARGEST < value < _LARGEST
        and not math.isnan(value)
    )


def one_of(values: Any) -> str:
    """Return "one of 'a', 'b'" for a message, or the word itself if there is only one."""
    texts = [shown(word) for word in values]
    return texts[0] if len(texts) == 1 else "one of " + ", ".join(texts)
