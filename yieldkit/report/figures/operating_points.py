"""Figures of operating points: every hour's voltage and current, and whole days."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd
import xarray as xr
from matplotlib.axes import Axes
from matplotlib.lines import Line2D

from yieldkit.base.arrays import IntArray
from yieldkit.config.models.inverters import MpptInput
from yieldkit.report.figures.picture import (
    INK,
    MARKERS,
    PALE,
    SHADES,
    SMALL,
    SOFT,
    TEXT,
    WIDTH,
    Picture,
    dress,
    fitted_input,
    line_key_above,
    new_figure,
)
from yieldkit.study.comparison.compare import Comparison
from yieldkit.study.simulation.limited_hours import limit_hours, limit_steps
from yieldkit.study.simulation.period import local_times

_PANELS = 3
_KEY_IN = 2.0


def operating_points_picture(comparison: Comparison, wiring: str) -> Picture:
    """Show voltage and current of every step of each tracker with the input's limits.

    Parameters
    ----------
    comparison : Comparison
        What `compare` returned.
    wiring : str
        Name of the wiring.
    """
    result = comparison.result(wiring)
    mppts = comparison.site.inputs()
    names = [str(name) for name in result["tracker"].to_numpy()]
    columns = min(len(names), _PANELS)
    rows = -(-len(names) // columns)
    figure = new_figure(0.2 + 2.3 * rows)
    grid = figure.subplots(rows, columns, squeeze=False).ravel()
    parts = []
    for axes, name in zip(grid, names, strict=False):
        parts.append(_cloud(axes, name, result.sel(tracker=name), mppts[name]))
        title = fitted_input(name, WIDTH / columns - 0.7, TEXT)
        dress(axes, title=title, x="input voltage, V", grid=None)
    for axes in grid[len(names) :]:
        axes.set_visible(False)
    grid[0].set_ylabel("input current, A", fontsize=SMALL)
    return Picture(
        figure,
        f"Operating points of {wiring}. " + " ".join(parts),
        f"'{wiring}': voltage and current of every step at each input, with its limits. Grey: "
        "outside the MPP window. Crosses: moved or held by a limit.",
    )


def _cloud(axes: Axes, name: str, own: xr.Dataset, mppt: MpptInput) -> str:
    """Draw one input's points and limits; return them in words."""
    running = own["p_dc"].to_numpy() > 0.0
    limited = limit_steps(own) & running
    free = running & ~limited
    volts, amps = own["v_dc"].to_numpy(), own["i_dc"].to_numpy()
    highest = float(np.max(amps[running], initial=1.0))
    top = 1.25 * max(highest, mppt.max_input_current_a or 0.0)
    axes.set_xlim(0.0, 1.06 * mppt.max_voltage_v)
    axes.set_ylim(0.0, top)
    axes.plot(volts[free], amps[free], ".", markersize=1.4, color=SOFT, alpha=0.5, rasterized=True)
    axes.plot(volts[limited], amps[limited], "x", markersize=4, color=INK, markeredgewidth=0.9)
    _limits(axes, mppt, top)
    if not running.any():
        return f"{name}: never runs."
    return (
        f"{name}: {volts[running].min():.0f} to {volts[running].max():.0f} V in a window of "
        f"{mppt.mpp_voltage_min_v:g} to {mppt.mpp_voltage_max_v:g} V, up to {highest:.1f} A, "
        f"{limit_hours(own):.0f} h held by a limit."
    )


def _limits(axes: Axes, mppt: MpptInput, top: float) -> None:
    low, high, most = mppt.mpp_voltage_min_v, mppt.mpp_voltage_max_v, mppt.max_voltage_v
    for start, end in ((0.0, low), (high, 1.06 * most)):
        axes.axvspan(start, end, color=PALE, linewidth=0.0, zorder=0)
    axes.axvline(most, color=INK, linewidth=1.4)
    _note(axes, 0.5 * (low + high), 0.985 * top, f"window {low:g} to {high:g} V", "center", "top")
    axes.text(
        most - 0.01 * most,
        0.03 * top,
        f"maximum {most:g} V",
        fontsize=6,
        rotation=90,
        ha="right",
        va="bottom",
    )
    if mppt.max_input_current_a is not None:
        amps = mppt.max_input_current_a
        axes.axhline(amps, color=INK, linewidth=1.0, linestyle="--")
        _note(axes, high, amps, f"input current {amps:g} A ", "right", "bottom")
    if mppt.max_power_w is not None:
        span = np.linspace(max(low, mppt.max_power_w / top), 1.06 * most, 100)
        axes.plot(span, mppt.max_power_w / span, color=SOFT, linewidth=1.0, linestyle=":")
        place = 0.99 * high
        _note(
            axes, place, mppt.max_power_w / place, f"{mppt.max_power_w / 1000:g} kW", "right", "top"
        )


