"""Choices of inverters as text for a terminal."""

from __future__ import annotations

import pandas as pd

from yieldkit.report.tables.terminal import WIDTH, before_losses, filled, stacked
from yieldkit.study.several_inverters.choice import Choice


def choice_text(choice: Choice, top: int, width: int = WIDTH) -> str:
    """Return the best choices of inverters as text.

    Parameters
    ----------
    choice : Choice
        From `choose`.
    top : int
        How many to show.
    width : int
        Columns of the terminal.
    """
    table = choice.table
    fits = table[table["energy_kwh"].notna()]
    priced = bool(choice.currency) and table["price"].notna().any()
    heads = ("kWh", "to best", "DC/AC", "clipped", "limited", "unused")
    numbers = [(*heads, choice.currency) if priced else heads]
    below = []
    for _, row in fits.head(top).iterrows():
        first = float(fits["energy_kwh"].iloc[0])
        figures = (
            f"{row['energy_kwh']:,.0f}",
            f"{100.0 * (row['energy_kwh'] / first - 1.0):z.2f}%",
            f"{row['dc_ac_ratio']:.2f}",
            f"{row['clipped_kwh']:,.0f} kWh",
            f"{row['limited_kwh']:,.0f} kWh",
            f"{row['unused_inputs']:.0f}",
        )
        numbers.append((*figures, _price(row["price"])) if priced else figures)
        below.append([f"{row['wiring']}; {_proof(row)}"])
    names = ["inverters", *(str(name) for name in fits["inverters"].head(top))]
    said = [
        "Each choice with its best wiring; the inverters get place, own lead and reactive power of "
        "the first that is installed. Clipped: held back by the inverters' own limits; limited: by "
        "the export limit or power by voltage; unused: inputs without a string. Checks of a whole "
        "wiring are NOT CHECKED here: write it into the file and run `yieldkit check`.",
        *_too_small(table),
        before_losses([choice.site]),
    ]
    rows = stacked(names, numbers, below, width) if len(fits) else []
    answer = filled(_answer(choice, fits), width)
    return "\n".join([answer, "", *rows, "", *(filled(text, width) for text in said)])


def _answer(choice: Choice, fits: pd.DataFrame) -> str:
    number = len(choice.table)
    of = "Of one choice" if number == 1 else f"Of {number:,} choices"
    if fits.empty:
        return f"{of} of inverters none takes all modules: allow some to be left out (--leave-out)."
    best = fits.iloc[0]
    return (
        f"{of} of inverters this yields most, {best['energy_kwh']:,.0f} kWh {choice.per}: "
        f"{best['inverters']}."
    )


def _proof(row: pd.Series) -> str:
    gap = 100.0 * (row["bound_kwh"] / row["energy_kwh"] - 1.0)
    return "proven to be its best" if gap < 1e-6 else f"its best could yield {gap:.2f} % more"


def _price(price: float) -> str:
    return "–" if price != price else f"{price:,.2f}"


def _too_small(table: pd.DataFrame) -> list[str]:
    small = table[table["energy_kwh"].isna()]
    if small.empty:
        return []
    listed = ", ".join(
        f"{row['inverters']} (at least {row['left_at_least']} left out)"
        for _, row in small.head(6).iterrows()
    )
    more = "" if len(small) <= 6 else f" and {len(small) - 6} more"
    return [f"Not all modules fit on: {listed}{more}."]
