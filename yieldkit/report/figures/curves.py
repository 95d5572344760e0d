"""I-V and P-V curves of strings and of their sum, with what the tracker made of them."""

from __future__ import annotations

import numpy as np
import xarray as xr
from matplotlib.axes import Axes
from matplotlib.lines import Line2D

from yieldkit.base.arrays import FloatArray
from yieldkit.config.models.inverters import MpptInput
from yieldkit.report.figures.picture import (
    INK,
    LINE,
    LINES,
    PALE,
    SHADES,
    Picture,
    dress,
    halo,
    label,
    line_key_above,
    new_figure,
)
from yieldkit.study.comparison.compare import Comparison
from yieldkit.study.simulation.period import local_times

_LOWEST = -0.25
"""Share of the largest current down to which reverse current is shown."""


def curves_picture(comparison: Comparison, wiring: str, curves: xr.Dataset) -> Picture:
    """Show I-V and P-V of a tracker's strings and their sum at some moments.

    Parameters
    ----------
    comparison : Comparison
        What `compare` returned.
    wiring : str
        Name of the wiring.
    curves : Dataset
        Its curves, from `Comparison.details`.
    """
    tracker = str(curves.attrs["tracker"])
    mppt = comparison.site.inputs()[tracker]
    result = comparison.result(wiring).sel(tracker=tracker)
    times = local_times(result)
    moments = curves.sizes["moment"]
    figure = new_figure(0.25 + 1.95 * moments)
    grid = figure.subplots(moments, 2, squeeze=False)
    lines: list[Line2D] = []
    parts = []
    for row in range(moments):
        curve = curves.isel(moment=row)
        kind, step = str(curve["moment"].item()), int(curve["step"])
        volts, amps = float(result["v_dc"][step]), float(result["i_dc"][step])
        when = f"{times[step].day} {times[step]:%B %H:%M}"
        lines = _current(grid[row, 0], curve)
        _power(grid[row, 1], curve)
        _window(grid[row, 0], mppt, curve)
        _window(grid[row, 1], mppt, curve)
        if volts * amps > 0.0:
            lines.append(_point(grid[row, 0], volts, amps))
            _point(grid[row, 1], volts, volts * amps / 1000.0)
        dress(grid[row, 0], title=f"{kind}, {when}", x="voltage, V", y="current, A")
        dress(grid[row, 1], x="voltage, V", y="power, kW")
        parts.append(_sentence(f"{kind} ({when})", curve, volts, volts * amps))
    line_key_above(figure, lines, columns=4)
    return Picture(
        figure,
        f"Curves of {tracker} of {wiring}. " + " ".join(parts),
        f"'{wiring}', {tracker}: its strings behind their cables, their sum, and the point "
        "the inverter works at. Grey: outside the MPP window.",
    )


def _current(axes: Axes, curve: xr.Dataset) -> list[Line2D]:
    volts = curve["voltage"].to_numpy()
    lines = _strings(axes, volts, curve["i_string"].to_numpy(), curve)
    if curve.sizes["string"] > 1:
        total = curve["i_dc"].to_numpy()
        lines.extend(axes.plot(volts, total, color=INK, linewidth=1.8, label="sum"))
    _heights(axes, curve["i_dc"].to_numpy(), curve["i_string"].to_numpy())
    return lines


def _power(axes: Axes, curve: xr.Dataset) -> None:
    volts = curve["voltage"].to_numpy()
    own = curve["i_string"].to_numpy() * volts[:, None] / 1000.0
    total = curve["p_dc"].to_numpy() / 1000.0
    _strings(axes, volts, own, curve)
    if curve.sizes["string"] > 1:
        axes.plot(volts, total, color=INK, linewidth=1.8)
        _numbers(axes, volts, np.nan_to_num(own))
    _heights(axes, total, own)


def _numbers(axes: Axes, volts: FloatArray, power: FloatArray) -> None:
    """Write every string's number at its highest power, side by side where these coincide."""
    places: dict[tuple[int, float], int] = {}
    for row, place in enumerate(power.argmax(axis=0)):
        top = float(power[place, row])
        beside = places.setdefault((int(place), round(top, 1)), 0)
        places[int(place), round(top, 1)] += 1
        axes.annotate(
            str(row + 1),
            (float(volts[place]), top),
            (7 * beside, 2),
            textcoords="offset points",
            fontsize=6,
            ha="center",
            path_effects=halo(),
        )


def _strings(axes: Axes, volts: FloatArray, values: FloatArray, curve: xr.Dataset) -> list[Line2D]:
    return [
        axes.plot(
            volts,
            values[:, row],
            color=SHADES[row % len(SHADES)],
            linestyle=LINES[1:][row % 3],
            linewidth=1.3,
            label=label(f"string {row + 1}: {name}", 34),
        )[0]
        for row, name in enumerate(curve["string"].to_numpy())
    ]


def _heights(axes: Axes, total: FloatArray, own: FloatArray) -> None:
    values = np.nan_to_num(np.column_stack([total, own]))
    top = float(values.max(initial=1e-9))
    lowest = max(float(values.min()), _LOWEST * top)
    axes.set_ylim(1.05 * lowest if lowest < -0.01 * top else 0.0, 1.12 * top)
    axes.axhline(0.0, color=LINE, linewidth=0.8)


def _window(axes: Axes, mppt: MpptInput, curve: xr.Dataset) -> None:
    end = float(curve["voltage"].max())
    axes.set_xlim(0.0, end)
    for start, stop in ((0.0, mppt.mpp_voltage_min_v), (mppt.mpp_voltage_max_v, end)):
        if start < min(stop, end):
            axes.axvspan(start, min(stop, end), color=PALE, linewidth=0.0, zorder=0)


def _point(axes: Axes, x: float, y: float) -> Line2D:
    return axes.plot(
        x,
        y,
        "o",
        markersize=6,
        markerfacecolor="white",
        markeredgecolor=INK,
        markeredgewidth=1.4,
        label="working point",
        zorder=5,
    )[0]


def _sentence(moment: str, curve: xr.Dataset, volts: float, watts: float) -> str:
    total = curve["p_dc"].to_numpy()
    best = int(np.argmax(np.nan_to_num(total)))
    alone = (curve["i_string"] * curve["voltage"]).max("point").to_numpy().sum()
    worked = f"works at {volts:.0f} V and {watts:,.0f} W" if watts > 0.0 else "stands still"
    return (
        f"{moment}: the sum's maximum is {total[best]:,.0f} W at "
        f"{float(curve['voltage'][best]):.0f} V, the strings' own maxima add up to {alone:,.0f} W; "
        f"the input {worked}."
    )
