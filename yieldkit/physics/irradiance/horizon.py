"""What a far horizon hides: the sun with the light round it, and a share of the sky."""

from __future__ import annotations

import numpy as np
from pvlib import irradiance

from yieldkit.base.arrays import BoolArray, FloatArray
from yieldkit.physics.irradiance.sky import PlaneIrradiance
from yieldkit.physics.irradiance.sun import Sun


def horizon_height(
    at: FloatArray, horizon_azimuth: FloatArray, horizon_elevation: FloatArray
) -> FloatArray:
    """Return the elevation of a horizon [deg], of the shape of `at`.

    Parameters
    ----------
    at : ndarray
        Azimuths to look in [deg], of any shape.
    horizon_azimuth, horizon_elevation : ndarray
        The horizon's profile [deg] (point,), closed round the compass by interpolation.
    """
    order = np.argsort(horizon_azimuth)
    angles = np.asarray(horizon_azimuth, dtype=float)[order]
    heights = np.asarray(horizon_elevation, dtype=float)[order]
    elevation: FloatArray = np.interp(at % 360.0, angles, heights, period=360.0)
    return elevation


def hides_sun(sun: Sun, horizon_azimuth: FloatArray, horizon_elevation: FloatArray) -> BoolArray:
    """Tell when the middle of the sun stands below a horizon (time,).

    Parameters
    ----------
    sun : Sun
        The sun (time,).
    horizon_azimuth, horizon_elevation : ndarray
        As for `horizon_height` [deg].
    """
    height = horizon_height(sun.azimuth, horizon_azimuth, horizon_elevation)
    hidden: BoolArray = 90.0 - sun.apparent_zenith < height
    return hidden


def with_horizon(
    open_sky: PlaneIrradiance,
    sun: Sun,
    horizon_azimuth: FloatArray,
    horizon_elevation: FloatArray,
    tilt: float,
    azimuth: float,
    circumsolar: FloatArray,
) -> PlaneIrradiance:
    """Return the irradiance without what a horizon hides: the sun, and its share of the sky.

    Parameters
    ----------
    open_sky : PlaneIrradiance
        Irradiance under an open sky.
    sun : Sun
        The sun (time,).
    horizon_azimuth, horizon_elevation : ndarray
        The horizon's profile [deg], closed round the compass by interpolation.
    tilt, azimuth : float
        The plane [deg].
    circumsolar : ndarray
        Sky diffuse irradiance from round the sun [W/m2] (time,), which goes with the beam.

    Returns
    -------
    PlaneIrradiance
        The rest of the diffuse sky is reduced by the hidden share of an isotropic sky weighted
        with the cosine of incidence on the plane (numerical integral over the sky, 2 degree
        cells).
    """
    profile = horizon_azimuth, horizon_elevation
    hidden_sun = hides_sun(sun, *profile)
    direct = np.where(hidden_sun, 0.0 * open_sky.poa_direct, open_sky.poa_direct)
    sky_azimuth = np.arange(1.0, 360.0, 2.0)[:, None]
    elevation = np.arange(1.0, 90.0, 2.0)[None, :]
    cosine = irradiance.aoi_projection(tilt, azimuth, 90.0 - elevation, sky_azimuth)
    weight = np.maximum(cosine, 0.0) * np.cos(np.radians(elevation))
    open_share = np.sum(weight * (elevation > horizon_height(sky_azimuth, *profile))) / np.sum(
        weight
    )
    around = np.where(hidden_sun, 0.0 * circumsolar, circumsolar)
    sky = (open_sky.poa_sky_diffuse - circumsolar) * open_share + around
    ground = open_sky.poa_ground_diffuse
    return PlaneIrradiance(open_sky.aoi, direct, sky, ground, direct + sky + ground)
