"""Light of a cloudless sky on what a log measured, at whatever moment its steps really were."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import pandas as pd
import xarray as xr

from yieldkit.base.arrays import FloatArray, IntArray
from yieldkit.base.measured_planes import POA, measured_name
from yieldkit.config.site.site import Site
from yieldkit.physics.irradiance.cloudless import cloudless_sky, usual_turbidity
from yieldkit.physics.irradiance.sun import sun_position
from yieldkit.study.simulation.measured import sensor_of
from yieldkit.study.simulation.plane_light import Lit
from yieldkit.study.simulation.plane_sky import plane_sky

_GRID_MIN = 5
_BEYOND_H = 4
_HAZIER = 1.3
MINUTE_NS = 60_000_000_000


class CloudlessLight(NamedTuple):
    """Light of a cloudless sky since the beginning of a log, on several receivers.

    Parameters
    ----------
    begin_ns : int
        Where it begins, nanoseconds since 1970 UTC.
    summed : ndarray
        Light summed up to each moment of the grid [W/m2 times grid step] (moment, receiver).
    """

    begin_ns: int
    summed: FloatArray

    def mean(self, starts_ns: IntArray, interval_s: float, late_min: FloatArray) -> FloatArray:
        """Return the mean light of steps whose clock is ahead.

        Parameters
        ----------
        starts_ns : ndarray of int
            Starts of the steps by the log's clock, nanoseconds since 1970 (step,).
        interval_s : float
            Length of a step [s].
        late_min : ndarray
            By how much the clock is ahead [min] (step,).

        Returns
        -------
        ndarray
            [W/m2] (step, receiver).
        """
        at = (starts_ns - self.begin_ns) / (_GRID_MIN * MINUTE_NS) - late_min / _GRID_MIN
        steps = interval_s / (60.0 * _GRID_MIN)
        found: FloatArray = (self._until(at + steps) - self._until(at)) / steps
        return found

    def _until(self, at: FloatArray) -> FloatArray:
        """Return the light summed up to moments between those of the grid (moment, receiver)."""
        place = np.clip(at, 0.0, len(self.summed) - 1.001)
        low = place.astype(np.int64)
        part = (place - low)[:, None]
        found: FloatArray = self.summed[low] * (1.0 - part) + self.summed[low + 1] * part
        return found

    def of(self, shares: FloatArray) -> CloudlessLight:
        """Return the light on receivers that are made up of these (new receiver, receiver)."""
        return CloudlessLight(self.begin_ns, self.summed @ shares.T)


class Skies(NamedTuple):
    """Light of a cloudless sky as usual and below hazier air, on the same receivers."""

    usual: CloudlessLight
    hazy: CloudlessLight

    def of(self, shares: FloatArray) -> Skies:
        """Return the same on receivers that are made up of these (new receiver, receiver)."""
        return Skies(self.usual.of(shares), self.hazy.of(shares))


class Sensors(NamedTuple):
    """Sensors of light.

    Parameters
    ----------
    columns : tuple of str
        Their columns of the weather.
    skies : Skies or None
        Light of a cloudless sky on them; None if there are none.
    """

    columns: tuple[str, ...]
    skies: Skies | None


def cloudless_skies(
    site: Site, times: pd.DatetimeIndex, weather: xr.Dataset | None
) -> tuple[Skies, Sensors]:
    """Return the light of a cloudless sky in the cells of all planes, and on a log's sensors.

    Parameters
    ----------
    site : Site
        The site.
    times : DatetimeIndex
        The log's steps, naive UTC.
    weather : Dataset or None
        What was measured with it.

    Returns
    -------
    tuple
        On planes (receiver is a plane); on sensors of light.
    """
    edge = pd.Timedelta(hours=_BEYOND_H)
    first, last = times.min().floor("h") - edge, times.max().ceil("h") + edge
    grid = pd.date_range(first, last, freq=f"{_GRID_MIN}min", tz="UTC", unit="ns")
    place = site.site
    sun = sun_position(grid, place.latitude, place.longitude, place.altitude_m)
    up = np.flatnonzero(sun.apparent_zenith < 90.0)
    turbidity = usual_turbidity(grid[up], place.latitude, place.longitude)
    sensors = _sensors(site, weather)
    on_planes, on_sensors = [], []
    for thickness in (1.0, _HAZIER):
        light = cloudless_sky(sun.at(up), turbidity * thickness, place.altitude_m)
        lit = Lit(up, len(grid), sun.at(up), light)
        skies = [plane_sky(site, plane, lit) for plane in site.planes]
        inside = [lit.everywhere(sky.poa_global * sky.passed) for sky in skies]
        on_planes.append(_summed(grid, inside))
        glass = []
        for name, tilt, azimuth in sensors:
            if name == "ghi":
                glass.append(lit.everywhere(light.ghi))
                continue
            plane = next(each for each in site.planes if measured_name(POA, each.name) == name)
            turned = plane.model_copy(update={"tilt_deg": tilt, "azimuth_deg": azimuth})
            glass.append(lit.everywhere(plane_sky(site, turned, lit).poa_global))
        on_sensors.append(_summed(grid, glass) if glass else None)
    usual, hazy = on_sensors
    measured = None if usual is None or hazy is None else Skies(usual, hazy)
    return Skies(*on_planes), Sensors(tuple(name for name, *_ in sensors), measured)


def _sensors(site: Site, weather: xr.Dataset | None) -> list[tuple[str, float, float]]:
    """Return column, tilt and azimuth of each sensor of light; the level one if no plane has any.

    What was reckoned from planes is no measurement of its own.
    """
    if weather is None:
        return []
    found = []
    for plane in site.planes:
        name = measured_name(POA, plane.name)
        if name in weather:
            _, tilt, azimuth = sensor_of(plane, weather)
            found.append((name, tilt, azimuth))
    if not found and "ghi" in weather:
        found.append(("ghi", 0.0, 180.0))
    return found


def _summed(grid: pd.DatetimeIndex, light: list[FloatArray]) -> CloudlessLight:
    values = np.stack(light, axis=1)
    middles = 0.5 * (values[1:] + values[:-1])
    summed = np.concatenate([np.zeros((1, values.shape[1])), np.cumsum(middles, axis=0)])
    return CloudlessLight(int(grid.asi8[0]), summed)
