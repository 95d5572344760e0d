"""Voltages against limits: strings on the DC side, terminals on the AC side."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from matplotlib.axes import Axes

from yieldkit.config.models.inverters import MpptInput
from yieldkit.design.checks.grid_profiles import grid_rules
from yieldkit.report.figures.picture import (
    INK,
    PALE,
    SMALL,
    SOFT,
    Picture,
    dress,
    halo,
    label,
    new_figure,
)
from yieldkit.study.comparison.compare import Comparison
from yieldkit.study.simulation.labels import string_label
from yieldkit.study.simulation.month_weights import result_weights, weighed
from yieldkit.study.simulation.period import step_hours

_CHECKS = {
    "hot Vmp": "hot operating voltage against the window",
    "cold Vmp": "cold operating voltage against the window",
    "hot Voc": "start-up voltage against hot open-circuit voltage",
    "cold Voc": "cold open-circuit voltage against the input",
}
_BELOW = ("hot Vmp", "cold Vmp")
_BINS = 40


class _Row(NamedTuple):
    """A kind of string on a kind of input, with its voltages [V]."""

    name: str
    where: str
    mppt: MpptInput
    volts: dict[str, float]


def voltages_picture(comparison: Comparison) -> Picture:
    """Show every kind of string's voltages, cold and hot, against its input's lines.

    Parameters
    ----------
    comparison : Comparison
        What `compare` returned; the voltages are those of its findings.
    """
    rows = _rows(comparison)
    figure = new_figure(0.55 + 0.52 * len(rows))
    axes = figure.subplots()
    right = 1.04 * max(row.mppt.max_voltage_v for row in rows)
    right = max([right, *(1.04 * volts for row in rows for volts in row.volts.values())])
    for place, row in enumerate(rows):
        _lines(axes, place, row.mppt, right)
        for name, volts in row.volts.items():
            _mark(axes, place, name, volts, volts < 0.86 * right)
    axes.set_yticks(range(len(rows)), [label(row.name, 30) for row in rows])
    axes.set_ylim(len(rows) - 0.45, -0.72)
    axes.set_xlim(0.0, right)
    dress(axes, x="voltage, V", grid=None)
    axes.tick_params(axis="y", length=0)
    parts = [
        f"{row.name} ({row.where}): "
        + (
            ", ".join(f"{name} {volts:.0f} V" for name, volts in row.volts.items())
            or "cold and hot voltages NOT CHECKED"
        )
        + f", maximum {row.mppt.max_voltage_v:g} V."
        for row in rows
    ]
    return Picture(
        figure,
        "Voltages of the strings. " + " ".join(parts),
        "Each kind of string against its input: pale band, MPP window; darker band, full-power "
        "window; broken line, start-up; thick line, maximum. Circles are open-circuit voltages "
        "(Voc), squares operating voltages (Vmp); filled: coldest, hollow: hottest expected.",
    )


def _rows(comparison: Comparison) -> list[_Row]:
    """Return the kinds of strings of all wirings, each once."""
    inputs, name_of = comparison.site.inputs(), comparison.site.input_name
    rows: dict[tuple[str, str], _Row] = {}
    for wiring, (_, found) in zip(comparison.site.wirings, comparison.findings, strict=True):
        values = {(finding.subject, finding.check): finding.value for finding in found}
        for tracker in wiring.trackers:
            name = name_of(tracker)
            mppt = inputs[name]
            for number, string in enumerate(tracker.strings, start=1):
                subject = f"{name}, string {number}"
                volts = {
                    name: values[subject, check]
                    for name, check in _CHECKS.items()
                    if not math.isnan(values.get((subject, check), math.nan))
                }
                key = (string_label(string), mppt.model_dump_json(exclude={"name"}))
                rows.setdefault(key, _Row(string_label(string), name, mppt, volts))
    return sorted(rows.values(), key=lambda row: -row.volts.get("cold Voc", 0.0))


def _lines(axes: Axes, place: int, mppt: MpptInput, right: float) -> None:
    low, high = mppt.mpp_voltage_min_v, mppt.mpp_voltage_max_v
    axes.barh(place, high - low, left=low, height=0.36, color=PALE)
    full_low, full_high = mppt.full_power_voltage_min_v, mppt.full_power_voltage_max_v
    if full_low is not None and full_high is not None:
        axes.barh(place, full_high - full_low, left=full_low, height=0.36, color="#cfcfc9")
    axes.plot([mppt.max_voltage_v] * 2, [place - 0.3, place + 0.3], color=INK, linewidth=2.4)
    axes.plot(
        [mppt.start_voltage_v] * 2,
        [place - 0.3, place + 0.3],
        color=INK,
        linewidth=1.0,
        linestyle="--",
    )
    if place == 0:
        for volts, text, side in (
            (mppt.start_voltage_v, f"start-up {mppt.start_voltage_v:g}", "right"),
            (0.5 * (low + high), f"window {low:g} to {high:g}", "center"),
            (min(mppt.max_voltage_v, right), f"maximum {mppt.max_voltage_v:g}", "right"),
        ):
            axes.text(volts, -0.42, text, fontsize=6, ha=side, va="bottom")


def _mark(axes: Axes, place: int, name: str, volts: float, room: bool) -> None:
    """Mark a voltage; its text stands to the right of a cold one where there is room."""
    below = name in _BELOW
    cold = name.startswith("cold")
    axes.plot(
        volts,
        place,
        "s" if below else "o",
        markersize=5,
        markeredgecolor=INK,
        markerfacecolor=INK if cold else "white",
        markeredgewidth=1.2,
        zorder=4,
    )
    axes.annotate(
        f"{name} {volts:.0f}",
        (volts, place),
        (0, -5 if below else 5),
        textcoords="offset points",
        fontsize=6,
        ha="left" if cold and room else "right",
        va="top" if below else "bottom",
        path_effects=halo(),
    )


def terminal_picture(comparison: Comparison, wiring: str) -> Picture:
    """Show how often the terminals stand at which voltage while feeding in.

    Parameters
    ----------
    comparison : Comparison
        What `compare` returned.
    wiring : str
        Name of the wiring.
    """
    result = comparison.result(wiring)
    site = comparison.site
    feeding = result["p_ac"].to_numpy() > 0.0
    # Of several inverters, the one with the highest voltage.
    volts = result["v_ac"].to_numpy()[feeding].max(axis=1, initial=0.0)
    hours, weights = step_hours(result.attrs), result_weights(result)
    per = comparison.period.head
    limit = grid_rules(site.grid.profile, site.nominal_voltage_v).mean_limit_v
    figure = new_figure(2.0)
    axes = figure.subplots()
    axes.hist(
        volts,
        bins=_BINS,
        weights=weighed(np.full(feeding.size, hours), weights)[feeding],
        color=SOFT,
        edgecolor="white",
        linewidth=0.4,
    )
    whose = "voltage at the inverter's terminals"
    if site.several_inverters:
        whose = "highest voltage at any inverter's terminals"
    dress(axes, x=f"{whose}, phase to neutral, V", y=f"hours {per}")
    if math.isfinite(limit):
        axes.axvline(limit, color=INK, linewidth=1.4, linestyle="--")
        axes.text(
            limit,
            0.97,
            f"limit of the mean {limit:g} V ",
            fontsize=SMALL,
            ha="right",
            va="top",
            transform=axes.get_xaxis_transform(),
        )
    fractions = weighed(result["off_fraction"].to_numpy(), weights)
    off = float(fractions[feeding].max(axis=1, initial=0.0).sum()) * hours
    span = f"{volts.min():.1f} to {volts.max():.1f} V" if volts.size else "never feeds in"
    against = f" against a limit of {limit:g} V" if math.isfinite(limit) else ""
    return Picture(
        figure,
        f"Terminal voltage of {wiring} while feeding in: {span}{against}; switched off for "
        f"{off:.0f} hours.",
        f"'{wiring}': voltage at the terminals while feeding in ({span}{against}).",
    )
