"""Figures of energy: loss budgets side by side, what sets wirings apart, month by month."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes

from yieldkit.base.arrays import FloatArray
from yieldkit.report.figures.picture import (
    INK,
    SMALL,
    Picture,
    dress,
    label,
    new_figure,
    wiring_key_above,
    wiring_look,
)
from yieldkit.study.comparison.compare import Comparison
from yieldkit.study.comparison.months import monthly_table

_SMALLEST_SHOWN_PERCENT = 0.2
_SMALLEST_CAUSE_PERCENT = 0.05
_MOST_NUMBERED = 6
"""So many bars of a month have room for numbers above them."""


def budget_picture(comparison: Comparison) -> Picture:
    """Show the loss budgets side by side, as bars per step.

    Parameters
    ----------
    comparison : Comparison
        What `compare` returned.
    """
    names = _numbers(comparison)
    share = _shares(comparison)
    shown = np.flatnonzero(np.nanmax(np.abs(share), axis=0) >= _SMALLEST_SHOWN_PERCENT)
    steps = [str(comparison.budgets["loss_step"].to_numpy()[index]) for index in shown]
    figure = new_figure(0.9 + (0.11 * len(names) + 0.09) * max(len(steps), 1))
    axes = figure.subplots()
    _grouped(axes, share[:, shown], list(names.values()), ".2f")
    axes.set_yticks(np.arange(len(steps)), steps)
    axes.invert_yaxis()
    dress(axes, x="loss, % of the modules' STC power times in-plane irradiation", grid=None)
    axes.axvline(0.0, color=INK, linewidth=0.8)
    wiring_key_above(figure, names)
    sentences = []
    for name, row in names.items():
        largest = [index for index in np.argsort(-share[row])[:3] if share[row, index] > 0.0]
        parts = ", ".join(
            f"{comparison.budgets['loss_step'].to_numpy()[index]} {share[row, index]:.1f} %"
            for index in largest
        )
        sentences.append(f"{name}: {parts}")
    return Picture(
        figure,
        f"Bars of the loss in each step. Largest steps: {'; '.join(sentences)}.",
        "Loss budgets side by side, in the order of the chain. Negative bars are gains. Steps "
        f"below {_SMALLEST_SHOWN_PERCENT:g} % everywhere are only in the table.",
    )


def _shares(comparison: Comparison) -> FloatArray:
    """Return every step's loss over the energy at rated efficiency [%] (wiring, loss_step)."""
    nameplate = np.array([float(result["potential"][0]) for _, result in comparison.results])
    shares: FloatArray = 100.0 * comparison.budgets.to_numpy() / nameplate[:, None]
    return shares


def _numbers(comparison: Comparison) -> dict[str, int]:
    """Return the wirings with their places, which set their looks in every figure."""
    return {name: row for row, (name, _) in enumerate(comparison.results)}


def _grouped(axes: Axes, values: FloatArray, numbers: list[int], form: str) -> None:
    """Draw bars (wiring, step) in groups, each with its value and its wiring's number."""
    thick = 0.84 / len(values)
    reach = float(np.nanmax(np.abs(values), initial=1e-9))
    for row, own in enumerate(values):
        at = np.arange(len(own)) + (row - (len(values) - 1) / 2.0) * thick
        axes.barh(at, own, height=thick, **wiring_look(numbers[row]))
        for place, value in zip(at, own, strict=True):
            axes.annotate(
                f"{_amount(value, form, reach)} ({numbers[row] + 1})",
                (value, place),
                (3 if value >= 0.0 else -3, 0),
                textcoords="offset points",
                fontsize=6,
                va="center",
                ha="left" if value >= 0.0 else "right",
            )
    lowest = float(np.nanmin(values, initial=0.0))
    axes.set_xlim(lowest - 0.14 * reach if lowest < 0.0 else 0.0, 1.12 * reach)


def _amount(value: float, form: str, reach: float) -> str:
    return format(value, form) if abs(value) >= 0.005 * reach else "0"


