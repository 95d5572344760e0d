"""A year of light on 60 modules among 10 obstacles, against a caster of rays on triangles.

The baseline is another way to find shadows: bodies as meshes of triangles, every ray against every
triangle (Möller and Trumbore), in numpy. It is given the same points and suns at some hours of the
year; a tree's prism has few sides there, and more where tests compare every ray.
"""

import numpy as np
import pandas as pd

from benchmarks.timing import best_of
from yieldkit.physics.irradiance import bodies as physical
from yieldkit.physics.irradiance.module_light import Components, directions, module_light
from yieldkit.physics.irradiance.module_points import cell_grid, plane_modules
from yieldkit.physics.irradiance.sky_seen import SkyViews, sky_views
from yieldkit.physics.irradiance.sun import Sun, sun_position

SIDES = 180
"""Sides of the prism that stands for a round cylinder; its flats lie 0.15 mm inside of 1 m."""
_FEW_SIDES, _FEW_STEPS = 24, 6
_MODULE = (1.13, 1.76)
_LEAVES = (0.8, 0.8, 0.7, 0.5, 0.3, 0.15, 0.15, 0.15, 0.2, 0.4, 0.6, 0.8)


def box_mesh(foot, size, azimuth):
    """Return the triangles of an upright box [m] (triangle, corner, 3)."""
    turn = np.radians(azimuth)
    right = np.array([-np.cos(turn), np.sin(turn)])
    front = np.array([np.sin(turn), np.cos(turn)])
    flat = [
        np.array(foot[:2]) + a * size[0] / 2 * right + b * size[1] / 2 * front
        for a, b in ((-1, -1), (1, -1), (1, 1), (-1, 1))
    ]
    return _prism(np.array(flat), foot[2], foot[2] + size[2])


def cylinder_mesh(foot, diameter, height, sides=SIDES):
    """Return the triangles of a prism of many sides [m] (triangle, corner, 3)."""
    turn = 2.0 * np.pi * np.arange(sides) / sides
    ring = np.stack([np.cos(turn), np.sin(turn)], axis=1) * diameter / 2 + np.array(foot[:2])
    return _prism(ring, foot[2], foot[2] + height)


def sheet_mesh(corner, one, other):
    """Return the two triangles of a rectangle [m] (triangle, corner, 3)."""
    corner, one, other = map(np.asarray, (corner, one, other))
    far = corner + one + other
    return np.array([[corner, corner + one, far], [corner, far, corner + other]])


def _prism(ring, low, high):
    lower = np.column_stack([ring, np.full(len(ring), low)])
    upper = np.column_stack([ring, np.full(len(ring), high)])
    found = []
    for here in range(len(ring)):
        after = (here + 1) % len(ring)
        found.append([lower[here], lower[after], upper[after]])
        found.append([lower[here], upper[after], upper[here]])
        if 0 < here < len(ring) - 1:
            found.append([lower[0], lower[here], lower[after]])
            found.append([upper[0], upper[here], upper[after]])
    return np.array(found)


def is_hit(starts, ways, triangles):
    """Tell which rays meet any triangle in front of them (ray,).

    Parameters
    ----------
    starts, ways : ndarray
        Points [m] and directions [1] (ray, 3).
    triangles : ndarray
        [m] (triangle, corner, 3).

    References
    ----------
    Möller and Trumbore (1997), Journal of Graphics Tools 2, 21-28; from memory.
    """
    hit = np.zeros(len(starts), dtype=bool)
    for corner, second, third in triangles:
        one, other = second - corner, third - corner
        across = np.cross(ways, other)
        scale = across @ one
        scale = np.where(scale == 0.0, np.nan, scale)
        away = starts - corner
        u = np.sum(away * across, axis=1) / scale
        turned = np.cross(away, one)
        v = np.sum(ways * turned, axis=1) / scale
        far = turned @ other / scale
        hit |= (u >= 0.0) & (v >= 0.0) & (u + v <= 1.0) & (far > 0.0)
    return hit


def scene():
    """Return a plane of 60 modules, 10 bodies of one roof and garden, and their triangles."""
    frame = physical.frame((0.0, 0.0, 5.0), 35.0, 180.0)
    grid = cell_grid(54, 3, _MODULE, halves=1, upright=True, strips=False)
    places = np.array([[row, column] for row in range(4) for column in range(15)])
    modules = plane_modules(frame, places, _MODULE, grid)
    shapes, meshes = [], []
    for east, north, height, turn in (
        (0.5, 6.6, 5.5, 10.0),
        (4.0, -1.5, 3.0, 40.0),
        (8.0, 7.0, 6.0, 0.0),
        (13.0, -1.5, 3.5, 75.0),
        (16.5, 6.8, 5.0, 20.0),
        (-1.5, 2.0, 4.5, 5.0),
    ):
        foot, size = (east, north, 4.0), (1.0, 1.0, height)
        shapes.append(physical.box(foot, size, turn))
        meshes.append(box_mesh(foot, size, turn))
    for east, north, height in ((-4.0, -8.0, 11.0), (9.0, -10.0, 10.0), (19.0, -12.0, 12.0)):
        shapes.append(physical.cylinder((east, north, 0.0), 4.0, height))
        meshes.append(cylinder_mesh((east, north, 0.0), 4.0, height, _FEW_SIDES))
    side = physical.frame((-3.0, -1.0, 5.0), 30.0, 90.0)
    shapes.append(physical.sheet(side, (0.0, 0.0), (5.0, 4.0)))
    meshes.append(sheet_mesh(side.corner, 5.0 * side.right, 4.0 * side.up))
    opaque = (0.0,) * 12
    through = [opaque] * 6 + [_LEAVES] * 3 + [opaque]
    return modules, physical.bodies(shapes, through), np.concatenate(meshes)


def daylight() -> tuple[Sun, np.ndarray]:
    """Return the sun in the middle of a year's hours of daylight, and their months from 0."""
    hours = pd.date_range("2023-01-01 00:30", periods=8760, freq="h", tz="UTC")
    sun = sun_position(hours, 48.0, 11.0, 500.0)
    up = np.flatnonzero(sun.apparent_zenith < 90.0)
    return sun.at(up), np.asarray(hours.month)[up] - 1


def run() -> dict[str, float]:
    """Return the time of a year's light, views of the sky included, and that of rays compared."""
    modules, bodies, triangles = scene()
    sun, months = daylight()
    even = [np.full(months.size, light) for light in (600.0, 150.0, 10.0)]

    def year() -> None:
        views = sky_views(modules, bodies)
        module_light(modules, bodies, views, sun, months, Components(*even), workers=2)

    faces = np.flatnonzero(directions(sun) @ modules.frame.normal > 0.1)
    few = faces[np.linspace(0, faces.size - 1, _FEW_STEPS).astype(int)]
    no_sky = SkyViews(np.zeros((12, 60, len(modules.cells.middles))), np.arange(12))
    parts = Components(*(each[few] for each in even))
    points = modules.spots(modules.offsets).reshape(-1, 3)
    starts = np.tile(points, (few.size, 1))
    ways = np.repeat(directions(sun.at(few)), len(points), axis=0)
    rays = best_of(
        lambda: module_light(modules, bodies, no_sky, sun.at(few), months[few], parts), 9
    )
    return {
        "obstacles_60_modules_year_s": best_of(year, 3),
        "obstacles_vs_mesh_speedup": best_of(lambda: is_hit(starts, ways, triangles), 1) / rays,
    }
