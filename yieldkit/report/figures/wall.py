"""The dimensioned sketch of inverters on a wall."""

from __future__ import annotations

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from yieldkit.config.site.site import Site
from yieldkit.design.checks.mounting import (
    Distance,
    WallDrawing,
    place_on_wall,
    usual_clearances,
    wall_drawing,
)
from yieldkit.report.figures.picture import Picture

_LONGER_SIDE_IN = 4.6


def wall_picture(site: Site) -> Picture | None:
    """Return the sketch of a site's inverter on its wall, None where no wall is described.

    Parameters
    ----------
    site : Site
        The site with `inverter_place.wall`.
    """
    wall = site.inverter_place.wall if site.inverter_place is not None else None
    if wall is None:
        return None
    sizes = (wall.width_m, wall.height_m, wall.case_width_m, wall.case_height_m)
    placement = place_on_wall(*sizes, wall.inverters)
    gap = usual_clearances()
    fitting = len(placement.centre_lines)
    said = (
        f"{fitting} of {wall.inverters} inverters fit"
        if fitting < wall.inverters
        else f"there is room for {placement.columns * placement.rows}"
    )
    lines = "; ".join(
        f"centre {x:.2f} m from the left, {y:.2f} m above the lower edge"
        for x, y in placement.centre_lines
    )
    return Picture(
        wall_sketch(wall_drawing(placement, *sizes)),
        f"Wall of {wall.width_m:g} by {wall.height_m:g} m: {said}. {lines}.",
        f"On the wall: {said}. Clearances {100 * gap.beside:.0f} cm beside, "
        f"{100 * gap.above:.0f} cm above, {100 * gap.to_obstacles:.0f} cm to obstacles, "
        f"{100 * gap.in_front:.0f} cm free in front: common practice, no source; the maker's "
        "manual prevails.",
    )


def wall_sketch(drawing: WallDrawing, case_label: str = "inverter") -> Figure:
    """Draw inverters on a wall with their dimension lines.

    Parameters
    ----------
    drawing : WallDrawing
        The geometry.
    case_label : str
        Word written into each case.

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
    for number, box in enumerate(drawing.inverters, start=1):
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
            f"{case_label} {number}",
            ha="center",
            va="center",
            fontsize=8,
            parse_math=False,
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
