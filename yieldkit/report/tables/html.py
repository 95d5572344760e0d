"""Tables, lists and boxes of the report as HTML, all user text escaped."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

import xarray as xr

from yieldkit.design.checks.cautions import CAUTIONS, DESIGN_AID
from yieldkit.design.checks.permission import FORBIDDEN
from yieldkit.report.markup import Html, template
from yieldkit.report.tables.terminal import before_losses, within_steps
from yieldkit.study.comparison.better import Better
from yieldkit.study.comparison.compare import Comparison
from yieldkit.study.simulation.weather import weather_cautions
from yieldkit.study.uncertainty.verdict import SAME_PERCENT

_KEPT_ON_ONE_PAGE = 8
_SHORT, _LONG, _LONGEST_WORD = 18, 60, 16
_TABLE = template(
    '<div class="scroll"><table{% if whole %} class="whole"{% endif %}>'
    "<caption>{{ caption }}</caption><thead><tr>"
    "{% for kind, text in columns %}"
    '<th scope="col"{% if kind %} class="{{ kind }}"{% endif %}>{{ text }}</th>'
    "{% endfor %}</tr></thead><tbody>"
    "{% for row in rows %}"
    '<tr{% if loop.index0 == marked %} class="marked"{% endif %}>'
    "{% for kind, head, text in row %}{% if loop.first %}"
    '<th scope="row" class="{{ kind }}">{{ text }}</th>'
    "{% else %}"
    '<td class="{{ kind }}" data-head="{{ head }}">{{ text }}</td>'
    "{% endif %}{% endfor %}</tr>"
    "{% endfor %}</tbody></table></div>"
)
_HEADING = template("<h1>Which wiring? {{ name }}</h1>")
_SENTENCES = template("<ul>{% for text in texts %}<li>{{ text }}</li>{% endfor %}</ul>")
_ANSWERS = template(
    '<div class="verdict"><p class="answer">{{ said }}</p><dl>'
    "{% if lines %}<dt>{{ question }}</dt><dd><ul>"
    "{% for line in lines %}<li>{{ line }}</li>{% endfor %}</ul></dd>{% endif %}"
    "{% for what, text in answers %}<dt>{{ what }}</dt><dd>{{ text }}</dd>{% endfor %}"
    "</dl></div>"
)
_CAUTIONS = template(
    '<div class="caution"><p>{{ aid }}</p><ul>{% for each in cautions %}'
    "<li><strong>{{ each.subject }}.</strong> {{ each.text }}</li>{% endfor %}</ul></div>"
)


def table(
    head: Sequence[str],
    rows: Iterable[Sequence[object]],
    caption: str,
    numbers: Sequence[int] = (),
    marked: int | None = None,
) -> Html:
    """Return an HTML table.

    Parameters
    ----------
    head : sequence of str
        Column heads with units.
    rows : iterable of sequences
        Cells; the first of each row is its head.
    caption : str
        Caption.
    numbers : sequence of int
        Columns set flush right.
    marked : int, optional
        Row shown in bold.
    """
    body = list(rows)
    low = all(len(str(cell)) <= _LONG for row in body for cell in row)
    columns = [
        (" ".join(["number"] * (column in numbers) + ["broken"] * _has_long_word(text)), text)
        for column, text in enumerate(head)
    ]
    lines = [
        [
            ("number" if column in numbers else _width(str(cell)), head[column], cell)
            for column, cell in enumerate(row)
        ]
        for row in body
    ]
    whole = len(body) <= _KEPT_ON_ONE_PAGE and low
    return Html(
        _TABLE.render(caption=caption, columns=columns, rows=lines, whole=whole, marked=marked)
    )


def _has_long_word(text: str) -> bool:
    return any(len(word) > _LONGEST_WORD for word in text.split())


def _width(text: str) -> str:
    """Return the class of a cell that shall not be broken, or shall have room."""
    if len(text) <= _SHORT:
        return "short"
    return "long" if len(text) > _LONG else "middle"


def heading(site_name: str) -> Html:
    """Return the page's one main heading."""
    return Html(_HEADING.render(name=site_name))


def sentences(texts: Iterable[str]) -> Html:
    """Return sentences as a list."""
    return Html(_SENTENCES.render(texts=list(texts)))


