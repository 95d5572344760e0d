"""A plane from the sky to its cells, and what one of its modules gives on the way."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import pandas as pd
import xarray as xr

from yieldkit.base.arrays import FloatArray
from yieldkit.config.models.planes import Plane
from yieldkit.config.site.site import Site
from yieldkit.physics.circuit import api as circuit
from yieldkit.physics.circuit.api import CellConditions
from yieldkit.physics.module import datasheet
from yieldkit.physics.module import temperature as heat
from yieldkit.study.simulation.measured import measured_cells
from yieldkit.study.simulation.plane_light import Lit, PlaneLight, plane_light
from yieldkit.study.simulation.soiling import soiling_share

_STC_CELL_C = 25.0
_TRANSIENT_BELOW_S = 900


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
    on_plane : PlaneLight
        Light on the plane and through its glass, in its parts (lit step,).
    """

    poa_global: FloatArray
    effective_irradiance: FloatArray
    temp_cell: FloatArray
    module: CellConditions
    light: tuple[FloatArray, ...]
    soiled: float | FloatArray
    gains: tuple[CellConditions, float, float, float]
    on_plane: PlaneLight


def plane_cells(
    site: Site,
    plane: Plane,
    fit: datasheet.DiodeFit,
    groups: int,
    weather: xr.Dataset,
    lit: Lit,
    soiled: float | FloatArray | None = None,
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
    soiled : float or ndarray, optional
        Share of the light that dirt takes [1], one for all steps or each one's (time,); by the
        plane's own file if left out.
    """
    light = plane_light(site, plane, weather, lit)
    seen, clean = light.seen, light.clean
    lost = soiling_share(plane, weather) if soiled is None else soiled
    if isinstance(lost, np.ndarray):
        lost = lost[lit.steps]
    behind_dirt = clean * (1.0 - lost)
    rear = 1.0 + plane.rear_gain_percent / 100.0
    on_glass = lit.everywhere(seen.poa_global)
    temp_cell = measured_cells(plane, weather, on_glass)
    if temp_cell is None:
        temp_cell = _cell_temperature(plane, on_glass * rear, weather)
    effective = lit.everywhere(behind_dirt * rear)
    with_rear = group_conditions(fit, effective, temp_cell, groups)
    tolerance = 1.0 + plane.power_deviation_percent / 100.0
    kept = 1.0 - plane.initial_loss_percent / 100.0
    quality = tolerance * kept
    final = scale_current(with_rear, quality) if quality != 1.0 else with_rear
    poa_global = lit.everywhere(light.under_sky)
    stages = light.under_sky, seen.poa_global, clean, behind_dirt
    gains = with_rear, rear, tolerance, kept
    return PlaneCells(poa_global, effective, temp_cell, final, stages, lost, gains, light)


def cells_under_snow(
    cells: PlaneCells, fit: datasheet.DiodeFit, groups: int, lit: Lit, lost: FloatArray
) -> PlaneCells:
    """Return a plane's cells as snow leaves them light, the same for all modules.

    Parameters
    ----------
    cells : PlaneCells
        Without snow.
    fit : DiodeFit
        The diode of its modules.
    groups : int
        Cell groups of a module.
    lit : Lit
        The steps with light.
    lost : ndarray
        Share of the light that snow takes [1] (time,).

    Returns
    -------
    PlaneCells
        What dirt takes holds what snow takes as well.
    """
    _, _, tolerance, kept = cells.gains
    effective = cells.effective_irradiance * (1.0 - lost)
    module = group_conditions(fit, effective, cells.temp_cell, groups)
    module = scale_current(module, tolerance * kept)
    covered = 1.0 - (1.0 - cells.soiled) * (1.0 - lost[lit.steps])
    return cells._replace(effective_irradiance=effective, module=module, soiled=covered)


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
