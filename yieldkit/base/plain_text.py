"""Text that is safe to show on a terminal: control and direction signs are taken out."""

from __future__ import annotations

import codecs
import shutil
import textwrap
import unicodedata
from typing import TextIO

_ELSE = "yieldkit-plain-signs"
_PLAIN_CHARACTERS = {
    "\u2264": "<=",
    "\u2265": ">=",
    "\u2212": "-",
    "\u2013": "-",
    "\u2014": "-",
    "\u2018": "'",
    "\u2019": "'",
    "\u201c": '"',
    "\u201d": '"',
    "\u2026": "...",
    "\u2192": "->",
    "\u00d7": "x",
    "\u00b7": "*",
    "\u00b0": " deg",
    "\u00b2": "2",
    "\u03a9": "ohm",
    "\u2126": "ohm",
}

_STEERING = frozenset("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
_STEERING_KINDS = ("Cc", "Cs", "Zl", "Zp")


def steers(char: str) -> bool:
    """Return whether a sign steers a terminal, breaks a line or turns the writing round."""
    return char in _STEERING or unicodedata.category(char) in _STEERING_KINDS


def plain_text(text: str) -> str:
    """Return text without signs that steer a terminal or turn its writing round.

    Parameters
    ----------
    text : str
        Any text; line feeds stay, a tab becomes a blank.

    Returns
    -------
    str
        Printable signs and line feeds only.
    """
    spaced = text.replace("\t", " ")
    return "".join(char for char in spaced if char == "\n" or char.isprintable())


def plain_line(text: str) -> str:
    """Return text as one line, for a terminal: blanks are collapsed, control signs taken out."""
    return " ".join(plain_text(" ".join(text.split())).split())


def line_for(stream: TextIO, text: str) -> str:
    """Return text as a line for a stream, broken between words where that is a terminal.

    Parameters
    ----------
    stream : text stream
        Where it goes.
    text : str
        Any text.
    """
    line = plain_line(text)
    if not stream.isatty():
        return line
    columns = max(shutil.get_terminal_size().columns, 40)
    return textwrap.fill(
        line, columns, subsequent_indent="  ", break_long_words=False, break_on_hyphens=False
    )


def speak_plainly(stream: TextIO | None) -> None:
    """Let a stream write what its encoding lacks in plain signs instead of failing.

    Parameters
    ----------
    stream : text stream or None
        Standard output or error; what can't be set otherwise stays as it is.
    """
    set_anew = getattr(stream, "reconfigure", None)
    if set_anew is not None and getattr(stream, "errors", None) == "strict":
        set_anew(errors=_ELSE)


def _in_plain_characters(error: UnicodeError) -> tuple[str, int]:
    """Say signs an encoding lacks in those it has; other scripts by their numbers."""
    if not isinstance(error, UnicodeEncodeError):
        raise error
    lacking = error.object[error.start : error.end]
    return "".join(_PLAIN_CHARACTERS.get(char, ascii(char)[1:-1]) for char in lacking), error.end


codecs.register_error(_ELSE, _in_plain_characters)
