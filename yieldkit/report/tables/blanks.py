"""Blanks to fill in, boxes to tick and small tables of numbers, as pieces of HTML."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from markupsafe import Markup

from yieldkit.report.markup import template

_SUBHEADING = template("<h3>{{ text }}</h3>")
_TICKS = template(
    '<ul class="ticks">{% for number, text in rows %}<li><span class="tick"></span>'
    '{% if number %}<span class="number">{{ number }}</span>{% endif %}'
    "<span>{{ text }}</span></li>{% endfor %}</ul>"
)
_BLANKS = template(
    '<ul class="blanks">{% for what, unit in rows %}<li><span class="what">{{ what }}</span>'
    '<span class="line"></span><span class="unit">{{ unit }}</span></li>{% endfor %}</ul>'
)
_LIST = template("<ul>{% for text in texts %}<li>{{ text }}</li>{% endfor %}</ul>")
_PAIR = template('<div class="pair">{% for part in parts %}<div>{{ part }}</div>{% endfor %}</div>')
_GRID = template(
    '<table class="grid"><caption>{{ caption }}</caption><thead><tr>'
    '{% for text in head %}<th scope="col">{{ text }}</th>{% endfor %}</tr></thead><tbody>'
    "{% for row in rows %}<tr>{% for text in row %}{% if loop.first %}"
    '<th scope="row">{{ text }}</th>{% else %}<td>{{ text }}</td>{% endif %}{% endfor %}</tr>'
    "{% endfor %}</tbody></table>"
)


def subheading(text: str) -> Markup:
    """Return a heading within a section.

    Parameters
    ----------
    text : str
        The heading.
    """
    return Markup(_SUBHEADING.render(text=text))


def ticks(texts: Iterable[str], numbers: Iterable[str] | None = None) -> Markup:
    """Return texts with a box to tick before each.

    Parameters
    ----------
    texts : iterable of str
        The texts.
    numbers : iterable of str, optional
        Their numbers.
    """
    told = list(texts)
    shown = [""] * len(told) if numbers is None else list(numbers)
    return Markup(_TICKS.render(rows=list(zip(shown, told, strict=True))))


def blanks(rows: Iterable[tuple[str, str]]) -> Markup:
    """Return lines to write on.

    Parameters
    ----------
    rows : iterable of (str, str)
        What is asked, and the unit behind the line.
    """
    return Markup(_BLANKS.render(rows=list(rows)))


def part(title: str, rows: Iterable[tuple[str, str]]) -> Markup:
    """Return lines to write on under a heading; see `blanks`."""
    return subheading(title) + blanks(rows)


def pair(parts: Sequence[Markup]) -> Markup:
    """Return parts two in a row, on a narrow screen below one another.

    Parameters
    ----------
    parts : sequence of Markup
        Finished pieces.
    """
    return Markup(_PAIR.render(parts=list(parts)))


def bullets(texts: Iterable[str]) -> Markup:
    """Return texts as a list.

    Parameters
    ----------
    texts : iterable of str
        The texts.
    """
    return Markup(_LIST.render(texts=list(texts)))


def grid(caption: str, head: Sequence[str], rows: Iterable[Sequence[str]]) -> Markup:
    """Return a small table of numbers that stays a table on a narrow screen.

    Parameters
    ----------
    caption : str
        Caption.
    head : sequence of str
        Column heads.
    rows : iterable of sequences of str
        Cells; the first of each row is its head.
    """
    return Markup(_GRID.render(caption=caption, head=head, rows=list(rows)))
