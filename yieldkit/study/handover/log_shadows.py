"""Steps of a log at which something stands in the light of a plane."""

from __future__ import annotations

import numpy as np
import pandas as pd
import xarray as xr

from yieldkit.base.arrays import BoolArray
from yieldkit.config.site.site import Site
from yieldkit.design.roof.scene import plane_scenes
from yieldkit.physics.irradiance.module_light import module_light
from yieldkit.physics.irradiance.sky_seen import sky_views
from yieldkit.study.simulation.plane_light import Lit, light_components, plane_light

_SHADED = 0.9
"""A cell with less than this share of what an unshaded one gets stands in shadow [1]."""
_NOTHING_MEASURED = xr.Dataset()


def in_shadow(site: Site, moments: pd.DatetimeIndex, lit: Lit) -> BoolArray:
    """Return at which moments some cells of a plane stand in shadow (moment, plane).

    Parameters
    ----------
    site : Site
        Obstacles, and planes with their corners.
    moments : DatetimeIndex
        With a time zone.
    lit : Lit
        Sun and light of a cloudless sky at them.
    """
    found = np.zeros((len(moments), len(site.planes)), dtype=bool)
    month = np.asarray(moments.month) - 1
    for at, (plane, scene) in enumerate(zip(site.planes, plane_scenes(site), strict=True)):
        if scene is None:
            continue
        light = plane_light(site, plane, _NOTHING_MEASURED, lit)
        parts = light_components(site, plane, lit, light, 0.0)
        views = sky_views(scene.modules, scene.bodies, scene.horizon)
        each = module_light(scene.modules, scene.bodies, views, lit.sun, month, parts)
        full = parts.direct + parts.sky + parts.ground
        found[:, at] = each.darkest.min(axis=(1, 2, 3)) < _SHADED * full
    return found
