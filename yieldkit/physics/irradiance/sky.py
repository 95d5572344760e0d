"""From the sky to a plane: global split in two, in-plane irradiance and incidence."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import lru_cache
from typing import NamedTuple, TypeAlias, TypeVar

import numpy as np
from pvlib import iam, irradiance

from yieldkit.base.arrays import FloatArray
from yieldkit.base.errors import nearest, refuse
from yieldkit.physics.irradiance import continuous_perez
from yieldkit.physics.irradiance.sun import Sun

_Model = TypeVar("_Model", bound=Callable[..., object])


class Horizontal(NamedTuple):
    """Irradiance of the sky before it meets a plane.

    Parameters
    ----------
    ghi, dni, dhi : ndarray
        Global on the horizontal, direct normal, diffuse on the horizontal [W/m2] (time,).
    """

    ghi: FloatArray
    dni: FloatArray
    dhi: FloatArray


class PlaneIrradiance(NamedTuple):
    """Irradiance on a plane.

    Parameters
    ----------
    aoi : ndarray
        Angle of incidence [deg] (time,).
    poa_direct, poa_sky_diffuse, poa_ground_diffuse, poa_global : ndarray
        Beam, diffuse from the sky and from the ground, and their sum [W/m2] (time,).
    """

    aoi: FloatArray
    poa_direct: FloatArray
    poa_sky_diffuse: FloatArray
    poa_ground_diffuse: FloatArray
    poa_global: FloatArray


class Modifiers(NamedTuple):
    """Incidence-angle modifiers: what a module's glass lets through, over that at normal incidence.

    Parameters
    ----------
    beam : ndarray
        Of the beam [1] (time,).
    sky, ground : float
        Of diffuse light from the sky and from the ground [1].
    """

    beam: FloatArray
    sky: float
    ground: float


def _erbs(ghi: FloatArray, sun: Sun) -> tuple[FloatArray, FloatArray]:
    parts = irradiance.erbs(ghi, sun.zenith, sun.day_of_year)
    return np.asarray(parts["dni"]), np.asarray(parts["dhi"])


def _erbs_driesse(ghi: FloatArray, sun: Sun) -> tuple[FloatArray, FloatArray]:
    parts = irradiance.erbs_driesse(ghi, sun.zenith, dni_extra=sun.dni_extra)
    return np.asarray(parts["dni"]), np.asarray(parts["dhi"])


DECOMPOSITION: dict[str, Callable[[FloatArray, Sun], tuple[FloatArray, FloatArray]]] = {
    "erbs": _erbs,
    "erbs-driesse": _erbs_driesse,
}
"""Global irradiance split into direct normal and diffuse; keys as in the configuration."""


def decompose(ghi: FloatArray, sun: Sun, model: str) -> tuple[FloatArray, FloatArray]:
    """Split global irradiance into direct normal and diffuse.

    Parameters
    ----------
    ghi : ndarray
        Global horizontal irradiance [W/m2] (time,).
    sun : Sun
        The sun (time,).
    model : str
        A key of `DECOMPOSITION`.

    Returns
    -------
    tuple of ndarray
        DNI and DHI [W/m2] (time,), closing to GHI; missing where GHI is.

    Raises
    ------
    InputError
        For an unknown model.
    """
    split = _chosen(DECOMPOSITION, model, "decomposition")
    dni, dhi = split(ghi, sun)
    return np.where(np.isnan(ghi), np.nan, dni), np.where(np.isnan(ghi), np.nan, dhi)


Transposition: TypeAlias = Callable[[float, float, Sun, Horizontal], FloatArray]
"""From tilt and azimuth [deg], sun and light to the sky's diffuse irradiance [W/m2] (time,)."""


def _isotropic(tilt: float, azimuth: float, sun: Sun, light: Horizontal) -> FloatArray:
    sky: FloatArray = irradiance.isotropic(tilt, light.dhi)
    return sky


def _hay_davies(tilt: float, azimuth: float, sun: Sun, light: Horizontal) -> FloatArray:
    sky: FloatArray = irradiance.haydavies(
        tilt, azimuth, light.dhi, light.dni, sun.dni_extra, sun.apparent_zenith, sun.azimuth
    )
    return sky


def _reindl(tilt: float, azimuth: float, sun: Sun, light: Horizontal) -> FloatArray:
    sky: FloatArray = irradiance.reindl(
        tilt,
        azimuth,
        light.dhi,
        light.dni,
        light.ghi,
        sun.dni_extra,
        sun.apparent_zenith,
        sun.azimuth,
    )
    return sky


def _perez(tilt: float, azimuth: float, sun: Sun, light: Horizontal) -> FloatArray:
    place = sun.apparent_zenith, sun.azimuth
    sky: FloatArray = irradiance.perez(
        tilt, azimuth, light.dhi, light.dni, sun.dni_extra, *place, sun.airmass
    )
    return sky


def _perez_driesse(tilt: float, azimuth: float, sun: Sun, light: Horizontal) -> FloatArray:
    return continuous_perez.sky_diffuse(
        (light.dhi, light.dni),
        sun.apparent_zenith,
        (sun.dni_extra, sun.airmass),
        tilt,
        irradiance.aoi_projection(tilt, azimuth, sun.apparent_zenith, sun.azimuth),
    )


