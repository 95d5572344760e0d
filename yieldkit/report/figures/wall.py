"""The dimensioned sketch of inverters on a wall."""

from __future__ import annotations

from collections.abc import Sequence

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from yieldkit.base.display import short_name, some_names
from yieldkit.config.site.site import Site
from yieldkit.design.checks.mounting import (
    Box,
    Distance,
    WallDrawing,
    place_on_wall,
    usual_clearances,
    wall_drawing,
)
from yieldkit.design.checks.several_cases import (
    SharedWall,
    cases_drawing,
    place_cases,
    shared_walls,
)
from yieldkit.report.figures.fonts import inches
from yieldkit.report.figures.picture import Picture, fitted

_LONGER_SIDE_IN = 4.6
_LETTERS_PT = 8
_MARGIN_IN = 0.15
_NAME = 80


def wall_pictures(site: Site) -> tuple[Picture, ...]:
    """Return the sketches of a site's walls with their inverters; none where none is described.

    Parameters
    ----------
    site : Site
        The site, whose inverters' places may describe walls.
    """
    return tuple(_wall(site, wall) for wall in shared_walls(site))


def _wall(site: Site, wall: SharedWall) -> Picture:
    names, gap = _case_names(site, wall), usual_clearances()
    if len(set(wall.cases)) == 1:
        said, places, drawing = _alike(wall)
    else:
        places = place_cases(wall)
        said, drawing = _fitting(wall.names, places), cases_drawing(wall, places)
    lines = "; ".join(
        f"{short_name(name, _NAME)}: no room"
        if box is None
        else f"{short_name(name, _NAME)}: centre {box.left + 0.5 * box.width:.2f} m from the left, "
        f"{box.bottom + 0.5 * box.height:.2f} m above the lower edge"
        for name, box in zip(names, places, strict=True)
    )
    shown = [name for name, box in zip(names, places, strict=True) if box is not None]
    return Picture(
        wall_sketch(drawing, shown),
        f"Wall of {wall.width:g} by {wall.height:g} m: {said}. {lines}.",
        f"On the wall: {said}. Clearances {100 * gap.beside:.0f} cm beside, "
        f"{100 * gap.above:.0f} cm above, {100 * gap.to_obstacles:.0f} cm to obstacles, "
        f"{100 * gap.in_front:.0f} cm free in front: common practice, no source; the maker's "
        "manual prevails.",
    )


def _alike(wall: SharedWall) -> tuple[str, tuple[Box | None, ...], WallDrawing]:
    """Place cases of one size: what is said, where each hangs, and the sketch's geometry."""
    wanted = len(wall.cases)
    sizes = (wall.width, wall.height, *wall.cases[0])
    placement = place_on_wall(*sizes, wanted)
    drawing = wall_drawing(placement, *sizes)
    fitting = len(drawing.inverters)
    places = (*drawing.inverters, *[None] * (wanted - fitting))
    room = f"there is room for {placement.columns * placement.rows}"
    return (room if fitting == wanted else _fitting(wall.names, places)), places, drawing


def _fitting(names: Sequence[str], places: Sequence[Box | None]) -> str:
    """Say how many cases fit, and of several inverters which don't."""
    without = dict.fromkeys(name for name, box in zip(names, places, strict=True) if box is None)
    fitting = sum(box is not None for box in places)
    said = f"{fitting} of {len(places)} inverters fit"
    if not without or len(set(names)) == 1:
        return said
    return f"{said}; no room for {some_names(list(without), longest=_NAME)}"


def _case_names(site: Site, wall: SharedWall) -> list[str]:
    if site.several_inverters:
        return list(wall.names)
    return [f"inverter {number}" for number in range(1, len(wall.names) + 1)]


def wall_sketch(drawing: WallDrawing, names: Sequence[str]) -> Figure:
    """Draw inverters on a wall with their dimension lines.

    Parameters
    ----------
    drawing : WallDrawing
        The geometry.
    names : sequence of str
        Written into the cases.

    Returns
    -------
    Figure
        To scale, readable without colour; lengths in metres.
    """
    wall = drawing.wall
    scale = _LONGER_SIDE_IN / max(wall.width, wall.height)
    figure = Figure(figsize=(wall.width * scale + 1.6, wall.height * scale + 1.6))
    axes = figure.add_subplot()
    axes.add_patch(
        Rectangle((0, 0), wall.width, wall.height, fill=False, edgecolor="black", linewidth=1.5)
    )
    for name, box in zip(names, drawing.inverters, strict=True):
        axes.add_patch(
            Rectangle(
                (box.left, box.bottom),
                box.width,
                box.height,
                facecolor="0.9",
                edgecolor="black",
                hatch="//",
            )
        )
        axes.text(
            box.left + 0.5 * box.width,
            box.bottom + 0.75 * box.height,
            _in_lines(name, scale * box.width - _MARGIN_IN),
            ha="center",
            va="center",
            fontsize=_LETTERS_PT,
            bbox={"facecolor": "white", "edgecolor": "none", "pad": 1.5},
        )
    step = 0.04 * max(wall.width, wall.height)
    for index, distance in enumerate(drawing.distances):
        _dimension(axes, distance, step * (index % 3))
    axes.set_xlim(-0.08 * wall.width, 1.03 * wall.width)
    axes.set_ylim(-0.08 * wall.height, 1.03 * wall.height)
    axes.set_aspect("equal")
    axes.set_axis_off()
    axes.set_title(
        f"Free in front: {drawing.in_front:.2f} m. {drawing.remark}", fontsize=8, parse_math=False
    )
    return figure


def _in_lines(name: str, width: float) -> str:
    """Return a name in as many lines as it takes, none wider than there is room [inch]."""
    lines: list[str] = []
    for word in name.split():
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and inches(longer, _LETTERS_PT) <= width:
            lines[-1] = longer
        else:
            lines.append(word)
    return "\n".join(fitted(line, width, _LETTERS_PT) for line in lines)


def _dimension(axes: Axes, distance: Distance, shift: float) -> None:
    """Draw one dimension line, shifted a little so that lines don't cover one another."""
    (x0, y0), (x1, y1) = distance.start, distance.end
    level = abs(y1 - y0) < 1e-9
    dx, dy = (0.0, -shift) if level else (-shift, 0.0)
    axes.annotate(
        "",
        xy=(x1 + dx, y1 + dy),
        xytext=(x0 + dx, y0 + dy),
        arrowprops={"arrowstyle": "<->", "linewidth": 0.8, "color": "black"},
    )
    axes.text(
        0.5 * (x0 + x1) + dx,
        0.5 * (y0 + y1) + dy,
        f"{distance.length:.2f} m",
        ha="center",
        va="center",
        fontsize=7,
        rotation=0 if level else 90,
        bbox={"facecolor": "white", "edgecolor": "none", "pad": 0.5},
    )
