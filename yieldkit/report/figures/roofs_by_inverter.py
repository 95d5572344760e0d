"""How the roof planes are shared out over several inverters: each plane's strings in one row."""

from __future__ import annotations

from typing import NamedTuple

from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from yieldkit.config.site.site import Site, Wiring
from yieldkit.report.figures.picture import (
    INK,
    SMALL,
    WIDTH,
    Picture,
    fitted,
    wiring_look,
)

_ROW, _BAR, _KEY_ROW = 0.42, 0.24, 0.22
_FROM = 1.8


class _Part(NamedTuple):
    """Modules of one plane in one string."""

    plane: str
    inverter: str
    number: int
    modules: int


def roofs_by_inverter(site: Site, wiring: Wiring) -> Picture | None:
    """Show every plane's modules in the tone of the inverter that they hang on, string by string.

    Parameters
    ----------
    site : Site
        The site.
    wiring : Wiring
        A wiring of it.

    Returns
    -------
    Picture or None
        None for a site of one inverter.
    """
    if not site.several_inverters:
        return None
    parts = _parts(wiring)
    inverters = [one.name for one in site.each_inverter()]
    height = _ROW * len(site.planes) + _KEY_ROW * len(inverters) + 0.1
    figure = Figure(figsize=(WIDTH, height))
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    axes.set_xlim(0.0, WIDTH)
    axes.set_ylim(0.0, height)
    axes.axis("off")
    pitch = (WIDTH - _FROM - 0.05) / max(plane.modules for plane in site.planes)
    y = height
    for plane in site.planes:
        own = [part for part in parts if part.plane == plane.name]
        left = plane.modules - sum(part.modules for part in own)
        x, low = _FROM, y - _ROW + (_ROW - _BAR) / 2
        axes.text(0.0, y - _ROW / 2, fitted(plane.name, _FROM - 0.1), fontsize=SMALL, va="center")
        for part in own:
            width = part.modules * pitch
            look = wiring_look(inverters.index(part.inverter))
            look["edgecolor"], look["linewidth"] = "white", 1.5
            axes.add_patch(Rectangle((x, low), width, _BAR, **look))
            said = fitted(f"{part.number}: {part.modules}", width)
            axes.text(
                x + width / 2,
                low + _BAR / 2,
                said,
                ha="center",
                va="center",
                fontsize=SMALL,
                bbox={"facecolor": "white", "edgecolor": "none", "pad": 0.6},
            )
            x += width
        if left:
            corner, width = (x, low), left * pitch
            axes.add_patch(
                Rectangle(corner, width, _BAR, facecolor="white", edgecolor=INK, linestyle=":")
            )
        y -= _ROW
    for place, name in enumerate(inverters):
        look = wiring_look(place)
        axes.add_patch(Rectangle((_FROM, y - 0.16), 0.3, 0.12, **look))
        axes.text(
            _FROM + 0.4, y - 0.1, fitted(name, WIDTH - _FROM - 0.5), fontsize=SMALL, va="center"
        )
        y -= _KEY_ROW
    return Picture(
        figure,
        "; ".join(
            f"string {part.number}: {part.modules} modules of {part.plane} on {part.inverter}"
            for part in parts
        )
        + ".",
        f"Which roof hangs on which inverter in {wiring.name}: tones are inverters, numbers are "
        "strings in the order of the inputs with their modules; dotted modules stay unwired.",
    )


def _parts(wiring: Wiring) -> list[_Part]:
    found, number = [], 0
    for tracker in wiring.trackers:
        for string in tracker.strings:
            number += 1
            found += [
                _Part(group.plane, str(tracker.inverter), number, group.modules)
                for group in string.groups
            ]
    return found
