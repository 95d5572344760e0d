"""Which wiring wins, by how much over each other one, and what decides: in sentences."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

import numpy as np
import pandas as pd
import xarray as xr

from yieldkit.design.checks.findings import Findings
from yieldkit.design.checks.permission import FORBIDDEN, permission
from yieldkit.study.simulation.budget_steps import STEPS
from yieldkit.study.uncertainty.verdict import SAME_PERCENT


class Answer(NamedTuple):
    """Which of several wirings wins, and how the others stand to it.

    Parameters
    ----------
    best : str
        The winner with its energy, or why there is none; no full stop behind it.
    others : tuple of str
        How each of the others that are not forbidden stands to it; no full stop behind them.
    alone : str
        What to add where no other is left: a sentence, or nothing.
    """

    best: str
    others: tuple[str, ...] = ()
    alone: str = ""

    def text(self) -> str:
        """Return all of it in one piece."""
        said = f"{'; '.join((self.best, *self.others))}."
        return f"{said} {self.alone}" if self.alone else said


def answer(
    table: pd.DataFrame,
    budgets: xr.DataArray,
    best: str | None,
    findings: Mapping[str, Findings],
    per: str,
) -> Answer:
    """Say which wiring wins, by how much over the next, and what decides.

    Parameters
    ----------
    table : DataFrame
        A row for each wiring, with `energy_kwh` and `permission`.
    budgets : DataArray
        Loss budgets [kWh] (wiring, loss_step).
    best : str or None
        The winner; None where all are forbidden.
    findings : mapping of str to Findings
        By wiring.
    per : str
        What the energies are of, such as "a year".
    """
    if best is None:
        return Answer("None of these wirings is permitted as drawn: see the findings")
    energy = float(table["energy_kwh"].loc[best])
    called = permission(findings[best]).best_of()
    sentence = f"'{best}' yields most: {energy:,.0f} kWh {per} ({called})"
    free = table[(table["permission"] != FORBIDDEN) & (table.index != best)]
    others = free.sort_values("energy_kwh", ascending=False)
    if others.empty:
        return Answer(
            sentence, alone="" if len(table) == 1 else f"Every other wiring here is {FORBIDDEN}."
        )
    parts = []
    lost = dict(zip(budgets["wiring"].to_numpy().tolist(), budgets.to_numpy(), strict=True))
    for name, yielded in others["energy_kwh"].items():
        gap = energy - float(yielded)
        percent = 100.0 * gap / energy
        if percent < SAME_PERCENT:
            parts.append(f"'{name}' is equal within {SAME_PERCENT} %")
            continue
        cause = STEPS[int(np.argmax(lost[name] - lost[best]))]
        parts.append(f"'{name}' yields {gap:,.0f} kWh ({percent:.1f} %) less, mostly {cause}")
    return Answer(sentence, tuple(parts))
