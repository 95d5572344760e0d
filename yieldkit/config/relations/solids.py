"""Rectangles and bodies in space: how far a body reaches into a rectangle, by clipping."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

Vector = tuple[float, float, float]
_SIDES = 48
_TOUCHES_M = 0.001
"""What reaches no further into a module than this only touches it [m]."""
_THICK_M = 0.02
"""A roof further than this to both sides of a module's surface goes through it [m]."""


class Flat(NamedTuple):
    """A rectangle in space.

    Parameters
    ----------
    start : tuple of float
        Its lower left corner [m].
    right, up : tuple of float
        Its directions [1].
    size : tuple of float
        To the right and up [m].
    """

    start: Vector
    right: Vector
    up: Vector
    size: tuple[float, float]

    def corners(self) -> list[Vector]:
        """Return its corners in turn [m]."""
        width, height = self.size
        spots = ((0.0, 0.0), (width, 0.0), (width, height), (0.0, height))
        return [_along(self.start, self.right, a, self.up, b) for a, b in spots]


class Solid(NamedTuple):
    """A body as the space behind walls; a flat one has its surface as well.

    Parameters
    ----------
    walls : tuple
        Directions out of the body [1], and how far its walls lie in them [m].
    surface : tuple or None
        The same for the surface of a flat body.
    """

    walls: tuple[tuple[Vector, float], ...]
    surface: tuple[Vector, float] | None = None


def rectangle(
    corner: Vector,
    tilt: float,
    azimuth: float,
    start: tuple[float, float],
    size: tuple[float, float],
) -> Flat:
    """Return a rectangle in a plane.

    Parameters
    ----------
    corner : tuple of float
        The plane's lower left corner [m].
    tilt, azimuth : float
        [deg].
    start, size : tuple of float
        Its own lower left corner in the plane and its size [m].
    """
    b, a = math.radians(tilt), math.radians(azimuth)
    right = (-math.cos(a), math.sin(a), 0.0)
    up = (-math.cos(b) * math.sin(a), -math.cos(b) * math.cos(a), math.sin(b))
    return Flat(_along(corner, right, start[0], up, start[1]), right, up, size)


def solid(shape: str, place: Vector, numbers: Sequence[float], azimuth: float) -> Solid:
    """Return an obstacle's body.

    Parameters
    ----------
    shape : str
        "box", "cylinder" or "roof".
    place : tuple of float
        Middle of the foot, or a roof's lower left corner [m].
    numbers : sequence of float
        Width, depth and height; the diameter twice and the height; or a roof's width and length
        [m] and its tilt [deg].
    azimuth : float
        Direction that its front faces [deg].
    """
    if shape == "roof":
        own = rectangle(place, numbers[2], azimuth, (0.0, 0.0), (numbers[0], numbers[1]))
        sides = []
        for way, length in zip((own.right, own.up), own.size, strict=True):
            here = _dot(way, place)
            sides += [(way, here + length), (_turned(way), -here)]
        normal = _cross(own.right, own.up)
        return Solid(tuple(sides), (normal, _dot(normal, place)))
    up = (0.0, 0.0, 1.0)
    ends = [(up, place[2] + numbers[2]), (_turned(up), -place[2])]
    if shape == "cylinder":
        # Walls that touch the circle from outside would call a near module cut.
        flat = numbers[0] / 2.0 * math.cos(math.pi / _SIDES)
        turns = [2.0 * math.pi * each / _SIDES for each in range(_SIDES)]
        ways = [(math.cos(turn), math.sin(turn), 0.0) for turn in turns]
        return Solid((*ends, *((way, _dot(way, place) + flat) for way in ways)))
    a = math.radians(azimuth)
    right, front = (-math.cos(a), math.sin(a), 0.0), (math.sin(a), math.cos(a), 0.0)
    walls = [
        (way, _dot(way, place) + half)
        for side, length in ((right, numbers[0]), (front, numbers[1]))
        for way, half in ((side, length / 2.0), (_turned(side), length / 2.0))
    ]
    return Solid((*ends, *walls))


def overlap_m(body: Solid, flat: Flat) -> float:
    """Return how far a body reaches into a rectangle [m]; 0 where it only touches it.

    Of the part that lies in the body the smaller of its sizes, to the right and up; of a flat
    body, how far the rectangle reaches through it.

    Parameters
    ----------
    body : Solid
        The body.
    flat : Flat
        The rectangle.
    """
    left = flat.corners()
    for way, far in body.walls:
        left = _clipped(left, way, far)
        if not left:
            return 0.0
    if body.surface is not None:
        way, far = body.surface
        offs = [_dot(way, corner) - far for corner in left]
        through = min(max(offs), -min(offs))
        return through if through > _THICK_M else 0.0
    spans = [
        max(inside) - min(inside)
        for inside in ([_dot(way, corner) for corner in left] for way in (flat.right, flat.up))
    ]
    return min(spans) if min(spans) > _TOUCHES_M else 0.0


def _clipped(corners: list[Vector], way: Vector, far: float) -> list[Vector]:
    """Return the part of a polygon that lies behind a wall, as its corners in turn."""
    offs = [_dot(way, corner) - far for corner in corners]
    if max(offs) <= 0.0:
        return corners
    found: list[Vector] = []
    for place, (corner, off) in enumerate(zip(corners, offs, strict=True)):
        before, off_before = corners[place - 1], offs[place - 1]
        if (off > 0.0) != (off_before > 0.0):
            share = off_before / (off_before - off)
            found.append(
                (
                    before[0] + share * (corner[0] - before[0]),
                    before[1] + share * (corner[1] - before[1]),
                    before[2] + share * (corner[2] - before[2]),
                )
            )
        if off <= 0.0:
            found.append(corner)
    return found


def _along(start: Vector, one: Vector, a: float, other: Vector, b: float) -> Vector:
    return (
        start[0] + a * one[0] + b * other[0],
        start[1] + a * one[1] + b * other[1],
        start[2] + a * one[2] + b * other[2],
    )


def _dot(one: Vector, other: Vector) -> float:
    return one[0] * other[0] + one[1] * other[1] + one[2] * other[2]


def _cross(a: Vector, b: Vector) -> Vector:
    return (
        a[1] * b[2] - a[2] * b[1],
        a[2] * b[0] - a[0] * b[2],
        a[0] * b[1] - a[1] * b[0],
    )


def _turned(way: Vector) -> Vector:
    return (-way[0], -way[1], -way[2])
