"""The whole chain once, under one draw: what a wiring delivers in each month of a year."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

import numpy as np
import xarray as xr

from yieldkit.base.arrays import FloatArray
from yieldkit.config.models.snow import Snow, SnowByMonth
from yieldkit.config.site.site import Site, Wiring
from yieldkit.study.estimate.ageing import aged
from yieldkit.study.estimate.unknowns import AGEING, SNOW
from yieldkit.study.estimate.weather_years import DrawnYear
from yieldkit.study.simulation.ac_side import alternating_side
from yieldkit.study.simulation.dc_side import direct_sides
from yieldkit.study.simulation.prepare import Prepared, prepare, prepare_cells
from yieldkit.study.simulation.soiling import months
from yieldkit.study.simulation.trackers import Solutions
from yieldkit.study.simulation.unsolved import darkened
from yieldkit.study.uncertainty.drawn_site import drawn_cells, drawn_conversion, drawn_site


class Subject(NamedTuple):
    """The wiring whose yield is estimated, on its site.

    Parameters
    ----------
    prepared : Prepared
        The site on its weather.
    wiring : Wiring
        The wiring.
    """

    prepared: Prepared
    wiring: Wiring

    @property
    def site(self) -> Site:
        """The site."""
        return self.prepared.site


class Metered(NamedTuple):
    """What passes the meter and the building behind it, each (time,) [W].

    Parameters
    ----------
    power : ndarray
        What arrives at the meter, less what the plant takes at night; nan where there is no
        weather.
    self_use, export : ndarray
        What of it the load takes at the same time, and what leaves.
    arriving : ndarray
        What would arrive without switch-off and at full availability.
    taken : ndarray
        What the plant itself takes at night.
    """

    power: FloatArray
    self_use: FloatArray
    export: FloatArray
    arriving: FloatArray
    taken: FloatArray


def delivered(prepared: Prepared, wiring: Wiring) -> FloatArray:
    """Return the power that arrives at the meter [W] (time,); nan where there is no weather.

    Parameters
    ----------
    prepared, wiring
        As for `metered`.
    """
    return metered(prepared, wiring).power


def metered(prepared: Prepared, wiring: Wiring) -> Metered:
    """Return what passes the meter.

    Parameters
    ----------
    prepared : Prepared
        The site on its weather; steps without a solution are left out like gaps.
    wiring : Wiring
        The wiring.
    """
    directs = direct_sides(prepared, wiring, Solutions())
    side = alternating_side(prepared, directs)
    unsolved = np.any([own.unsolved.any(axis=1) for own in side.points], axis=0)
    lacking = unsolved & prepared.present
    if lacking.any():
        return metered(darkened(prepared, lacking), wiring)
    return Metered(
        np.where(prepared.present, side.chain.fluctuating, np.nan),
        side.accounts.self_use,
        side.accounts.export,
        side.fed.arriving,
        side.fed.taken,
    )


def by_month(weather: xr.Dataset, power: FloatArray) -> FloatArray:
    """Return the energy of each calendar month of all steps together [kWh] (12,).

    Parameters
    ----------
    weather : Dataset
        Canonical weather (time), its clock as it is written.
    power : ndarray
        [W] (time,); nan counts as none.
    """
    hours = float(weather.attrs["interval_s"]) / 3600.0
    energy = np.nan_to_num(power) * hours / 1000.0
    found: FloatArray = np.bincount(months(weather), weights=energy, minlength=12).astype(float)
    return found


def drawn_months(
    subject: Subject, row: Mapping[str, float], year: DrawnYear, age_years: float = 0.0
) -> FloatArray:
    """Return what a wiring delivers in each month under one draw [kWh] (12,).

    Parameters
    ----------
    subject : Subject
        Site and wiring as the file has them.
    row : mapping of str to float
        The draw.
    year : DrawnYear
        The draw's weather.
    age_years : float
        The plant's age [years].
    """
    # By the clock of the undrawn weather: one that is off moves no step into another month.
    return by_month(year.weather, drawn_power(subject, row, year, age_years))


def drawn_power(
    subject: Subject, row: Mapping[str, float], year: DrawnYear, age_years: float = 0.0
) -> FloatArray:
    """Return the power that arrives at the meter under one draw [W] (time,).

    Parameters
    ----------
    subject, row, year, age_years
        As for `drawn_months`.
    """
    return drawn_meter(subject, row, year, age_years).power


def drawn_meter(
    subject: Subject, row: Mapping[str, float], year: DrawnYear, age_years: float = 0.0
) -> Metered:
    """Return what passes the meter under one draw.

    Parameters
    ----------
    subject, row, year, age_years
        As for `drawn_months`.
    """
    return metered(drawn_prepared(subject, row, year, age_years), subject.wiring)


def drawn_prepared(
    subject: Subject, row: Mapping[str, float], year: DrawnYear, age_years: float = 0.0
) -> Prepared:
    """Return a drawn site on drawn weather.

    Parameters
    ----------
    subject, row, year, age_years
        As for `drawn_months`.
    """
    site = _snowed(drawn_site(subject.prepared.site, row), row)
    if age_years > 0.0:
        site = aged(site, age_years, max(row[AGEING], 0.0))
    variant = _prepared(subject, site, year.drawn(row))
    return drawn_conversion(drawn_cells(variant, row), row)


def _prepared(subject: Subject, site: Site, weather: xr.Dataset) -> Prepared:
    """Return a drawn site on drawn weather, what its steps hide left to the share of the month."""
    prepared = subject.prepared
    if prepared.shaded:
        plain = site.weather.model_copy(update={"within_hour": None})
        return prepare(site.model_copy(update={"weather": plain}), weather, prepared.period)
    return prepare_cells(site, weather, prepared.period)


def _snowed(site: Site, row: Mapping[str, float]) -> Site:
    """Return a site on which more or less snow lies than its file says."""
    said = site.site.snow
    if said is None or SNOW not in row:
        return site
    place = site.site.model_copy(update={"snow": more_snow(said, np.exp(row[SNOW] / 100.0))})
    return site.model_copy(update={"site": place})


def more_snow(said: Snow, factor: float) -> Snow:
    """Return snow of which more or less falls, or that slides off slower or faster.

    Parameters
    ----------
    said : Snow
        As the site file has it.
    factor : float
        Of heights and days; what slides in an hour is divided by it [1].
    """
    if isinstance(said, SnowByMonth):
        heights = tuple(own * factor for own in said.snow_cm)
        days = tuple(min(own * factor, 31.0) for own in said.snow_days)
        return said.model_copy(update={"snow_cm": heights, "snow_days": days})
    return said.model_copy(update={"slides_per_h": min(said.slides_per_h / factor, 1.0)})
