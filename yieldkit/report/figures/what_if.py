"""Figures of a what-if batch: what each axis does, which does most, and two of them together."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.patches import Rectangle

from yieldkit.base.arrays import FloatArray
from yieldkit.report.figures.picture import (
    INK,
    LINES,
    MARKERS,
    PALE,
    SHADES,
    SMALL,
    TEXT,
    WIDTH,
    Picture,
    dress,
    fitted,
    label,
    line_key_above,
    new_figure,
)
from yieldkit.study.batch.effects import Effect, Grid
from yieldkit.study.batch.what_if import WhatIf

_WIRING = "wiring"
_COLUMNS = 2
_PANEL = WIDTH / _COLUMNS - 1.1
_MOST_LINES = 4
_MOST_NAMED = 6
"""Values of words that are written below a panel; of more, every second or third one."""
_MOST_CELLS = 14
"""Columns of a map in which numbers can still be read."""


def response_picture(found: WhatIf) -> Picture | None:
    """Show what each axis does to the energy while all others stay; None without an axis.

    Parameters
    ----------
    found : WhatIf
        From `what_if`.
    """
    effects = [effect for effect in found.effects if effect.name != _WIRING]
    if not effects or not np.isfinite(found.reference_kwh):
        return None
    rows = -(-len(effects) // _COLUMNS)
    figure = new_figure(0.5 + 2.0 * rows)
    grid = figure.subplots(rows, _COLUMNS, squeeze=False).ravel()
    shown = _shown_wirings(found, effects)
    for axes, effect in zip(grid, effects, strict=False):
        _panel(axes, effect, shown)
        dress(axes, title=fitted(effect.name, _PANEL, TEXT), y="kWh")
    for axes in grid[len(effects) :]:
        axes.set_visible(False)
    lines = [line for line in grid[0].get_lines() if not str(line.get_label()).startswith("_")]
    if len(lines) > 1:
        line_key_above(figure, lines, 2)
    more = len(effects[0].energy_kwh) - len(shown)
    rest = f" {more} more wirings are in the table." if more > 0 else ""
    return Picture(
        figure,
        "Energy by each axis alone. " + " ".join(_said(effect, found.wiring) for effect in effects),
        "What each axis does to the energy while all others stay at the reference (the ring). "
        f"Grey: from the least to the most of all runs.{rest}",
    )


def _shown_wirings(found: WhatIf, effects: list[Effect]) -> list[str]:
    """Return the wirings that have lines: the reference's, then others in the plan's order."""
    others = [name for name in effects[0].energy_kwh if name != found.wiring]
    return [found.wiring, *others][:_MOST_LINES]


def _panel(axes: Axes, effect: Effect, wirings: list[str]) -> None:
    places = np.arange(len(effect.values)) if effect.numbers is None else effect.numbers
    known = np.isfinite(effect.lowest)
    axes.fill_between(places[known], effect.lowest[known], effect.highest[known], color=PALE)
    for number, name in enumerate(wirings):
        line = effect.energy_kwh[name]
        have = np.isfinite(line)
        axes.plot(
            places[have],
            line[have],
            LINES[number % len(LINES)],
            marker=MARKERS[number % len(MARKERS)],
            markersize=4,
            color=SHADES[number % len(SHADES)],
            linewidth=1.2,
            label=label(name, 32),
        )
    axes.plot(
        [places[effect.usual]],
        [effect.reference_kwh],
        "o",
        markersize=10,
        fillstyle="none",
        color=INK,
        label="_reference",
    )
    if effect.numbers is None:
        _name_places(axes, effect.values)
    elif effect.numbers.size <= _MOST_NAMED:
        axes.set_xticks(effect.numbers.tolist(), effect.values)


def _name_places(axes: Axes, values: tuple[str, ...]) -> None:
    """Write words below a panel, some of them where there are many."""
    every = -(-len(values) // _MOST_NAMED)
    named = range(0, len(values), every)
    room = _PANEL / max(len(named), 1)
    axes.set_xticks(list(named), [fitted(values[place], room) for place in named])


def _said(effect: Effect, wiring: str) -> str:
    line = effect.own(wiring)
    pairs = [
        f"{value} {energy:,.0f}"
        for value, energy in zip(effect.values, line, strict=True)
        if np.isfinite(energy)
    ]
    if len(pairs) > _MOST_NAMED:
        pairs = [*pairs[: _MOST_NAMED - 1], "...", pairs[-1]]
    return f"{effect.name}: {', '.join(pairs)} kWh."


def tornado_picture(found: WhatIf) -> Picture | None:
    """Show by how much each axis alone moves the energy, the one that does most first.

    Parameters
    ----------
    found : WhatIf
        From `what_if`.
    """
    moved = [(effect, *_ends(effect, found.wiring)) for effect in found.effects]
    moved = [(effect, low, high) for effect, low, high in moved if high[1] > low[1]]
    if not moved:
        return None
    figure = new_figure(0.7 + 0.42 * len(moved))
    axes = figure.add_subplot()
    for place, (_, low, high) in enumerate(moved):
        axes.barh(place, low[1], color=PALE, edgecolor=INK, linewidth=0.8, hatch="///", height=0.6)
        axes.barh(place, high[1], color="#8f8f8f", edgecolor=INK, linewidth=0.8, height=0.6)
        for (value, change), side, shift in ((low, "right", -4), (high, "left", 4)):
            if change:
                axes.annotate(
                    label(value, 18),
                    (change, place),
                    (shift, 0),
                    textcoords="offset points",
                    ha=side,
                    va="center",
                    fontsize=SMALL,
                )
    axes.axvline(0.0, color=INK, linewidth=0.8)
    axes.set_yticks(range(len(moved)), [fitted(effect.name, 1.4) for effect, _, _ in moved])
    axes.invert_yaxis()
    axes.margins(x=0.18)
    dress(axes, x=f"kWh more or less than the reference ({found.reference_kwh:,.0f} kWh)", grid="x")
    said = "; ".join(
        f"{effect.name} {low[1]:+,.0f} ({low[0]}) to {high[1]:+,.0f} kWh ({high[0]})"
        for effect, low, high in moved
    )
    return Picture(
        figure,
        f"Effects of single axes against the reference of {found.reference_kwh:,.0f} kWh: {said}.",
        "How far each axis alone moves the energy, all others at the reference; at the bars' ends "
        "the values that do it. Hatched: less energy.",
    )


def _ends(effect: Effect, wiring: str) -> tuple[tuple[str, float], tuple[str, float]]:
    """Return the values of least and most energy, each with its change [kWh]."""
    change = effect.own(wiring) - effect.reference_kwh
    if not np.isfinite(change).any():
        return ("", 0.0), ("", 0.0)
    low, high = int(np.nanargmin(change)), int(np.nanargmax(change))
    return (
        (effect.values[low], min(float(change[low]), 0.0)),
        (effect.values[high], max(float(change[high]), 0.0)),
    )


def map_picture(found: WhatIf) -> Picture | None:
    """Show the energy over the two axes that do most; None where there is only one.

    Parameters
    ----------
    found : WhatIf
        From `what_if`.
    """
    grid = found.grid
    if grid is None or not np.isfinite(grid.energy_kwh).any():
        return None
    figure = new_figure(1.0 + min(0.32 * len(grid.up_values), 5.0))
    axes = figure.add_subplot()
    least, most = float(np.nanmin(grid.energy_kwh)), float(np.nanmax(grid.energy_kwh))
    span = (most - least) or 1.0
    shade = (grid.energy_kwh - least) / span
    axes.imshow(0.75 * shade, aspect="auto", cmap="Greys", vmin=0.0, vmax=1.0, origin="lower")
    _mark_missing(axes, grid.energy_kwh)
    if len(grid.across_values) <= _MOST_CELLS:
        _write_cells(axes, grid.energy_kwh, shade)
    else:
        figure.text(
            0.99,
            0.99,
            f"{least:,.0f} (white) to {most:,.0f} kWh (dark)",
            ha="right",
            va="top",
            fontsize=SMALL,
        )
    _ticks(axes, grid)
    dress(axes, x=label(grid.across), y=label(grid.up), grid=None)
    return Picture(
        figure,
        f"Energy over {grid.across} and {grid.up}: {least:,.0f} to {most:,.0f} kWh, the most at "
        f"{_most_at(grid)}.",
        f"Energy in kWh over {grid.across} and {grid.up}, all others at the reference. Darker: "
        "more. Hatched: no such run, or it failed.",
    )


def _mark_missing(axes: Axes, energy: FloatArray) -> None:
    for up, across in zip(*np.nonzero(~np.isfinite(energy)), strict=True):
        axes.add_patch(
            Rectangle(
                (across - 0.5, up - 0.5),
                1,
                1,
                facecolor="white",
                hatch="////",
                edgecolor="#9a9a9a",
                linewidth=0.0,
            )
        )


def _write_cells(axes: Axes, energy: FloatArray, shade: FloatArray) -> None:
    for up, across in zip(*np.nonzero(np.isfinite(energy)), strict=True):
        tone = "white" if shade[up, across] > 0.7 else INK
        axes.text(
            across,
            up,
            f"{energy[up, across]:,.0f}",
            ha="center",
            va="center",
            fontsize=SMALL,
            color=tone,
        )


def _ticks(axes: Axes, grid: Grid) -> None:
    across, up = (-(-len(values) // _MOST_CELLS) for values in (grid.across_values, grid.up_values))
    columns = range(0, len(grid.across_values), across)
    rows = range(0, len(grid.up_values), up)
    room = (WIDTH - 1.2) / len(columns)
    axes.set_xticks(list(columns), [fitted(grid.across_values[place], room) for place in columns])
    axes.set_yticks(list(rows), [fitted(grid.up_values[place], 1.2) for place in rows])


def _most_at(grid: Grid) -> str:
    up, across = np.unravel_index(int(np.nanargmax(grid.energy_kwh)), grid.energy_kwh.shape)
    return f"{grid.across} {grid.across_values[across]}, {grid.up} {grid.up_values[up]}"
