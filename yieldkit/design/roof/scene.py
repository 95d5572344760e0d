"""What stands in the light of each plane's modules: obstacles, and the other planes' modules."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import FloatArray
from yieldkit.config.models.modules import DatasheetModule, ModuleType
from yieldkit.config.models.obstacles import Box, Cylinder, Obstacle
from yieldkit.config.models.planes import Plane
from yieldkit.config.models.snow import SnowFromSnowfall
from yieldkit.config.site.site import Site
from yieldkit.physics.irradiance import bodies as physical
from yieldkit.physics.irradiance.bodies import Bodies, Frame
from yieldkit.physics.irradiance.module_points import PlaneModules, cell_grid, plane_modules

_CELL_M = 0.16
"""Side of a cell where a module's data don't say how many it has; common practice, no source."""
_STRIPS = ("cdte", "cigs", "a-si")
_OPAQUE = (0.0,) * 12


class PlaneScene(NamedTuple):
    """A plane's modules with what may stand in their light.

    Parameters
    ----------
    modules : PlaneModules
        The modules in the order of the plane's places, and the points of their cells.
    bodies : Bodies
        What may stand in their light.
    names : tuple of str
        What each body is.
    horizon : tuple of ndarray or None
        Azimuths and elevations of the far horizon [deg] (point,).
    """

    modules: PlaneModules
    bodies: Bodies
    names: tuple[str, ...]
    horizon: tuple[FloatArray, FloatArray] | None


def plane_scenes(site: Site) -> tuple[PlaneScene | None, ...]:
    """Return what may stand in the light of each plane of a site.

    Parameters
    ----------
    site : Site
        Obstacles, and planes with their corners.

    Returns
    -------
    tuple of PlaneScene or None
        None for a plane whose modules nothing can shade: all of them have the same light.
    """
    if all(plane.corner_m is None for plane in site.planes):
        return (None,) * len(site.planes)
    placed = [_placed(site, plane) for plane in site.planes]
    obstacles = [(each.name, _shape(each), each.months) for each in site.obstacles]
    sheets = [
        [(f"modules of {plane.name}", sheet, _OPAQUE) for sheet in _sheets(plane, own)]
        for plane, own in zip(site.planes, placed, strict=True)
    ]
    found: list[PlaneScene | None] = []
    for at, (plane, own) in enumerate(zip(site.planes, placed, strict=True)):
        others = [
            each for place, own_sheets in enumerate(sheets) if place != at for each in own_sheets
        ]
        every = [*obstacles, *others]
        some = physical.bodies([shape for _, shape, _ in every], [months for *_, months in every])
        which = physical.can_shade(own.frame, some)
        names = tuple(each[0] for each, near in zip(every, which, strict=True) if near)
        scene = PlaneScene(own, some.chosen(which), names, _horizon(site, plane))
        found.append(scene if names else None)
    return tuple(found)


def module_scenes(site: Site) -> tuple[PlaneScene | None, ...]:
    """Return the planes whose modules have each a light of their own, by shadow or by snow.

    Parameters
    ----------
    site : Site
        Obstacles, snow, and planes with their modules' places.
    """
    found = plane_scenes(site)
    if not isinstance(site.site.snow, SnowFromSnowfall):
        return found
    nothing = physical.bodies([], [])
    return tuple(
        PlaneScene(_placed(site, plane), nothing, (), _horizon(site, plane))
        if scene is None
        else scene
        for plane, scene in zip(site.planes, found, strict=True)
    )


def slant_height_m(site: Site, plane: Plane) -> float:
    """Return how far a plane's modules reach along the slope [m]; the file's relations see to it.

    Parameters
    ----------
    site : Site
        Module types.
    plane : Plane
        The plane.
    """
    if plane.slant_height_m is not None:
        return plane.slant_height_m
    module = next(each for each in site.module_types if each.name == plane.module_type)
    short, long = module_sides(module)
    rows = [place.row for place in plane.places]
    return (max(rows) - min(rows) + 1) * (long if plane.layout == "portrait" else short)


def idle_obstacles(site: Site) -> tuple[int, ...]:
    """Return the positions of obstacles that can't shade any module.

    Parameters
    ----------
    site : Site
        Obstacles, and planes with their corners.
    """
    shading = {name for scene in plane_scenes(site) if scene is not None for name in scene.names}
    return tuple(at for at, each in enumerate(site.obstacles) if each.name not in shading)


def _placed(site: Site, plane: Plane) -> PlaneModules:
    """Return a plane's modules where they lie; the site's relations saw to what it needs."""
    module = next(each for each in site.module_types if each.name == plane.module_type)
    short, long = module_sides(module)
    upright = plane.layout == "portrait"
    halves = 2 if module.cell_layout == "half-cut" else 1
    strips = isinstance(module, DatasheetModule) and module.technology in _STRIPS
    grid = cell_grid(
        _cells(module, (short, long)),
        module.bypass_diodes,
        (short, long),
        halves=halves,
        upright=upright,
        strips=strips,
    )
    places = np.array([(place.row, place.column) for place in plane.places], dtype=float)
    size = (short, long) if upright else (long, short)
    return plane_modules(plane_frame(plane), places, size, grid)


def without_obstacles(site: Site) -> Site:
    """Return a site as if nothing stood in its modules' light, but for far horizons.

    Parameters
    ----------
    site : Site
        A site, maybe with obstacles.

    Returns
    -------
    Site
        Without obstacles, and its planes without their corners: every module has the light of its
        plane.
    """
    corners = {f"planes.{at}.corner_m": None for at in range(len(site.planes))}
    return site.variant({"obstacles": (), **corners})


def plane_frame(plane: Plane) -> Frame:
    """Return where a plane with a corner lies."""
    return physical.frame(plane.corner_m or (0.0, 0.0, 0.0), plane.tilt_deg, plane.azimuth_deg)


def module_sides(module: ModuleType) -> tuple[float, float]:
    """Return the shorter and the longer side of a module whose sides are known [m]."""
    sides = (module.width_m or 0.0, module.length_m or 0.0)
    return min(sides), max(sides)


def _cells(module: ModuleType, sides: tuple[float, float]) -> int:
    """Return the cells in series of a module; where its list doesn't say, of the usual size."""
    if isinstance(module, DatasheetModule):
        return module.cells_in_series
    across, along = (max(1, round(side / _CELL_M)) for side in sides)
    return module.bypass_diodes * max(1, round(across * along / module.bypass_diodes))


