"""Tables and boxes of the report as HTML, all user text escaped."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from yieldkit.design.cautions import cautions
from yieldkit.report.figures import monthly_table
from yieldkit.report.findings_text import counts_sentence
from yieldkit.report.page import escape
from yieldkit.report.picture import Html
from yieldkit.report.text import before_losses
from yieldkit.study.compare import Comparison
from yieldkit.study.losses import STEPS


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
    lines = ['<div class="scroll"><table>', f"<caption>{escape(caption)}</caption>", "<thead><tr>"]
    for column, text in enumerate(head):
        css = ' class="number"' if column in numbers else ""
        lines.append(f'<th scope="col"{css}>{escape(text)}</th>')
    lines.append("</tr></thead><tbody>")
    for index, row in enumerate(rows):
        lines.append('<tr class="marked">' if index == marked else "<tr>")
        for column, cell in enumerate(row):
            css = ' class="number"' if column in numbers else ""
            if column == 0:
                lines.append(f'<th scope="row"{css}>{escape(cell)}</th>')
            else:
                lines.append(f"<td{css}>{escape(cell)}</td>")
        lines.append("</tr>")
    lines.append("</tbody></table></div>")
    return Html("".join(lines))


def heading(site_name: str) -> Html:
    """Return the page's one main heading."""
    return Html(f"<h1>Which wiring? {escape(site_name)}</h1>")


def monthly_table_html(comparison: Comparison) -> Html:
    """Return delivered energy by month [kWh]."""
    months = monthly_table(comparison)
    rows = [(name, *(f"{value:,.0f}" for value in row)) for name, row in months.iterrows()]
    return table(
        ("month", *months.columns),
        rows,
        "Delivered energy by month, kWh",
        numbers=tuple(range(1, len(months.columns) + 1)),
    )


def verdict_box(comparison: Comparison) -> Html:
    """Return the first thing to read: which wiring, by how much, is it allowed."""
    parts = [f"<p>{escape(comparison.verdict)}</p>"]
    if comparison.best is not None:
        found = dict(comparison.findings)[comparison.best]
        parts.append(
            f"<p>Checks of '{escape(comparison.best)}': {escape(counts_sentence(found))}</p>"
        )
    refused = [str(name) for name, row in comparison.table.iterrows() if not row["permitted"]]
    if refused:
        names = ", ".join(f"'{name}'" for name in refused)
        parts.append(f"<p>Not permitted as drawn: {escape(names)}.</p>")
    parts.append(f"<p>{escape(before_losses())}</p>")
    if comparison.site.invented:
        parts.append("<p>Building and equipment are invented, for demonstration.</p>")
    return Html('<div class="verdict">' + "".join(parts) + "</div>")


def comparison_table(comparison: Comparison) -> Html:
    """Return the wirings side by side."""
    rows = []
    for name, row in comparison.table.iterrows():
        rows.append(
            (
                name,
                f"{row['energy_kwh']:,.0f}",
                f"{row['kwh_per_kwp']:,.0f}",
                f"{row['difference_percent']:.2f}",
                f"{row['mismatch_kwh']:,.0f}",
                f"{row['clipped_hours']:.0f}",
                f"{row['derated_hours']:.0f}",
                f"{row['modules_wired']} of {row['modules']}",
                "yes" if row["permitted"] else f"no ({row['not_permitted']} against limits)",
            )
        )
    names = list(comparison.table.index)
    return table(
        (
            "wiring",
            "kWh",
            "kWh/kWp",
            "to best, %",
            "mismatch, kWh",
            "clipped, h",
            "derated, h",
            "modules wired",
            "permitted",
        ),
        rows,
        "Yearly energy at the far end of the AC lead",
        numbers=(1, 2, 3, 4, 5, 6),
        marked=names.index(comparison.best) if comparison.best in names else None,
    )


def budget_table(comparison: Comparison) -> Html:
    """Return every step of every loss budget [kWh]."""
    names = [name for name, _ in comparison.results]
    rows = [
        (
            "energy at STC efficiency",
            *(f"{float(r['potential'][0]):,.0f}" for _, r in comparison.results),
        )
    ]
    for step in STEPS:
        rows.append(
            (
                step,
                *(
                    f"{round(float(r['loss_budget'].sel(loss_step=step)), 1) + 0.0:,.1f}"
                    for _, r in comparison.results
                ),
            )
        )
    rows.append(("delivered", *(f"{r.attrs['energy_kwh']:,.0f}" for _, r in comparison.results)))
    return table(
        ("step", *names),
        rows,
        "Loss budget in kWh; a negative loss is a gain. The steps add up exactly.",
        numbers=tuple(range(1, len(names) + 1)),
        marked=len(rows) - 1,
    )


def tracker_table(comparison: Comparison, wiring: str) -> Html:
    """Return each tracker's load in a wiring."""
    result = comparison.result(wiring)
    hours = result.attrs["interval_s"] / 3600.0
    rows = []
    for name in result["tracker"].to_numpy():
        own = result.sel(tracker=name)
        rows.append(
            (
                name,
                f"{float(own['tracker_energy']):,.0f}",
                f"{float(own['p_dc'].max()):,.0f}",
                f"{float(own['v_dc'].max()):.0f}",
                f"{float(own['i_dc'].max()):.1f}",
                f"{float((own['binding_limit'] > 1).sum()) * hours:.0f}",
            )
        )
    return table(
        (
            "input",
            "DC energy, kWh",
            "largest power, W",
            "highest voltage, V",
            "largest current, A",
            "held by a limit, h",
        ),
        rows,
        f"Load of each input: {wiring}",
        numbers=(1, 2, 3, 4, 5),
    )


def sentences(texts: Iterable[str]) -> Html:
    """Return sentences as a list."""
    return Html("<ul>" + "".join(f"<li>{escape(text)}</li>" for text in texts) + "</ul>")


def cautions_box() -> Html:
    """Return the cautions that belong to every page that leads to work on cables."""
    return Html('<div class="caution">' + sentences(cautions()).text + "</div>")


def provenance_table(comparison: Comparison) -> Html:
    """Return what the results were made from."""
    attrs = comparison.results[0][1].attrs
    keys = (
        ("site file", "site_sha256"),
        ("weather", "weather_title"),
        ("weather file", "weather_source"),
        ("attribution", "weather_attribution"),
        ("weather file, SHA-256", "weather_sha256"),
        ("clock check", "weather_clock"),
        ("local time", "time_zone"),
        ("versions", "versions"),
    )
    rows = [(title, attrs[key]) for title, key in keys]
    return table(("what", "which"), rows, "Provenance")