def verdict_box(comparison: Comparison, better: Better | None = None) -> Html:
    """Return the first thing to read: which wiring, by how much, is it allowed, is it real.

    Parameters
    ----------
    comparison : Comparison
        What `compare` returned.
    better : Better, optional
        What a look at all other wirings says.
    """
    answers = [
        ("Is it allowed?", _allowed(comparison)),
        *_unchecked(comparison),
        *([] if better is None else [("Is there better?", better.sentence)]),
        (
            "Is the difference real?",
            "All wirings have the same weather, modules and inverters, so what they share cancels. "
            f"Differences below {SAME_PERCENT:g} % are called equal.",
        ),
        ("What is left out?", before_losses([comparison.site])),
    ]
    hidden = within_steps(dict(comparison.results)[str(comparison.table.index[0])])
    answers += [("What do the weather's steps hide?", text) for text in hidden]
    if comparison.remarks:
        answers.append(("What weather?", " ".join(comparison.remarks)))
    answers += known_of_weather(comparison.weather)
    if comparison.site.invented:
        answers.append(("Whose building?", "Building and equipment are invented."))
    answer = comparison.answer
    return answers_box(
        f"{answer.best}. {answer.alone}".strip(),
        ("By how much?", [f"{other}." for other in answer.others]),
        answers,
    )


def known_of_weather(weather: xr.Dataset) -> list[tuple[str, str]]:
    """Return the question how sure the weather is, with its answer; none if nothing is told."""
    said = weather_cautions(weather)
    return [("How sure is the weather?", " ".join(said))] if said else []


def answers_box(
    said: str, first: tuple[str, Sequence[str]], answers: Iterable[tuple[str, str]]
) -> Html:
    """Return the first thing to read on a page: the answer, and questions with theirs.

    Parameters
    ----------
    said : str
        The answer.
    first : tuple of (str, sequence of str)
        The first question with its answers, a line each; without any it is left out.
    answers : iterable of (str, str)
        The other questions, each with its answer.
    """
    question, lines = first
    return Html(
        _ANSWERS.render(said=said, question=question, lines=list(lines), answers=list(answers))
    )


def _allowed(comparison: Comparison) -> str:
    best = comparison.best
    parts = [] if best is None else [f"'{best}': {comparison.permission(best).sentence()}."]
    parts += [
        f"'{name}': {comparison.permission(name).sentence()}."
        for name, _ in comparison.findings
        if comparison.permission(name).word == FORBIDDEN
    ]
    return " ".join(parts)


def _unchecked(comparison: Comparison) -> list[tuple[str, str]]:
    """Return which limits of the best wiring are NOT CHECKED."""
    names = dict(comparison.findings)[comparison.best].unchecked() if comparison.best else ""
    return [("What is NOT CHECKED?", f"'{comparison.best}': {names}.")] if names else []


def cautions_box() -> Html:
    """Return the cautions that belong to every page that leads to work on cables."""
    return Html(_CAUTIONS.render(aid=DESIGN_AID, cautions=CAUTIONS))


def provenance_table(comparison: Comparison) -> Html:
    """Return what the results were made from.

    Parameters
    ----------
    comparison : Comparison
        What `compare` returned.
    """
    return origin_table(comparison.results[0][1].attrs)


def origin_table(attrs: Mapping[str, Any]) -> Html:
    """Return what results with these attributes were made from.

    Parameters
    ----------
    attrs : mapping
        Attributes of a result, `run` among them where it was saved.
    """
    keys = (
        ("run", "run"),
        ("site, SHA-256 of its content", "site_sha256"),
        ("weather", "weather_title"),
        ("weather file", "weather_source"),
        ("attribution", "weather_attribution"),
        ("weather file, SHA-256", "weather_sha256"),
        ("clock check", "weather_clock"),
        ("local standard time", "time_zone"),
        ("draws", "draws"),
        ("seed of the draws", "seed"),
        ("whole runs", "whole_runs"),
    )
    # What nobody stated has no row: own weather names no source of its licence.
    rows = [(title, attrs[key]) for title, key in keys if attrs.get(key, "") != ""]
    versions = json.loads(attrs["versions"])
    rows.append(("versions", ", ".join(f"{name} {number}" for name, number in versions.items())))
    return table(("what", "which"), rows, "What these results were made from")
