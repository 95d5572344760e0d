"""A comparison as text for a terminal."""

from __future__ import annotations

from yieldkit.report.tables.terminal import (
    WIDTH,
    before_losses,
    filled,
    nominal_year,
    stacked,
    within_steps,
)
from yieldkit.study.comparison.better import Better
from yieldkit.study.comparison.compare import Comparison


def comparison_text(
    comparison: Comparison, width: int = WIDTH, better: Better | None = None
) -> str:
    """Return the verdict and a table of the wirings.

    Parameters
    ----------
    comparison : Comparison
        What `compare` returned.
    width : int
        Columns of the terminal.
    better : Better, optional
        What a look at all other wirings says.
    """
    numbers = [("kWh", "kWh/kWp", "to best", "mismatch", "clipped")]
    below = []
    for name, row in comparison.table.iterrows():
        numbers.append(
            (
                f"{row['energy_kwh']:,.0f}",
                f"{row['kwh_per_kwp']:.0f}",
                f"{row['difference_percent']:z.2f}%",
                f"{row['mismatch_kwh']:.0f} kWh",
                f"{row['clipped_hours']:.0f} h",
            )
        )
        costs = f"; {row['costs_yield']} cost yield" if row["costs_yield"] else ""
        below.append([comparison.permission(str(name)).sentence() + costs])
    names = ["wiring", *(str(name) for name in comparison.table.index)]
    rows = stacked(names, numbers, below, width)
    answer = filled(comparison.verdict, width)
    look = () if better is None else (better.sentence,)
    said = (
        *look,
        comparison.cable_note(),
        *within_steps(dict(comparison.results)[names[1]]),
        *comparison.remarks,
        *nominal_year(comparison.period.is_year),
        before_losses([comparison.site]),
    )
    return "\n".join([answer, "", *rows, "", *(filled(text, width) for text in said)])
