"""Bodies that stand in the light, and planes of modules, as arrays in metres east, north and up."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import BoolArray, FloatArray, IntArray

BOX, CYLINDER, SHEET = 0, 1, 2
"""Kinds of bodies: upright boxes, upright cylinders, flat rectangles in space."""
_NUMBERS = 9
_TOUCHES_M = 1e-6
"""Bodies that reach no further than this above a plane stand in none of its light [m]."""


class Frame(NamedTuple):
    """A plane in space.

    Parameters
    ----------
    corner : ndarray
        Its lower left corner, seen from outside [m] (3,).
    right, up, normal : ndarray
        Directions along its eaves, up its slope and out of it [1] (3,).
    """

    corner: FloatArray
    right: FloatArray
    up: FloatArray
    normal: FloatArray

    def at(self, spots: FloatArray) -> FloatArray:
        """Return points of the plane, to the right and up [m] (..., 2), in space [m] (..., 3)."""
        found: FloatArray = self.corner + spots[..., :1] * self.right + spots[..., 1:] * self.up
        return np.ascontiguousarray(found)


class Bodies(NamedTuple):
    """Bodies that stand in the light.

    Parameters
    ----------
    kind : ndarray of int
        `BOX`, `CYLINDER` or `SHEET` (body,).
    numbers : ndarray
        Box: middle of the foot, its upper end, cosine and sine of the direction of its width, half
        its width and depth; cylinder: middle of the foot, upper end, radius; sheet: a corner and
        its two sides [m, 1] (body, 9).
    transmittance : ndarray
        Share of the light that passes through in each month, January first [1] (body, 12).
    """

    kind: IntArray
    numbers: FloatArray
    transmittance: FloatArray

    def chosen(self, which: BoolArray) -> Bodies:
        """Return some of the bodies (body,)."""
        return Bodies(self.kind[which], self.numbers[which], self.transmittance[which])

    def monthly(self) -> tuple[FloatArray, IntArray]:
        """Return the transmittances that differ (season, body) and the season of each month (12,).

        A season is the months in which every body lets the same share through.
        """
        columns, season = np.unique(self.transmittance.T, axis=0, return_inverse=True)
        return np.ascontiguousarray(columns), season.reshape(-1).astype(np.int64)


def frame(corner: Sequence[float], tilt: float, azimuth: float) -> Frame:
    """Return a plane in space.

    Parameters
    ----------
    corner : sequence of float
        Its lower left corner, seen from outside [m], east, north, up.
    tilt, azimuth : float
        [deg]; azimuth from north through east. A level plane's rows rise away from its azimuth.
    """
    b, a = np.radians(tilt), np.radians(azimuth)
    right = np.array([-np.cos(a), np.sin(a), 0.0])
    up = np.array([-np.cos(b) * np.sin(a), -np.cos(b) * np.cos(a), np.sin(b)])
    normal = np.array([np.sin(b) * np.sin(a), np.sin(b) * np.cos(a), np.cos(b)])
    return Frame(np.array(corner, dtype=float), right, up, normal)


def box(foot: Sequence[float], size: Sequence[float], azimuth: float) -> tuple[int, FloatArray]:
    """Return an upright box as kind and numbers of a body.

    Parameters
    ----------
    foot : sequence of float
        Middle of its foot [m] (3,).
    size : sequence of float
        Width, depth, height [m] (3,).
    azimuth : float
        Direction its front faces [deg].
    """
    a = np.radians(azimuth)
    width, depth, height = size
    east, north, up = foot
    numbers = (east, north, up, up + height, -np.cos(a), np.sin(a), width / 2.0, depth / 2.0, 0.0)
    return BOX, np.array(numbers)


def cylinder(foot: Sequence[float], diameter: float, height: float) -> tuple[int, FloatArray]:
    """Return an upright cylinder as kind and numbers of a body; place and lengths in [m]."""
    east, north, up = foot
    numbers = (east, north, up, up + height, diameter / 2.0, 0.0, 0.0, 0.0, 0.0)
    return CYLINDER, np.array(numbers)


def sheet(on: Frame, start: Sequence[float], size: Sequence[float]) -> tuple[int, FloatArray]:
    """Return a rectangle in a plane as kind and numbers of a body.

    Parameters
    ----------
    on : Frame
        The plane.
    start, size : sequence of float
        Its lower left corner in the plane, and its size, to the right and up the slope [m] (2,).
    """
    corner = on.corner + start[0] * on.right + start[1] * on.up
    return SHEET, np.concatenate([corner, size[0] * on.right, size[1] * on.up])


def bodies(
    shapes: Sequence[tuple[int, FloatArray]], transmittance: Sequence[Sequence[float]]
) -> Bodies:
    """Return bodies from their kinds, numbers [m, 1] and monthly transmittances [1]."""
    return Bodies(
        np.array([kind for kind, _ in shapes], dtype=np.int64),
        np.array([numbers for _, numbers in shapes], dtype=float).reshape(-1, _NUMBERS),
        np.array(transmittance, dtype=float).reshape(-1, 12),
    )


def corners(kind: int, numbers: FloatArray) -> FloatArray:
    """Return corners whose hull holds a body [m] (corner, 3); a cylinder's are those round it."""
    if kind == SHEET:
        start, one, other = numbers.reshape(3, 3)
        return np.array([start, start + one, start + other, start + one + other])
    middle, foot, top = numbers[:2], numbers[2], numbers[3]
    if kind == CYLINDER:
        sides = numbers[4] * np.eye(2)
    else:
        c, s = numbers[4], numbers[5]
        sides = np.array([[c, s], [-s, c]]) * numbers[6:8, None]
    flat = [middle + a * sides[0] + b * sides[1] for a in (-1, 1) for b in (-1, 1)]
    return np.array([[*each, height] for each in flat for height in (foot, top)])


def can_shade(on: Frame, some: Bodies) -> BoolArray:
    """Tell which bodies may stand in the light of a plane (body,).

    A body may if any part of it lies more than 1e-6 [m] above the plane's surface and above its
    lower edge, and it lets less than all light through in any month.

    Parameters
    ----------
    on : Frame
        The plane.
    some : Bodies
        The bodies.
    """
    found = np.zeros(some.kind.size, dtype=bool)
    for place, (kind, numbers) in enumerate(zip(some.kind, some.numbers, strict=True)):
        height = _highest(on, int(kind), numbers)
        height = min(height, float(corners(int(kind), numbers)[:, 2].max() - on.corner[2]))
        found[place] = height > _TOUCHES_M and bool(np.any(some.transmittance[place] < 1.0))
    return found


def _highest(on: Frame, kind: int, numbers: FloatArray) -> float:
    """Return how far a body reaches above a plane's surface [m]."""
    if kind != CYLINDER:
        return float(np.max((corners(kind, numbers) - on.corner) @ on.normal))
    axis = np.array([[*numbers[:2], height] for height in numbers[2:4]])
    rim = float(numbers[4]) * float(np.hypot(on.normal[0], on.normal[1]))
    return float(np.max((axis - on.corner) @ on.normal)) + rim