TRANSPOSITION: dict[str, Transposition] = {
    "isotropic": _isotropic,
    "hay-davies": _hay_davies,
    "reindl": _reindl,
    "perez-1990": _perez,
    "perez-driesse": _perez_driesse,
}
"""Sky diffuse irradiance on a plane; keys as in the configuration."""


def plane_irradiance(
    sun: Sun,
    light: Horizontal,
    albedo: float,
    tilt: float,
    azimuth: float,
    model: str,
    isotropic_share: float = 0.0,
) -> PlaneIrradiance:
    """Return the irradiance on a plane under an open sky.

    Parameters
    ----------
    sun : Sun
        The sun (time,).
    light : Horizontal
        Irradiance of the sky [W/m2] (time,).
    albedo : float
        Share of light that the ground reflects [1].
    tilt, azimuth : float
        The plane [deg]; azimuth from north through east.
    model : str
        A key of `TRANSPOSITION`.
    isotropic_share : float
        Share of the diffuse sky taken as evenly bright, the rest by the model [1].

    Returns
    -------
    PlaneIrradiance
        No beam where the sun is down or on the plane's back; missing where an input is.

    Raises
    ------
    InputError
        For an unknown model.
    """
    missing = np.isnan(light.ghi) | np.isnan(light.dni) | np.isnan(light.dhi)
    projection = irradiance.aoi_projection(tilt, azimuth, sun.apparent_zenith, sun.azimuth)
    aoi = np.degrees(np.arccos(np.clip(projection, -1.0, 1.0)))
    up = sun.apparent_zenith < 90.0
    direct = np.where(up, np.maximum(light.dni * projection, 0.0), 0.0)
    sky = _sky_diffuse(sun, light, tilt, azimuth, model, isotropic_share)
    ground = irradiance.get_ground_diffuse(tilt, light.ghi, albedo)
    direct, sky, ground = (np.where(missing, np.nan, part) for part in (direct, sky, ground))
    return PlaneIrradiance(aoi, direct, sky, ground, direct + sky + ground)


def _sky_diffuse(
    sun: Sun, light: Horizontal, tilt: float, azimuth: float, model: str, isotropic_share: float
) -> FloatArray:
    """Return diffuse light from the sky on a plane [W/m2] (time,).

    A model's horizon part may be negative, the sum of its parts not. Where the sun is too low for
    a model, the sky is taken as evenly bright.
    """
    transpose = _chosen(TRANSPOSITION, model, "transposition")
    modelled = (light.dhi > 0.0) & (sun.apparent_zenith < 95.0)
    diffuse = np.where(modelled, np.nan_to_num(transpose(tilt, azimuth, sun, light)), 0.0)
    isotropic = light.dhi * 0.5 * (1.0 + np.cos(np.radians(tilt)))
    sky = (1.0 - isotropic_share) * np.maximum(diffuse, 0.0) + isotropic_share * isotropic
    found: FloatArray = np.where((light.dhi > 0.0) & ~modelled, isotropic, sky)
    return found


INCIDENCE: dict[str, Callable[..., FloatArray]] = {
    "fresnel": iam.physical,
    "ashrae": iam.ashrae,
    "martin-ruiz": iam.martin_ruiz,
}
"""Incidence-angle modifiers by the angle of incidence; keys as in the configuration."""


@lru_cache(maxsize=256)
def _diffuse_modifiers(model: str, tilt: float) -> tuple[float, float]:
    """Return the modifiers of sky and ground diffuse [1]: the beam's, averaged over either."""
    function = INCIDENCE[model]
    sky = iam.marion_integrate(function, tilt, "sky")
    ground = iam.marion_integrate(function, tilt, "ground") if tilt > 0.0 else 1.0
    return float(sky), float(np.nan_to_num(ground, nan=1.0))


def incidence_modifiers(aoi: FloatArray, tilt: float, model: str) -> Modifiers:
    """Return the incidence-angle modifiers of a plane.

    Parameters
    ----------
    aoi : ndarray
        Angle of incidence [deg] (time,).
    tilt : float
        [deg].
    model : str
        A key of `INCIDENCE`; others raise an InputError.

    References
    ----------
    Diffuse: Marion (2017), Solar Energy 147, 344-348, through pvlib.
    """
    function = _chosen(INCIDENCE, model, "incidence")
    sky, ground = _diffuse_modifiers(model, float(tilt))
    return Modifiers(np.clip(function(aoi), 0.0, 1.0), sky, ground)


def effective_irradiance(on_plane: PlaneIrradiance, modifiers: Modifiers) -> FloatArray:
    """Return the irradiance that reaches the cells.

    Parameters
    ----------
    on_plane : PlaneIrradiance
        Irradiance on the plane [W/m2] (time,).
    modifiers : Modifiers
        What the glass lets through [1].

    Returns
    -------
    ndarray
        [W/m2] (time,).
    """
    diffuse = on_plane.poa_sky_diffuse * modifiers.sky
    ground = on_plane.poa_ground_diffuse * modifiers.ground
    return on_plane.poa_direct * modifiers.beam + diffuse + ground


def _chosen(table: Mapping[str, _Model], name: str, what: str) -> _Model:
    if name in table:
        return table[name]
    close = nearest(name, table)
    refuse(
        f"{what} model",
        f"'{name}'",
        "one of " + ", ".join(table),
        remedy=f"Did you mean '{close}'?" if close else "",
    )