def _shape(obstacle: Obstacle) -> tuple[int, FloatArray]:
    """Return an obstacle as kind and numbers of a body."""
    if isinstance(obstacle, Box):
        size = (obstacle.width_m, obstacle.depth_m, obstacle.height_m)
        return physical.box(obstacle.foot_m, size, obstacle.azimuth_deg)
    if isinstance(obstacle, Cylinder):
        return physical.cylinder(obstacle.foot_m, obstacle.diameter_m, obstacle.height_m)
    on = physical.frame(obstacle.corner_m, obstacle.tilt_deg, obstacle.azimuth_deg)
    return physical.sheet(on, (0.0, 0.0), (obstacle.width_m, obstacle.length_m))


def _sheets(plane: Plane, own: PlaneModules) -> Iterator[tuple[int, FloatArray]]:
    """Give a plane's modules as rectangles: runs of a row, and equal runs above one another."""
    width, height = own.size
    for first, last, low, high in _blocks([(p.row, p.column) for p in plane.places]):
        size = ((last - first + 1) * width, (high - low + 1) * height)
        yield physical.sheet(own.frame, (first * width, low * height), size)


def _blocks(places: Sequence[tuple[int, int]]) -> list[tuple[int, int, int, int]]:
    """Return places as rectangles: first and last column, lowest and highest row."""
    runs: list[tuple[int, int, int]] = []
    for row, column in sorted(places):
        if runs and runs[-1][2] == row and runs[-1][1] == column - 1:
            runs[-1] = (runs[-1][0], column, row)
        else:
            runs.append((column, column, row))
    found: list[tuple[int, int, int, int]] = []
    for first, last, row in runs:
        under = (first, last, row - 1)
        below = next((b for b in found if (b[0], b[1], b[3]) == under), None)
        if below is None:
            found.append((first, last, row, row))
        else:
            found[found.index(below)] = (first, last, below[2], row)
    return found


def _horizon(site: Site, plane: Plane) -> tuple[FloatArray, FloatArray] | None:
    points = site.horizon_of(plane)
    if not points:
        return None
    return (
        np.array([point.azimuth_deg for point in points]),
        np.array([point.elevation_deg for point in points]),
    )
