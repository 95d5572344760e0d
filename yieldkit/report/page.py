"""Our own page round an executed notebook: self-contained, printable, without scripts."""

from __future__ import annotations

import html
import re
from datetime import UTC, datetime

import jinja2
import nbformat
from markupsafe import Markup
from nbconvert import HTMLExporter

_POLICY = "default-src 'none'; img-src data:; style-src 'unsafe-inline'"

_STYLE = """
:root { --ink: #1b1b1b; --soft: #5a5a5a; --line: #c9c9c9; --wash: #f4f4f1; }
* { box-sizing: border-box; }
body { margin: 0; color: var(--ink); background: #fff; font: 16px/1.5 "DejaVu Sans", Verdana,
  sans-serif; }
main { max-width: 62rem; margin: 0 auto; padding: 1.5rem 1.25rem 4rem; }
h1 { font-size: 1.7rem; line-height: 1.2; margin: 0.5rem 0 1rem; }
h2 { font-size: 1.25rem; margin: 2.2rem 0 0.6rem; border-bottom: 2px solid var(--line); }
h3 { font-size: 1.05rem; margin: 1.4rem 0 0.4rem; }
.verdict { border: 2px solid var(--ink); padding: 1rem 1.25rem; margin: 1rem 0; }
.verdict p { margin: 0.3rem 0; } .verdict p:first-child { font-size: 1.15rem; font-weight: 700; }
.caution { border-left: 6px solid var(--ink); background: var(--wash); padding: 0.6rem 1rem; }
.scroll { overflow-x: auto; }
table { border-collapse: collapse; margin: 0.6rem 0; font-size: 0.88rem; }
caption { text-align: left; color: var(--soft); padding-bottom: 0.3rem; }
th, td { border-bottom: 1px solid var(--line); padding: 0.25rem 0.7rem; text-align: left;
  vertical-align: top; }
td.number, th.number { text-align: right; font-variant-numeric: tabular-nums; white-space: nowrap; }
tr.best td, tr.best th { font-weight: 700; }
figure { margin: 1rem 0; break-inside: avoid; } figure img { max-width: 100%; height: auto; }
figcaption { color: var(--soft); font-size: 0.88rem; }
footer { color: var(--soft); font-size: 0.8rem; margin-top: 3rem; border-top: 1px solid var(--line);
  padding-top: 0.6rem; }
pre { white-space: pre-wrap; font-size: 0.85rem; }
@media print {
  @page { margin: 16mm 14mm; }
  body { font-size: 10pt; } main { max-width: none; padding: 0; }
  h2, h3 { break-after: avoid; } tr, .verdict, .caution { break-inside: avoid; }
  thead { display: table-header-group; } .scroll { overflow: visible; }
}
"""

_PAGE = jinja2.Environment(autoescape=True).from_string(
    """<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="{{ policy }}">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>{{ title }}</title>
<style>{{ style }}</style>
</head>
<body>
<main>
{{ body }}
<footer>Made by yieldkit on {{ made }}. A design aid, not a certificate.</footer>
</main>
</body>
</html>
"""
)
_SCRIPT = re.compile(r"<script\b.*?</script\s*>", re.IGNORECASE | re.DOTALL)


def page_of(notebook: nbformat.NotebookNode, title: str) -> str:
    """Return an executed notebook as one page.

    Parameters
    ----------
    notebook : NotebookNode
        The executed notebook; its code is left out, its outputs and words stay.
    title : str
        The page's title.

    Returns
    -------
    str
        HTML that loads nothing: a content security policy, styles and pictures inside.
    """
    exporter = HTMLExporter(template_name="basic", exclude_input=True, exclude_input_prompt=True)
    exporter.exclude_output_prompt = True
    exporter.anchor_link_text = ""
    body, _resources = exporter.from_notebook_node(_without_noise(notebook))
    body = _SCRIPT.sub("", body)
    return _PAGE.render(
        policy=_POLICY,
        title=title,
        style=_safe(_STYLE),
        body=_safe(body),
        made=datetime.now(UTC).strftime("%Y-%m-%d %H:%M UTC"),
    )


def _safe(text: str) -> Markup:
    """Mark our own markup as such for the template."""
    return Markup(text)


def _without_noise(notebook: nbformat.NotebookNode) -> nbformat.NotebookNode:
    """Drop what a kernel prints to its error stream."""
    for cell in notebook.cells:
        if cell.cell_type == "code":
            cell.outputs = [o for o in cell.outputs if o.get("name") != "stderr"]
    return notebook


def escape(text: object) -> str:
    """Return text for HTML, with quotes escaped as well."""
    return html.escape(str(text), quote=True)
