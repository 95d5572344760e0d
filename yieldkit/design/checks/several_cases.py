"""Inverters of several sizes on one wall: where each case may hang."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import NamedTuple

from yieldkit.config.models.installed import Wall
from yieldkit.config.site.site import Site
from yieldkit.design.checks.mounting import (
    Box,
    Clearances,
    Distance,
    WallDrawing,
    usual_clearances,
)

_TOUCH_M = 1e-9


class SharedWall(NamedTuple):
    """A wall and the cases that are to hang on it.

    Parameters
    ----------
    width, height : float
        Usable wall [m].
    names : tuple of str
        The inverters, one for each case.
    cases : tuple of (float, float)
        Width and height of each case [m].
    """

    width: float
    height: float
    names: tuple[str, ...]
    cases: tuple[tuple[float, float], ...]


def shared_walls(site: Site) -> tuple[SharedWall, ...]:
    """Return the walls of a site; inverters whose walls have the same size hang on the same one.

    Parameters
    ----------
    site : Site
        The site, whose inverters' places may describe walls.
    """
    found: dict[tuple[float, float], list[tuple[str, Wall]]] = {}
    for one in site.each_inverter():
        place = one.site.inverter_place
        wall = None if place is None else place.wall
        if wall is not None:
            found.setdefault((wall.width_m, wall.height_m), []).append((one.name, wall))
    return tuple(
        SharedWall(
            *size,
            tuple(name for name, wall in own for _ in range(wall.inverters)),
            tuple(
                (wall.case_width_m, wall.case_height_m)
                for _, wall in own
                for _ in range(wall.inverters)
            ),
        )
        for size, own in found.items()
    )


def place_cases(wall: SharedWall, clearances: Clearances | None = None) -> tuple[Box | None, ...]:
    """Place cases on a wall, the highest first, row by row from the lower left.

    Parameters
    ----------
    wall : SharedWall
        The wall and its cases.
    clearances : Clearances, optional
        Distances; `usual_clearances` if left out, the maker's manual prevails.

    Returns
    -------
    tuple of (Box or None)
        One for each case, in the order given; None where there is no room left.
    """
    gap = clearances or usual_clearances()
    places: list[Box | None] = [None] * len(wall.cases)
    left = bottom = gap.to_obstacles
    row_height = 0.0
    right, top = wall.width - gap.to_obstacles, wall.height - gap.to_obstacles
    order = sorted(range(len(wall.cases)), key=lambda at: (-wall.cases[at][1], at))
    for at in order:
        width, height = wall.cases[at]
        if left + width > right + _TOUCH_M and row_height > 0.0:
            left, bottom, row_height = gap.to_obstacles, bottom + row_height + gap.above, 0.0
        if left + width > right + _TOUCH_M or bottom + height > top + _TOUCH_M:
            continue
        places[at] = Box(left, bottom, width, height)
        left += width + gap.beside
        row_height = max(row_height, height)
    return tuple(places)


def cases_drawing(
    wall: SharedWall, places: Sequence[Box | None], clearances: Clearances | None = None
) -> WallDrawing:
    """Return the geometry of a dimensioned sketch of placed cases.

    Parameters
    ----------
    wall : SharedWall
        The wall.
    places : sequence of (Box or None)
        From `place_cases`.
    clearances : Clearances, optional
        As there.
    """
    gap = clearances or usual_clearances()
    boxes = [box for box in places if box is not None]
    distances = [
        Distance((0.0, 0.0), (wall.width, 0.0)),
        Distance((0.0, 0.0), (0.0, wall.height)),
    ]
    for box in boxes:
        x, y = box.left + 0.5 * box.width, box.bottom + 0.5 * box.height
        distances += [Distance((0.0, y), (x, y)), Distance((x, 0.0), (x, y))]
    for bottom in sorted({box.bottom for box in boxes}):
        row = sorted((box for box in boxes if box.bottom == bottom), key=lambda box: box.left)
        for one, two in pairwise(row):
            y = bottom + 0.5 * min(one.height, two.height)
            distances.append(Distance((one.left + one.width, y), (two.left, y)))
    return WallDrawing(
        Box(0.0, 0.0, wall.width, wall.height), tuple(boxes), tuple(distances), gap.in_front
    )
