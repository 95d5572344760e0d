"""Text that is safe to show on a terminal: control and direction signs are taken out."""

from __future__ import annotations


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
    return "".join(sign for sign in spaced if sign == "\n" or sign.isprintable())


def plain_line(text: str) -> str:
    """Return text as one line, for a terminal: blanks are collapsed, control signs taken out."""
    return " ".join(plain_text(" ".join(text.split())).split())
