"""Figures of operating points: clouds, days, curves, voltages against an input's lines."""

from __future__ import annotations

import numpy as np
import xarray as xr

from yieldkit.report.picture import COLOURS, INK, MARKERS, Picture, label, new_figure, quiet_axes
from yieldkit.study.compare import Comparison
from yieldkit.study.curves import local_times


def cloud_picture(comparison: Comparison, wiring: str) -> Picture:
    """Show voltage and current of every step of each tracker with the input's limits."""
    result = comparison.result(wiring)
    mppts = {mppt.name: mppt for mppt in comparison.site.inverter.mppts}
    names = [str(name) for name in result["tracker"].to_numpy()]
    figure = new_figure(9.0, 3.3)
    grid = figure.subplots(1, len(names), squeeze=False)
    words = []
    for column, name in enumerate(names):
        axes = grid[0, column]
        mppt = mppts[name]
        own = result.sel(tracker=name)
        running = own["p_dc"] > 0.0
        volts = own["v_dc"].where(running, drop=True).to_numpy()
        amps = own["i_dc"].where(running, drop=True).to_numpy()
        axes.plot(volts, amps, ".", markersize=1.5, color=COLOURS[0], alpha=0.5, rasterized=True)
        for volts_at, text in (
            (mppt.mpp_voltage_min_v, "window"),
            (mppt.mpp_voltage_max_v, "window"),
            (mppt.max_voltage_v, "maximum"),
        ):
            axes.axvline(volts_at, color=INK, linewidth=1.0, linestyle="--")
            axes.text(
                volts_at, 0.0, f" {text} {volts_at:g} V", rotation=90, fontsize=6, va="bottom"
            )
        if mppt.max_input_current_a is not None:
            axes.axhline(mppt.max_input_current_a, color=INK, linewidth=1.0)
            axes.text(
                mppt.mpp_voltage_min_v,
                mppt.max_input_current_a,
                f" input current {mppt.max_input_current_a:g} A",
                fontsize=6,
                va="bottom",
            )
        if mppt.max_power_w is not None:
            span = np.linspace(mppt.mpp_voltage_min_v, mppt.max_voltage_v, 100)
            axes.plot(span, mppt.max_power_w / span, color=INK, linewidth=1.0, linestyle=":")
            axes.text(
                span[-1],
                mppt.max_power_w / span[-1],
                f"{mppt.max_power_w / 1000:g} kW",
                fontsize=6,
                ha="right",
                va="bottom",
            )
        axes.set_title(label(name), fontsize=9, loc="left")
        axes.set_xlabel("input voltage, V")
        top = max(float(np.max(amps, initial=1.0)), mppt.max_input_current_a or 0.0)
        axes.set_ylim(0.0, 1.2 * top)
        axes.set_xlim(0.0, 1.05 * mppt.max_voltage_v)
        quiet_axes(axes)
        if volts.size:
            words.append(
                f"{name}: {volts.min():.0f} to {volts.max():.0f} V, up to {amps.max():.1f} A"
            )
    grid[0, 0].set_ylabel("input current, A")
    return Picture(
        figure,
        f"Operating points of '{wiring}'. " + "; ".join(words) + ".",
        f"Every step's voltage and current, with the inputs' limits: {wiring}.",
    )


