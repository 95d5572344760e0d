"""What the building uses itself and what a plant is worth, as text for a terminal."""

from __future__ import annotations

from yieldkit.base.plain_text import plain_line
from yieldkit.report.tables.terminal import filled, stacked
from yieldkit.study.estimate.result import Estimate

HEADS = ("likely", "cautious")
NO_PRICES = "The offer states no prices, so nothing is said of money."


def house_lines(estimate: Estimate, width: int) -> list[str]:
    """Return what the building uses itself; nothing where no load is stated.

    Parameters
    ----------
    estimate : Estimate
        What `estimate` returned.
    width : int
        Columns of the terminal.
    """
    table = estimate.house
    if table is None:
        return []
    names = [
        "the building's first year",
        *(f"{name}, {row.unit}" for name, row in table.iterrows()),
    ]
    rows = [tuple(f"{float(row[head]):,.0f}" for head in HEADS) for _, row in table.iterrows()]
    lines = ["", *stacked(names, [HEADS, *rows], [[]] * len(rows), width)]
    bound = str(estimate.data.attrs["self_use_upper_bound"])
    return [*lines, filled(f"Self-use is an upper bound: {bound}.", width)] if bound else lines


def money_lines(estimate: Estimate, width: int) -> list[str]:
    """Return what a plant is worth, with the prices that it rests on.

    Parameters
    ----------
    estimate : Estimate
        What `estimate` returned.
    width : int
        Columns of the terminal.

    Returns
    -------
    list of str
        Nothing where the site states no offer; that there are no prices where its offer has none.
    """
    money = estimate.money
    if money is None:
        return [] if estimate.offer is None else ["", filled(NO_PRICES, width)]
    table = money.table
    names = ["what it is worth", *(f"{name}, {row.unit}" for name, row in table.iterrows())]
    rows = [tuple(_figure(row[head], row.unit) for head in HEADS) for _, row in table.iterrows()]
    assumed = [f"{plain_line(what)}: {plain_line(value)}" for what, value in money.assumptions]
    return [
        "",
        *stacked(names, [HEADS, *rows], [[]] * len(rows), width),
        filled(f"Under these prices: {'; '.join(assumed)}.", width),
        *(filled(text, width) for text in money.sentences),
    ]


def _figure(value: object, unit: str) -> str:
    if not isinstance(value, float):
        return str(value)
    if "/kWh" in unit:
        return f"{value:,.3f}"
    return f"{value:,.1f}" if unit in ("%", "year") else f"{value:,.0f}"
