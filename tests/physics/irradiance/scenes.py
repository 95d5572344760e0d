"""Scenes drawn at random, as bodies and as meshes of triangles, with a plane among them."""

from typing import NamedTuple

import numpy as np

from benchmarks.obstacles import box_mesh, cylinder_mesh, sheet_mesh
from tests.design.shaded import suns
from yieldkit.physics.irradiance import bodies as physical
from yieldkit.physics.irradiance.module_points import CellGrid, PlaneModules


class Scene(NamedTuple):
    """Bodies, each body's triangles, and a plane."""

    bodies: physical.Bodies
    meshes: list
    frame: physical.Frame


def drawn_scene(seed, opaque=True):
    """Return a scene whose bodies stand round and over a plane near the origin."""
    rng = np.random.default_rng(seed)
    frame = physical.frame(rng.uniform(-1, 1, 3), rng.uniform(0, 70), rng.uniform(0, 360))
    shapes, meshes = [], []
    for kind in range(6):
        turn, away = rng.uniform(0, 2 * np.pi), rng.uniform(2.0, 6.0)
        foot = np.array([away * np.sin(turn), away * np.cos(turn), rng.uniform(-3, 1)])
        azimuth, size = rng.uniform(0, 360), rng.uniform(1.0, 5.0, 3)
        if kind % 3 == physical.BOX:
            shapes.append(physical.box(foot, size, azimuth))
            meshes.append(box_mesh(foot, size, azimuth))
        elif kind % 3 == physical.CYLINDER:
            shapes.append(physical.cylinder(foot, size[0], size[2]))
            meshes.append(cylinder_mesh(foot, size[0], size[2]))
        else:
            on = physical.frame(foot + np.array([0, 0, 3]), rng.uniform(0, 90), azimuth)
            shapes.append(physical.sheet(on, (0.0, 0.0), size[:2]))
            meshes.append(sheet_mesh(on.corner, size[0] * on.right, size[1] * on.up))
    through = np.zeros(6) if opaque else rng.uniform(0, 1, 6)
    return Scene(physical.bodies(shapes, np.repeat(through[:, None], 12, axis=1)), meshes, frame)


def single_points(frame, spots):
    """Return points of a plane [m] (point, 2) as one module whose cells each have one of them."""
    spots = np.asarray(spots, dtype=float)
    low = spots.min(axis=0) - 1.0
    cells = CellGrid(spots - low, np.full(2, 1e-3), np.arange(len(spots)), len(spots), 1)
    size = spots.max(axis=0) + 1.0 - low
    return PlaneModules(frame, low[None], size, cells, np.zeros((1, 2)), np.zeros((1, 2)))


def drawn_suns(seed, count):
    """Return suns anywhere above the horizon."""
    rng = np.random.default_rng(seed)
    return suns(*zip(rng.uniform(3, 60, count), rng.uniform(0, 360, count), strict=True))
