"""What a step of the weather hides: its planes' cells minute by minute, and under extreme skies."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from threading import Lock
from typing import Any, NamedTuple

import numpy as np
import pandas as pd
import xarray as xr

from yieldkit.base.arrays import FloatArray, IntArray
from yieldkit.base.errors import refuse
from yieldkit.config.site.site import Site
from yieldkit.physics.circuit.api import CellConditions
from yieldkit.physics.irradiance.cloudless import beam_below
from yieldkit.physics.irradiance.sky import Horizontal
from yieldkit.physics.irradiance.sun import sun_position
from yieldkit.physics.irradiance.sun_course import nanoseconds
from yieldkit.physics.module.datasheet import DiodeFit
from yieldkit.study.simulation.minute_rows import PARTED, Rows, laid, weather_rows
from yieldkit.study.simulation.minute_source import site_minutes
from yieldkit.study.simulation.plane_light import Lit
from yieldkit.study.simulation.planes import PlaneCells, plane_cells
from yieldkit.study.simulation.station import SunPlace
from yieldkit.study.simulation.threads import each_of
from yieldkit.weather.readers.on_planes import measured_columns
from yieldkit.weather.shipped_minutes import are_minutes_shipped
from yieldkit.weather.within_hour import (
    Minutes,
    Spot,
    Steps,
    clearest_turbidity,
    draw_minutes,
)

_HOUR_S = 3600
_SHORT, _MOST_DRAWS = 2000, 8
"""A series with fewer lit steps is drawn several times, so often at most, and the mean is taken."""
_HALF_MINUTE_NS = 30_000_000_000


class AllOrNothing(NamedTuple):
    """Each step's sun either as on the clearest hours or not at all.

    Parameters
    ----------
    share : ndarray
        For which share of the step it shines (time,).
    shining, hidden : CellConditions
        Each (time, plane).
    """

    share: FloatArray
    shining: CellConditions
    hidden: CellConditions


@dataclass(frozen=True)
class WithinStep:
    """What a weather's steps hide.

    Parameters
    ----------
    minutes : Rows or None
        Minutes drawn for them; None where nothing is hidden that could be drawn.
    extremes : AllOrNothing
        What they hide at most.
    said : tuple of str
        Sentences for the report.
    solved : dict
        Trackers solved on them, by what they are made of; filled on the way.
    once : Lock
        So that two threads don't solve the same.
    """

    minutes: Rows | None
    extremes: AllOrNothing
    said: tuple[str, ...]
    solved: dict[Any, Any] = field(default_factory=dict, repr=False)
    once: Lock = field(default_factory=Lock, repr=False)


def why_not_within(site: Site, weather: xr.Dataset) -> str:
    """Return why a site that asks for it gets nothing below its steps; empty where it does.

    Parameters
    ----------
    site : Site
        The site.
    weather : Dataset
        Canonical weather (time).

    Raises
    ------
    InputError
        If means are said to be smoothed snapshots.
    """
    said, attrs = site.weather.within_hour, weather.attrs
    if said is None:
        return "not asked for"
    if said.smoothed_over_min is not None and attrs["sampling"] == "mean":
        refuse(
            "weather.within_hour.smoothed_over_min",
            f"{said.smoothed_over_min} minutes on weather of means over {attrs['interval_s']:g} s",
            "a smoothing of snapshots only",
            remedy="Leave it out: means are refined as they are.",
        )
    if measured_columns(weather.data_vars):
        return "a plane's light or heat is measured, and its minutes aren't known"
    if attrs["sampling"] == "mean" and attrs["interval_s"] != _HOUR_S:
        return f"it is for hourly means, and the weather has steps of {attrs['interval_s']:g} s"
    if said.minutes is None and not are_minutes_shipped():
        return "no measured minutes come with this package; weather.within_hour.minutes names some"
    return ""


def within_step(
    site: Site,
    place: SunPlace,
    weather: xr.Dataset,
    lit: Lit,
    fits: Sequence[DiodeFit],
    cells: Sequence[PlaneCells],
) -> WithinStep | None:
    """Return what the steps of a site's weather hide, where the site asks for it.

    Parameters
    ----------
    site : Site
        The site.
    place : SunPlace
        Where its sun is looked at.
    weather : Dataset
        Canonical weather (time).
    lit : Lit
        Sun and light of its lit steps.
    fits : sequence of DiodeFit
        The diode of each plane's modules.
    cells : sequence of PlaneCells
        The planes' cells at the steps themselves.

    Raises
    ------
    InputError
        As `site_minutes` and `why_not_within`.
    """
    if why_not_within(site, weather):
        return None
    own = _Hidden(site, Spot(*place[:3]), weather, lit, tuple(fits), tuple(cells))
    minutes, said = own.drawn()
    return WithinStep(minutes, own.extremes(), said)


def within_sentences(site: Site, weather: xr.Dataset, within: WithinStep | None) -> tuple[str, ...]:
    """Return what to say of what a weather's steps hide, in sentences for the report.

    Parameters
    ----------
    site : Site
        The site.
    weather : Dataset
        Canonical weather (time).
    within : WithinStep or None
        What they hide.
    """
    if site.weather.within_hour is None:
        return ()
    if within is None:
        return (f"Fluctuation within the step is NOT MODELLED: {why_not_within(site, weather)}.",)
    return within.said


def not_within(site: Site, within: WithinStep | None) -> tuple[str, ...]:
    """Return the step that a site asks for and doesn't get, in words, if so.

    Parameters
    ----------
    site : Site
        The site.
    within : WithinStep or None
        What its weather's steps hide.
    """
    lacking = site.weather.within_hour is not None and within is None
    return ("fluctuation within the step",) if lacking else ()


class _Hidden(NamedTuple):
    """Parts that go into it, as of `within_step`."""

    site: Site
    spot: Spot
    weather: xr.Dataset
    lit: Lit
    fits: tuple[DiodeFit, ...]
    cells: tuple[PlaneCells, ...]

    def drawn(self) -> tuple[Rows | None, tuple[str, ...]]:
        """Return the minutes, and what to say of them."""
        asked, attrs = self.site.weather.within_hour, self.weather.attrs
        if asked is None:
            raise TypeError("a site that asks for nothing below its steps")
        smoothed = asked.smoothed_over_min
        if attrs["sampling"] == "snapshot" and smoothed is None:
            return None, (
                "Fluctuation within the step: none for snapshots, which are no means. If they are "
                "means over some minutes all the same, weather.within_hour.smoothed_over_min "
                "says so.",
            )
        span, lead = (60, 0) if smoothed is None else (smoothed, PARTED)
        library = site_minutes(self.site)
        steps = self._steps(span if smoothed else 0)
        if steps.dni.size == 0:
            return None, ()
        draws = int(np.clip(-(-_SHORT // steps.dni.size), 1, _MOST_DRAWS))
        found = [
            draw_minutes(steps, span, lead, self.spot, library, asked.seed + number)
            for number in range(draws)
        ]
        said = (
            f"Fluctuation within the step: minutes drawn from {library.title}, by like beam, "
            f"clearness and neighbours; each step's direct and diffuse mean stays. Seed "
            f"{asked.seed}{f', {draws} draws' if draws > 1 else ''}. Voltages, inputs' powers and "
            "hours at limits are those of the means; energies at the meter those of the minutes."
        )
        credit = (f"Measured minutes: {library.attribution}",) if library.attribution else ()
        return self._rows(found, lead), (said, *credit)

    def _steps(self, centred_min: int) -> Steps:
        """Return the lit steps; snapshots as means round their instant."""
        attrs, at = self.weather.attrs, self._known()
        begins = nanoseconds(pd.DatetimeIndex(self.weather.indexes["time"]))[self.lit.steps[at]]
        if centred_min:
            begins = begins + round(attrs["sun_offset_s"] * 1e9) - centred_min * _HALF_MINUTE_NS
        light = self.lit.light
        return Steps(begins, light.dni[at], light.dhi[at])

    def _known(self) -> IntArray:
        """Return which of the lit steps have all their values, by their positions."""
        return np.flatnonzero(np.all([np.isfinite(part) for part in self.lit.light], axis=0))

    def _rows(self, drawn: Sequence[Minutes], lead: int) -> Rows:
        """Return the cells of drawn minutes; those of the lead are only remembered."""
        known = self._known()
        rows = [laid(each, lead) for each in drawn]
        instants, dni, dhi, of_step, part = (
            np.concatenate(each) for each in zip(*rows, strict=True)
        )
        step = np.where(of_step >= 0, known[of_step], -1)
        lit_step = step
        step = np.where(step >= 0, self.lit.steps[step], -1)
        conditions = self._cells(instants, dni, dhi, lit_step, step)
        counted = np.flatnonzero((step >= 0) & (part >= 0))
        order = counted[np.argsort(step[counted], kind="stable")]
        span = drawn[0].dni.shape[1] - lead
        return Rows(
            step[order],
            np.bincount(step[order], minlength=self.lit.size).astype(float),
            part[order],
            span,
            CellConditions(*(np.ascontiguousarray(each[order]) for each in conditions)),
        )

    def _cells(
        self,
        instants: IntArray,
        dni: FloatArray,
        dhi: FloatArray,
        lit_step: IntArray,
        step: IntArray,
    ) -> CellConditions:
        """Return the cells at rows of minutes, each (row, plane); rows between nights are nan."""
        index = pd.DatetimeIndex(instants.view("datetime64[ns]")).tz_localize("UTC")
        sun = sun_position(index, *self.spot)
        level = np.maximum(np.cos(np.radians(sun.zenith)), 0.0)
        rows = np.flatnonzero(step >= 0)
        light = Horizontal(dni[rows] * level[rows] + dhi[rows], dni[rows], dhi[rows])
        lit = Lit(rows, step.size, sun.at(rows), light)
        weather = weather_rows(self.weather, instants, step)
        own = lit_step[rows]

        def followed(at: int) -> CellConditions:
            plane, cells = self.site.planes[at], self.cells[at]
            soil = lit.everywhere(_lost(cells, self.lit)[own])
            groups = _groups(self.site, at)
            found = plane_cells(self.site, plane, self.fits[at], groups, weather, lit, soil)
            return found.module

        parts = each_of(followed, range(len(self.cells)), step.size)
        return CellConditions(*(np.concatenate(each, axis=1) for each in zip(*parts, strict=True)))

    def extremes(self) -> AllOrNothing:
        """Return each step's sun as on the clearest hours, and hidden."""
        lit, known = self.lit, self._known()
        steps = self._steps(0)
        interval_s = int(self.weather.attrs["interval_s"])
        turbidity = clearest_turbidity(steps, interval_s // 60, self.spot)
        cloudless = np.zeros(lit.steps.size)
        cloudless[known] = beam_below(lit.sun.at(known), turbidity, self.spot.altitude_m)
        bright = np.where(lit.light.dni > 0.0, np.maximum(cloudless, lit.light.dni), 0.0)
        share = np.divide(lit.light.dni, bright, out=np.ones_like(bright), where=bright > 0.0)
        level = np.maximum(np.cos(np.radians(lit.sun.zenith)), 0.0)
        both = []
        for dni in (bright, np.zeros_like(bright)):
            light = Horizontal(lit.light.dhi + dni * level, dni, lit.light.dhi)
            parts = [
                plane_cells(
                    self.site,
                    self.site.planes[at],
                    self.fits[at],
                    _groups(self.site, at),
                    self.weather,
                    lit._replace(light=light),
                    lit.everywhere(_lost(self.cells[at], lit)),
                ).module
                for at in range(len(self.cells))
            ]
            both.append(
                CellConditions(*(np.concatenate(each, axis=1) for each in zip(*parts, strict=True)))
            )
        every = np.ones(lit.size)
        every[lit.steps] = share
        return AllOrNothing(every, *both)


def _lost(cells: PlaneCells, lit: Lit) -> FloatArray:
    """Return the share of light that dirt, and snow on all modules alike, take [1] (lit step,)."""
    behind_glass = cells.light[2] * cells.gains[1]
    kept = np.divide(
        cells.effective_irradiance[lit.steps],
        behind_glass,
        out=np.ones_like(behind_glass),
        where=behind_glass > 0.0,
    )
    return np.clip(1.0 - kept, 0.0, 1.0)


def _groups(site: Site, plane: int) -> int:
    types = {module.name: module.bypass_diodes for module in site.module_types}
    return types[site.planes[plane].module_type]