def days_picture(comparison: Comparison, wiring: str, days: dict[str, np.ndarray]) -> Picture:
    """Show each tracker's power through some days."""
    result = comparison.result(wiring)
    names = [str(name) for name in result["tracker"].to_numpy()]
    figure = new_figure(9.0, 3.0 * ((len(days) + 1) // 2))
    grid = figure.subplots((len(days) + 1) // 2, 2, squeeze=False, sharey=True).ravel()
    times = local_times(result)
    words = []
    for axes, (title, steps) in zip(grid, days.items(), strict=False):
        hour = np.asarray(times[steps].hour + times[steps].minute / 60.0)
        for row, name in enumerate(names):
            power = result["p_dc"].sel(tracker=name).to_numpy()[steps] / 1000.0
            axes.plot(
                hour,
                power,
                color=COLOURS[row],
                marker=MARKERS[row],
                markersize=3.5,
                label=label(name),
            )
        total = result["p_ac"].to_numpy()[steps] / 1000.0
        axes.plot(hour, total, color=INK, linewidth=2.0, label="AC")
        axes.set_title(f"{title}, {times[steps][0]:%d %B}", fontsize=9, loc="left")
        axes.set_xlim(3, 22)
        axes.set_xlabel("hour (local standard time)")
        quiet_axes(axes)
        words.append(f"{title}: AC up to {total.max():.1f} kW")
    for axes in grid[len(days) :]:
        axes.set_visible(False)
    grid[0].set_ylabel("power, kW")
    grid[0].legend(frameon=False, fontsize=7)
    return Picture(
        figure,
        f"Power of each tracker of '{wiring}' through the day. " + "; ".join(words) + ".",
        f"Power of each tracker and on the AC side: {wiring}.",
    )


def curves_picture(curves: dict[str, xr.Dataset], wiring: str, tracker: str) -> Picture:
    """Show I-V and P-V of a tracker's strings and their sum at some moments.

    Parameters
    ----------
    curves : dict of str to Dataset
        By a moment's words: `i_string`, `i_dc` and `p_dc` over voltage.
    wiring, tracker : str
        Names, for the caption.
    """
    figure = new_figure(9.0, 2.6 * len(curves))
    grid = figure.subplots(len(curves), 2, squeeze=False)
    words = []
    for row, (moment, curve) in enumerate(curves.items()):
        volts = curve["voltage"].to_numpy()
        for column, string in enumerate(curve["string"].to_numpy()):
            current = curve["i_string"].to_numpy()[:, column]
            style = {"color": COLOURS[column], "linestyle": "--" if column % 2 else "-."}
            grid[row, 0].plot(volts, current, label=label(string), **style)
            grid[row, 1].plot(volts, current * volts / 1000.0, **style)
        total = curve["i_dc"].to_numpy()
        power = curve["p_dc"].to_numpy() / 1000.0
        grid[row, 0].plot(volts, total, color=INK, linewidth=1.8, label="sum")
        grid[row, 1].plot(volts, power, color=INK, linewidth=1.8)
        best = int(np.argmax(power))
        grid[row, 1].plot(volts[best], power[best], "o", color=INK)
        grid[row, 1].annotate(
            f"{power[best]:.2f} kW at {volts[best]:.0f} V",
            (volts[best], power[best]),
            textcoords="offset points",
            xytext=(-6, 5),
            fontsize=7,
            ha="right",
        )
        for axes in grid[row]:
            axes.set_ylim(bottom=min(0.0, float(total.min()) * 0.05), top=None)
            axes.set_ylim(bottom=0.0)
            axes.set_xlim(0.0, float(volts[-1]))
            axes.set_xlabel("voltage, V")
            quiet_axes(axes)
        grid[row, 0].set_ylabel("current, A")
        grid[row, 1].set_ylabel("power, kW")
        grid[row, 0].set_title(label(moment, 60), fontsize=9, loc="left")
        words.append(f"{moment}: best {power[best]:.2f} kW at {volts[best]:.0f} V")
    grid[0, 0].legend(frameon=False, fontsize=7)
    return Picture(
        figure,
        f"I-V and P-V of {tracker} in '{wiring}'. " + "; ".join(words) + ".",
        f"{tracker} of '{wiring}': its strings and their sum.",
    )


def ladder_picture(comparison: Comparison, wiring: str) -> Picture:
    """Show each string's voltages, cold and hot, against its input's lines."""
    found = dict(comparison.findings)[wiring]
    wanted = {
        "cold open-circuit voltage against the input": "cold Voc",
        "cold operating voltage against the window": "cold Vmp",
        "start-up voltage against hot open-circuit voltage": "hot Voc",
        "hot operating voltage against the window": "hot Vmp",
    }
    strings = list(dict.fromkeys(f.subject for f in found if f.check in wanted))
    figure = new_figure(9.0, 3.4)
    axes = figure.subplots()
    mppts = {mppt.name: mppt for mppt in comparison.site.inverter.mppts}
    words = []
    for place, subject in enumerate(strings):
        own = {
            wanted[f.check]: f.value for f in found if f.subject == subject and f.check in wanted
        }
        mppt = mppts[subject.split(", string")[0]]
        for row, (name, volts) in enumerate(own.items()):
            axes.plot(place, volts, MARKERS[row], color=COLOURS[row], markersize=7)
            right = name.endswith("Voc")
            axes.text(
                place + (0.06 if right else -0.06),
                volts,
                f"{name} {volts:.0f}",
                fontsize=7,
                va="center",
                ha="left" if right else "right",
            )
        for volts, text in (
            (mppt.max_voltage_v, "maximum"),
            (mppt.mpp_voltage_max_v, "window"),
            (mppt.start_voltage_v, "start-up"),
            (mppt.mpp_voltage_min_v, "window"),
        ):
            axes.hlines(volts, place - 0.4, place + 0.4, color=INK, linewidth=1.0)
            up = text != "window" or volts > mppt.start_voltage_v
            axes.text(
                place + 0.4,
                volts,
                f"{text} {volts:g}",
                fontsize=6,
                ha="right",
                va="bottom" if up else "top",
            )
        words.append(
            f"{subject}: cold Voc {own.get('cold Voc', float('nan')):.0f} V of "
            f"{mppt.max_voltage_v:g} V"
        )
    axes.set_xticks(range(len(strings)), [label(name) for name in strings], fontsize=8)
    axes.set_xlim(-0.6, len(strings) - 0.2)
    axes.set_ylabel("voltage, V")
    axes.set_ylim(bottom=0.0)
    quiet_axes(axes)
    return Picture(
        figure,
        f"String voltages of '{wiring}'. " + "; ".join(words) + ".",
        f"String voltages, cold and hot, against the inputs' lines: {wiring}.",
    )


def terminal_picture(comparison: Comparison, wiring: str) -> Picture:
    """Show how often the terminals stand at which voltage while feeding in."""
    result = comparison.result(wiring)
    feeding = result["p_ac"].to_numpy() > 0.0
    volts = result["v_ac"].to_numpy()[feeding]
    hours = result.attrs["interval_s"] / 3600.0
    figure = new_figure(9.0, 2.6)
    axes = figure.subplots()
    axes.hist(
        volts, bins=40, weights=np.full(volts.size, hours), color=COLOURS[0], edgecolor="white"
    )
    axes.set_xlabel("voltage at the inverter's terminals, phase to neutral, V")
    axes.set_ylabel("hours")
    quiet_axes(axes)
    off = float((result["off_fraction"].to_numpy() * feeding).sum()) * hours
    alt = (
        f"Terminal voltage while feeding in, '{wiring}': {volts.min():.1f} to {volts.max():.1f} V, "
        f"{off:.0f} hours switched off."
    )
    return Picture(figure, alt, f"Voltage at the terminals while feeding in: {wiring}.")
