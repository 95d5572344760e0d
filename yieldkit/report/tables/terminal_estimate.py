"""An estimate as text for a terminal: the likely and the cautious year, and on what they rest."""

from __future__ import annotations

import math

from yieldkit.base.plain_text import plain_line
from yieldkit.report.tables.terminal import WIDTH, filled, stacked
from yieldkit.report.tables.terminal_money import house_lines, money_lines
from yieldkit.study.estimate.result import Estimate

AID = "A design aid, not a certificate."
_SHOWN_SHARE = 0.01
"""Causes of less of the variance are only in the saved tables [1]."""
HEADS = {
    "P50": "P50 likely",
    "P75": "P75",
    "P90": "P90 cautious",
    "P95": "P95",
    "P99": "P99",
}
"""What the columns of bands are called: so many of a hundred years exceed them."""


def estimate_text(estimate: Estimate, width: int = WIDTH) -> str:
    """Return an estimate as text.

    Parameters
    ----------
    estimate : Estimate
        What `estimate` returned.
    width : int
        Columns of the terminal.
    """
    attrs = estimate.data.attrs
    unchecked = [f"NOT CHECKED: {attrs['not_checked']}."] if attrs["not_checked"] else []
    lines = [
        filled(f"Wiring: {attrs['chosen']}.", width),
        *(filled(text, width) for text in unchecked),
        "",
        *(filled(text, width) for text in answer_of(estimate)),
        "",
        *_bands(estimate, width),
        "",
        *_months(estimate, width),
        "",
        *_way(estimate, width),
        "",
        *_causes(estimate, width),
        "",
        filled(yields_said(estimate), width),
        *house_lines(estimate, width),
        *money_lines(estimate, width),
        "",
        *(filled(text, width) for text in estimate.sentences),
        AID,
    ]
    return "\n".join(lines)


def answer_of(estimate: Estimate) -> tuple[str, str]:
    """Return the two sentences that everybody reads: likely, cautious, and the nominal beside."""
    attrs = estimate.data.attrs
    likely, cautious, nominal = estimate.likely_kwh, estimate.cautious_kwh, estimate.nominal_kwh
    low = float(estimate.data["bands"].sel(mean_years=1, exceedance=99))
    kwp = float(attrs["kwp"])
    return (
        f"{likely:,.0f} kWh in the likely first year, {cautious:,.0f} kWh in the cautious one: "
        f"nine of ten years yield more, and 99 of 100 more than {low:,.0f} kWh. That is "
        f"{likely / kwp:,.0f} and {cautious / kwp:,.0f} kWh/kWp of {kwp:.2f} kWp.",
        f"The likely year is the median of {attrs['draws']:,} draws. The nominal one, as the site "
        f"file stands and with nothing drawn, is {nominal:,.0f} kWh; the likely one lies "
        f"{abs(100.0 * (likely / nominal - 1.0)):.1f} % {'below' if likely < nominal else 'above'} "
        "it, step by step in the way from one to the other.",
    )


def _bands(estimate: Estimate, width: int) -> list[str]:
    table = estimate.bands
    names = ["kWh a year", *map(str, table.index)]
    heads = tuple(HEADS.get(str(name), str(name)) for name in table.columns)
    rows = [tuple(_whole(value) for value in row) for row in table.to_numpy()]
    return stacked(names, [heads, *rows], [[]] * len(rows), width)


def _months(estimate: Estimate, width: int) -> list[str]:
    table = estimate.months
    names = ["kWh of the first year", *map(str, table.index), "all"]
    heads = ("likely", "cautious", "alone from", "to")
    rows = [
        tuple(_whole(row[key]) for key in ("likely", "cautious", "low", "high"))
        for _, row in table.iterrows()
    ]
    sums = (_whole(table["likely"].sum()), _whole(table["cautious"].sum()), "", "")
    return stacked(names, [heads, *rows, sums], [[]] * (len(rows) + 1), width)


def _way(estimate: Estimate, width: int) -> list[str]:
    table = estimate.way
    names = ["from the nominal to the likely year", *map(str, table.index), "likely"]
    steps = [_whole(table["energy_kwh"].iloc[0])]
    steps += [f"{value:+z,.0f}" for value in table["energy_kwh"].iloc[1:]]
    rows = [("kWh",), *((step,) for step in steps), (_whole(estimate.likely_kwh),)]
    return stacked(names, rows, [[]] * len(rows), width)


def _causes(estimate: Estimate, width: int) -> list[str]:
    table = estimate.contributions
    shown = table[table["total_order"] >= _SHOWN_SHARE]
    names = ["what makes the first year unsure", *map(str, shown.index)]
    rows = [("alone", "with others", "known, saves")]
    rows += [
        (
            f"{100.0 * row['first_order']:.0f} %",
            f"{100.0 * row['total_order']:.0f} %",
            f"{row['saved']:,.0f} kWh",
        )
        for _, row in shown.iterrows()
    ]
    return stacked(names, rows, [[]] * len(shown), width)


def yields_said(estimate: Estimate) -> str:
    """Return the yields of the nominal year in one sentence, by their symbols."""
    parts = [
        plain_line(f"{symbol} {value:,.0f} h" if value > 2.0 else f"{symbol} {value:.3f}")
        for symbol, value in estimate.yields.items()
    ]
    return f"Nominal year by IEC 61724-1: {', '.join(parts)}."


def _whole(value: float) -> str:
    return "missing" if math.isnan(value) else f"{value:,.0f}"
