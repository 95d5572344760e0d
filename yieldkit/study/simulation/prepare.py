"""What doesn't depend on the wiring: sun, planes, cells and diode parameters, once per site."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
import xarray as xr

from yieldkit.base.arrays import BoolArray, FloatArray
from yieldkit.config.models.modules import DatasheetModule, ListedModule
from yieldkit.config.models.planes import Plane
from yieldkit.config.site.site import Site
from yieldkit.design.equipment.conversion import conversion_curve
from yieldkit.design.equipment.modules import fit_module_type, module_power_stc
from yieldkit.physics.ac.conversion_curves import ConversionCurve, ListedConversion
from yieldkit.physics.circuit import api as circuit
from yieldkit.physics.circuit.api import CellConditions
from yieldkit.physics.irradiance import sky
from yieldkit.physics.irradiance.sun import Sun, sun_instants, sun_position
from yieldkit.physics.module import datasheet
from yieldkit.physics.module import temperature as heat
from yieldkit.study.simulation.assumptions import site_assumptions
from yieldkit.study.simulation.period import Period, covered_period, masked, present_steps
from yieldkit.study.simulation.station import SunPlace, sun_place

STAGES = (
    "nameplate",
    "horizon and obstacles",
    "incidence angle",
    "soiling",
    "low-light efficiency",
    "temperature",
    "rear gain",
    "module tolerance and light-induced loss",
)
_STC_CELL_C = 25.0
_TRANSIENT_BELOW_S = 900


@dataclass(frozen=True)
class Prepared:
    """Everything that the candidate wirings of a site share.

    Parameters
    ----------
    site : Site
        The site it was made from.
    weather : Dataset
        Canonical weather (time).
    planes : Dataset
        Irradiances, temperatures and module maxima (time, plane).
    conditions : CellConditions
        Diode parameters of one cell group, each (time, plane).
    groups_per_module : tuple of int
        Cell groups (bypass diodes) of a module, per plane.
    module_power : ndarray
        Nameplate power of a module [W], per plane.
    module_stages : ndarray
        Energy of one module after each of `STAGES` [kWh], (stage, plane).
    assumptions : tuple of str
        What was assumed, in sentences for the report.
    conversion : ConversionCurve or ListedConversion
        The inverter's conversion losses.
    period : Period
        What time the weather covers, and whether that is a year.
    present : ndarray of bool
        Steps that have weather (time,); the others are missing in every result.
    remarks : tuple of str
        What must be said of the weather beside every result.
    distance_km : float
        From the weather's station to the site; nan where no station is named.
    unsolved_steps : int
        Steps left out, like steps without weather, because their circuit could not be solved.
    """

    site: Site
    weather: xr.Dataset
    planes: xr.Dataset
    conditions: CellConditions
    groups_per_module: tuple[int, ...]
    module_power: FloatArray
    module_stages: FloatArray
    assumptions: tuple[str, ...]
    conversion: ConversionCurve | ListedConversion
    period: Period
    present: BoolArray
    remarks: tuple[str, ...]
    distance_km: float
    unsolved_steps: int = 0

    @property
    def interval_s(self) -> float:
        """Length of a step [s]."""
        return float(self.weather.attrs["interval_s"])

    @property
    def step_hours(self) -> float:
        """Hours a step counts in totals [h]: its length, shared by all years averaged."""
        return self.interval_s / 3600.0 / self.period.averaged

    def total(self, power: FloatArray) -> float:
        """Return the energy of a power series [W] (time,) over the steps with weather [kWh].

        A value that is missing where there is weather makes the total missing.
        """
        return float(np.sum(power[self.present])) * self.step_hours / 1000.0

    def hours(self, flags: BoolArray) -> float:
        """Return for how long something holds (time,) [h]."""
        return float(np.sum(flags[self.present])) * self.step_hours

    def plane_index(self, name: str) -> int:
        """Return the position of a plane by its name."""
        return [plane.name for plane in self.site.planes].index(name)


@dataclass(frozen=True)
class _PlaneResult:
    poa_global: FloatArray
    effective_irradiance: FloatArray
    temp_cell: FloatArray
    module: CellConditions
    stages: tuple[FloatArray, ...]


def prepare(site: Site, weather: xr.Dataset, period: Period | None = None) -> Prepared:
    """Compute what all wirings of a site share.

    Parameters
    ----------
    site : Site
        The building, its planes and equipment.
    weather : Dataset
        Canonical weather (time).
    period : Period, optional
        What time it covers, where that was decided on weather it was made from.

    Returns
    -------
    Prepared
        Irradiance, temperatures, diode parameters and the wiring-free steps of the loss budget;
        missing where weather is.

    Raises
    ------
    InputError
        For weather of a place too far away.
    """
    place = sun_place(site, weather)
    present = present_steps(weather)
    weather = masked(weather, present)
    sun = _sun(place, weather)
    covered = covered_period(weather, sun, place[:3]) if period is None else period
    types = {module.name: module for module in site.module_types}
    fits = {name: fit_module_type(module) for name, module in types.items()}
    results = [
        _plane(site, plane, types[plane.module_type], fits[plane.module_type], weather, sun)
        for plane in site.planes
    ]
    groups = tuple(types[plane.module_type].bypass_diodes for plane in site.planes)
    hours = float(weather.attrs["interval_s"]) / 3600.0 / covered.averaged
    stages = np.array(
        [[stage[present].sum() * hours / 1000.0 for stage in result.stages] for result in results]
    ).T
    remarks = tuple(text for text in (place.remark, *covered.remarks()) if text)
    return Prepared(
        site=site,
        weather=weather,
        planes=_dataset(site, weather, results),
        conditions=_stack([result.module for result in results]),
        groups_per_module=groups,
        module_power=np.array([module_power_stc(types[p.module_type]) for p in site.planes]),
        module_stages=stages,
        assumptions=(*remarks, *site_assumptions(site, weather, fits, covered)),
        period=covered,
        present=present,
        remarks=remarks,
        distance_km=place.distance_km,
        conversion=conversion_curve(site.inverter),
    )


def _sun(place: SunPlace, weather: xr.Dataset) -> Sun:
    attrs = weather.attrs
    spot = (place.latitude, place.longitude, place.altitude_m)
    starts = pd.DatetimeIndex(weather.indexes["time"]).tz_localize("UTC")
    instants = sun_instants(
        starts, attrs["interval_s"], attrs["sampling"], attrs["sun_offset_s"], *spot
    )
    return sun_position(instants, *spot)


def _plane(
    site: Site,
    plane: Plane,
    module_type: DatasheetModule | ListedModule,
    fit: datasheet.DiodeFit,
    weather: xr.Dataset,
    sun: Sun,
) -> _PlaneResult:
    """Follow one plane from the sky to its cells."""
    models = site.models
    open_sky = sky.plane_irradiance(
        sun,
        sky.Horizontal(*(weather[name].to_numpy() for name in ("ghi", "dni", "dhi"))),
        site.site.albedo,
        plane.tilt_deg,
        plane.azimuth_deg,
        models.transposition,
        models.isotropic_share,
    )
    seen = open_sky
    if plane.horizon:
        seen = sky.with_horizon(
            open_sky,
            sun,
            np.array([point.azimuth_deg for point in plane.horizon]),
            np.array([point.elevation_deg for point in plane.horizon]),
            plane.tilt_deg,
            plane.azimuth_deg,
        )
    modifiers = sky.incidence_modifiers(seen.aoi, plane.tilt_deg, models.incidence)
    clean = sky.effective_irradiance(seen, modifiers)
    soiled = clean * (1.0 - plane.soiling_loss_percent / 100.0)
    rear = 1.0 + plane.rear_gain_percent / 100.0
    temp_cell = _cell_temperature(plane, seen.poa_global * rear, weather)
    power_stc = module_power_stc(module_type)
    quality = 1.0 + plane.power_deviation_percent / 100.0
    groups = module_type.bypass_diodes

    at_stc_heat = _group(fit, soiled, np.full_like(soiled, _STC_CELL_C), groups)
    hot = _group(fit, soiled, temp_cell, groups)
    with_rear = _group(fit, soiled * rear, temp_cell, groups) if rear != 1.0 else hot
    final = scale_current(with_rear, quality) if quality != 1.0 else with_rear

    def module_power(conditions: CellConditions) -> FloatArray:
        return groups * circuit.group_maxima(conditions)[:, 0]

    p_hot = module_power(hot)
    p_rear = module_power(with_rear) if rear != 1.0 else p_hot
    p_final = module_power(final) if quality != 1.0 else p_rear
    stages = (
        open_sky.poa_global * power_stc / 1000.0,
        seen.poa_global * power_stc / 1000.0,
        clean * power_stc / 1000.0,
        soiled * power_stc / 1000.0,
        module_power(at_stc_heat),
        p_hot,
        p_rear,
        p_final,
    )
    return _PlaneResult(open_sky.poa_global, soiled * rear, temp_cell, final, stages)


def _cell_temperature(plane: Plane, poa_global: FloatArray, weather: xr.Dataset) -> FloatArray:
    arguments = (
        plane.mounting,
        poa_global / plane.heat_loss_factor,  # as if the heat loss were larger by it
        weather["temp_air"].to_numpy(),
        weather["wind_speed"].to_numpy(),
        weather.attrs["wind_height_m"],
    )
    interval_s = weather.attrs["interval_s"]
    if interval_s < _TRANSIENT_BELOW_S:
        times = pd.DatetimeIndex(weather.indexes["time"])
        return heat.transient_cell_temperature(*arguments, times)
    return heat.cell_temperature(*arguments)


def _group(
    fit: datasheet.DiodeFit, irradiance: FloatArray, temp_cell: FloatArray, groups: int
) -> CellConditions:
    """Diode parameters of one cell group, each (time, 1)."""
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


def _stack(parts: list[CellConditions]) -> CellConditions:
    return CellConditions(
        *(
            np.ascontiguousarray(np.concatenate(arrays, axis=1))
            for arrays in zip(*parts, strict=True)
        )
    )


def _dataset(site: Site, weather: xr.Dataset, results: list[_PlaneResult]) -> xr.Dataset:
    names = [plane.name for plane in site.planes]
    columns = {
        "poa_global": [result.poa_global for result in results],
        "effective_irradiance": [result.effective_irradiance for result in results],
        "temp_cell": [result.temp_cell for result in results],
        "p_mp_module": [result.stages[-1] for result in results],
    }
    return xr.Dataset(
        {name: (("time", "plane"), np.stack(values, axis=1)) for name, values in columns.items()},
        coords={"time": weather["time"].to_numpy(), "plane": names},
    )
