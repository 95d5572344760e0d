"""From the sky to a plane: the sun, in-plane irradiance, incidence angle and horizon."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from typing import NamedTuple

import numpy as np
import pandas as pd
import pvlib
from pvlib import iam, irradiance

from yieldkit.words.errors import nearest, refuse


class Sun(NamedTuple):
    """The sun at the instants of a weather series, each (time,).

    Parameters
    ----------
    apparent_zenith, zenith, azimuth : ndarray
        [deg]; azimuth from north through east.
    dni_extra : ndarray
        Extraterrestrial normal irradiance [W/m2].
    airmass : ndarray
        Relative optical air mass; nan below the horizon.
    day_of_year : ndarray
        Day of the year.
    """

    apparent_zenith: np.ndarray
    zenith: np.ndarray
    azimuth: np.ndarray
    dni_extra: np.ndarray
    airmass: np.ndarray
    day_of_year: np.ndarray


class PlaneIrradiance(NamedTuple):
    """Irradiance on a plane, each [W/m2] (time,), with the angle of incidence [deg]."""

    aoi: np.ndarray
    poa_direct: np.ndarray
    poa_sky_diffuse: np.ndarray
    poa_ground_diffuse: np.ndarray
    poa_global: np.ndarray


class Modifiers(NamedTuple):
    """Incidence-angle modifiers: beam (time,), sky and ground diffuse (numbers)."""

    beam: np.ndarray
    sky: float
    ground: float


def sun_instants(
    starts: pd.DatetimeIndex,
    interval_s: float,
    sampling: str,
    sun_offset_s: float,
    latitude: float,
    longitude: float,
    altitude: float,
) -> pd.DatetimeIndex:
    """Return the instant at which each step's sun is taken.

    Parameters
    ----------
    starts : DatetimeIndex
        Starts of the intervals, or labels of the snapshots, with a time zone.
    interval_s : float
        Length of a step [s].
    sampling : str
        "mean" (the middle of the sunlit part of the interval) or "snapshot".
    sun_offset_s : float
        Seconds from the label to the instant of a snapshot.
    latitude, longitude : float
        [deg].
    altitude : float
        [m].

    Returns
    -------
    DatetimeIndex
        One instant a step.
    """
    if sampling == "snapshot":
        return starts + pd.Timedelta(seconds=sun_offset_s)
    step = pd.Timedelta(seconds=interval_s)
    middle = starts + step / 2
    edges = starts.append(starts[-1:] + step)
    up = _elevation(edges, latitude, longitude, altitude) > 0.0
    partly = np.flatnonzero(up[:-1] != up[1:])
    if partly.size == 0:
        return middle
    crossing = _crossing(starts[partly], step, up[:-1][partly], latitude, longitude, altitude)
    share = np.where(up[:-1][partly], crossing / 2.0, (1.0 + crossing) / 2.0)
    moved = middle.tz_convert(None).to_numpy().astype("datetime64[ns]")
    shift = (share * interval_s * 1e9).astype("timedelta64[ns]")
    moved[partly] = starts[partly].tz_convert(None).to_numpy() + shift
    return pd.DatetimeIndex(moved).tz_localize("UTC")


def _elevation(
    times: pd.DatetimeIndex, latitude: float, longitude: float, altitude: float
) -> np.ndarray:
    return 90.0 - _position(times, latitude, longitude, altitude)["zenith"].to_numpy()


def _crossing(
    starts: pd.DatetimeIndex,
    step: pd.Timedelta,
    up_first: np.ndarray,
    latitude: float,
    longitude: float,
    altitude: float,
) -> np.ndarray:
    """Return the share of the interval after which the sun crosses the horizon, by bisection."""
    low = np.zeros(len(starts))
    high = np.ones(len(starts))
    for _ in range(10):
        half = 0.5 * (low + high)
        times = starts + pd.to_timedelta(half * step.total_seconds(), unit="s")
        same = (_elevation(times, latitude, longitude, altitude) > 0.0) == up_first
        low = np.where(same, half, low)
        high = np.where(same, high, half)
    return 0.5 * (low + high)


def _position(
    times: pd.DatetimeIndex, latitude: float, longitude: float, altitude: float
) -> pd.DataFrame:
    return pvlib.solarposition.get_solarposition(times, latitude, longitude, altitude=altitude)


def sun_position(
    instants: pd.DatetimeIndex, latitude: float, longitude: float, altitude: float
) -> Sun:
    """Return the sun at some instants.

    Parameters
    ----------
    instants : DatetimeIndex
        With a time zone.
    latitude, longitude : float
        [deg].
    altitude : float
        [m].

    References
    ----------
    Reda and Andreas (2004), Solar Energy 76, 577-589, through pvlib; air mass after Kasten and
    Young (1989), Applied Optics 28, 4735-4738.
    """
    position = _position(instants, latitude, longitude, altitude)
    apparent = position["apparent_zenith"].to_numpy()
    return Sun(
        apparent_zenith=apparent,
        zenith=position["zenith"].to_numpy(),
        azimuth=position["azimuth"].to_numpy(),
        dni_extra=irradiance.get_extra_radiation(instants.day_of_year.to_numpy()),
        airmass=pvlib.atmosphere.get_relative_airmass(apparent),
        day_of_year=instants.day_of_year.to_numpy(),
    )


def _erbs(ghi: np.ndarray, sun: Sun) -> tuple[np.ndarray, np.ndarray]:
    parts = irradiance.erbs(ghi, sun.zenith, sun.day_of_year)
    return np.asarray(parts["dni"]), np.asarray(parts["dhi"])


def _erbs_driesse(ghi: np.ndarray, sun: Sun) -> tuple[np.ndarray, np.ndarray]:
    parts = irradiance.erbs_driesse(ghi, sun.zenith, dni_extra=sun.dni_extra)
    return np.asarray(parts["dni"]), np.asarray(parts["dhi"])


DECOMPOSITION: dict[str, Callable[[np.ndarray, Sun], tuple[np.ndarray, np.ndarray]]] = {
    "erbs": _erbs,
    "erbs-driesse": _erbs_driesse,
}
"""Global irradiance split into direct normal and diffuse; words of the configuration."""


def decompose(ghi: np.ndarray, sun: Sun, model: str) -> tuple[np.ndarray, np.ndarray]:
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


def _isotropic(tilt: float, azimuth: float, sun: Sun, ghi, dni, dhi) -> np.ndarray:
    return irradiance.isotropic(tilt, dhi)


def _hay_davies(tilt: float, azimuth: float, sun: Sun, ghi, dni, dhi) -> np.ndarray:
    return irradiance.haydavies(
        tilt, azimuth, dhi, dni, sun.dni_extra, sun.apparent_zenith, sun.azimuth
    )


def _reindl(tilt: float, azimuth: float, sun: Sun, ghi, dni, dhi) -> np.ndarray:
    return irradiance.reindl(
        tilt, azimuth, dhi, dni, ghi, sun.dni_extra, sun.apparent_zenith, sun.azimuth
    )


def _perez(tilt: float, azimuth: float, sun: Sun, ghi, dni, dhi) -> np.ndarray:
    return irradiance.perez(
        tilt, azimuth, dhi, dni, sun.dni_extra, sun.apparent_zenith, sun.azimuth, sun.airmass
    )


def _perez_driesse(tilt: float, azimuth: float, sun: Sun, ghi, dni, dhi) -> np.ndarray:
    return irradiance.perez_driesse(
        tilt, azimuth, dhi, dni, sun.dni_extra, sun.apparent_zenith, sun.azimuth, sun.airmass
    )


TRANSPOSITION: dict[str, Callable[..., np.ndarray]] = {
    "isotropic": _isotropic,
    "hay-davies": _hay_davies,
    "reindl": _reindl,
    "perez-1990": _perez,
    "perez-driesse": _perez_driesse,
}
"""Sky diffuse irradiance on a plane; words of the configuration."""


def plane_irradiance(
    sun: Sun,
    ghi: np.ndarray,
    dni: np.ndarray,
    dhi: np.ndarray,
    albedo: float,
    tilt: float,
    azimuth: float,
    model: str,
) -> PlaneIrradiance:
    """Return the irradiance on a plane.

    Parameters
    ----------
    sun : Sun
        The sun (time,).
    ghi, dni, dhi : ndarray
        [W/m2] (time,).
    albedo : float
        [1].
    tilt, azimuth : float
        [deg]; azimuth from north through east.
    model : str
        A key of `TRANSPOSITION`.

    Returns
    -------
    PlaneIrradiance
        Beam is zero with the sun behind the plane or below the horizon. Only the sum of the
        diffuse parts is kept from going negative, since a negative horizon part is legitimate.
        A missing input makes its own step missing.

    Raises
    ------
    InputError
        For an unknown model.
    """
    transpose = _chosen(TRANSPOSITION, model, "transposition")
    missing = np.isnan(ghi) | np.isnan(dni) | np.isnan(dhi)
    projection = irradiance.aoi_projection(tilt, azimuth, sun.apparent_zenith, sun.azimuth)
    aoi = np.degrees(np.arccos(np.clip(projection, -1.0, 1.0)))
    up = sun.apparent_zenith < 90.0
    direct = np.where(up, np.maximum(dni * projection, 0.0), 0.0)
    lit = (dhi > 0.0) & (sun.apparent_zenith < 95.0)
    sky = np.where(lit, np.nan_to_num(transpose(tilt, azimuth, sun, ghi, dni, dhi)), 0.0)
    half_seen = dhi * 0.5 * (1.0 + np.cos(np.radians(tilt)))
    sky = np.where((dhi > 0.0) & ~lit, half_seen, np.maximum(sky, 0.0))
    ground = irradiance.get_ground_diffuse(tilt, ghi, albedo)
    parts = [np.where(missing, np.nan, part) for part in (direct, sky, ground)]
    return PlaneIrradiance(aoi, *parts, parts[0] + parts[1] + parts[2])


def behind_horizon(
    seen: PlaneIrradiance,
    sun: Sun,
    horizon_azimuth: np.ndarray,
    horizon_elevation: np.ndarray,
    tilt: float,
    azimuth: float,
) -> PlaneIrradiance:
    """Take away what a horizon hides: the beam below it, and its share of the diffuse sky.

    Parameters
    ----------
    seen : PlaneIrradiance
        Irradiance under an open sky.
    sun : Sun
        The sun (time,).
    horizon_azimuth, horizon_elevation : ndarray
        The horizon's profile [deg], closed round the compass by interpolation.
    tilt, azimuth : float
        The plane [deg].

    Returns
    -------
    PlaneIrradiance
        Diffuse sky is reduced by the hidden share of an isotropic sky weighted with the cosine
        of incidence on the plane (numerical integral over the sky, 2 degree cells).
    """
    order = np.argsort(horizon_azimuth)
    angles = np.asarray(horizon_azimuth, dtype=float)[order]
    heights = np.asarray(horizon_elevation, dtype=float)[order]

    def height(at: np.ndarray) -> np.ndarray:
        return np.interp(at % 360.0, angles, heights, period=360.0)

    hidden_sun = 90.0 - sun.apparent_zenith < height(sun.azimuth)
    direct = np.where(hidden_sun, 0.0 * seen.poa_direct, seen.poa_direct)
    sky_azimuth = np.arange(1.0, 360.0, 2.0)[:, None]
    elevation = np.arange(1.0, 90.0, 2.0)[None, :]
    cosine = irradiance.aoi_projection(tilt, azimuth, 90.0 - elevation, sky_azimuth)
    weight = np.maximum(cosine, 0.0) * np.cos(np.radians(elevation))
    open_share = np.sum(weight * (elevation > height(sky_azimuth))) / np.sum(weight)
    sky = seen.poa_sky_diffuse * open_share
    total = direct + sky + seen.poa_ground_diffuse
    return PlaneIrradiance(seen.aoi, direct, sky, seen.poa_ground_diffuse, total)


INCIDENCE: dict[str, Callable[..., np.ndarray]] = {
    "fresnel": iam.physical,
    "ashrae": iam.ashrae,
    "martin-ruiz": iam.martin_ruiz,
}
"""Incidence-angle modifiers by the angle of incidence; words of the configuration."""


@lru_cache(maxsize=256)
def _diffuse_modifiers(model: str, tilt: float) -> tuple[float, float]:
    """Return the modifiers of sky and ground diffuse: the beam's over all that the plane sees."""
    function = INCIDENCE[model]
    sky = iam.marion_integrate(function, tilt, "sky")
    ground = iam.marion_integrate(function, tilt, "ground") if tilt > 0.0 else 1.0
    return float(sky), float(np.nan_to_num(ground, nan=1.0))


