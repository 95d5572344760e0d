"""Readings by meter as arrays, and what each slip makes of light and heat at their moments."""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from functools import cache
from typing import NamedTuple

import numpy as np
import pandas as pd

from yieldkit.base.arrays import BoolArray, FloatArray, IntArray
from yieldkit.config.models.planes import Plane
from yieldkit.config.site.site import Site
from yieldkit.study.handover.slips import Slip
from yieldkit.study.simulation.plane_sky import (
    PlaneSky,
    cells_behind,
    cells_without_thermometer,
    cloudless,
    plane_sky,
)

VOLTAGE, CURRENT = 0, 1
TEMP_AIR_C = 20.0


class MeterReadings(NamedTuple):
    """Readings of strings by a multimeter, each (reading,).

    Parameters
    ----------
    string : ndarray of int
        Position of the string.
    quantity : ndarray of int
        VOLTAGE (open-circuit) or CURRENT (short-circuit).
    value : ndarray
        [V] or [A].
    moments : DatetimeIndex
        With a time zone.
    poa_global : ndarray
        In-plane irradiance read with it [W/m2]; nan where none was.
    temp_module : ndarray
        Temperature of the modules read with it [degC]; nan where none was.
    """

    string: IntArray
    quantity: IntArray
    value: FloatArray
    moments: pd.DatetimeIndex
    poa_global: FloatArray
    temp_module: FloatArray


class Surroundings(NamedTuple):
    """Light and heat of all planes at the moments of readings, under each slip.

    Parameters
    ----------
    light : ndarray
        In the cells as it was read or is reckoned [W/m2] (slip, reading, plane).
    on_glass : ndarray
        The same on the glass [W/m2] (slip, reading, plane).
    heat : ndarray
        Of the cells [degC] (slip, reading, plane).
    lit_by_sensor, warm_by_sensor : ndarray of bool
        Whether light and temperature go back to a reading (reading, plane).
    """

    light: FloatArray
    on_glass: FloatArray
    heat: FloatArray
    lit_by_sensor: BoolArray
    warm_by_sensor: BoolArray


def surroundings(
    site: Site, planes_of: IntArray, readings: MeterReadings, slips: Sequence[Slip]
) -> Surroundings:
    """Return light and heat under each slip.

    A plane's light is what the sensor read in it nearest in time, moved to the reading's moment as
    a cloudless sky moves it; where the sensor was never held into a plane, that of the string's own
    plane brought there by the cloudless sky; and the cloudless sky itself without any sensor.

    Parameters
    ----------
    site : Site
        The site.
    planes_of : ndarray of int
        The plane in which light is read with each string (string,).
    readings : MeterReadings
        The readings.
    slips : sequence of Slip
        The slips.
    """
    read_in = planes_of[readings.string]
    nearest_lit = _nearest(readings, read_in, readings.poa_global, len(site.planes))
    nearest_warm = _nearest(readings, read_in, readings.temp_module, len(site.planes))
    skies = Skies(site, readings.moments)
    shape = len(slips), len(readings.value), len(site.planes)
    light, on_glass, heat = np.empty(shape), np.empty(shape), np.empty(shape)
    for members in of_like_skies(slips):
        slip = slips[members[0]]
        sky = skies.of(slip)
        glass = sky.poa_global
        if (nearest_lit >= 0).all():
            there = glass[nearest_lit, read_in[nearest_lit]]
            glass = readings.poa_global[nearest_lit] * _ratio(glass, there) / slip.sensor
        on_glass[members] = glass
        light[members] = glass * sky.passed
        for place, plane in enumerate(site.planes):
            warm = nearest_warm[:, place]
            heat[members, :, place] = _heat(plane, glass[:, place], readings.temp_module, warm)
    light *= np.stack([slip.light for slip in slips])[:, None]
    same_lit = (nearest_lit >= 0) & (read_in[nearest_lit] == np.arange(len(site.planes)))
    same_warm = (nearest_warm >= 0) & (read_in[nearest_warm] == np.arange(len(site.planes)))
    return Surroundings(light, on_glass, heat, same_lit, same_warm)


def of_like_skies(slips: Sequence[Slip]) -> list[list[int]]:
    """Return positions of slips under which planes, clock and sensor are the same."""
    found: dict[Hashable, list[int]] = {}
    for at, slip in enumerate(slips):
        key = slip.drawn_as, slip.turned, slip.clock_min, slip.sensor
        found.setdefault(key, []).append(at)
    return list(found.values())


def _heat(plane: Plane, glass: FloatArray, read: FloatArray, source: IntArray) -> FloatArray:
    if (source < 0).all():
        return cells_without_thermometer(plane, glass, TEMP_AIR_C)
    return cells_behind(plane, read[source], glass)


def _ratio(here: FloatArray, there: FloatArray) -> FloatArray:
    return np.divide(here, there, out=np.ones_like(here), where=there > 1.0)


def _nearest(
    readings: MeterReadings, read_in: IntArray, values: FloatArray, planes: int
) -> IntArray:
    """Return which reading tells a plane's light or heat at each reading, -1 for none."""
    times = readings.moments.to_numpy(dtype="datetime64[ns]").astype(np.int64)
    count = len(times)
    found = np.full((count, planes), -1)
    read = np.flatnonzero(~np.isnan(values))
    if not read.size:
        return found
    apart = np.abs(times[:, None] - times[read]).astype(float)
    apart[np.arange(count)[:, None] == read] = -1.0  # its own comes first
    for plane in range(planes):
        inside = read_in[read] == plane
        chosen = np.where(inside, apart, np.inf) if inside.any() else apart
        found[:, plane] = read[np.argmin(chosen, axis=1)]
    return found


class Skies:
    """Cloudless skies on planes at the readings' moments, each made once."""

    def __init__(self, site: Site, moments: pd.DatetimeIndex):
        self.site = site
        self._lit = cache(lambda late: cloudless(site, moments - pd.Timedelta(minutes=late)))
        self._sky = cache(self._made)

    def of(self, slip: Slip, more_min: float = 0.0) -> PlaneSky:
        """Return the skies of all planes as they lie under a slip (reading, plane).

        Parameters
        ----------
        slip : Slip
            The slip.
        more_min : float
            By how much more the clock is ahead than under the slip [min].
        """
        each = [
            self._sky(place, slip.drawn_as[place], slip.turned[place], slip.clock_min + more_min)
            for place in range(len(self.site.planes))
        ]
        return PlaneSky(*(np.stack(parts, axis=1) for parts in zip(*each, strict=True)))

    def level(self, slip: Slip) -> FloatArray:
        """Return the global irradiance of a cloudless sky [W/m2] (reading,)."""
        found: FloatArray = self._lit(slip.clock_min).light.ghi
        return found

    def _made(
        self, place: int, drawn_as: int, turned: tuple[float, float], late: float
    ) -> PlaneSky:
        lies = self.site.planes[drawn_as]
        plane = self.site.planes[place].model_copy(
            update={
                "azimuth_deg": (lies.azimuth_deg + turned[0]) % 360.0,
                "tilt_deg": min(max(lies.tilt_deg + turned[1], 0.0), 90.0),
            }
        )
        return plane_sky(self.site, plane, self._lit(late))
