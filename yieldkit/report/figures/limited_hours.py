"""The hours in which wirings are held back, by month and hour of the day."""

from __future__ import annotations

import numpy as np
import xarray as xr
from matplotlib.axes import Axes
from matplotlib.patches import Rectangle

from yieldkit.base.arrays import FloatArray
from yieldkit.report.figures.picture import (
    INK,
    SMALL,
    TEXT,
    WIDTH,
    Picture,
    dress,
    fitted,
    new_figure,
)
from yieldkit.study.comparison.compare import Comparison
from yieldkit.study.simulation.limited_hours import energy_held_back, flagged, limited_steps
from yieldkit.study.simulation.month_weights import result_weights, weighed
from yieldkit.study.simulation.period import local_times, step_hours

_MONTHS = ("J", "F", "M", "A", "M", "J", "J", "A", "S", "O", "N", "D")
_COLUMNS = 2
_PANEL = WIDTH / _COLUMNS - 1.1
"""Room for a wiring's name above its panel [inch]."""


def limited_hours_picture(comparison: Comparison) -> Picture:
    """Show in which month and hour each wiring is held by AC limits, derating or the network.

    Parameters
    ----------
    comparison : Comparison
        What `compare` returned.
    """
    tables = {name: _month_by_hour(result) for name, result in comparison.results}
    lit = _lit_hours(comparison)
    parts = [_sentence(name, result) for name, result in comparison.results]
    caption = (
        "Hours in which AC limits, derating or network voltage hold back power, by month and hour "
        "(local standard time). Hatched: derating among them. Darker: more hours."
    )
    alt = "Hours held back on the AC side. " + " ".join(parts)
    if not any(table.any() for table, _ in tables.values()):
        figure = new_figure(0.7)
        figure.text(
            0.5, 0.5, "No wiring is held back in any hour.", ha="center", va="center", fontsize=TEXT
        )
        return Picture(figure, alt, caption)
    rows = -(-len(tables) // _COLUMNS)
    figure = new_figure(0.3 + 1.5 * rows)
    grid = figure.subplots(rows, _COLUMNS, squeeze=False, sharex=True, sharey=True).ravel()
    most = max(float(table.max()) for table, _ in tables.values())
    for axes, (name, (table, derated)) in zip(grid, tables.items(), strict=False):
        _panel(axes, table, derated, most)
        dress(axes, title=f"{fitted(name, _PANEL, TEXT)}: {table.sum():.0f} h", grid=None)
        axes.set_xlim(lit[0] - 0.5, lit[1] + 0.5)
    for axes in grid[len(tables) :]:
        axes.set_visible(False)
    figure.supxlabel("hour of the day, local standard time", fontsize=SMALL)
    return Picture(figure, alt, caption)


def _month_by_hour(result: xr.Dataset) -> tuple[FloatArray, FloatArray]:
    """Return hours held back, and steps of derating, each (month, hour of the day)."""
    hours = weighed(np.full(result.sizes["time"], step_hours(result.attrs)), result_weights(result))
    times = local_times(result)
    place = (times.month - 1, times.hour)
    table, derated = np.zeros((12, 24)), np.zeros((12, 24))
    np.add.at(table, place, limited_steps(result) * hours)
    np.add.at(derated, place, flagged(result["ac_limit"], "derating").any(axis=1))
    return table, derated


def _panel(axes: Axes, table: FloatArray, derated: FloatArray, most: float) -> None:
    axes.imshow(table, aspect="auto", cmap="Greys", vmin=0.0, vmax=1.15 * most)
    for month, hour in zip(*np.nonzero(table), strict=True):
        if derated[month, hour] > 0.0:
            axes.add_patch(
                Rectangle(
                    (hour - 0.5, month - 0.5),
                    1,
                    1,
                    fill=False,
                    hatch="////",
                    edgecolor="#9a9a9a",
                    linewidth=0.0,
                )
            )
        text = f"{table[month, hour]:.0f}" if table[month, hour] >= 0.5 else "<1"
        tone = "white" if table[month, hour] > 0.55 * most else INK
        axes.text(hour, month, text, ha="center", va="center", fontsize=6, color=tone)
    if not table.any():
        axes.text(
            0.5,
            0.5,
            "never held back",
            ha="center",
            va="center",
            fontsize=TEXT,
            transform=axes.transAxes,
        )
    axes.set_yticks(range(12), _MONTHS)
    axes.set_xticks(range(0, 24, 3))


def _lit_hours(comparison: Comparison) -> tuple[int, int]:
    """Return the first and the last hour of the day with any power."""
    result = comparison.results[0][1]
    hours = local_times(result).hour[result["p_dc"].sum("tracker").to_numpy() > 0.0]
    return (int(hours.min()), int(hours.max())) if len(hours) else (0, 23)


def _sentence(name: str, result: xr.Dataset) -> str:
    hours, weights = step_hours(result.attrs), result_weights(result)
    steps = limited_steps(result)
    if not steps.any():
        return f"{name}: never."
    times = local_times(result)[steps]
    lost = float(energy_held_back(result)[steps].sum())
    return (
        f"{name}: {weighed(steps, weights).sum() * hours:.0f} h, {lost:.1f} kWh above the limit, "
        f"between {times.hour.min()} and {times.hour.max() + 1} o'clock."
    )
