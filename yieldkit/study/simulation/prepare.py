"""What doesn't depend on the wiring: sun, planes, cells and diode parameters, once per site."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import xarray as xr

from yieldkit.base.arrays import BoolArray, FloatArray
from yieldkit.config.site.site import Site
from yieldkit.design.equipment.conversion import conversion_curve
from yieldkit.design.equipment.modules import fit_module_type, module_power_stc
from yieldkit.design.roof.scene import module_scenes
from yieldkit.physics.ac.conversion_curves import ConversionCurve, ListedConversion
from yieldkit.physics.circuit.api import CellConditions
from yieldkit.physics.irradiance.sun import Sun
from yieldkit.study.simulation.assumptions import site_assumptions
from yieldkit.study.simulation.budget_steps import STAGES
from yieldkit.study.simulation.daylit_months import present_steps
from yieldkit.study.simulation.measured import measured_remark
from yieldkit.study.simulation.month_weights import weighed
from yieldkit.study.simulation.period import Period, masked
from yieldkit.study.simulation.plane_arrays import planes_dataset, side_by_side
from yieldkit.study.simulation.plane_light import Lit, lit_steps
from yieldkit.study.simulation.planes import PlaneCells, cells_under_snow, plane_cells
from yieldkit.study.simulation.shaded_planes import ShadedPlane
from yieldkit.study.simulation.snow import plane_snow
from yieldkit.study.simulation.station import SunPlace, sun_place
from yieldkit.study.simulation.threads import each_of
from yieldkit.study.simulation.under_sky import (
    LitPlane,
    Sky,
    lit_plane,
    sky_over,
    sky_weights,
    sun_at,
)
from yieldkit.study.simulation.within_step import WithinStep, within_sentences, within_step


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
    module_snowed : ndarray
        Energy of one module under snow that lies on all of a plane alike [kWh], (plane,).
    assumptions : tuple of str
        What was assumed, in sentences for the report.
    conversions : tuple of ConversionCurve or ListedConversion
        Conversion losses of each inverter.
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
    shaded : tuple of ShadedPlane or None
        Each plane's modules one by one, None where nothing can stand in their light; empty where
        nothing can anywhere.
    within : WithinStep or None
        What the weather's steps hide, where the site asks for it.
    """

    site: Site
    weather: xr.Dataset
    planes: xr.Dataset
    conditions: CellConditions
    groups_per_module: tuple[int, ...]
    module_power: FloatArray
    module_stages: FloatArray
    module_snowed: FloatArray
    assumptions: tuple[str, ...]
    conversions: tuple[ConversionCurve | ListedConversion, ...]
    period: Period
    present: BoolArray
    remarks: tuple[str, ...]
    distance_km: float
    unsolved_steps: int = 0
    shaded: tuple[ShadedPlane | None, ...] = ()
    within: WithinStep | None = None

    @property
    def interval_s(self) -> float:
        """Length of a step [s]."""
        return float(self.weather.attrs["interval_s"])

    @property
    def step_hours(self) -> float:
        """Hours a step counts in totals [h]: its length, shared by all years averaged."""
        return self.interval_s / 3600.0 / self.period.averaged

    @cached_property
    def weights(self) -> FloatArray | None:
        """What each step counts beside others [1] (time,); None where all count alike."""
        return sky_weights(self.weather, self.period)

    def total(self, power: FloatArray) -> float:
        """Return the energy of a power series [W] (time,) over the steps with weather [kWh].

        A value that is missing where there is weather makes the total missing.
        """
        return float(np.sum(weighed(power, self.weights)[self.present])) * self.step_hours / 1000.0

    def hours(self, flags: BoolArray) -> float:
        """Return for how long something holds (time,) [h]."""
        return float(np.sum(weighed(flags, self.weights)[self.present])) * self.step_hours

    @property
    def conversion(self) -> ConversionCurve | ListedConversion:
        """Conversion losses of a site's only inverter."""
        (only,) = self.conversions
        return only

    def each_inverter(self) -> tuple[Prepared, ...]:
        """Return the same for each inverter alone, with what hangs on it."""
        return tuple(
            replace(self, site=one.site, conversions=(conversion,))
            for one, conversion in zip(self.site.each_inverter(), self.conversions, strict=True)
        )

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
    sky = sky_over(place, weather, period)
    fits = {module.name: fit_module_type(module) for module in site.module_types}
    planes = each_of(
        lambda own: lit_plane(site, own[0], fits[own[0].module_type], sky, own[1]),
        tuple(zip(site.planes, module_scenes(site), strict=True)),
        sky.lit.size,
    )
    remarks = remarks_on(site, place, sky)
    within = within_planes(site, place, sky, planes)
    said = within_sentences(site, sky.weather, within)
    remarks = (*remarks, *(said if within is None else ()))
    assumed = site_assumptions(site, sky.weather, fits, sky.period)
    return replace(
        assembled(site, place, sky, planes),
        assumptions=(*remarks, *assumed, *(() if within is None else said)),
        remarks=remarks,
        within=within,
    )


