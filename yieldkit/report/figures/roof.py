"""The roof from outside: which module hangs in which string, and the way of its cable."""

from __future__ import annotations

from collections.abc import Sequence

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from yieldkit.config.models.planes import Plane
from yieldkit.config.site.site import Site
from yieldkit.design.roof.layout import StringRun
from yieldkit.report.figures.picture import (
    INK,
    SMALL,
    WIDTH,
    Look,
    Picture,
    fitted,
    halo,
    plane_looks,
)
from yieldkit.report.markup import Html
from yieldkit.report.tables.html import sentences, table

_GAP, _TITLE = 0.42, 0.3
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
    numbers, looks = _numbers(layout), plane_looks(site)
    boxes = [drawn_size(site, plane) for plane in planes]
    height = sum(box[1] + _TITLE + _GAP for box in boxes)
    figure = Figure(figsize=(WIDTH, height))
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    axes.set_xlim(0.0, WIDTH)
    axes.set_ylim(0.0, height)
    axes.axis("off")
    top = height
    for plane, (pitch, box) in zip(planes, boxes, strict=True):
        upper, lower = edge_names(plane)
        axes.text(
            0.05,
            top - _TITLE / 2,
            f"{fitted(plane.name, WIDTH - 1.5)}: {upper}",
            fontsize=SMALL,
            va="center",
        )
        runs = [run for run in layout if run.plane == plane.name]
        _modules(axes, plane, runs, numbers, pitch, top - _TITLE - box, looks[plane.name])
        for run in runs:
            _cable(axes, plane, run, layout, numbers, pitch, top - _TITLE - box)
        axes.text(0.05, top - _TITLE - box - 0.1, lower, fontsize=SMALL, va="center")
        top -= box + _TITLE + _GAP
    said = "; ".join(_sentence(run, numbers) for run in layout)
    edges = "; ".join(
        f"{plane.name}: {' above, '.join(edge_names(plane))} below" for plane in planes
    )
    return Picture(
        figure,
        f"Roof planes of {name} from outside ({edges}). {said}.",
        f"Where the strings of {name} lie, seen from outside, colour and hatching by plane as in "
        "the string layout: numbers are strings, the line is the way of the cable from module to "
        "module, + and − are the string's ends (the other way round is as good if it is so for "
        "all strings of an input), ~ is where a string goes on to another plane. A square marks "
        "where the cables leave the plane.",
    )


def roof_table(layout: Sequence[StringRun] | None) -> Html:
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


def drawn_size(site: Site, plane: Plane) -> tuple[tuple[float, float], float]:
    """Return the pitch of columns and rows and the plane's height as drawn [inch].

    Parameters
    ----------
    site : Site
        The site.
    plane : Plane
        One of its planes, with places.
    """
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


def edge_names(plane: Plane) -> tuple[str, str]:
    """Return what the upper and the lower edge of a plane are called.

    Parameters
    ----------
    plane : Plane
        The plane.
    """
    if plane.mounting in ("roof-parallel", "integrated") and plane.tilt_deg >= 5.0:
        return "ridge", "eaves"
    return "upper edge", "lower edge"


def place_middle(
    plane: Plane, pitch: tuple[float, float], bottom: float, row: float, column: float
) -> tuple[float, float]:
    """Return where the middle of a place is drawn [inch].

    Parameters
    ----------
    plane : Plane
        The plane.
    pitch : tuple of float
        Of columns and rows [inch].
    bottom : float
        Lower edge of the plane's drawing [inch].
    row, column : float
        The place.
    """
    first_row, first_column, _, _ = _extent(plane)
    return (
        0.2 + (column - first_column + 0.5) * pitch[0],
        bottom + (row - first_row + 0.5) * pitch[1],
    )


def _modules(
    axes: Axes,
    plane: Plane,
    runs: Sequence[StringRun],
    numbers: dict[tuple[str, int], int],
    pitch: tuple[float, float],
    bottom: float,
    style: Look,
) -> None:
    """Draw a plane's modules in its own look, numbered by string, above `bottom`."""
    width, height = pitch
    owner = {module: run for run in runs for module in run.modules}
    free = {"facecolor": "white", "edgecolor": INK, "linestyle": ":"}
    for number, place in enumerate(plane.places):
        x, y = place_middle(plane, pitch, bottom, place.row, place.column)
        run = owner.get(number)
        corner = (x - _SHRINK * width / 2, y - _SHRINK * height / 2)
        own = free if run is None else style
        axes.add_patch(Rectangle(corner, _SHRINK * width, _SHRINK * height, **own))
        if run is not None:
            axes.annotate(
                f"{numbers[run.mppt, run.string]}",
                (x - 0.3 * width, y + 0.26 * height),
                ha="center",
                va="center",
                fontsize=SMALL - 1.0,
                fontweight="bold",
                path_effects=halo(),
                zorder=6,
            )
    if plane.cable_exit is not None:
        way_out = place_middle(plane, pitch, bottom, plane.cable_exit.row, plane.cable_exit.column)
        axes.plot(*way_out, marker="s", markersize=6, color=INK, zorder=6)


def _cable(
    axes: Axes,
    plane: Plane,
    run: StringRun,
    layout: Sequence[StringRun],
    numbers: dict[tuple[str, int], int],
    pitch: tuple[float, float],
    bottom: float,
) -> None:
    """Draw the way of a string's cable over a plane, and what its two ends are."""
    places = [plane.places[own] for own in run.modules]
    points = [place_middle(plane, pitch, bottom, place.row, place.column) for place in places]
    if run.skips:
        # Out above the middle of the modules, back below it.
        out = -(-len(points) // 2)
        points = [
            (x, y + (0.14 if place < out else -0.14) * pitch[1])
            for place, (x, y) in enumerate(points)
        ]
    axes.plot(*zip(*points, strict=True), color="white", linewidth=2.6, zorder=3)
    axes.plot(*zip(*points, strict=True), color=INK, linewidth=1.1, zorder=4)
    for (x, y), sign in zip((points[0], points[-1]), run_ends(run, layout), strict=True):
        alone = 0.2 * pitch[0] if len(points) == 1 else 0.0
        side = alone if sign in ("−", "~") else -alone
        ring = {"boxstyle": "circle,pad=0.12", "facecolor": "white", "edgecolor": INK}
        axes.text(x + side, y, sign, ha="center", va="center", fontsize=SMALL, bbox=ring, zorder=7)


def run_ends(run: StringRun, layout: Sequence[StringRun]) -> tuple[str, str]:
    """Return what the first and the last module of a run end in.

    Parameters
    ----------
    run : StringRun
        A string's modules on one plane.
    layout : sequence of StringRun
        All runs of the wiring.

    Returns
    -------
    tuple of (str, str)
        "+" and "−" for the ends of the string, "~" where it goes on to another plane.
    """
    own = [each for each in layout if (each.mppt, each.string) == (run.mppt, run.string)]
    return "+" if run is own[0] else "~", "−" if run is own[-1] else "~"


def _sentence(run: StringRun, numbers: dict[tuple[str, int], int]) -> str:
    laid = "side by side" if run.connected else "with a gap"
    return (
        f"string {numbers[run.mppt, run.string]} ({run.mppt}, string {run.string}): "
        f"{len(run.modules)} modules of {run.plane}, {laid}"
    )