def incidence_modifiers(aoi: np.ndarray, tilt: float, model: str) -> Modifiers:
    """Return the incidence-angle modifiers of a plane.

    Parameters
    ----------
    aoi : ndarray
        Angle of incidence [deg] (time,).
    tilt : float
        [deg].
    model : str
        A key of `INCIDENCE`.

    Raises
    ------
    InputError
        For an unknown model.

    References
    ----------
    Diffuse: Marion (2017), Solar Energy 147, 344-348, through pvlib.
    """
    function = _chosen(INCIDENCE, model, "incidence")
    sky, ground = _diffuse_modifiers(model, float(tilt))
    return Modifiers(np.clip(function(aoi), 0.0, 1.0), sky, ground)


def effective_irradiance(seen: PlaneIrradiance, modifiers: Modifiers) -> np.ndarray:
    """Return the irradiance that reaches the cells [W/m2] (time,)."""
    return (
        seen.poa_direct * modifiers.beam
        + seen.poa_sky_diffuse * modifiers.sky
        + seen.poa_ground_diffuse * modifiers.ground
    )


def _chosen(table: dict[str, Callable[..., object]], word: str, what: str) -> Callable[..., object]:
    if word in table:
        return table[word]
    close = nearest(word, table)
    refuse(
        f"{what} model",
        f"'{word}'",
        "one of " + ", ".join(table),
        remedy=f"Did you mean '{close}'?" if close else "",
    )
