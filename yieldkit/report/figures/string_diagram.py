"""The string layout of a wiring as a picture: modules, strings, inputs, inverter."""

from __future__ import annotations

from typing import NamedTuple

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Circle, Rectangle

from yieldkit.config.models.inverters import MpptInput
from yieldkit.config.site.site import Site, TrackerStrings, WiredString, Wiring
from yieldkit.report.figures.fonts import inches
from yieldkit.report.figures.picture import INK, SMALL, WIDTH, Picture, fitted, label, plane_looks
from yieldkit.study.simulation.labels import string_label

_ROW, _GAP = 0.27, 0.16
_MODULE_HEIGHT = 0.17
_MODULES_FROM, _MODULES_TO = 1.62, 5.75
_LARGEST_PITCH = 0.15
_BOX_FROM, _BOX_TO = 6.05, 6.85
_CASE_TO = 7.25
_KEY_ROW = 0.2
_KEY_COLUMNS = 2


def strings_picture(site: Site, wiring: Wiring) -> Picture:
    """Show which modules of which plane hang in which string on which input.

    Parameters
    ----------
    site : Site
        The site.
    wiring : Wiring
        One of its wirings.
    """
    left_over = _left_over(site, wiring)
    sides = _sides(site, wiring)
    strings_height = sum(side.height for side in sides)
    key_height = _KEY_ROW * -(-len(site.planes) // _KEY_COLUMNS) + 0.1
    height = strings_height + key_height + (_ROW if left_over else 0.0)
    figure, axes = _canvas(height)
    pitch = _pitch(wiring)
    y = height
    for side in sides:
        y = _inverter(axes, site, side, y, pitch)
    if left_over:
        axes.text(
            0.0, y - _ROW / 2, fitted(f"not wired: {left_over}", WIDTH), fontsize=SMALL, va="center"
        )
        y -= _ROW
    _key(axes, site, y)
    return Picture(figure, _alt_text(site, wiring, left_over), f"String layout: {wiring.name}.")


class _Side(NamedTuple):
    """One inverter with the strings of each of its inputs; a heading names one of several."""

    heading: str
    inputs: tuple[tuple[MpptInput, TrackerStrings | None], ...]

    @property
    def height(self) -> float:
        """What it takes in the picture [inch]."""
        rows = sum(max(_rows(tracker), 1) for _, tracker in self.inputs)
        return (rows + bool(self.heading)) * _ROW + len(self.inputs) * _GAP


def _sides(site: Site, wiring: Wiring) -> list[_Side]:
    found = []
    for one in site.each_inverter():
        own = wiring.on(one.name) if site.several_inverters else wiring
        wired = {tracker.mppt: tracker for tracker in own.trackers}
        inputs = tuple((mppt, wired.get(mppt.name)) for mppt in one.site.single_inverter.mppts)
        found.append(_Side(one.name if site.several_inverters else "", inputs))
    return found


def _inverter(axes: Axes, site: Site, side: _Side, top: float, pitch: float) -> float:
    """Draw an inverter with its inputs below `top`; return where the next begins."""
    y = top
    if side.heading:
        name = fitted(side.heading, _CASE_TO - _MODULES_FROM)
        axes.text(_CASE_TO, y - 0.6 * _ROW, name, ha="right", va="center", fontsize=SMALL)
        y -= _ROW
    upper = y - _GAP / 2
    for mppt, tracker in side.inputs:
        y = _input(axes, site, mppt, tracker, y, pitch)
    lower = y + _GAP / 2
    axes.add_patch(
        Rectangle(
            (_BOX_TO, lower), _CASE_TO - _BOX_TO, upper - lower, facecolor="white", edgecolor=INK
        )
    )
    axes.text(
        (_BOX_TO + _CASE_TO) / 2,
        (upper + lower) / 2,
        "AC" if side.heading else fitted("inverter", upper - lower - 0.5 * _GAP),
        rotation=0 if side.heading else 90,
        ha="center",
        va="center",
        fontsize=SMALL,
    )
    return y


def _canvas(height: float) -> tuple[Figure, Axes]:
    """Return a figure and axes that fill it and count in inches."""
    figure = Figure(figsize=(WIDTH, height))
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    axes.set_xlim(0.0, WIDTH)
    axes.set_ylim(0.0, height)
    axes.axis("off")
    return figure, axes


def _rows(tracker: TrackerStrings | None) -> int:
    return 0 if tracker is None else len(tracker.strings)


def _pitch(wiring: Wiring) -> float:
    longest = max(
        sum(group.modules for group in string.groups)
        for tracker in wiring.trackers
        for string in tracker.strings
    )
    return min(_LARGEST_PITCH, (_MODULES_TO - _MODULES_FROM) / longest)


def _input(
    axes: Axes,
    site: Site,
    mppt: MpptInput,
    tracker: TrackerStrings | None,
    top: float,
    pitch: float,
) -> float:
    """Draw one input and its strings below `top`; return where the next begins."""
    count = max(_rows(tracker), 1)
    bottom = top - count * _ROW - _GAP
    box = top - _GAP / 2
    axes.add_patch(
        Rectangle(
            (_BOX_FROM, box - count * _ROW),
            _BOX_TO - _BOX_FROM,
            count * _ROW,
            facecolor="#f4f4f1",
            edgecolor=INK,
        )
    )
    axes.text(
        (_BOX_FROM + _BOX_TO) / 2 + 0.04,
        box - count * _ROW / 2,
        fitted(mppt.name, _BOX_TO - _BOX_FROM - 0.1),
        ha="center",
        va="center",
        fontsize=SMALL,
    )
    if tracker is None:
        axes.text(
            _BOX_FROM - 0.1, box - _ROW / 2, "no string", ha="right", va="center", fontsize=SMALL
        )
        return bottom
    for number, string in enumerate(tracker.strings):
        _string(axes, site, string, box - (number + 0.5) * _ROW, pitch)
    return bottom


def _string(axes: Axes, site: Site, string: WiredString, middle: float, pitch: float) -> None:
    """Draw a string's name, its modules and its cable to the connector."""
    looks = plane_looks(site)
    axes.text(0.0, middle, _string_text(string, _MODULES_FROM - 0.1), fontsize=SMALL, va="center")
    x = _MODULES_FROM
    for group in string.groups:
        style = looks[group.plane]
        for _ in range(group.modules):
            axes.add_patch(
                Rectangle((x, middle - _MODULE_HEIGHT / 2), 0.84 * pitch, _MODULE_HEIGHT, **style)
            )
            x += pitch
    axes.plot([x - 0.16 * pitch, _BOX_FROM], [middle] * 2, color=INK, linewidth=1.0, zorder=0)
    axes.add_patch(Circle((_BOX_FROM, middle), 0.035, facecolor="white", edgecolor=INK, zorder=3))


def _string_text(string: WiredString, width: float) -> str:
    """Return a string's name with its planes' names cut alike until it fits [inch]."""
    for longest in range(30, 3, -2):
        parts = [f"{group.modules} {label(group.plane, longest)}" for group in string.groups]
        text = " + ".join(parts)
        if inches(text, SMALL) <= width:
            return text
    return fitted(string_label(string), width)


def _key(axes: Axes, site: Site, top: float) -> None:
    """Explain the planes' hatching in two columns."""
    for index, plane in enumerate(site.planes):
        x = (index % _KEY_COLUMNS) * WIDTH / _KEY_COLUMNS
        y = top - 0.1 - (index // _KEY_COLUMNS + 0.5) * _KEY_ROW
        own = plane_looks(site)[plane.name]
        axes.add_patch(Rectangle((x, y - 0.06), 0.24, 0.12, **own))
        facts = f"{plane.modules} modules, tilt {plane.tilt_deg:g}°, azimuth {plane.azimuth_deg:g}°"
        room = WIDTH / _KEY_COLUMNS - 0.42 - inches(f": {facts}", SMALL)
        text = f"{fitted(plane.name, room)}: {facts}"
        axes.text(x + 0.32, y, text, fontsize=SMALL, va="center")


def _left_over(site: Site, wiring: Wiring) -> str:
    """Return the modules of each plane that no string holds, in words."""
    parts = []
    for plane in site.planes:
        used = sum(
            group.modules
            for tracker in wiring.trackers
            for string in tracker.strings
            for group in string.groups
            if group.plane == plane.name
        )
        if used < plane.modules:
            parts.append(f"{plane.modules - used} {plane.name}")
    return ", ".join(parts)


def _alt_text(site: Site, wiring: Wiring, left_over: str) -> str:
    wired = {site.input_name(tracker): tracker for tracker in wiring.trackers}
    parts = []
    for name in site.inputs():
        if name not in wired:
            parts.append(f"{name}: no string.")
            continue
        strings = "; ".join(
            f"string {number}: {string_label(string)}"
            for number, string in enumerate(wired[name].strings, start=1)
        )
        parts.append(f"{name}: {strings}.")
    if left_over:
        parts.append(f"Not wired: {left_over}.")
    return f"String layout of {wiring.name}. " + " ".join(parts)
