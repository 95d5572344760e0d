"""Our own page round an executed notebook: self-contained, printable, without scripts."""

from __future__ import annotations

import re
from datetime import UTC, datetime

import jinja2
import nbformat
from markupsafe import Markup
from nbconvert import HTMLExporter

from yieldkit.report.markup import visible
from yieldkit.report.offer.style import SHEET_STYLE
from yieldkit.report.page.blanks_style import BLANKS_STYLE
from yieldkit.report.words.language import LANGUAGES

POLICY = (
    "default-src 'none'; img-src data:; style-src 'unsafe-inline'; base-uri 'none'; "
    "form-action 'none'"
)
"""The page loads nothing, runs nothing and sends nothing."""

_SHOWN = ("text/html", "image/png", "text/plain")
_HEADING = re.compile(r"<h2[^>]*>(.*?)</h2>", re.DOTALL)
_SHEET = re.compile(r'<article class="sheet" lang="([a-z]{2})">')
"""A customer's page: its title is in its language, and it has its own look, no list of chapters."""

_STYLE = """
:root { --ink: #1b1b1b; --soft: #4f4f4f; --line: #c9c9c9; --wash: #f4f4f1; }
* { box-sizing: border-box; }
body { margin: 0; color: var(--ink); background: #fff; overflow-wrap: anywhere;
  font: 15px/1.5 "DejaVu Sans", Verdana, sans-serif; }
main { max-width: 62em; margin: 0 auto; padding: 1.2em 1.25em 4em; }
h1 { font-size: 1.6em; line-height: 1.25; margin: 0.4em 0 0.8em; overflow-wrap: anywhere; }
h2 { font-size: 1.2em; margin: 2.2em 0 0.6em; border-bottom: 2px solid var(--line); }
h3 { font-size: 1em; margin: 1.4em 0 0.4em; }
.verdict { border: 2px solid var(--ink); padding: 0.8em 1.2em; margin: 0.8em 0; }
.verdict p { margin: 0.2em 0; }
.verdict ul { margin: 0; padding: 0; list-style: none; }
.verdict .answer { font-size: 1.15em; font-weight: 700; margin-bottom: 0.5em; }
.verdict dl { margin: 0; display: grid; grid-template-columns: max-content 1fr; gap: 0.3em 1em; }
.verdict dt { font-weight: 700; } .verdict dd { margin: 0; overflow-wrap: anywhere; }
.caution { border-left: 6px solid var(--ink); background: var(--wash); padding: 0.4em 1em; }
.scroll { overflow-x: auto; }
nav { margin: 1em 0; font-size: 0.88em; } nav ul { margin: 0; padding: 0; list-style: none; }
nav li { display: inline; } nav li:not(:last-child)::after { content: " \\00b7  "; }
a { color: inherit; }
table { border-collapse: collapse; margin: 0.6em 0 1.2em; font-size: 0.84em; }
caption { text-align: left; color: var(--soft); padding-bottom: 0.3em; }
th, td { border-bottom: 1px solid var(--line); padding: 0.25em 1.1em 0.25em 0; text-align: left;
  vertical-align: top; overflow-wrap: anywhere; }
thead th { border-bottom: 1.5px solid var(--ink); vertical-align: bottom; overflow-wrap: normal; }
thead th.broken { overflow-wrap: anywhere; min-width: 7em; }
tbody th { font-weight: 400; min-width: 8em; }
td.short, th.short { white-space: nowrap; min-width: 0; } td.long { min-width: 17em; }
td.middle { min-width: 8em; }
td.number, th.number { text-align: right; font-variant-numeric: tabular-nums; }
td.number { white-space: nowrap; } table.whole { break-inside: avoid; }
tr.marked td, tr.marked th { font-weight: 700; background: var(--wash); }
figure { margin: 1em 0 1.4em; break-inside: avoid; } figure.tall { break-inside: auto; }
figure img { display: block; width: 100%; max-width: 56em; height: auto; }
figcaption { color: var(--soft); font-size: 0.84em; margin-bottom: 0.3em; }
footer { color: var(--soft); font-size: 0.8em; margin-top: 3em; padding-top: 0.6em;
  border-top: 1px solid var(--line); }
pre { white-space: pre-wrap; overflow-wrap: anywhere; font-size: 0.85em; }
@media (max-width: 42em) {
  .verdict dl { grid-template-columns: 1fr; gap: 0; } .verdict dd { margin-bottom: 0.5em; }
}
@media screen and (max-width: 42em) {
  thead { display: none; }
  table, caption, tbody, tr, tbody th, tbody td { display: block; width: 100%; }
  table { font-size: 0.94em; } tr { border-bottom: 1.5px solid var(--line); padding: 0.4em 0; }
  tbody th, tbody td, td.number, td.short, td.middle, td.long { border: 0;
    padding: 0.05em 0; min-width: 0; text-align: left; white-space: normal; }
  tbody th { font-weight: 700; }
  tbody td::before { content: attr(data-head) ": "; color: var(--soft); }
  tbody td:empty { display: none; }
  figure { overflow-x: auto; } figure img { min-width: 52em; }
  figcaption::after { content: " Wider than the screen: move it sideways."; }
}
@media print {
  @page { margin: 15mm 13mm;
    @bottom-right { content: counter(page) " of " counter(pages); font: 8pt sans-serif; }
    @bottom-left { content: "{{ short }}"; font: 8pt sans-serif; } }
  body { font-size: 9.5pt; line-height: 1.4; }
  main { max-width: none; padding: 0; }
  nav { display: none; }
  h1 { font-size: 16pt; } h2 { font-size: 12pt; margin-top: 14pt; }
  h2, h3, caption { break-after: avoid; }
  tr, .verdict, li, img, figure.tall div { break-inside: avoid; }
  tbody tr:first-child { break-after: avoid; } tbody tr:last-child { break-before: avoid; }
  table { font-size: 8pt; } thead { display: table-header-group; }
  .scroll { overflow: visible; }
  .verdict, .caution, tr.marked td, tr.marked th { print-color-adjust: exact; }
}
"""

