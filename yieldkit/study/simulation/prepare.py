"""What doesn't depend on the wiring: sun, planes, cells and diode parameters, once per site."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
import xarray as xr

from yieldkit.base.arrays import BoolArray, FloatArray
from yieldkit.config.site.site import Site
from yieldkit.design.equipment.conversion import conversion_curve
from yieldkit.design.equipment.modules import fit_module_type, module_power_stc
from yieldkit.physics.ac.conversion_curves import ConversionCurve, ListedConversion
from yieldkit.physics.circuit.api import CellConditions
from yieldkit.physics.irradiance.sun import Sun, sun_instants, sun_position
from yieldkit.study.simulation.assumptions import site_assumptions
from yieldkit.study.simulation.period import Period, covered_period, masked, present_steps
from yieldkit.study.simulation.planes import (
    PlaneCells,
    lit_steps,
    module_stages,
    plane_cells,
)
from yieldkit.study.simulation.station import SunPlace, sun_place


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
    lit = lit_steps(weather, sun)
    groups = tuple(types[plane.module_type].bypass_diodes for plane in site.planes)
    module_power = np.array([module_power_stc(types[p.module_type]) for p in site.planes])
    results = [
        plane_cells(site, plane, fits[plane.module_type], own, weather, lit)
        for plane, own in zip(site.planes, groups, strict=True)
    ]
    power = [
        module_stages(result, lit, fits[plane.module_type], own, float(rated))
        for result, plane, own, rated in zip(
            results, site.planes, groups, module_power, strict=True
        )
    ]
    hours = float(weather.attrs["interval_s"]) / 3600.0 / covered.averaged
    counted = present[lit.steps]
    stages = np.array([[stage[counted].sum() * hours / 1000.0 for stage in own] for own in power]).T
    remarks = tuple(text for text in (place.remark, *covered.remarks()) if text)
    return Prepared(
        site=site,
        weather=weather,
        planes=_dataset(site, weather, results, [lit.everywhere(own[-1]) for own in power]),
        conditions=_stack([result.module for result in results]),
        groups_per_module=groups,
        module_power=module_power,
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


def _stack(parts: list[CellConditions]) -> CellConditions:
    return CellConditions(
        *(
            np.ascontiguousarray(np.concatenate(arrays, axis=1))
            for arrays in zip(*parts, strict=True)
        )
    )


def _dataset(
    site: Site, weather: xr.Dataset, results: list[PlaneCells], p_mp: list[FloatArray]
) -> xr.Dataset:
    names = [plane.name for plane in site.planes]
    columns = {
        "poa_global": [result.poa_global for result in results],
        "effective_irradiance": [result.effective_irradiance for result in results],
        "temp_cell": [result.temp_cell for result in results],
        "p_mp_module": p_mp,
    }
    return xr.Dataset(
        {name: (("time", "plane"), np.stack(values, axis=1)) for name, values in columns.items()},
        coords={"time": weather["time"].to_numpy(), "plane": names},
    )
