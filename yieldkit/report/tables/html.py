"""Tables, lists and boxes of the report as HTML, all user text escaped."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence

from yieldkit.design.checks.cautions import CAUTIONS, DESIGN_AID
from yieldkit.design.checks.permission import FORBIDDEN
from yieldkit.report.markup import Html, escape
from yieldkit.report.tables.terminal import before_losses
from yieldkit.study.comparison.better import Better
from yieldkit.study.comparison.compare import Comparison
from yieldkit.study.uncertainty.verdict import SAME_PERCENT

_KEPT_ON_ONE_PAGE = 8
_SHORT, _LONG, _LONGEST_WORD = 18, 60, 16


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
    kept = ' class="whole"' if len(body) <= _KEPT_ON_ONE_PAGE and low else ""
    lines = [
        f'<div class="scroll"><table{kept}>',
        f"<caption>{escape(caption)}</caption>",
        "<thead><tr>",
    ]
    for column, text in enumerate(head):
        kind = ["number"] * (column in numbers) + ["broken"] * _has_long_word(text)
        css = f' class="{" ".join(kind)}"' if kind else ""
        lines.append(f'<th scope="col"{css}>{escape(text)}</th>')
    lines.append("</tr></thead><tbody>")
    for index, row in enumerate(body):
        lines.append('<tr class="marked">' if index == marked else "<tr>")
        for column, cell in enumerate(row):
            css = ' class="number"' if column in numbers else _width(str(cell))
            if column == 0:
                lines.append(f'<th scope="row"{css}>{escape(cell)}</th>')
            else:
                lines.append(f'<td{css} data-head="{escape(head[column])}">{escape(cell)}</td>')
        lines.append("</tr>")
    lines.append("</tbody></table></div>")
    return Html("".join(lines))


def _has_long_word(text: str) -> bool:
    return any(len(word) > _LONGEST_WORD for word in text.split())


def _width(text: str) -> str:
    """Return the class of a cell that shall not be broken, or shall have room."""
    if len(text) <= _SHORT:
        return ' class="short"'
    return ' class="long"' if len(text) > _LONG else ' class="middle"'


def heading(site_name: str) -> Html:
    """Return the page's one main heading."""
    return Html(f"<h1>Which wiring? {escape(site_name)}</h1>")


def sentences(texts: Iterable[str]) -> Html:
    """Return sentences as a list."""
    return Html("<ul>" + "".join(f"<li>{escape(text)}</li>" for text in texts) + "</ul>")


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
        *([] if better is None else [("Is there better?", better.words)]),
        (
            "Is the difference real?",
            "All wirings have the same weather, modules and inverter, so what they share cancels. "
            f"Differences below {SAME_PERCENT:g} % are called equal.",
        ),
        ("What is left out?", before_losses()),
    ]
    if comparison.remarks:
        answers.append(("What weather?", " ".join(comparison.remarks)))
    if comparison.site.invented:
        answers.append(("Whose building?", "Building and equipment are invented."))
    answer = comparison.answer
    apart = "".join(f"<li>{escape(other)}.</li>" for other in answer.others)
    first = f"<dt>By how much?</dt><dd><ul>{apart}</ul></dd>" if answer.others else ""
    parts = "".join(f"<dt>{escape(what)}</dt><dd>{escape(text)}</dd>" for what, text in answers)
    said = f"{answer.best}. {answer.alone}".strip()
    return Html(
        f'<div class="verdict"><p class="answer">{escape(said)}</p><dl>{first}{parts}</dl></div>'
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
    items = "".join(
        f"<li><strong>{escape(each.subject)}.</strong> {escape(each.text)}</li>"
        for each in CAUTIONS
    )
    return Html(f'<div class="caution"><p>{escape(DESIGN_AID)}</p><ul>{items}</ul></div>')


def provenance_table(comparison: Comparison) -> Html:
    """Return what the results were made from.

    Parameters
    ----------
    comparison : Comparison
        What `compare` returned.
    """
    attrs = comparison.results[0][1].attrs
    keys = (
        ("run", "run"),
        ("site, SHA-256 of its content", "site_sha256"),
        ("weather", "weather_title"),
        ("weather file", "weather_source"),
        ("attribution", "weather_attribution"),
        ("weather file, SHA-256", "weather_sha256"),
        ("clock check", "weather_clock"),
        ("local standard time", "time_zone"),
    )
    # What nobody stated has no row: own weather names no source of its licence.
    rows = [(title, attrs[key]) for title, key in keys if attrs.get(key, "") != ""]
    versions = json.loads(attrs["versions"])
    rows.append(("versions", ", ".join(f"{name} {number}" for name, number in versions.items())))
    return table(("what", "which"), rows, "What these results were made from")
