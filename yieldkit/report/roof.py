"""The roof from outside: which module hangs in which string, and the way of its cable."""

from __future__ import annotations

from collections.abc import Sequence

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from yieldkit.config.planes import Plane
from yieldkit.config.site import Site
from yieldkit.design.layout import StringRun
from yieldkit.report.picture import BIG, INK, SMALL, WIDTH, Html, Picture, halo, label, look
from yieldkit.report.tables import sentences, table

_GAP, _TITLE = 0.35, 0.3
_HIGHEST, _WIDEST_MODULE = 2.6, 0.62
_SHRINK = 0.9


def roof_picture(site: Site, layout: Sequence[StringRun], name: str) -> Picture:
    """Draw the planes in use from outside with the strings' modules numbered by string.

    Parameters
    ----------
    site : Site
        The site.
    layout : sequence of StringRun
        From `string_layout`.
    name : str
        The wiring's name.
    """
    planes = [plane for plane in site.planes if any(run.plane == plane.name for run in layout)]
    numbers = _numbers(layout)
    boxes = [_size(site, plane) for plane in planes]
    height = sum(box[1] + _TITLE + _GAP for box in boxes)
    axes = Figure(figsize=(WIDTH, height)).add_axes((0.0, 0.0, 1.0, 1.0))
    axes.set_xlim(0.0, WIDTH)
    axes.set_ylim(0.0, height)
    axes.axis("off")
    top = height
    for plane, (pitch, box) in zip(planes, boxes, strict=True):
        axes.text(0.05, top - _TITLE / 2, label(plane.name, 60), fontsize=SMALL, va="center")
        runs = [run for run in layout if run.plane == plane.name]
        _plane(axes, plane, runs, numbers, pitch, top - _TITLE - box)
        top -= box + _TITLE + _GAP
    said = "; ".join(_words(run, numbers) for run in layout)
    return Picture(
        axes.figure,
        f"Roof planes of {name} from outside. {said}.",
        f"Where the strings of {name} lie, seen from outside: numbers are strings, the line is the "
        "way of the cable from module to module, a ring where it begins. A square marks where the "
        "cables leave the plane.",
    )


def layout_table(layout: Sequence[StringRun] | None) -> Html:
    """Return what the layout says of every string, or that it is NOT CHECKED.

    Parameters
    ----------
    layout : sequence of StringRun, optional
        From `string_layout`.
    """
    if layout is None:
        return sentences(
            [
                "Layout on the roof: NOT CHECKED, the modules' places aren't known (planes: "
                "drawing or positions). Cable lengths are the site file's, by plane."
            ]
        )
    numbers = _numbers(layout)
    rows = [
        (
            str(numbers[run.mppt, run.string]),
            f"{run.mppt}, string {run.string}",
            f"{len(run.modules)} {run.plane}",
            "side by side" if run.connected else "has a gap",
            "every other, and back" if run.skips else "one after the other",
            _reach(run.leads_reach),
            "NOT CHECKED" if run.conductor_m is None else f"{run.conductor_m:.1f}",
        )
        for run in layout
    ]
    return table(
        (
            "no.",
            "string",
            "modules",
            "they lie",
            "cable takes them",
            "own leads reach",
            "conductor, m",
        ),
        rows,
        "Strings on the roof. Conductor: both wires from the input to the string's two ends, along "
        "rows and columns and the stated route, without slack. Ways over every other module are "
        "proposed only where the length of the modules' leads is known.",
        numbers=(6,),
    )


def _numbers(layout: Sequence[StringRun]) -> dict[tuple[str, int], int]:
    """Return a number for every string, from 1 in the order of the inputs."""
    strings = dict.fromkeys((run.mppt, run.string) for run in layout)
    return {key: number for number, key in enumerate(strings, start=1)}


def _reach(leads_reach: bool | None) -> str:
    if leads_reach is None:
        return "NOT CHECKED"
    return "yes" if leads_reach else "no: needs an extension"


def _size(site: Site, plane: Plane) -> tuple[tuple[float, float], float]:
    """Return the pitch of columns and rows and the plane's height as drawn [inch]."""
    module = next(each for each in site.module_types if each.name == plane.module_type)
    upright = plane.layout == "portrait"
    short, long = module.width_m or 1.0, module.length_m or 1.6
    across, up = (short, long) if upright else (long, short)
    low, left, high, right = _extent(plane)
    rows, columns = high - low + 1.0, right - left + 1.0
    width = min(
        _WIDEST_MODULE * across / short, (WIDTH - 0.4) / columns, _HIGHEST / rows * across / up
    )
    return (width, width * up / across), width * up / across * rows


def _extent(plane: Plane) -> tuple[float, float, float, float]:
    """Return lowest row and column, highest row and column of modules and cable exit."""
    places = plane.places
    rows = [float(place.row) for place in places]
    columns = [float(place.column) for place in places]
    if plane.cable_exit is not None:
        rows.append(plane.cable_exit.row)
        columns.append(plane.cable_exit.column)
    return min(rows), min(columns), max(rows), max(columns)


def _plane(
    axes: Axes,
    plane: Plane,
    runs: Sequence[StringRun],
    numbers: dict[tuple[str, int], int],
    pitch: tuple[float, float],
    bottom: float,
) -> None:
    """Draw a plane's modules, strings and cable exit above `bottom`."""
    width, height = pitch
    first_row, first_column, _, _ = _extent(plane)

    def middle(row: float, column: float) -> tuple[float, float]:
        return (
            0.2 + (column - first_column + 0.5) * width,
            bottom + (row - first_row + 0.5) * height,
        )

    places = plane.places
    owner = {module: run for run in runs for module in run.modules}
    for number, place in enumerate(places):
        x, y = middle(place.row, place.column)
        run = owner.get(number)
        style = (
            {"facecolor": "white", "edgecolor": INK, "linestyle": ":"}
            if run is None
            else look(numbers[run.mppt, run.string] - 1)
        )
        corner = (x - _SHRINK * width / 2, y - _SHRINK * height / 2)
        axes.add_patch(Rectangle(corner, _SHRINK * width, _SHRINK * height, **style))
    for run in runs:
        points = [middle(places[own].row, places[own].column) for own in run.modules]
        if run.skips:
            # Out above the middle of the modules, back below it.
            out = -(-len(points) // 2)
            points = [
                (x, y + (0.14 if place < out else -0.14) * height)
                for place, (x, y) in enumerate(points)
            ]
        axes.plot(*zip(*points, strict=True), color="white", linewidth=2.6, zorder=3)
        axes.plot(*zip(*points, strict=True), color=INK, linewidth=1.1, zorder=4)
        axes.plot(
            *points[0], marker="o", markersize=5, color=INK, markerfacecolor="white", zorder=5
        )
        axes.annotate(
            f"{numbers[run.mppt, run.string]}",
            points[len(points) // 2],
            ha="center",
            va="center",
            fontsize=BIG,
            fontweight="bold",
            path_effects=halo(),
            zorder=6,
        )
    if plane.cable_exit is not None:
        way_out = middle(plane.cable_exit.row, plane.cable_exit.column)
        axes.plot(*way_out, marker="s", markersize=6, color=INK, zorder=6)


def _words(run: StringRun, numbers: dict[tuple[str, int], int]) -> str:
    laid = "side by side" if run.connected else "with a gap"
    return (
        f"string {numbers[run.mppt, run.string]} ({run.mppt}, string {run.string}): "
        f"{len(run.modules)} modules of {run.plane}, {laid}"
    )
