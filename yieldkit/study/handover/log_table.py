"""A plant's log as the judge takes it: moments by a clock set right, and light in the planes."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from yieldkit.base.arrays import BoolArray, FloatArray, IntArray
from yieldkit.base.measured_planes import POA, measured_name
from yieldkit.config.models.planes import Plane
from yieldkit.config.site.site import Site
from yieldkit.physics.irradiance.sky import Horizontal
from yieldkit.physics.irradiance.sun import sun_position
from yieldkit.study.handover import log_errors as errors
from yieldkit.study.logs.plant_log import ClockOffset, PlantLog
from yieldkit.study.simulation.measured import lies_in_plane
from yieldkit.study.simulation.plane_light import lit_steps, plane_light

QUANTITIES = ("v_dc", "i_dc", "p_dc")
_DAYS_ROUND = 9
"""So many days say how the clock stood on one on which it wasn't seen: single days are off by some
minutes."""
_SPAN_90 = 2.0 * 1.645
"""Standard deviations in a span that holds nine of ten."""


class LogTable:
    """A log's arrays, its clock set right.

    Parameters
    ----------
    site : Site
        The site.
    log : PlantLog
        The log.

    Attributes
    ----------
    moments : DatetimeIndex
        Middles of the steps, UTC (step,).
    day : ndarray of int
        The day of each step by the log's standard time (step,).
    clock_spread : ndarray
        How far each day's clock may still be off [min] (day,).
    values : dict of str to ndarray
        What was written, by quantity (step, tracker).
    counted : ndarray of bool
        What counts (step, tracker).
    light : ndarray
        Measured on planes [W/m2], nan where it wasn't (step, plane).
    in_plane : ndarray of bool
        Whether a plane's sensor, where it has one, lies as the plane does (plane,).
    beside : ndarray
        Global irradiance [W/m2] where it was measured and no plane's (step,).
    """

    def __init__(self, site: Site, log: PlantLog):
        data = log.data
        self.weather = log.weather
        self.interval_s = float(data.attrs["interval_s"])
        self.names = [str(name) for name in data["tracker"].to_numpy()]
        times = pd.DatetimeIndex(data["time"].to_numpy())
        local = times + pd.Timedelta(seconds=float(data.attrs["utc_offset_s"]))
        dates = local.strftime("%Y-%m-%d")
        known = {own.day: own for own in log.clock}
        each, day = np.unique(np.asarray(dates), return_inverse=True)
        self.day: IntArray = day
        offset, self.clock_spread = np.zeros(len(each)), np.full(len(each), errors.CLOCK_MIN)
        for at, date in enumerate(each):
            offset[at] = of_days_round(log.clock, date)
            if date in known:
                clock = known[date]
                offset[at] = clock.minutes
                spread = (clock.high - clock.low) / _SPAN_90
                self.clock_spread[at] = max(spread, errors.CLOCK_LEAST_MIN)
        late = pd.to_timedelta(offset[self.day] * 60.0, unit="s")
        half = pd.Timedelta(seconds=0.5 * self.interval_s)
        self.moments = (times + half - late).tz_localize("UTC")
        self.counted = log.counted
        self.values = {
            name: data[name].to_numpy().astype(float) for name in QUANTITIES if name in data
        }
        for own in self.values.values():
            self.counted = self.counted & (np.isfinite(own) | ~np.isfinite(own).any(axis=0))
        self.light = self._light(site)
        self.in_plane: BoolArray = np.array([self._lies(each) for each in site.planes])
        on_planes = np.isfinite(self.light).any()
        self.beside = self.weather_column("ghi")
        if on_planes:
            self.beside = np.full(len(times), np.nan)

    def _light(self, site: Site) -> FloatArray:
        """Return the light measured on planes [W/m2] (step, plane), on the glass and in the plane.

        What a reference cell reads, and a sensor that lies otherwise than its plane, is brought
        there as a simulation does it.
        """
        found = self.of_planes(site, POA)
        whole = self.weather is not None and set(Horizontal._fields) <= set(self.weather)
        if self.weather is None or not whole:
            return found
        place = site.site
        sun = sun_position(self.moments, place.latitude, place.longitude, place.altitude_m)
        lit = lit_steps(self.weather, sun)
        for at, plane in enumerate(site.planes):
            if np.isfinite(found[:, at]).any():
                seen = plane_light(site, plane, self.weather, lit).seen.poa_global
                found[:, at] = np.where(np.isfinite(found[:, at]), lit.everywhere(seen), np.nan)
        return found

    def _lies(self, plane: Plane) -> bool:
        """Return whether a sensor measured a plane's light that lies as it does."""
        name = measured_name(POA, plane.name)
        return (
            self.weather is not None and name in self.weather and lies_in_plane(plane, self.weather)
        )

    def weather_column(self, name: str) -> FloatArray:
        """Return a column of what was measured beside (step,), nan where there is none."""
        if self.weather is None or name not in self.weather:
            return np.full(len(self.moments), np.nan)
        return np.asarray(self.weather[name].to_numpy(), dtype=float)

    def of_planes(self, site: Site, quantity: str) -> FloatArray:
        """Return what was measured on planes (step, plane), nan where nothing was."""
        each = [self.weather_column(measured_name(quantity, own.name)) for own in site.planes]
        return np.stack(each, axis=1)


def of_days_round(clock: Sequence[ClockOffset], date: str) -> float:
    """Return by how much a clock is ahead on a day, as the nearest days on which it was seen [min].

    Parameters
    ----------
    clock : sequence of ClockOffset
        The days on which it was seen; 0 follows from none.
    date : str
        The day, such as 2026-05-02.
    """
    if not clock:
        return 0.0
    day = pd.Timestamp(date)
    nearest = sorted(clock, key=lambda own: abs(pd.Timestamp(own.day) - day))[:_DAYS_ROUND]
    return float(np.median([own.minutes for own in nearest]))
