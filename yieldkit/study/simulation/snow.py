"""Snow on a plane: what it takes by month, or how far up it lies step by step."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import xarray as xr

from yieldkit.base.arrays import FloatArray, IntArray
from yieldkit.base.errors import refuse
from yieldkit.config.models.planes import Plane
from yieldkit.config.models.snow import SnowByMonth, SnowFromSnowfall
from yieldkit.config.site.site import Site
from yieldkit.design.roof.scene import slant_height_m
from yieldkit.physics.irradiance.snow import MonthsOfSnow, Sliding, covered_share, loss_by_month
from yieldkit.study.simulation.soiling import months

_HOURS = 24.0 * np.array([31, 28.25, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])
_LEAST_WH_M2 = 1.0
"""Months darker than this have none: nothing is divided by zero."""


class PlaneSnow(NamedTuple):
    """Snow on a plane through time, in one of two ways.

    Parameters
    ----------
    lost : ndarray or None
        Share of the light that it takes from all modules alike [1] (time,).
    covered : ndarray or None
        Share of the plane's height that it covers, from the lower edge up [1] (time,).
    """

    lost: FloatArray | None
    covered: FloatArray | None


def plane_snow(
    site: Site, plane: Plane, weather: xr.Dataset, poa_global: FloatArray
) -> PlaneSnow | None:
    """Return the snow on a plane, None where the site's file gives none.

    Parameters
    ----------
    site : Site
        Snow, and where the plane's modules lie.
    plane : Plane
        The plane.
    weather : Dataset
        Canonical weather (time).
    poa_global : ndarray
        Light on the plane [W/m2] (time,).

    Raises
    ------
    InputError
        If the weather lacks what the snow needs.
    """
    said = site.site.snow
    if said is None:
        return None
    if isinstance(said, SnowByMonth):
        month = months(weather)
        return PlaneSnow(_by_month(site, said, plane, weather, poa_global, month)[month], None)
    if "snowfall" not in weather:
        refuse(
            "site.snow",
            "snow from-snowfall, and weather without it",
            "snowfall in cm for each step, as snowfall in weather.columns",
            remedy="Take weather that has it, or give snow by month",
        )
    return PlaneSnow(None, _covered(said, plane, weather, poa_global))


def snow_step_by_step(site: Site) -> bool:
    """Return whether snow covers modules one by one, by the weather's snowfall."""
    return isinstance(site.site.snow, SnowFromSnowfall)


def _covered(
    said: SnowFromSnowfall, plane: Plane, weather: xr.Dataset, poa_global: FloatArray
) -> FloatArray:
    return covered_share(
        weather["snowfall"].to_numpy(),
        poa_global,
        weather["temp_air"].to_numpy(),
        plane.tilt_deg,
        float(weather.attrs["interval_s"]),
        Sliding(said.covering_cm_per_h, said.slides_per_h, said.frost_light_w_m2),
        weather["snow_depth"].to_numpy() if "snow_depth" in weather else None,
    )


def _by_month(
    site: Site,
    said: SnowByMonth,
    plane: Plane,
    weather: xr.Dataset,
    poa_global: FloatArray,
    month: IntArray,
) -> FloatArray:
    """Return the share of each month's light that snow takes [1] (12,)."""
    humidity = said.relative_humidity_percent
    if humidity is None and "relative_humidity" not in weather:
        refuse(
            "site.snow",
            "no relative_humidity_percent, and weather without relative humidity",
            "one of the two: the wetter the air, the longer snow stays",
            remedy="Write relative_humidity_percent: 12 means, January to December",
        )
    found = MonthsOfSnow(
        np.array(said.snow_cm),
        np.array(said.snow_days),
        _means(weather["relative_humidity"].to_numpy(), month)
        if humidity is None
        else np.array(humidity),
        _means(weather["temp_air"].to_numpy(), month),
        np.maximum(_means(poa_global, month) * _HOURS, _LEAST_WH_M2),
    )
    height = slant_height_m(site, plane)
    return loss_by_month(found, plane.tilt_deg, height, plane.lower_edge_height_m)


def _means(values: FloatArray, month: IntArray) -> FloatArray:
    """Return means by calendar month (12,); missing for months without a value."""
    there = np.isfinite(values)
    count = np.bincount(month[there], minlength=12)
    total = np.bincount(month[there], weights=values[there], minlength=12)
    means: FloatArray = np.divide(total, count, out=np.full(12, np.nan), where=count > 0)
    return means


def snow_sentences(site: Site) -> list[str]:
    """Return what is assumed of snow, in sentences; none where the site's file gives none.

    Parameters
    ----------
    site : Site
        The site.
    """
    said = site.site.snow
    if isinstance(said, SnowByMonth):
        heights = ", ".join(
            f"{plane.name} {slant_height_m(site, plane):.2f} m along the slope, "
            f"{plane.lower_edge_height_m:g} m above the ground"
            for plane in site.planes
        )
        return [
            f"Snow by month, {sum(said.snow_cm):g} cm on {sum(said.snow_days):g} days a year: it "
            "takes a share of each month's light from all modules of a plane alike (Townsend and "
            f"Powers (2011), 37th IEEE PVSC; read in pvlib); {heights}."
        ]
    if isinstance(said, SnowFromSnowfall):
        return [
            f"Snow from the weather's snowfall: more than {said.covering_cm_per_h:g} cm/h covers a "
            f"plane whole, {said.slides_per_h:g} of an upright plane's height slides off in an "
            f"hour where {said.frost_light_w_m2:g} W/m2 on it make up for each degree of frost "
            "(Marion et al. (2013), Solar Energy 97, 112; read in pvlib). The upper rows are free "
            "first; covered cells get no light."
        ]
    return []