def _note(axes: Axes, x: float, y: float, text: str, ha: str, va: str) -> None:
    axes.text(x, y, text, fontsize=6, ha=ha, va=va)


def days_picture(
    comparison: Comparison, wiring: str, days: Sequence[tuple[str, IntArray]]
) -> Picture:
    """Show each tracker's power through some days.

    Parameters
    ----------
    comparison : Comparison
        What `compare` returned.
    wiring : str
        Name of the wiring.
    days : sequence of (str, ndarray of int)
        What kind of day, and its positions in time; from `Comparison.details`.
    """
    result = comparison.result(wiring)
    names = [str(name) for name in result["tracker"].to_numpy()]
    figure = new_figure(2.35)
    grid = figure.subplots(1, max(len(days), 1), squeeze=False, sharey=True).ravel()
    times = local_times(result)
    lines: list[Line2D] = []
    parts = []
    shown = _hours_with_power(result, times, days)
    for axes, (kind, steps) in zip(grid, days, strict=False):
        hour = np.asarray(times[steps].hour + times[steps].minute / 60.0)
        lines = [
            axes.plot(
                hour,
                result["p_dc"].sel(tracker=name).to_numpy()[steps] / 1000.0,
                color=SHADES[row % len(SHADES)],
                marker=MARKERS[row % len(MARKERS)],
                markersize=2.8,
                linewidth=0.9,
                label=fitted_input(name, _KEY_IN),
            )[0]
            for row, name in enumerate(names)
        ]
        total = result["p_ac"].to_numpy()[steps] / 1000.0
        lines.extend(axes.plot(hour, total, color=INK, linewidth=1.6, label="AC side"))
        dress(axes, title=f"{kind}\n{times[steps][0].day} {times[steps][0]:%B}", x="hour")
        axes.set_xticks(range(0, 25, 4))
        axes.set_xlim(*shown)
        parts.append(_day_sentence(kind, names, result, steps))
    grid[0].set_ylabel("power, kW", fontsize=SMALL)
    grid[0].set_ylim(bottom=0.0)
    if lines:
        line_key_above(figure, lines, columns=6)
    return Picture(
        figure,
        f"Power through the day of {wiring}. " + " ".join(parts),
        f"'{wiring}': power of each input and on the AC side, by local standard time.",
    )


def _hours_with_power(
    result: xr.Dataset, times: pd.DatetimeIndex, days: Sequence[tuple[str, IntArray]]
) -> tuple[float, float]:
    """Return from which hour to which there is power on any of the days, and a little beside."""
    steps = np.concatenate([*(own for _, own in days), np.empty(0, dtype=int)]).astype(int)
    running = times[steps[result["p_ac"].to_numpy()[steps] > 0.0]]
    return min(running.hour, default=6) - 0.5, max(running.hour, default=18) + 1.5


def _day_sentence(kind: str, names: list[str], result: xr.Dataset, steps: IntArray) -> str:
    hours = result.attrs["interval_s"] / 3600.0  # of this one day, whatever is averaged
    steps = steps[np.isfinite(result["p_ac"].to_numpy()[steps])]
    if not steps.size:
        return f"{kind}: no weather."
    power = result["p_ac"].to_numpy()[steps] / 1000.0
    tops = ", ".join(
        f"{name} {result['p_dc'].sel(tracker=name).to_numpy()[steps].max() / 1000.0:.1f} kW"
        for name in names
    )
    return (
        f"{kind}: AC up to {power.max():.1f} kW, {power.sum() * hours:.0f} kWh; "
        f"inputs up to {tops}."
    )
