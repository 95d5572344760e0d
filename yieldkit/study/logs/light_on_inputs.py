"""Which steps of a log are night, and how much light its inputs had: measured, or cloudless."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import pandas as pd
import xarray as xr

from yieldkit.base.arrays import BoolArray, FloatArray, IntArray
from yieldkit.base.measured_planes import POA, measured_name
from yieldkit.config.site.site import Site
from yieldkit.physics.irradiance.sun import sun_position
from yieldkit.study.logs.cloudless_light import MINUTE_NS, Sensors, Skies
from yieldkit.study.logs.drawn_inputs import DrawnInputs

_LEAST_CLEAR = 20.0


class LogTime(NamedTuple):
    """The steps of a log.

    Parameters
    ----------
    starts : DatetimeIndex
        Naive UTC by the log's clock.
    interval_s : float
        Length of a step [s].
    utc_offset_s : float
        Standard time ahead of UTC [s].
    day : ndarray of int
        Position of each step's day by standard time (step,).
    days : tuple of str
        The days, such as 2026-05-02.
    """

    starts: pd.DatetimeIndex
    interval_s: float
    utc_offset_s: float
    day: IntArray
    days: tuple[str, ...]

    @property
    def starts_ns(self) -> IntArray:
        """The starts in nanoseconds since 1970 UTC (step,)."""
        return self.starts.asi8

    @property
    def step_hours(self) -> float:
        """Length of a step [h]."""
        return self.interval_s / 3600.0


def log_time(data: xr.Dataset) -> LogTime:
    """Return the steps of a log's data."""
    starts = pd.DatetimeIndex(data.indexes["time"]).as_unit("ns")
    offset = float(data.attrs["utc_offset_s"])
    names, day = np.unique(
        (starts + pd.Timedelta(seconds=offset)).to_numpy().astype("datetime64[D]"),
        return_inverse=True,
    )
    return LogTime(
        starts, float(data.attrs["interval_s"]), offset, day, tuple(str(name) for name in names)
    )


def is_night(site: Site, time: LogTime, late_min: FloatArray) -> BoolArray:
    """Return the steps over which the sun never stands above the horizon (step,).

    Parameters
    ----------
    site : Site
        Where.
    time : LogTime
        The steps.
    late_min : ndarray
        By how much the clock is ahead [min] (step,).
    """
    place = site.site
    begins = time.starts_ns - (late_min * MINUTE_NS).astype(np.int64)
    down = np.ones(len(begins), dtype=bool)
    for share in (0.0, 0.5, 1.0):
        instants = begins + round(share * time.interval_s * 1e9)
        index = pd.DatetimeIndex(instants.view("datetime64[ns]")).tz_localize("UTC")
        sun = sun_position(index, place.latitude, place.longitude, place.altitude_m)
        down &= sun.apparent_zenith >= 90.0
    return down


def clear_on_inputs(drawn: DrawnInputs, skies: Skies, time: LogTime) -> FloatArray:
    """Return the light of a cloudless sky on the inputs by the log's clock [W/m2] (step, tracker).

    Parameters
    ----------
    drawn : DrawnInputs
        The inputs.
    skies : Skies
        Cloudless light on the planes.
    time : LogTime
        The steps.
    """
    on_planes = skies.usual.mean(time.starts_ns, time.interval_s, np.zeros(time.day.size))
    found: FloatArray = on_planes @ drawn.by_power.T
    return found


def light_on_inputs(
    site: Site,
    drawn: DrawnInputs,
    skies: tuple[Skies, Sensors],
    time: LogTime,
    late_min: FloatArray,
    weather: xr.Dataset | None,
) -> tuple[FloatArray, BoolArray]:
    """Return the light on each input, and where it goes back to a measurement.

    A plane's own sensor counts before those of others, and these before a cloudless sky: where
    other planes, or a level sensor, get less than below that sky, so does the plane.

    Parameters
    ----------
    site : Site
        Its planes.
    drawn : DrawnInputs
        The inputs.
    skies : tuple of Skies and Sensors
        Cloudless light on the planes and on the sensors.
    time : LogTime
        The steps.
    late_min : ndarray
        By how much the clock is ahead [min] (step,).
    weather : Dataset or None
        What was measured.

    Returns
    -------
    tuple of ndarray
        [W/m2] and yes or no (step, tracker).
    """
    on_planes, sensors = skies
    clear = on_planes.usual.mean(time.starts_ns, time.interval_s, late_min)
    light, read = clear.copy(), np.zeros(clear.shape, dtype=bool)
    if weather is not None:
        for at, plane in enumerate(site.planes):
            name = measured_name(POA, plane.name)
            if name in weather:
                values = weather[name].to_numpy()
                read[:, at] = np.isfinite(values)
                light[:, at] = np.where(read[:, at], np.maximum(values, 0.0), light[:, at])
        dim = _dimmed(weather, sensors, time, late_min)
        known = np.isfinite(dim)[:, None] & ~read
        light = np.where(known, clear * np.nan_to_num(dim)[:, None], light)
        read |= known
    shares = drawn.by_power.T
    found = light @ shares
    whole: BoolArray = read.astype(float) @ shares > 0.99
    return found, whole


def _dimmed(
    weather: xr.Dataset, sensors: Sensors, time: LogTime, late_min: FloatArray
) -> FloatArray:
    """Return light over that of a cloudless sky, by all sensors together [1] (step,)."""
    found = np.full(time.day.size, np.nan)
    if sensors.skies is None:
        return found
    clear = sensors.skies.usual.mean(time.starts_ns, time.interval_s, late_min).sum(axis=1)
    values = np.stack([weather[name].to_numpy() for name in sensors.columns], axis=1).sum(axis=1)
    np.divide(values, clear, out=found, where=clear > _LEAST_CLEAR)
    clipped: FloatArray = np.clip(found, 0.0, 1.3)
    return clipped
