"""The dimensioned sketch of inverters on a wall."""

from __future__ import annotations

from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from yieldkit.design.mounting import Distance, WallDrawing

_LONGER_SIDE_IN = 7.0


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


def _dimension(axes: object, distance: Distance, shift: float) -> None:
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
