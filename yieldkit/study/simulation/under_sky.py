"""A weather series over a place, and a plane under it: what doesn't depend on other planes."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import pandas as pd
import xarray as xr

from yieldkit.base.arrays import BoolArray, FloatArray
from yieldkit.config.models.planes import Plane
from yieldkit.config.site.site import Site
from yieldkit.design.equipment.modules import module_power_stc
from yieldkit.design.roof.scene import PlaneScene
from yieldkit.physics.circuit.api import CellConditions, group_maxima
from yieldkit.physics.irradiance.sun import Sun, sun_instants, sun_position
from yieldkit.physics.module.datasheet import DiodeFit
from yieldkit.study.simulation.daylit_months import present_steps
from yieldkit.study.simulation.month_weights import weights_at
from yieldkit.study.simulation.period import Period, covered_period, masked
from yieldkit.study.simulation.plane_light import Lit, light_components, lit_steps
from yieldkit.study.simulation.planes import (
    PlaneCells,
    cells_under_snow,
    module_stages,
    plane_cells,
)
from yieldkit.study.simulation.shaded_planes import ShadedPlane, shaded_plane
from yieldkit.study.simulation.snow import plane_snow
from yieldkit.study.simulation.station import SunPlace


class Sky(NamedTuple):
    """A weather series over a place, as its planes see it.

    Parameters
    ----------
    weather : Dataset
        Canonical weather (time); a step that lacks anything lacks everything.
    present : ndarray of bool
        Steps that have weather (time,).
    lit : Lit
        Sun and light of the steps that have any.
    period : Period
        What time it covers.
    """

    weather: xr.Dataset
    present: BoolArray
    lit: Lit
    period: Period

    @property
    def step_hours(self) -> float:
        """Hours a step counts in totals [h]."""
        return float(self.weather.attrs["interval_s"]) / 3600.0 / self.period.averaged


class LitPlane(NamedTuple):
    """A plane under a sky.

    Parameters
    ----------
    cells : PlaneCells
        Its cells.
    p_mp_module : ndarray
        Maximum of one module standing alone [W] (time,).
    stages : tuple of float
        Energy of one module after each of `STAGES` [kWh].
    snowed : float
        Energy of one module under snow that lies on all alike [kWh].
    shaded : ShadedPlane, optional
        Its modules one by one, where something may stand in their light or snow lies on some.
    """

    cells: PlaneCells
    p_mp_module: FloatArray
    stages: tuple[float, ...]
    snowed: float
    shaded: ShadedPlane | None = None


def sky_weights(weather: xr.Dataset, period: Period) -> FloatArray | None:
    """Return what each step of weather counts in a period's totals [1] (time,).

    Parameters
    ----------
    weather : Dataset
        Canonical weather (time).
    period : Period
        What time it covers.

    Returns
    -------
    ndarray or None
        None where all count alike.
    """
    starts = pd.DatetimeIndex(weather.indexes["time"])
    return weights_at(period.month_times, starts, float(weather.attrs["utc_offset_s"]))


def sky_over(place: SunPlace, weather: xr.Dataset, period: Period | None = None) -> Sky:
    """Return a weather series as the planes at a place see it.

    Parameters
    ----------
    place : SunPlace
        Where the sun is looked at.
    weather : Dataset
        Canonical weather (time).
    period : Period, optional
        As for `prepare`.
    """
    present = present_steps(weather)
    weather = masked(weather, present)
    sun = sun_at(place, weather)
    covered = covered_period(weather, sun, place[:3]) if period is None else period
    return Sky(weather, present, lit_steps(weather, sun), covered)


def lit_plane(
    site: Site, plane: Plane, fit: DiodeFit, sky: Sky, scene: PlaneScene | None = None
) -> LitPlane:
    """Follow a plane of a site to its cells, and to what one of its modules gives.

    Parameters
    ----------
    site : Site
        Albedo, models and module types.
    plane : Plane
        The plane.
    fit : DiodeFit
        The diode of its modules.
    sky : Sky
        Weather and sun.
    scene : PlaneScene, optional
        Its modules and what may stand in their light.
    """
    module = next(each for each in site.module_types if each.name == plane.module_type)
    groups = module.bypass_diodes
    cells = plane_cells(site, plane, fit, groups, sky.weather, sky.lit)
    powers = module_stages(cells, sky.lit, fit, groups, module_power_stc(module))
    there, weights = sky.present[sky.lit.steps], sky_weights(sky.weather, sky.period)
    counted: BoolArray | FloatArray = there
    if weights is not None:
        counted = np.where(there, weights[sky.lit.steps], 0.0)

    def energy(power: FloatArray) -> float:
        own = power if weights is None else power * counted
        return float(own[there].sum() * sky.step_hours / 1000.0)

    stages = tuple(energy(power) for power in powers)
    snow = plane_snow(site, plane, sky.weather, cells.poa_global)
    under, power, snowed = cells, powers[-1], stages[-1]
    if snow is not None and snow.lost is not None:
        under = cells_under_snow(cells, fit, groups, sky.lit, snow.lost)
        lit = CellConditions(*(part[sky.lit.steps] for part in under.module))
        power = groups * group_maxima(lit)[:, 0]
        snowed = energy(power)
    shaded = None
    if scene is not None:
        light = light_components(site, plane, sky.lit, cells.on_plane, cells.soiled)
        shaded = shaded_plane(scene, light, fit, groups, sky.weather, sky.lit, cells, counted, snow)
    return LitPlane(under, sky.lit.everywhere(power), stages, snowed, shaded)


def sun_at(place: SunPlace, weather: xr.Dataset) -> Sun:
    """Return the sun at the steps of a weather series, seen from a place."""
    attrs = weather.attrs
    spot = (place.latitude, place.longitude, place.altitude_m)
    starts = pd.DatetimeIndex(weather.indexes["time"]).tz_localize("UTC")
    instants = sun_instants(
        starts, attrs["interval_s"], attrs["sampling"], attrs["sun_offset_s"], *spot
    )
    return sun_position(instants, *spot)
