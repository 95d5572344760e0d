"""The place on the wall: clearances, how many fit, and what the place does to the inlet air."""

from __future__ import annotations

import math
from functools import cache
from itertools import pairwise
from typing import NamedTuple

from yieldkit.base.errors import InputError, Problem
from yieldkit.config.site.site import Site
from yieldkit.design.standards import standard_table

PREVAILS = "Distances: common practice, no source; the maker's manual prevails."
"""The remark that belongs to every drawing of the wall."""


class Clearances(NamedTuple):
    """Free distances around an inverter [m].

    Parameters
    ----------
    beside : float
        To the next inverter beside it.
    above : float
        To the next inverter above or below it.
    to_obstacles : float
        To cabinets, shelves, floor, ceiling and side walls.
    in_front : float
        To whatever stands in front.
    """

    beside: float
    above: float
    to_obstacles: float
    in_front: float


class Placement(NamedTuple):
    """Where inverters hang on a wall.

    Parameters
    ----------
    centre_lines : tuple of (float, float)
        Centre of each from the lower left corner of the usable wall [m].
    columns, rows : int
        How many would fit side by side and above one another.
    wanted : int
        How many were asked for.
    """

    centre_lines: tuple[tuple[float, float], ...]
    columns: int
    rows: int
    wanted: int


class Box(NamedTuple):
    """A rectangle on the wall by its lower left corner and its size [m]."""

    left: float
    bottom: float
    width: float
    height: float


class Distance(NamedTuple):
    """A dimension line between two points [m] with the length it shows."""

    start: tuple[float, float]
    end: tuple[float, float]

    @property
    def length(self) -> float:
        """Length [m]."""
        return math.dist(self.start, self.end)


class WallDrawing(NamedTuple):
    """The geometry of a dimensioned sketch of the wall.

    Parameters
    ----------
    wall : Box
        The usable wall.
    inverters : tuple of Box
        The cases.
    distances : tuple of Distance
        Dimension lines: wall, cases, clearances and centre lines.
    in_front : float
        Free depth in front [m].
    remark : str
        Where the distances come from.
    """

    wall: Box
    inverters: tuple[Box, ...]
    distances: tuple[Distance, ...]
    in_front: float
    remark: str = PREVAILS


def usual_clearances() -> Clearances:
    """Return the usual clearances; common practice, no source: the maker's manual prevails."""
    return Clearances(*(_placing(f"clearance {field}") for field in Clearances._fields))


def inlet_offset_k(site: Site) -> tuple[float, str]:
    """Return the assumed rise of the inverter's inlet air over ambient, and the note on it.

    Parameters
    ----------
    site : Site
        The site; its own figure prevails over the assumption for the surroundings.

    Returns
    -------
    tuple of (float, str)
        [K], and one sentence for the report.
    """
    place = site.inverter_place
    if place is None:
        return 0.0, "Inverter's place not stated: inlet air taken at ambient temperature."
    if place.inlet_offset_k is not None:
        return place.inlet_offset_k, (
            f"Inlet air {place.inlet_offset_k:g} K over ambient, as the site file says; what is "
            f"usual {place.surroundings} is not used."
        )
    offset = _placing(f"offset {place.surroundings}")
    return offset, (
        f"Inlet air {offset:g} K over ambient ({place.surroundings}): assumed, common practice."
    )


def place_on_wall(
    wall_width_m: float,
    wall_height_m: float,
    width_m: float,
    height_m: float,
    wanted: int,
    clearances: Clearances | None = None,
) -> Placement:
    """Place inverters on a wall with their clearances, row by row from the lower left.

    Parameters
    ----------
    wall_width_m, wall_height_m : float
        Usable wall between cabinets, shelves, floor and ceiling [m].
    width_m, height_m : float
        An inverter's case [m].
    wanted : int
        How many are wanted; fewer are returned when fewer fit.
    clearances : Clearances, optional
        Distances; `usual_clearances` if left out, the maker's manual prevails.

    Raises
    ------
    InputError
        For sizes that are not positive, distances that are negative, or nothing wanted.
    """
    gap = clearances or usual_clearances()
    _check_sizes(
        {
            "wall width": wall_width_m,
            "wall height": wall_height_m,
            "inverter width": width_m,
            "inverter height": height_m,
        },
        gap,
        wanted,
    )
    columns = _how_many(wall_width_m, width_m, gap.beside, gap.to_obstacles)
    rows = _how_many(wall_height_m, height_m, gap.above, gap.to_obstacles)
    centres = [
        (
            gap.to_obstacles + 0.5 * width_m + column * (width_m + gap.beside),
            gap.to_obstacles + 0.5 * height_m + row * (height_m + gap.above),
        )
        for row in range(rows)
        for column in range(columns)
    ]
    return Placement(tuple(centres[:wanted]), columns, rows, wanted)


def wall_drawing(
    placement: Placement,
    wall_width_m: float,
    wall_height_m: float,
    width_m: float,
    height_m: float,
    clearances: Clearances | None = None,
) -> WallDrawing:
    """Return the geometry of a dimensioned sketch.

    Parameters
    ----------
    placement : Placement
        From `place_on_wall` with the same sizes.
    wall_width_m, wall_height_m, width_m, height_m, clearances
        As for `place_on_wall`.
    """
    gap = clearances or usual_clearances()
    boxes = tuple(
        Box(x - 0.5 * width_m, y - 0.5 * height_m, width_m, height_m)
        for x, y in placement.centre_lines
    )
    distances = [
        Distance((0.0, 0.0), (wall_width_m, 0.0)),
        Distance((0.0, 0.0), (0.0, wall_height_m)),
    ]
    columns = sorted({x for x, _ in placement.centre_lines})
    rows = sorted({y for _, y in placement.centre_lines})
    for x in columns:
        distances.append(Distance((0.0, rows[0]), (x, rows[0])))
    for y in rows:
        distances.append(Distance((columns[0], 0.0), (columns[0], y)))
    for left, right in pairwise(columns):
        distances.append(
            Distance((left + 0.5 * width_m, rows[0]), (right - 0.5 * width_m, rows[0]))
        )
    for low, high in pairwise(rows):
        distances.append(
            Distance((columns[0], low + 0.5 * height_m), (columns[0], high - 0.5 * height_m))
        )
    wall = Box(0.0, 0.0, wall_width_m, wall_height_m)
    return WallDrawing(wall, boxes, tuple(distances), gap.in_front)


def _how_many(wall_m: float, case_m: float, between_m: float, to_obstacles_m: float) -> int:
    room = wall_m - 2.0 * to_obstacles_m + between_m
    return max(math.floor((room + 1e-9) / (case_m + between_m)), 0)


def _check_sizes(sizes: dict[str, float], gap: Clearances, wanted: int) -> None:
    problems = [
        Problem(name, f"{value} m", "a length above zero in metres")
        for name, value in sizes.items()
        if not (value > 0.0 and math.isfinite(value))
    ]
    problems += [
        Problem(f"clearance {name}", f"{value} m", "zero or more metres")
        for name, value in gap._asdict().items()
        if not (value >= 0.0 and math.isfinite(value))
    ]
    if wanted < 1:
        problems.append(Problem("number of inverters", f"{wanted}", "at least 1"))
    if problems:
        raise InputError(problems)


@cache
def _placing(item: str) -> float:
    table = standard_table("placing")
    return float(table.loc[table["item"] == item, "value"].iloc[0])
