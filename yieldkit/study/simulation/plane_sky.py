"""Light on planes below a cloudless sky at given moments, and what of it passes the glass."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import pandas as pd
import xarray as xr

from yieldkit.base.arrays import FloatArray
from yieldkit.config.models.planes import Plane
from yieldkit.config.site.site import Site
from yieldkit.physics.irradiance.cloudless import cloudless_sky, usual_turbidity
from yieldkit.physics.irradiance.sun import sun_position
from yieldkit.physics.module.temperature import cell_temperature, mounting_model
from yieldkit.study.simulation.plane_light import Lit, plane_light

_NOTHING_MEASURED = xr.Dataset()
_WIND_M_S, _WIND_HEIGHT_M = 1.5, 10.0


class PlaneSky(NamedTuple):
    """A plane below a cloudless sky.

    Parameters
    ----------
    poa_global : ndarray
        Light on the glass [W/m2] (moment,).
    passed : ndarray
        Share of it that reaches the cells, with the gain from behind [1] (moment,); that of light
        straight on where there is none.
    """

    poa_global: FloatArray
    passed: FloatArray


def cloudless(site: Site, moments: pd.DatetimeIndex) -> Lit:
    """Return sun and light of a cloudless sky over a site.

    Parameters
    ----------
    site : Site
        The site.
    moments : DatetimeIndex
        With a time zone.
    """
    place = site.site
    sun = sun_position(moments, place.latitude, place.longitude, place.altitude_m)
    turbidity = usual_turbidity(moments, place.latitude, place.longitude)
    light = cloudless_sky(sun, turbidity, place.altitude_m)
    return Lit(np.arange(len(moments)), len(moments), sun, light)


def plane_sky(site: Site, plane: Plane, lit: Lit) -> PlaneSky:
    """Return the light on a plane below a sky; its own dirt and obstacles are left out.

    Parameters
    ----------
    site : Site
        Albedo, horizon and models.
    plane : Plane
        The plane.
    lit : Lit
        Sun and light.
    """
    light = plane_light(site, plane, _NOTHING_MEASURED, lit)
    on_glass = light.seen.poa_global
    lit_at = on_glass > 0.0
    passed = np.divide(light.clean, on_glass, out=np.ones_like(on_glass), where=lit_at)
    return PlaneSky(on_glass, passed * (1.0 + plane.rear_gain_percent / 100.0))


def cells_without_thermometer(
    plane: Plane, poa_global: FloatArray, temp_air: FloatArray | float
) -> FloatArray:
    """Return the temperature of cells at an assumed light wind [degC].

    Parameters
    ----------
    plane : Plane
        Its mounting.
    poa_global : ndarray
        Light on the glass [W/m2].
    temp_air : ndarray or float
        [degC].
    """
    shape = poa_global.shape
    flat = poa_global.ravel() / plane.heat_loss_factor
    air = np.broadcast_to(temp_air, shape).astype(float).ravel()
    wind = np.full(flat.shape, _WIND_M_S)
    found = cell_temperature(plane.mounting, flat, air, wind, _WIND_HEIGHT_M)
    return np.asarray(found).reshape(shape)


def cells_behind(
    plane: Plane, temp_module: FloatArray | float, poa_global: FloatArray
) -> FloatArray:
    """Return the temperature of cells where that of the modules' back was read [degC].

    Parameters
    ----------
    plane : Plane
        Its mounting.
    temp_module : ndarray or float
        [degC].
    poa_global : ndarray
        Light on the glass [W/m2].

    References
    ----------
    King et al. (2004), SAND2004-3535, equation 12.
    """
    above_k = mounting_model(plane.mounting).cell_above_back_k
    return np.asarray(temp_module + above_k * poa_global / 1000.0)
