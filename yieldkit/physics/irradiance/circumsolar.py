"""Light of the sky from round the sun, which goes where the beam goes, by each model of the sky."""

from __future__ import annotations

import numpy as np
from pvlib import irradiance

from yieldkit.base.arrays import FloatArray
from yieldkit.physics.irradiance import continuous_perez
from yieldkit.physics.irradiance.sky import Horizontal, PlaneIrradiance, Transposition
from yieldkit.physics.irradiance.sun import Sun

_LEAST_COSINE = 0.01745
"""Least cosine of the zenith that the models divide by [1]: that of 89 deg; read in pvlib."""


def _isotropic(tilt: float, azimuth: float, sun: Sun, light: Horizontal) -> FloatArray:
    return np.zeros(light.dhi.shape)


def _hay_davies(tilt: float, azimuth: float, sun: Sun, light: Horizontal) -> FloatArray:
    projection = irradiance.aoi_projection(tilt, azimuth, sun.apparent_zenith, sun.azimuth)
    level = np.maximum(np.cos(np.radians(sun.apparent_zenith)), _LEAST_COSINE)
    found: FloatArray = light.dhi * light.dni / sun.dni_extra * np.maximum(projection, 0.0) / level
    return found


def _perez(tilt: float, azimuth: float, sun: Sun, light: Horizontal) -> FloatArray:
    place = sun.apparent_zenith, sun.azimuth
    parts = irradiance.perez(
        tilt,
        azimuth,
        light.dhi,
        light.dni,
        sun.dni_extra,
        *place,
        sun.airmass,
        return_components=True,
    )
    return np.asarray(parts["poa_circumsolar"], dtype=float)


def _perez_driesse(tilt: float, azimuth: float, sun: Sun, light: Horizontal) -> FloatArray:
    return continuous_perez.circumsolar(
        (light.dhi, light.dni),
        sun.apparent_zenith,
        (sun.dni_extra, sun.airmass),
        irradiance.aoi_projection(tilt, azimuth, sun.apparent_zenith, sun.azimuth),
    )


CIRCUMSOLAR: dict[str, Transposition] = {
    "isotropic": _isotropic,
    "hay-davies": _hay_davies,
    "reindl": _hay_davies,
    "perez-1990": _perez,
    "perez-driesse": _perez_driesse,
}
"""Sky diffuse irradiance on a plane from round the sun; keys as those of `TRANSPOSITION`."""


def circumsolar(
    open_sky: PlaneIrradiance,
    sun: Sun,
    light: Horizontal,
    tilt: float,
    azimuth: float,
    model: str,
    isotropic_share: float = 0.0,
) -> FloatArray:
    """Return the part of a plane's sky diffuse irradiance that comes from round the sun.

    Parameters
    ----------
    open_sky : PlaneIrradiance
        Irradiance under an open sky by the same model.
    sun, light, tilt, azimuth, model, isotropic_share : Sun and others
        As for `plane_irradiance`.

    Returns
    -------
    ndarray
        [W/m2] (time,), between nothing and all of the sky's; none where a model doesn't hold.
    """
    found = CIRCUMSOLAR[model](tilt, azimuth, sun, light)
    modelled = (light.dhi > 0.0) & (sun.apparent_zenith < 90.0)
    around = (1.0 - isotropic_share) * np.where(modelled, np.nan_to_num(found), 0.0)
    part: FloatArray = np.clip(around, 0.0, open_sky.poa_sky_diffuse)
    return part
