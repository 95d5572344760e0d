"""What an object says of itself when a person shows it: a few lines, or a small table."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Sequence
from typing import NamedTuple

import jinja2

from yieldkit.base.plain_text import plain_line

_WIDTH = 80
_LONGEST = 40
_LONGEST_NAME = 24
_MOST_NAMES = 6
_MOST_LINES = 3

_HTML = jinja2.Environment(autoescape=True, undefined=jinja2.StrictUndefined)
_CARD = _HTML.from_string(
    "<div><strong>{{ title }}</strong><table>{% for label, said in rows %}"
    "<tr><th style='text-align:left'>{{ label }}</th>"
    "<td style='text-align:left'>{{ said }}</td></tr>"
    "{% endfor %}</table>{% if hint %}<div><small>{{ hint }}</small></div>{% endif %}</div>"
)
_TABLE = _HTML.from_string(
    "<div>{{ caption }}<table><tr>"
    "{% for cell in head %}<th style='text-align:left'>{{ cell }}</th>{% endfor %}</tr>"
    "{% for row in rows %}<tr>"
    "{% for cell in row %}<td style='text-align:left'>{{ cell }}</td>{% endfor %}</tr>"
    "{% endfor %}</table></div>"
)


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
        rows = [(label, plain_line(said)) for label, said in self.rows]
        return _CARD.render(title=plain_line(self.title), rows=rows, hint=self.hint)


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
    return _TABLE.render(caption=caption, head=list(head), rows=[list(row) for row in rows])