def difference_picture(comparison: Comparison) -> Picture | None:
    """Show by cause what each wiring yields less than the best one.

    Parameters
    ----------
    comparison : Comparison
        What `compare` returned.

    Returns
    -------
    Picture or None
        None if there is nothing to compare with.
    """
    base = comparison.reference()
    others = [name for name, _ in comparison.results if name != base]
    if not others:
        return None
    steps = comparison.budgets["loss_step"].to_numpy()
    extra = np.stack([comparison.difference(name, base).to_numpy() for name in others])
    energy = float(comparison.table["energy_kwh"].loc[base])
    smallest = _SMALLEST_CAUSE_PERCENT / 100.0 * energy
    shown = np.flatnonzero(np.nanmax(np.abs(extra), axis=0) >= smallest)
    if shown.size == 0:
        return None
    figure = new_figure(0.9 + (0.12 * len(others) + 0.1) * len(shown))
    axes = figure.subplots()
    numbers = {name: row for name, row in _numbers(comparison).items() if name != base}
    _grouped(axes, extra[:, shown], list(numbers.values()), "+,.0f")
    axes.set_yticks(np.arange(len(shown)), [str(steps[index]) for index in shown])
    axes.invert_yaxis()
    axes.axvline(0.0, color=INK, linewidth=0.8)
    dress(axes, x=f"kWh lost more than in '{label(base)}'; negative: lost less", grid=None)
    wiring_key_above(figure, numbers)
    parts = [f"{name} {causes_sentence(comparison, name, base)}" for name in others]
    return Picture(
        figure,
        f"Difference to {base} by cause. " + " ".join(parts),
        f"What sets the wirings apart from '{base}'. The causes add up to the difference in "
        f"yield; causes below {smallest:.0f} kWh everywhere are only in the table.",
    )


def causes_sentence(comparison: Comparison, wiring: str, base: str) -> str:
    """Return how much less a wiring yields and its two largest causes, in words.

    Parameters
    ----------
    comparison : Comparison
        What `compare` returned.
    wiring, base : str
        The wiring, and the one it is compared with.
    """
    extra = comparison.difference(wiring, base)
    total = float(extra.sum(skipna=False))
    order = np.argsort(-np.sign(total) * extra.to_numpy())[:2]
    parts = ", ".join(
        f"{extra['loss_step'].to_numpy()[index]} {float(extra[index]):+z,.0f} kWh"
        for index in order
        if abs(float(extra[index])) >= 0.5
    )
    more = "less" if total > 0.0 else "more"
    return f"yields {abs(total):,.0f} kWh {more}" + (f" ({parts})." if parts else ".")


def monthly_picture(comparison: Comparison) -> Picture:
    """Show delivered energy month by month.

    Parameters
    ----------
    comparison : Comparison
        What `compare` returned.
    """
    table = monthly_table(comparison)
    figure = new_figure(2.9)
    axes = figure.subplots()
    thick = 0.84 / len(table.columns)
    for row, name in enumerate(table.columns):
        at = np.arange(len(table)) + (row - (len(table.columns) - 1) / 2.0) * thick
        bars = axes.bar(at, table[name], width=thick, **wiring_look(row))
        if len(table.columns) <= _MOST_NUMBERED:
            axes.bar_label(bars, [str(row + 1)] * len(at), fontsize=5, padding=1)
    axes.set_xticks(np.arange(len(table)), table.index)
    dress(axes, y="delivered, kWh")
    axes.tick_params(axis="x", length=0, labelsize=SMALL)
    wiring_key_above(figure, _numbers(comparison))
    base = comparison.reference()
    own = table[base]
    parts = [f"{name} {table[name].sum(skipna=False):,.0f} kWh in all" for name in table.columns]
    return Picture(
        figure,
        f"Delivered energy by month: {'; '.join(parts)}. {base}: most in {own.idxmax()} "
        f"({own.max():,.0f} kWh), least in {own.idxmin()} ({own.min():,.0f} kWh).",
        "Delivered energy month by month (local standard time).",
    )
