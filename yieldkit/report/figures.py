"""Figures of a comparison: loss budgets, months, hours held by limits, trackers' clouds."""

from __future__ import annotations

import numpy as np
import pandas as pd
import xarray as xr

from yieldkit.report.picture import COLOURS, HATCHES, INK, Picture, label, new_figure, quiet_axes
from yieldkit.study.compare import Comparison
from yieldkit.study.curves import local_times

_SMALL_SHARE = 0.002
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def budget_picture(comparison: Comparison) -> Picture:
    """Show the loss budgets side by side, as bars per step.

    Parameters
    ----------
    comparison : Comparison
        What `compare` returned.
    """
    budgets = comparison.budgets
    names = [str(name) for name in budgets["wiring"].to_numpy()]
    nameplate = float(comparison.results[0][1]["potential"][0])
    share = 100.0 * budgets.to_numpy() / nameplate
    shown = np.flatnonzero(np.abs(share).max(axis=0) >= 100.0 * _SMALL_SHARE)
    steps = [str(budgets["loss_step"].to_numpy()[index]) for index in shown]
    figure = new_figure(9.0, 1.0 + 0.16 * len(steps) * (len(names) + 1))
    axes = figure.subplots()
    thick = 0.8 / len(names)
    for row, name in enumerate(names):
        at = np.arange(len(steps)) + (row - (len(names) - 1) / 2.0) * thick
        axes.barh(
            at,
            share[row, shown],
            height=thick,
            color=COLOURS[row % len(COLOURS)],
            hatch=HATCHES[row % len(HATCHES)],
            edgecolor="white",
            label=label(name),
        )
        for place, value in zip(at, share[row, shown], strict=True):
            axes.text(max(value, 0.0) + 0.05, place, f"{value:.2f}", va="center", fontsize=7)
    axes.set_yticks(np.arange(len(steps)), steps)
    axes.invert_yaxis()
    axes.set_xlabel("loss, % of the modules' STC power times in-plane irradiation")
    quiet_axes(axes)
    axes.grid(visible=False)
    axes.axvline(0.0, color=INK, linewidth=0.8)
    axes.legend(frameon=False, fontsize=8, loc="lower right")
    worst = {name: steps[int(np.argmax(share[row, shown]))] for row, name in enumerate(names)}
    alt = "Losses by step. Largest step: " + "; ".join(
        f"{name}: {step} {share[row].max():.1f} %" for row, (name, step) in enumerate(worst.items())
    )
    return Picture(figure, alt, "Loss budgets side by side; steps below 0.2 % are in the table.")


def monthly_table(comparison: Comparison) -> pd.DataFrame:
    """Return delivered energy by month and wiring [kWh]."""
    columns = {}
    for name, result in comparison.results:
        hours = result.attrs["interval_s"] / 3600.0
        series = pd.Series(result["p_delivered"].to_numpy(), index=local_times(result))
        columns[name] = series.groupby(series.index.month).sum() * hours / 1000.0
    table = pd.DataFrame(columns)
    table.index = [_MONTHS[month - 1] for month in table.index]
    return table


def monthly_picture(comparison: Comparison) -> Picture:
    """Show delivered energy month by month."""
    table = monthly_table(comparison)
    figure = new_figure(9.0, 3.6)
    axes = figure.subplots()
    thick = 0.8 / len(table.columns)
    for row, name in enumerate(table.columns):
        at = np.arange(len(table)) + (row - (len(table.columns) - 1) / 2.0) * thick
        axes.bar(
            at,
            table[name],
            width=thick,
            color=COLOURS[row % len(COLOURS)],
            hatch=HATCHES[row % len(HATCHES)],
            edgecolor="white",
            label=label(name),
        )
    axes.set_xticks(np.arange(len(table)), table.index)
    axes.set_ylabel("delivered, kWh")
    quiet_axes(axes)
    axes.legend(frameon=False, fontsize=8, ncols=2)
    best = table.sum().idxmax()
    top = table[best].idxmax()
    alt = (
        f"Delivered energy by month. {best}: {table[best].sum():,.0f} kWh in all, most in {top} "
        f"({table[best].max():,.0f} kWh), least in {table[best].idxmin()} "
        f"({table[best].min():,.0f} kWh)."
    )
    return Picture(figure, alt, "Delivered energy month by month (local standard time).")


def held_picture(comparison: Comparison) -> Picture:
    """Show in which month and hour each wiring is held by AC limits, derating or the network."""
    figure = new_figure(9.0, 0.6 + 2.1 * len(comparison.results))
    grid = figure.subplots(len(comparison.results), 1, squeeze=False, sharex=True)
    totals = []
    for row, (name, result) in enumerate(comparison.results):
        axes = grid[row, 0]
        lost, hours = _held(result)
        table = np.zeros((12, 24))
        times = local_times(result)
        np.add.at(table, (times.month - 1, times.hour), lost)
        if not lost.any():
            axes.text(11.5, 5.5, "nothing is held back", ha="center", va="center", fontsize=9)
        image = axes.imshow(table, aspect="auto", cmap="Greys", vmin=0.0, vmax=max(table.max(), 1))
        for month in range(12):
            for hour in range(24):
                if table[month, hour] >= 0.5:
                    tone = "white" if table[month, hour] > 0.5 * table.max() else INK
                    axes.text(
                        hour,
                        month,
                        f"{table[month, hour]:.0f}",
                        ha="center",
                        va="center",
                        fontsize=6,
                        color=tone,
                    )
        axes.set_yticks(range(0, 12, 2), _MONTHS[::2], fontsize=7)
        axes.set_title(label(name, 60), fontsize=9, loc="left")
        figure.colorbar(image, ax=axes, label="kWh", fraction=0.03)
        totals.append(f"{name}: {hours:.0f} h, {lost.sum():.0f} kWh")
    grid[-1, 0].set_xlabel("hour of the day (local standard time)")
    return Picture(
        figure,
        "Energy held back by AC limits, derating and network voltage. " + "; ".join(totals) + ".",
        "Energy held back by AC limits, derating and network voltage, by month and hour.",
    )


def _held(result: xr.Dataset) -> tuple[np.ndarray, float]:
    """Return what each step was held back [kWh] and for how many hours."""
    hours = result.attrs["interval_s"] / 3600.0
    over = np.maximum(result["p_ac_unlimited"] - result["p_ac_cap"], 0.0).to_numpy()
    off = (np.maximum(result["p_ac"], 0.0) * result["off_fraction"]).to_numpy()
    lost = (over + off) * hours / 1000.0
    return lost, float(np.sum(lost > 0.0)) * hours
