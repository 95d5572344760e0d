"""The string layout of a wiring as a picture: modules, strings, inputs, inverter."""

from __future__ import annotations

from matplotlib.patches import Rectangle

from yieldkit.config.site import Site, Wiring
from yieldkit.report.picture import COLOURS, HATCHES, INK, Picture, label, new_figure

_MODULE_W, _MODULE_H, _GAP = 0.9, 0.62, 1.0
_INPUT_X = 27.0


def layout_picture(site: Site, wiring: Wiring) -> Picture:
    """Show which modules of which plane hang in which string on which input.

    Parameters
    ----------
    site : Site
        The site.
    wiring : Wiring
        One of its wirings.
    """
    planes = [plane.name for plane in site.planes]
    rows = sum(len(tracker.strings) for tracker in wiring.trackers)
    longest = max(
        sum(group.modules for group in string.groups)
        for tracker in wiring.trackers
        for string in tracker.strings
    )
    unit = min(1.0, (_INPUT_X - 3.0) / longest)
    figure = new_figure(9.0, 0.8 + 0.42 * (rows + len(wiring.trackers)))
    axes = figure.subplots()
    y = 0.0
    inputs = []
    words = []
    for tracker in wiring.trackers:
        top = y
        for number, string in enumerate(tracker.strings, start=1):
            x = 0.0
            for group in string.groups:
                style = planes.index(group.plane)
                for _ in range(group.modules):
                    axes.add_patch(
                        Rectangle(
                            (x, y - _MODULE_H),
                            _MODULE_W * unit,
                            _MODULE_H,
                            facecolor=COLOURS[style % len(COLOURS)],
                            edgecolor="white",
                            hatch=HATCHES[style % len(HATCHES)],
                            linewidth=0.6,
                        )
                    )
                    x += unit
            axes.plot([x, _INPUT_X], [y - _MODULE_H / 2] * 2, color=INK, linewidth=1.0)
            content = " + ".join(f"{group.modules} {group.plane}" for group in string.groups)
            axes.text(x + 0.3, y - _MODULE_H / 2 + 0.1, label(content, 46), fontsize=7)
            words.append(f"{tracker.mppt} string {number}: {content}")
            y -= _GAP
        inputs.append((tracker.mppt, top, y + _GAP - _MODULE_H))
        y -= 0.35
    for name, top, bottom in inputs:
        axes.add_patch(
            Rectangle(
                (_INPUT_X, bottom - 0.1),
                4.2,
                top - bottom + 0.2,
                facecolor="#f4f4f1",
                edgecolor=INK,
            )
        )
        axes.text(
            _INPUT_X + 2.1,
            (top + bottom) / 2,
            label(name, 14),
            ha="center",
            va="center",
            fontsize=8,
        )
    axes.add_patch(
        Rectangle((_INPUT_X + 4.2, y + 0.25), 1.2, -y + 0.05, facecolor="white", edgecolor=INK)
    )
    axes.text(_INPUT_X + 4.8, y / 2, "inverter", rotation=90, ha="center", va="center", fontsize=8)
    _legend(axes, planes, y)
    axes.set_xlim(-0.3, _INPUT_X + 5.8)
    axes.set_ylim(y - 1.0, 0.5)
    axes.axis("off")
    return Picture(
        figure, f"'{wiring.name}': " + "; ".join(words) + ".", f"String layout: {wiring.name}."
    )


def _legend(axes: object, planes: list[str], y: float) -> None:
    x = 0.0
    for index, name in enumerate(planes):
        axes.add_patch(
            Rectangle(
                (x, y - 0.7),
                1.1,
                0.5,
                facecolor=COLOURS[index % len(COLOURS)],
                hatch=HATCHES[index % len(HATCHES)],
                edgecolor="white",
            )
        )
        axes.text(x + 1.3, y - 0.45, label(name, 24), fontsize=7, va="center")
        x += 8.0