def within_planes(
    site: Site, place: SunPlace, sky: Sky, planes: Sequence[LitPlane]
) -> WithinStep | None:
    """Return what the steps of a site's weather hide, where the site asks for it.

    Parameters
    ----------
    site, place, sky, planes
        As for `assembled`.
    """
    if site.weather.within_hour is None:
        return None
    fits = {module.name: fit_module_type(module) for module in site.module_types}
    own = [fits[plane.module_type] for plane in site.planes]
    cells = [plane.cells for plane in planes]
    return within_step(site, place, sky.weather, sky.lit, own, cells)


def remarks_on(site: Site, place: SunPlace, sky: Sky) -> tuple[str, ...]:
    """Return what must be said of the weather beside every result."""
    return tuple(
        text
        for text in (
            place.remark,
            measured_remark(site.planes, sky.weather),
            *sky.period.remarks(),
        )
        if text
    )


def assembled(site: Site, place: SunPlace, sky: Sky, planes: Sequence[LitPlane]) -> Prepared:
    """Put together what all wirings of a site share; nothing is said of assumptions.

    Parameters
    ----------
    site : Site
        The site.
    place : SunPlace
        Where its sun is looked at.
    sky : Sky
        Weather and sun there.
    planes : sequence of LitPlane
        Its planes under that sky, in their order.
    """
    cells = [plane.cells for plane in planes]
    return Prepared(
        site=site,
        weather=sky.weather,
        planes=planes_dataset(site, sky.weather, cells, [plane.p_mp_module for plane in planes]),
        conditions=side_by_side([own.module for own in cells]),
        groups_per_module=_groups(site),
        module_power=_module_power(site),
        module_stages=np.array([plane.stages for plane in planes]).T,
        module_snowed=np.array([plane.snowed for plane in planes]),
        assumptions=(),
        period=sky.period,
        present=sky.present,
        remarks=remarks_on(site, place, sky),
        distance_km=place.distance_km,
        conversions=inverter_conversions(site),
        shaded=_shaded([plane.shaded for plane in planes]),
    )


def prepare_cells(
    site: Site, weather: xr.Dataset, period: Period, sun: Sun | None = None
) -> Prepared:
    """Compute what wirings deliver from, and nothing that only tells where it comes from.

    For draws, of which nothing but energies is asked.

    Parameters
    ----------
    site, weather, period
        As for `prepare`.
    sun : Sun, optional
        The sun at the weather's steps, where it is known.

    Returns
    -------
    Prepared
        Like `prepare`'s, but energies of the budget's stages and module maxima are missing, and
        nothing is said of assumptions.
    """
    place = sun_place(site, weather)
    present = present_steps(weather)
    weather = masked(weather, present)
    lit = lit_steps(weather, sun_at(place, weather) if sun is None else sun)
    cells = _cells(site, weather, lit)
    unknown = np.full(lit.size, np.nan)
    return Prepared(
        site=site,
        weather=weather,
        planes=planes_dataset(site, weather, cells, [unknown] * len(cells)),
        conditions=side_by_side([own.module for own in cells]),
        groups_per_module=_groups(site),
        module_power=_module_power(site),
        module_stages=np.full((len(STAGES), len(cells)), np.nan),
        module_snowed=np.full(len(cells), np.nan),
        assumptions=(),
        period=period,
        present=present,
        remarks=(),
        distance_km=place.distance_km,
        conversions=inverter_conversions(site),
    )


def _shaded(planes: list[ShadedPlane | None]) -> tuple[ShadedPlane | None, ...]:
    return tuple(planes) if any(plane is not None for plane in planes) else ()


def weather_sun(site: Site, weather: xr.Dataset) -> Sun:
    """Return the sun at the steps of a site's weather.

    Parameters
    ----------
    site : Site
        The site.
    weather : Dataset
        Canonical weather (time).
    """
    return sun_at(sun_place(site, weather), weather)


def _cells(site: Site, weather: xr.Dataset, lit: Lit) -> list[PlaneCells]:
    """Follow every plane from the sky to its cells."""
    fits = {module.name: fit_module_type(module) for module in site.module_types}
    groups = _groups(site)

    def followed(at: int) -> PlaneCells:
        plane = site.planes[at]
        fit = fits[plane.module_type]
        cells = plane_cells(site, plane, fit, groups[at], weather, lit)
        snow = plane_snow(site, plane, weather, cells.poa_global)
        if snow is None or snow.lost is None:
            return cells
        return cells_under_snow(cells, fit, groups[at], lit, snow.lost)

    return each_of(followed, range(len(groups)), lit.size)


def inverter_conversions(site: Site) -> tuple[ConversionCurve | ListedConversion, ...]:
    """Return the conversion losses of each inverter of a site."""
    return tuple(conversion_curve(one.site.single_inverter) for one in site.each_inverter())


def _groups(site: Site) -> tuple[int, ...]:
    """Return the cell groups of a module of each plane."""
    types = {module.name: module for module in site.module_types}
    return tuple(types[plane.module_type].bypass_diodes for plane in site.planes)


def _module_power(site: Site) -> FloatArray:
    """Return the nameplate power of a module of each plane [W] (plane,)."""
    types = {module.name: module for module in site.module_types}
    return np.array([module_power_stc(types[plane.module_type]) for plane in site.planes])
