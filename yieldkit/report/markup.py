"""Text as our own HTML: escaped, and marked as finished for a notebook to show."""

from __future__ import annotations

import html
import re
from typing import NamedTuple

import jinja2
from markupsafe import Markup

_RIGHT = "\u0590-\u08ff\ufb1d-\ufdff\ufe70-\ufefc"
_MARK = "\u200e"
_NO_BREAK = re.compile("([\u00a0\u202f])")
_FROM_RIGHT = re.compile(rf"[{_RIGHT}](?:[{_RIGHT}\s\d.,'/-]*[{_RIGHT}])?")
"""A name in letters that are written from right to left, its blanks and figures inside included."""


class Html(NamedTuple):
    """A piece of our own HTML for a notebook to show."""

    text: str

    def _repr_html_(self) -> str:
        return self.text


def template(source: str, unbroken: bool = False) -> jinja2.Template:
    """Return a template of our HTML; every value put into it is escaped as by `escape`.

    Parameters
    ----------
    source : str
        Our own text, with places for values; a value that is left out is an error.
    unbroken : bool
        Keep blanks at which no line is broken, as between a number and its unit.
    """
    return (_UNBROKEN if unbroken else _TEMPLATES).from_string(source)


def _finished(value: object) -> Markup:
    return value if isinstance(value, Markup) else Markup(escape(value))


def _finished_unbroken(value: object) -> Markup:
    if isinstance(value, Markup):
        return value
    parts = _NO_BREAK.split(str(value))
    return Markup("".join(part if _NO_BREAK.fullmatch(part) else escape(part) for part in parts))


_TEMPLATES, _UNBROKEN = (
    jinja2.Environment(autoescape=True, finalize=finalize, undefined=jinja2.StrictUndefined)
    for finalize in (_finished, _finished_unbroken)
)


def escape(text: object) -> str:
    """Return text for HTML: escaped, quotes as well, without signs that turn its writing round."""
    return html.escape(kept_apart(visible(text)), quote=True)


def kept_apart(text: str) -> str:
    """Return text whose names from right to left keep to themselves.

    Without that "14 A + 7 B" of two such names is shown as "14 B 7 + A" among our own words, by the
    rules of Unicode's bidirectional algorithm. An unseen mark stands behind each (U+200E).
    """
    if not _FROM_RIGHT.search(text):
        return text
    return _MARK + _FROM_RIGHT.sub(lambda name: f"{name[0]}{_MARK}", text)


def visible(text: object) -> str:
    """Return text with every kind of blank as a blank and no sign that can't be seen."""
    blank = " "
    return "".join(
        char if char.isprintable() else blank if char.isspace() else "" for char in str(text)
    )
