"""The demonstration site with the places of its planes and something in their light."""

import numpy as np

from yieldkit.config.site.files import load_site
from yieldkit.design.roof.scene import plane_scenes
from yieldkit.physics.irradiance.module_light import Components, module_light
from yieldkit.physics.irradiance.sky_seen import sky_views
from yieldkit.physics.irradiance.sun import Sun

CORNERS = {
    "planes.0.corner_m": [-6.0, 10.2, 4.0],
    "planes.1.corner_m": [5.0, 1.0, 4.5],
    "planes.2.corner_m": [-2.0, -1.0, 5.0],
}
CHIMNEY = {
    "name": "chimney",
    "shape": "box",
    "foot_m": [-0.3, 5.0, 5.0],
    "width_m": 0.8,
    "depth_m": 0.6,
    "height_m": 3.2,
    "azimuth_deg": 175.0,
}
TREE = {
    "name": "tree",
    "shape": "cylinder",
    "foot_m": [-11.0, 3.0, 0.0],
    "diameter_m": 4.0,
    "height_m": 9.0,
    "transmittance_by_month": [0.6, 0.6, 0.5, 0.4, 0.2, 0.15, 0.15, 0.15, 0.2, 0.3, 0.5, 0.6],
}
PORCH = {
    "name": "porch",
    "shape": "roof",
    "corner_m": [-3.0, -4.0, 7.0],
    "width_m": 5.0,
    "length_m": 2.0,
    "tilt_deg": 15.0,
    "azimuth_deg": 170.0,
    "transmittance": 0.1,
}


def suns(*positions):
    """Return the sun at some elevations and azimuths [deg]."""
    elevation, azimuth = np.array(positions, dtype=float).T
    unused = np.zeros(azimuth.size)
    return Sun(90.0 - elevation, 90.0 - elevation, azimuth, unused, unused, unused.astype(int))


SUNS = suns(*((e, a) for e in (12.0, 30.0, 55.0) for a in range(80, 290, 15)))


def light_of(site, sun=SUNS, month=5, parts=(600.0, 150.0, 10.0)):
    """Return each plane's light of modules in an even moment; None where nothing can shade it."""
    steps = sun.azimuth.size
    light = Components(*(np.full(steps, each) for each in parts))
    found = []
    for scene in plane_scenes(site):
        if scene is None:
            found.append(None)
            continue
        views = sky_views(scene.modules, scene.bodies, scene.horizon)
        months = np.full(steps, month)
        found.append(module_light(scene.modules, scene.bodies, views, sun, months, light))
    return found


def shaded_site(*obstacles, **changes):
    """Return the demonstration site with its planes' places and some obstacles."""
    return load_site().variant(CORNERS | {"obstacles": list(obstacles)} | changes)
