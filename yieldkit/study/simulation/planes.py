"""A plane from the sky to its cells, and what one of its modules gives on the way."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import pandas as pd
import xarray as xr

from yieldkit.base.arrays import FloatArray, IntArray
from yieldkit.config.models.planes import HorizonPoint, Plane
from yieldkit.config.site.site import Site
from yieldkit.physics.circuit import api as circuit
from yieldkit.physics.circuit.api import CellConditions
from yieldkit.physics.irradiance import sky
from yieldkit.physics.irradiance.circumsolar import circumsolar
from yieldkit.physics.irradiance.horizon import hides_sun, with_horizon
from yieldkit.physics.irradiance.module_light import Components
from yieldkit.physics.irradiance.sun import Sun
from yieldkit.physics.module import datasheet
from yieldkit.physics.module import temperature as heat
from yieldkit.study.simulation.soiling import soiling_share

_STC_CELL_C = 25.0
_TRANSIENT_BELOW_S = 900


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


class PlaneCells(NamedTuple):
    """A plane's cells at all steps, and what the loss budget needs of the lit ones.

    Parameters
    ----------
    poa_global, effective_irradiance, temp_cell : ndarray
        [W/m2], [W/m2], [degC] (time,).
    module : CellConditions
        One cell group, each (time, 1).
    light : tuple of ndarray
        Light under the open sky, seen, behind the glass and behind the soil [W/m2] (lit step,).
    soiled : float or ndarray
        Share of the light that dirt takes [1], one for all or each lit step's (lit step,).
    gains : tuple
        Cell groups without the modules' own quality, gain from behind, and factors on power by
        tolerance and by the initial loss [1].
    on_plane : tuple of PlaneIrradiance
        Irradiance under the open sky, and seen (lit step,).
    """

    poa_global: FloatArray
    effective_irradiance: FloatArray
    temp_cell: FloatArray
    module: CellConditions
    light: tuple[FloatArray, ...]
    soiled: float | FloatArray
    gains: tuple[CellConditions, float, float, float]
    on_plane: tuple[sky.PlaneIrradiance, sky.PlaneIrradiance]


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
    steps = np.flatnonzero((light.ghi != 0.0) | (light.dni != 0.0) | (light.dhi != 0.0))
    return Lit(
        steps,
        light.ghi.size,
        sun.at(steps),
        sky.Horizontal(*(part[steps] for part in light)),
    )


def plane_cells(
    site: Site,
    plane: Plane,
    fit: datasheet.DiodeFit,
    groups: int,
    weather: xr.Dataset,
    lit: Lit,
) -> PlaneCells:
    """Follow one plane from the sky to its cells.

    Parameters
    ----------
    site : Site
        Albedo and models.
    plane : Plane
        The plane.
    fit : DiodeFit
        The diode of its modules.
    groups : int
        Cell groups of a module.
    weather : Dataset
        Canonical weather (time).
    lit : Lit
        Its sun and light.
    """
    models = site.models
    open_sky = sky.plane_irradiance(
        lit.sun,
        lit.light,
        site.site.albedo,
        plane.tilt_deg,
        plane.azimuth_deg,
        models.transposition,
        models.isotropic_share,
    )
    seen = open_sky
    horizon = site.horizon_of(plane)
    if horizon:
        seen = with_horizon(
            open_sky,
            lit.sun,
            *_profile(horizon),
            plane.tilt_deg,
            plane.azimuth_deg,
            _round_sun(site, plane, lit, open_sky),
        )
    modifiers = sky.incidence_modifiers(seen.aoi, plane.tilt_deg, models.incidence)
    clean = sky.effective_irradiance(seen, modifiers)
    lost = soiling_share(plane, weather)
    if isinstance(lost, np.ndarray):
        lost = lost[lit.steps]
    soiled = clean * (1.0 - lost)
    rear = 1.0 + plane.rear_gain_percent / 100.0
    temp_cell = _cell_temperature(plane, lit.everywhere(seen.poa_global) * rear, weather)
    effective = lit.everywhere(soiled * rear)
    with_rear = group_conditions(fit, effective, temp_cell, groups)
    tolerance = 1.0 + plane.power_deviation_percent / 100.0
    kept = 1.0 - plane.initial_loss_percent / 100.0
    quality = tolerance * kept
    final = scale_current(with_rear, quality) if quality != 1.0 else with_rear
    poa_global = lit.everywhere(open_sky.poa_global)
    light = open_sky.poa_global, seen.poa_global, clean, soiled
    gains = with_rear, rear, tolerance, kept
    on_plane = open_sky, seen
    return PlaneCells(poa_global, effective, temp_cell, final, light, lost, gains, on_plane)


def _profile(horizon: tuple[HorizonPoint, ...]) -> tuple[FloatArray, FloatArray]:
    """Return azimuths and elevations of a horizon [deg] (point,)."""
    return (
        np.array([point.azimuth_deg for point in horizon]),
        np.array([point.elevation_deg for point in horizon]),
    )


def _round_sun(site: Site, plane: Plane, lit: Lit, open_sky: sky.PlaneIrradiance) -> FloatArray:
    """Return what a plane gets of the open sky from round the sun [W/m2] (lit step,)."""
    models = site.models
    return circumsolar(
        open_sky,
        lit.sun,
        lit.light,
        plane.tilt_deg,
        plane.azimuth_deg,
        models.transposition,
        models.isotropic_share,
    )


def light_components(site: Site, plane: Plane, lit: Lit, cells: PlaneCells) -> Components:
    """Return a plane's light behind the soil by where it comes from; its sum is what cells get.

    Parameters
    ----------
    site : Site
        Models of the sky and of the glass.
    plane : Plane
        The plane.
    lit : Lit
        The steps with light.
    cells : PlaneCells
        The plane's cells.
    """
    open_sky, seen = cells.on_plane
    round_sun = _round_sun(site, plane, lit, open_sky)
    horizon = site.horizon_of(plane)
    if horizon:
        round_sun = np.where(hides_sun(lit.sun, *_profile(horizon)), 0.0, round_sun)
    passes = sky.incidence_modifiers(seen.aoi, plane.tilt_deg, site.models.incidence)
    clean = 1.0 - cells.soiled
    return Components(
        direct=(seen.poa_direct * passes.beam + round_sun * passes.sky) * clean,
        sky=(seen.poa_sky_diffuse - round_sun) * passes.sky * clean,
        ground=seen.poa_ground_diffuse * passes.ground * clean,
    )


def module_stages(
    result: PlaneCells, lit: Lit, fit: datasheet.DiodeFit, groups: int, power_stc: float
) -> tuple[FloatArray, ...]:
    """Return the power of one module after each of `STAGES` [W] (lit step,).

    Parameters
    ----------
    result : PlaneCells
        The plane's cells.
    lit : Lit
        The steps with light.
    fit : DiodeFit
        The diode of the modules.
    groups : int
        Cell groups of a module.
    power_stc : float
        Nameplate power of a module [W].
    """
    with_rear, rear, tolerance, kept = result.gains
    soiled = result.light[-1]

    def module_power(conditions: CellConditions) -> FloatArray:
        return groups * circuit.group_maxima(conditions)[:, 0]

    def at_lit(conditions: CellConditions) -> CellConditions:
        return CellConditions(*(part[lit.steps] for part in conditions))

    at_stc_heat = group_conditions(fit, soiled, np.full_like(soiled, _STC_CELL_C), groups)
    p_rear = module_power(at_lit(with_rear))
    p_hot = p_rear
    if rear != 1.0:
        p_hot = module_power(group_conditions(fit, soiled, result.temp_cell[lit.steps], groups))
    p_toleranced = p_rear
    if tolerance != 1.0:
        p_toleranced = module_power(at_lit(scale_current(with_rear, tolerance)))
    return (
        *(each * power_stc / 1000.0 for each in result.light),
        module_power(at_stc_heat),
        p_hot,
        p_rear,
        p_toleranced,
        module_power(at_lit(result.module)) if kept != 1.0 else p_toleranced,
    )


def _cell_temperature(plane: Plane, poa_global: FloatArray, weather: xr.Dataset) -> FloatArray:
    arguments = (
        plane.mounting,
        poa_global / plane.heat_loss_factor,  # as if the heat loss were larger by it
        weather.variables["temp_air"].to_numpy(),
        weather.variables["wind_speed"].to_numpy(),
        weather.attrs["wind_height_m"],
    )
    interval_s = weather.attrs["interval_s"]
    if interval_s < _TRANSIENT_BELOW_S:
        times = pd.DatetimeIndex(weather.indexes["time"])
        return heat.transient_cell_temperature(*arguments, times)
    return heat.cell_temperature(*arguments)


def group_conditions(
    fit: datasheet.DiodeFit, irradiance: FloatArray, temp_cell: FloatArray, groups: int
) -> CellConditions:
    """Return diode parameters of one cell group, each (time, 1).

    Parameters
    ----------
    fit : DiodeFit
        The module's diode.
    irradiance, temp_cell : ndarray
        [W/m2], [degC] (time,).
    groups : int
        Cell groups of a module.
    """
    module = datasheet.diode_parameters(fit, irradiance, temp_cell)
    return CellConditions(
        photocurrent=module.photocurrent[:, None],
        saturation_current=module.saturation_current[:, None],
        resistance_series=module.resistance_series[:, None] / groups,
        resistance_shunt=module.resistance_shunt[:, None] / groups,
        n_ns_vth=module.n_ns_vth[:, None] / groups,
    )


def scale_current(conditions: CellConditions, factor: float | FloatArray) -> CellConditions:
    """Scale a cell group's current at every voltage, hence its power, by a factor.

    Parameters
    ----------
    conditions : CellConditions
        Diode parameters, each (time, plane).
    factor : float or ndarray
        One for all, or one for each plane (plane,).
    """
    return CellConditions(
        photocurrent=conditions.photocurrent * factor,
        saturation_current=conditions.saturation_current * factor,
        resistance_series=conditions.resistance_series / factor,
        resistance_shunt=conditions.resistance_shunt / factor,
        n_ns_vth=conditions.n_ns_vth,
    )
