"""The light of modules that bodies shade: the darkest cell of every half group, and the mean."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import FloatArray, IntArray
from yieldkit.physics.compiled import compiled, compiled_owning
from yieldkit.physics.irradiance.bodies import Bodies, corners
from yieldkit.physics.irradiance.module_points import PlaneModules
from yieldkit.physics.irradiance.sky_seen import SkyViews
from yieldkit.physics.irradiance.sun import Sun
from yieldkit.physics.irradiance.thrown_shadows import (
    hides_all,
    near_shadows,
    shadow_rectangles,
    throw,
)

_CORNERS = 8
_SQUARE = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]])


class Components(NamedTuple):
    """A plane's light by where it comes from, behind glass and soil [W/m2], each (step,).

    Parameters
    ----------
    direct : ndarray
        From the sun and from round it; zero where the far horizon hides the sun.
    sky : ndarray
        From the rest of the sky, as far as the far horizon leaves it.
    ground : ndarray
        From the ground.
    """

    direct: FloatArray
    sky: FloatArray
    ground: FloatArray


class ModuleLight(NamedTuple):
    """Light on the cells of a plane's modules [W/m2].

    Parameters
    ----------
    darkest : ndarray
        Of the darkest cell of every half group (step, module, group, half).
    mean : ndarray
        Mean of a module's cells (step, module).
    """

    darkest: FloatArray
    mean: FloatArray


def module_light(
    modules: PlaneModules,
    some: Bodies,
    views: SkyViews,
    sun: Sun,
    month: IntArray,
    light: Components,
    *,
    workers: int = 1,
) -> ModuleLight:
    """Return the light on modules past bodies [W/m2].

    A cell gets the direct light in the share of its points that see the sun, times what bodies
    between let through; the sky's in the share of the sky that it sees; the ground's whole.

    Parameters
    ----------
    modules : PlaneModules
        The modules and the points of their cells.
    some : Bodies
        What may stand in their light.
    views : SkyViews
        From `sky_views`, of the same modules and bodies.
    sun : Sun
        The sun (step,).
    month : ndarray of int
        Calendar month of each step, January 0 (step,).
    light : Components
        What an unshaded cell gets (step,).
    workers : int
        Threads that share the steps.

    Returns
    -------
    ModuleLight
        Missing where the light is.
    """
    through, season = some.monthly()
    on, cells = modules.frame, modules.cells
    steps, parts = sun.azimuth.size, cells.groups * cells.halves
    darkest = np.empty((steps, len(modules.starts), parts))
    mean = np.empty(darkest.shape[:2])
    plane = np.stack([on.right, on.up, on.normal])
    geometry = (on.corner, plane, modules.starts, modules.size, cells.middles)
    least = np.stack(
        [views.cells[:, :, cells.part == part].min(axis=2) for part in range(parts)], axis=2
    )
    seen = (views.cells, np.ascontiguousarray(least), views.cells.mean(axis=2))
    bodies = (some.kind, some.numbers, through, _seen_from(modules, some))
    towards = directions(sun)
    spots = modules.spots(modules.offsets)
    rims = on.at(modules.starts[:, None] + modules.size * _SQUARE)

    def fill(begin: int, end: int) -> None:
        _fill(
            geometry,
            (spots, cells.size / 2.0, cells.part, rims),
            bodies,
            seen,
            (towards[begin:end], season[month[begin:end]]),
            (light.direct[begin:end], light.sky[begin:end], light.ground[begin:end]),
            darkest[begin:end],
            mean[begin:end],
        )

    if workers == 1:
        fill(0, steps)
    else:
        edges = np.linspace(0, steps, 4 * workers + 1).astype(int)
        with ThreadPoolExecutor(workers) as pool:
            list(pool.map(fill, edges[:-1], edges[1:]))
    return ModuleLight(darkest.reshape(*mean.shape, cells.groups, cells.halves), mean)


def directions(sun: Sun) -> FloatArray:
    """Return the directions towards the sun, east, north and up [1] (step, 3)."""
    zenith, azimuth = np.radians(sun.apparent_zenith), np.radians(sun.azimuth)
    flat = np.sin(zenith)
    towards = [flat * np.sin(azimuth), flat * np.cos(azimuth), np.cos(zenith)]
    return np.ascontiguousarray(np.stack(towards, axis=1))


def _seen_from(modules: PlaneModules, some: Bodies) -> FloatArray:
    """Return the bodies' corners in the plane's own directions [m] (body, corner, 3)."""
    on = modules.frame
    own = np.stack([on.right, on.up, on.normal], axis=1)
    found = np.empty((some.kind.size, _CORNERS, 3))
    for place, (kind, numbers) in enumerate(zip(some.kind, some.numbers, strict=True)):
        around = (corners(int(kind), numbers) - on.corner) @ own
        found[place] = np.resize(around, (_CORNERS, 3))
    return found


@compiled_owning
def _fill(geometry, cells, bodies, seen, steps, light, darkest, mean):
    """Fill in the light of modules, step by step.

    Parameters
    ----------
    geometry : tuple of ndarray
        The plane's corner [m] (3,) and directions [1] (3, 3), the modules' starts [m] (module, 2)
        and size [m] (2,), and the cells' middles [m] (cell, 2).
    cells : tuple of ndarray
        The cells' points [m] (module, cell, point, 3), half a cell's size [m] (2,), the part of
        each cell (cell,), and the modules' corners [m] (module, 4, 3).
    bodies : tuple of ndarray
        Kinds (body,), numbers [m, 1] (body, 9), what each lets through [1] (season, body), and
        corners in the plane's directions [m] (body, 8, 3).
    seen : tuple of ndarray
        Sky that cells see [1] (season, module, cell), the least of each part [1] (season, module,
        part), and the mean [1] (season, module).
    steps : tuple of ndarray
        Directions towards the sun [1] (step, 3), and seasons (step,).
    light : tuple of ndarray
        Direct light, the sky's and the ground's [W/m2] (step,).
    darkest : ndarray
        Filled [W/m2] (step, module, part).
    mean : ndarray
        Filled [W/m2] (step, module).
    """
    _, plane, starts, size, _ = geometry
    _, least, mean_seen = seen
    kinds, _, through, around = bodies
    towards, season = steps
    shadows, near = np.zeros((kinds.size, 4)), np.zeros(kinds.size, np.int64)
    shares = np.ones(cells[0].shape[1:3])
    for step in range(towards.shape[0]):
        own, direct = season[step], light[0][step]
        sky, ground = light[1][step], light[2][step]
        reached = 0
        if direct > 0.0:
            reached = shadow_rectangles(plane, around, towards[step], shadows)
        for module in range(starts.shape[0]):
            count = 0
            if reached:
                count = near_shadows(starts[module], size, shadows, through[own], near)
            if count:
                now = (own, direct, sky, ground)
                mean[step, module] = _shaded(
                    geometry, cells, bodies, seen, module, towards[step], now, shadows,
                    near[:count], shares, darkest[step, module],
                )  # fmt: skip
                continue
            for part in range(darkest.shape[2]):
                darkest[step, module, part] = direct + sky * least[own, module, part] + ground
            mean[step, module] = direct + sky * mean_seen[own, module] + ground


@compiled
def _shaded(geometry, cells, bodies, seen, module, towards, now, shadows, near, shares, darkest):
    """Fill in the light of one module that may be shaded at one step.

    Parameters
    ----------
    geometry, cells, bodies, seen : tuple of ndarray
        As for `_fill`.
    module : int
        Its position.
    towards : ndarray
        Direction towards the sun [1] (3,).
    now : tuple
        The season, and direct light, the sky's and the ground's [W/m2].
    shadows : ndarray
        From `shadow_rectangles` [m] (body, 4).
    near : ndarray of int
        Bodies that may shade the module, shape (body,).
    shares : ndarray
        Worked with: share of the direct light that reaches each point [1] (cell, point).
    darkest : ndarray
        Filled [W/m2] (part,).

    Returns
    -------
    float
        Mean light of the cells [W/m2].
    """
    _, _, starts, _, middles = geometry
    part = cells[2]
    kinds, numbers, through, _ = bodies
    season, direct, sky, ground = now
    shares[:] = 1.0
    everywhere = 1.0
    for place in range(near.size):
        body = near[place]
        if hides_all(kinds[body], numbers[body], cells[3][module], towards):
            everywhere *= through[season, body]
        else:
            throw(
                starts, middles, (cells[0], cells[1]), kinds[body], numbers[body], module,
                towards, shadows[body], through[season, body], shares,
            )  # fmt: skip
    darkest[:] = np.inf
    total = 0.0
    for cell in range(part.size):
        share = 0.0
        for point in range(shares.shape[1]):
            share += shares[cell, point]
        share *= everywhere / shares.shape[1]
        got = direct * share + sky * seen[0][season, module, cell] + ground
        darkest[part[cell]] = min(darkest[part[cell]], got)
        total += got
    return total / part.size