_PAGE = jinja2.Environment(autoescape=True).from_string(
    """<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="{{ policy }}">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="run" content="{{ run }}">
<title{% if lang %} lang="{{ lang }}"{% endif %}>{{ title }}</title>
<style>{{ style }}</style>
</head>
<body>
<main>
{{ body }}
<footer>Made by yieldkit on {{ made }}, run {{ run }}. A design aid, not a certificate.</footer>
</main>
</body>
</html>
"""
)

_CONTENTS = jinja2.Environment(autoescape=True).from_string(
    '<nav aria-label="Sections"><ul>{% for title in titles %}'
    '<li><a href="#section-{{ loop.index }}">{{ title }}</a></li>{% endfor %}</ul></nav>'
)


def page_of(notebook: nbformat.NotebookNode, title: str, run: str) -> str:
    """Return an executed notebook as one page.

    Parameters
    ----------
    notebook : NotebookNode
        The executed notebook; its code is left out, its outputs and words stay.
    title : str
        The page's title; a customer's page has one in its own language.
    run : str
        The id of the run it belongs to.

    Returns
    -------
    str
        HTML that loads nothing: a content security policy, styles and pictures inside.
    """
    exporter = HTMLExporter(
        template_name="basic",
        exclude_input=True,
        exclude_input_prompt=True,
        exclude_output_prompt=True,
        exclude_anchor_links=True,
    )
    body, _resources = exporter.from_notebook_node(_fit_to_show(notebook))
    sheet = _SHEET.search(body)
    lang = sheet[1] if sheet else ""
    called = LANGUAGES[lang]["title"] if sheet else title
    style = _STYLE.replace("{{ short }}", _in_style(called))
    return _PAGE.render(
        lang=lang,
        policy=Markup(POLICY),
        title=called,
        style=Markup(style + (SHEET_STYLE if sheet else BLANKS_STYLE)),
        body=Markup(body if sheet else _with_contents(body)),
        run=run,
        made=datetime.now(UTC).strftime("%Y-%m-%d %H:%M UTC"),
    )


def _in_style(text: str) -> str:
    """Return text for a string of a style sheet: only letters, figures, blanks and plain signs."""
    return "".join(char for char in visible(text) if char.isalnum() or char in " ,.()-")[:80]


def _with_contents(body: str) -> str:
    """Give the sections numbers and put links to them before the first."""
    titles = _HEADING.findall(body)
    if not titles:
        return body
    numbers = iter(range(1, len(titles) + 1))
    marked = _HEADING.sub(lambda found: f'<h2 id="section-{next(numbers)}">{found[1]}</h2>', body)
    links = _CONTENTS.render(titles=[Markup(title) for title in titles])
    place = marked.index("<h2 id=")
    return f"{marked[:place]}{links}{marked[place:]}"


def _fit_to_show(notebook: nbformat.NotebookNode) -> nbformat.NotebookNode:
    """Keep what a page shows: no error stream, nothing that would want a script."""
    fit: nbformat.NotebookNode = nbformat.from_dict(notebook)
    for cell in fit.cells:
        if cell.cell_type == "code":
            cell.outputs = [each for each in map(_shown, cell.outputs) if each is not None]
    return fit


def _shown(output: nbformat.NotebookNode) -> nbformat.NotebookNode | None:
    """Return an output with the kinds of content that a page shows, or None."""
    if output.get("name") == "stderr":
        return None
    if "data" not in output:
        return output
    data = {kind: output.data[kind] for kind in _SHOWN if kind in output.data}
    return nbformat.from_dict({**output, "data": data}) if data else None
