"""A plane's light: from the sky or as measured, past the far horizon and through the glass."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import xarray as xr

from yieldkit.base.arrays import FloatArray, IntArray
from yieldkit.base.measured_planes import POA
from yieldkit.config.models.planes import HorizonPoint, Plane
from yieldkit.config.site.site import Site
from yieldkit.physics.irradiance import sky
from yieldkit.physics.irradiance.circumsolar import circumsolar
from yieldkit.physics.irradiance.from_plane import Reading, with_reading
from yieldkit.physics.irradiance.horizon import hides_sun, with_horizon
from yieldkit.physics.irradiance.module_light import Components
from yieldkit.physics.irradiance.sun import Sun
from yieldkit.study.simulation.measured import (
    REFERENCE_CELL,
    lies_in_plane,
    measured_light,
    sensor_of,
)
from yieldkit.weather.readers.on_planes import measured_columns


class Lit(NamedTuple):
    """Sun and light at the steps that have any, or lack their values; elsewhere all is zero.

    Parameters
    ----------
    steps : ndarray of int
        Their positions in time (lit step,).
    size : int
        Number of all steps.
    sun, light : Sun, Horizontal
        At those steps.
    """

    steps: IntArray
    size: int
    sun: Sun
    light: sky.Horizontal

    def everywhere(self, values: FloatArray) -> FloatArray:
        """Return values of the lit steps at all steps (time,), zero where there is no light."""
        every = np.zeros(self.size)
        every[self.steps] = values
        return every


class PlaneLight(NamedTuple):
    """Light on a plane, each (lit step,).

    Parameters
    ----------
    open_sky : PlaneIrradiance
        As it is modelled under the open sky.
    seen : PlaneIrradiance
        What the far horizon leaves of it; or what was measured.
    under_sky : ndarray
        Light with which the budget begins [W/m2]: under the open sky, or measured.
    clean : ndarray
        Light behind the glass [W/m2].
    modifiers : Modifiers
        What the glass lets through [1].
    factor : ndarray or None
        Measured light as a multiple of the modelled [1]; None where nothing was measured.
    """

    open_sky: sky.PlaneIrradiance
    seen: sky.PlaneIrradiance
    under_sky: FloatArray
    clean: FloatArray
    modifiers: sky.Modifiers
    factor: FloatArray | None = None


def lit_steps(weather: xr.Dataset, sun: Sun) -> Lit:
    """Return the steps with light; a missing value counts as light.

    Parameters
    ----------
    weather : Dataset
        Canonical weather (time).
    sun : Sun
        The sun at its steps.
    """
    light = sky.Horizontal(*(weather.variables[name].to_numpy() for name in sky.Horizontal._fields))
    lit = (light.ghi != 0.0) | (light.dni != 0.0) | (light.dhi != 0.0)
    for name, (quantity, _) in measured_columns(weather.data_vars).items():
        if quantity == POA:
            lit |= weather.variables[name].to_numpy() != 0.0
    steps = np.flatnonzero(lit)
    return Lit(
        steps,
        light.ghi.size,
        sun.at(steps),
        sky.Horizontal(*(part[steps] for part in light)),
    )


def plane_light(site: Site, plane: Plane, weather: xr.Dataset, lit: Lit) -> PlaneLight:
    """Return a plane's light from the sky, or as it was measured.

    Parameters
    ----------
    site : Site
        Albedo and models.
    plane : Plane
        The plane.
    weather : Dataset
        Canonical weather (time).
    lit : Lit
        Its sun and light.
    """
    lies = plane.tilt_deg, plane.azimuth_deg
    open_sky, seen = _modelled(site, plane, lit, *lies)
    modifiers = sky.incidence_modifiers(seen.aoi, plane.tilt_deg, site.models.incidence)
    measured = measured_light(plane, weather)
    if measured is None:
        clean = sky.effective_irradiance(seen, modifiers)
        return PlaneLight(open_sky, seen, open_sky.poa_global, clean, modifiers)
    kind, *sensor = sensor_of(plane, weather)
    in_plane = lies_in_plane(plane, weather)
    there, glass = seen, modifiers
    if not in_plane:
        _, there = _modelled(site, plane, lit, *sensor)
        glass = sky.incidence_modifiers(there.aoi, sensor[0], site.models.incidence)
    reading = Reading(
        measured[lit.steps], there, glass if kind == REFERENCE_CELL else None, in_plane
    )
    seen, factor = with_reading(seen, modifiers, reading)
    clean = sky.effective_irradiance(seen, modifiers)
    return PlaneLight(open_sky, seen, seen.poa_global, clean, modifiers, factor)


def _modelled(
    site: Site, plane: Plane, lit: Lit, tilt: float, azimuth: float
) -> tuple[sky.PlaneIrradiance, sky.PlaneIrradiance]:
    """Return what is modelled under the open sky, and past a plane's far horizon."""
    models = site.models
    open_sky = sky.plane_irradiance(
        lit.sun,
        lit.light,
        site.site.albedo,
        tilt,
        azimuth,
        models.transposition,
        models.isotropic_share,
    )
    horizon = site.horizon_of(plane)
    if not horizon:
        return open_sky, open_sky
    seen = with_horizon(
        open_sky,
        lit.sun,
        *_profile(horizon),
        tilt,
        azimuth,
        _round_sun(site, (tilt, azimuth), lit, open_sky),
    )
    return open_sky, seen


def _profile(horizon: tuple[HorizonPoint, ...]) -> tuple[FloatArray, FloatArray]:
    """Return azimuths and elevations of a horizon [deg] (point,)."""
    return (
        np.array([point.azimuth_deg for point in horizon]),
        np.array([point.elevation_deg for point in horizon]),
    )


def _round_sun(
    site: Site, lies: tuple[float, float], lit: Lit, open_sky: sky.PlaneIrradiance
) -> FloatArray:
    """Return what a plane gets of the open sky from round the sun [W/m2] (lit step,)."""
    models = site.models
    return circumsolar(
        open_sky,
        lit.sun,
        lit.light,
        *lies,
        models.transposition,
        models.isotropic_share,
    )


def light_components(
    site: Site, plane: Plane, lit: Lit, light: PlaneLight, soiled: float | FloatArray
) -> Components:
    """Return a plane's light behind the soil by where it comes from; its sum is what cells get.

    Parameters
    ----------
    site : Site
        Models of the sky and of the glass.
    plane : Plane
        The plane.
    lit : Lit
        The steps with light.
    light : PlaneLight
        The plane's light.
    soiled : float or ndarray
        Share of it that dirt takes [1] (lit step,).
    """
    seen, passes = light.seen, light.modifiers
    round_sun = _round_sun(site, (plane.tilt_deg, plane.azimuth_deg), lit, light.open_sky)
    if light.factor is not None:
        round_sun = round_sun * light.factor
    horizon = site.horizon_of(plane)
    if horizon:
        round_sun = np.where(hides_sun(lit.sun, *_profile(horizon)), 0.0, round_sun)
    clean = 1.0 - soiled
    return Components(
        direct=(seen.poa_direct * passes.beam + round_sun * passes.sky) * clean,
        sky=(seen.poa_sky_diffuse - round_sun) * passes.sky * clean,
        ground=seen.poa_ground_diffuse * passes.ground * clean,
    )
