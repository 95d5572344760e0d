"""Figures of a review: months measured beside expected, and ratios by the hour of the day."""

from __future__ import annotations

import numpy as np
import xarray as xr
from matplotlib.axes import Axes

from yieldkit.base.arrays import FloatArray
from yieldkit.report.figures.picture import (
    INK,
    PALE,
    SMALL,
    SOFT,
    TEXT,
    Picture,
    dress,
    fitted,
    fitted_input,
    new_figure,
)
from yieldkit.study.review.result import Review

_MARKS = ("o", "s", "^", "D", "v", "P")
_WIDEST = 0.6
"""Share of a month's width over which marks of several subjects are spread."""
_LOW, _HIGH = 0.8, 1.2
"""Ratios between which pictures show at least what there is [1]."""
_LINE, _MAP = 3.2, 3.2
"""Room for names over the panels of hours [inch]."""


def review_months_picture(found: Review) -> Picture:
    """Show energy measured beside expected by month, and each ratio with its band.

    Parameters
    ----------
    found : Review
        What `review` returned.
    """
    months = found.months
    at = np.arange(len(months), dtype=np.float64)
    figure = new_figure(4.2)
    bars, ratios = figure.subplots(2, 1, sharex=True, height_ratios=(1.1, 1.0))
    bars.bar(at - 0.19, months["expected_kwh"], 0.36, color=PALE, edgecolor=INK, label="expected")
    bars.bar(at + 0.19, months["measured_kwh"], 0.36, color=SOFT, edgecolor=INK, label="measured")
    highest = float(months[["expected_kwh", "measured_kwh"]].max().max())
    bars.set_ylim(0.0, 1.2 * highest if highest > 0.0 else 1.0)
    dress(bars, y="kWh in steps that count")
    bars.legend(fontsize=SMALL, frameon=False, loc="upper left", ncols=2)
    _ratios(ratios, found, at)
    ratios.set_xticks(at, [str(name) for name in months.index])
    ratios.tick_params(axis="x", length=0, labelsize=SMALL)
    said = "; ".join(
        f"{name} {row['measured_kwh']:,.0f} of {row['expected_kwh']:,.0f} kWh"
        for name, row in months.iterrows()
    )
    return Picture(
        figure,
        f"Measured of expected energy by month: {said}.",
        "Above: energy measured and expected, in the steps that count. Below: one over the other, "
        "with the band in which 99 of 100 right plants lie; outside it is something to look at.",
    )


def _ratios(axes: Axes, found: Review, at: FloatArray) -> None:
    side, of = ("ac", "inverter") if "ac_ratio" in found.data else ("dc", "tracker")
    names = [str(name) for name in found.data[of].to_numpy()]
    width = _WIDEST / len(names)
    for place, name in enumerate(names):
        own = found.data.sel({of: name})
        x = at + (place - (len(names) - 1) / 2.0) * width
        low, high = (own[f"{side}_band"].sel(bound=end).to_numpy() for end in ("low", "high"))
        axes.bar(x, high - low, 0.8 * width, bottom=low, color=PALE)
        mark = _MARKS[place % len(_MARKS)]
        shown = fitted_input(name, 2.0)
        axes.plot(x, own[f"{side}_ratio"].to_numpy(), mark, color=INK, markersize=4, label=shown)
    axes.axhline(1.0, color=INK, linewidth=0.8)
    _limit(axes, found.data[f"{side}_ratio"].to_numpy())
    dress(axes, y="measured over expected")
    if len(names) > 1:
        axes.legend(fontsize=SMALL, frameon=False, loc="lower left", ncols=min(3, len(names)))


def _limit(axes: Axes, values: FloatArray) -> None:
    """Keep an axis of ratios to what there is of them, whatever thin months' bands are."""
    there = values[np.isfinite(values)]
    low = min(_LOW, float(there.min(initial=_LOW)) - 0.05)
    high = max(_HIGH, min(float(there.max(initial=_HIGH)) + 0.05, 3.0))
    axes.set_ylim(low, high)


def review_hours_picture(found: Review) -> Picture:
    """Show each input's ratio by the hour of the day: all months together, and month by month.

    Parameters
    ----------
    found : Review
        What `review` returned.
    """
    names = [str(name) for name in found.data["tracker"].to_numpy()]
    lit = np.flatnonzero(np.isfinite(found.data["hour_ratio"].to_numpy()).any(axis=1))
    first, last = (int(lit.min()), int(lit.max())) if lit.size else (6, 18)
    figure = new_figure(0.5 + 1.75 * len(names))
    grid = figure.subplots(len(names), 2, squeeze=False, sharex=True)
    for (line, months), name in zip(grid, names, strict=True):
        own = found.data.sel(tracker=name)
        _line(line, own, fitted_input(name, _LINE, TEXT))
        _map(months, own)
        for axes in (line, months):
            axes.set_xlim(first - 0.5, last + 0.5)
    figure.supxlabel("hour of the day, local standard time", fontsize=SMALL)
    said = " ".join(_in_words(found.data.sel(tracker=name), name) for name in names)
    return Picture(
        figure,
        f"Measured over expected by the hour of the day. {said}",
        "Left: measured over expected energy of each input by the hour of the day, with the band "
        "in which 99 of 100 right plants lie. Right: the same month by month in per cent; the "
        "darker, the less was measured. A shadow shows as a dark patch, a clock or an azimuth as a "
        "slope over the day.",
    )


def _line(axes: Axes, own: xr.Dataset, title: str) -> None:
    hours = own["hour"].to_numpy()
    low, high = (own["hour_band"].sel(bound=end).to_numpy() for end in ("low", "high"))
    axes.fill_between(hours, low, high, color=PALE, step="mid")
    axes.axhline(1.0, color=INK, linewidth=0.8)
    axes.plot(hours, own["hour_ratio"].to_numpy(), "o-", color=INK, markersize=3, linewidth=1.0)
    _limit(axes, own["hour_ratio"].to_numpy())
    dress(axes, title=title)


def _map(axes: Axes, own: xr.Dataset) -> None:
    table = own["month_hour_ratio"].transpose("month", "hour").to_numpy()
    axes.imshow(table, aspect="auto", cmap="Greys_r", vmin=0.4, vmax=1.1)
    months = own["month"].to_numpy()
    for month, hour in zip(*np.nonzero(np.isfinite(table)), strict=True):
        value = table[month, hour]
        tone = "white" if value < 0.75 else INK
        axes.text(
            hour, month, f"{100 * value:.0f}", ha="center", va="center", fontsize=5, color=tone
        )
    axes.set_yticks(range(len(months)), [fitted(str(name), 0.8) for name in months])
    dress(axes, grid=None)


def _in_words(own: xr.Dataset, name: str) -> str:
    ratio = own["hour_ratio"].to_numpy()
    parts = [f"{hour} h {ratio[hour]:.2f}" for hour in np.flatnonzero(np.isfinite(ratio))]
    return f"{name}: {', '.join(parts) if parts else 'no hour counts'}."
