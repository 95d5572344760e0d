"""What an object says of itself when a person shows it: a few lines, or a small table."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Sequence
from html import escape
from typing import NamedTuple

from yieldkit.base.plain_text import plain_line

_WIDTH = 80
_LONGEST = 40
_LONGEST_NAME = 24
_MOST_NAMES = 6
_MOST_LINES = 3


class Card(NamedTuple):
    """A title and what belongs to it.

    Parameters
    ----------
    title : str
        What it is.
    rows : tuple of (str, str)
        Label and text.
    hint : str
        What to ask it next.
    """

    title: str
    rows: tuple[tuple[str, str], ...]
    hint: str = ""

    def text(self) -> str:
        """Return it in lines of at most 80 signs."""
        beside = max((len(label) for label, _ in self.rows), default=0) + 4
        lines = textwrap.wrap(plain_line(self.title), _WIDTH)
        for label, said in self.rows:
            lines += textwrap.wrap(
                plain_line(said) or "-",
                _WIDTH,
                initial_indent=f"  {label}: ".ljust(beside),
                subsequent_indent=" " * beside,
                max_lines=_MOST_LINES,
            )
        return "\n".join(lines + textwrap.wrap(self.hint, _WIDTH))

    def html(self) -> str:
        """Return it as a table for a notebook, with all text escaped."""
        rows = "".join(
            f"<tr>{_cells('th', [label])}{_cells('td', [plain_line(said)])}</tr>"
            for label, said in self.rows
        )
        hint = f"<div><small>{escape(self.hint)}</small></div>" if self.hint else ""
        title = escape(plain_line(self.title))
        return f"<div><strong>{title}</strong><table>{rows}</table>{hint}</div>"


def short_name(name: str, longest: int = _LONGEST) -> str:
    """Return a name cut at its end where it is too long for a line."""
    line = plain_line(name)
    return line if len(line) <= longest else line[: longest - 3] + "..."


def some_names(names: Sequence[str], most: int = _MOST_NAMES, longest: int = _LONGEST_NAME) -> str:
    """Return the first names, and how many more there are."""
    shown = ", ".join(short_name(name, longest) for name in names[:most])
    more = len(names) - most
    return f"{shown} and {more} more" if more > 0 else shown


def table_html(caption: str, head: Iterable[str], rows: Iterable[Iterable[str]]) -> str:
    """Return a plain table for a notebook, with all text escaped."""
    lines = "".join(f"<tr>{_cells('td', row)}</tr>" for row in rows)
    table = f"<table><tr>{_cells('th', head)}</tr>{lines}</table>"
    return f"<div>{escape(caption)}{table}</div>"


def _cells(kind: str, texts: Iterable[str]) -> str:
    return "".join(f"<{kind} style='text-align:left'>{escape(text)}</{kind}>" for text in texts)
