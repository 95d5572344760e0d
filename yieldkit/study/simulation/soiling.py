"""What dirt takes from a plane's light: the same all year, by month, or from the rain."""

from __future__ import annotations

import numpy as np
import pandas as pd
import xarray as xr

from yieldkit.base.arrays import FloatArray, IntArray
from yieldkit.base.errors import refuse
from yieldkit.config.models.dirt import DailySoiling
from yieldkit.config.models.planes import Plane
from yieldkit.physics.irradiance.soiling import soiling_by_day, soiling_by_dust


def soiling_share(plane: Plane, weather: xr.Dataset) -> float | FloatArray:
    """Return the share of a plane's light that dirt takes.

    Parameters
    ----------
    plane : Plane
        The plane. What it says of the whole year counts beside what it says by month or from rain,
        for draws add to it or take from it.
    weather : Dataset
        Canonical weather (time).

    Returns
    -------
    float or ndarray
        [1], one for all steps or each step's (time,).

    Raises
    ------
    InputError
        If dirt is to follow from rain and the weather has none.
    """
    always = plane.soiling_loss_percent / 100.0
    if plane.soiling_by_month_percent is not None:
        by_month = np.array(plane.soiling_by_month_percent) / 100.0
        return np.clip(by_month[months(weather)] + always, 0.0, 1.0)
    if plane.soiling_from_rain is not None:
        return np.clip(_from_rain(plane, weather) + always, 0.0, 1.0)
    return always


def _from_rain(plane: Plane, weather: xr.Dataset) -> FloatArray:
    said = plane.soiling_from_rain
    if "rain" not in weather:
        refuse(
            f"plane '{plane.name}', soiling_from_rain",
            "weather without rain",
            "a column of rain in mm for each step, as rain in weather.columns",
            remedy="Take weather that has it, or write soiling_by_month_percent",
        )
    rain, step_s = weather["rain"].to_numpy(), float(weather.attrs["interval_s"])
    if isinstance(said, DailySoiling):
        return soiling_by_day(
            rain,
            step_s,
            loss_per_day=said.loss_percent_per_day / 100.0,
            cleaning_rain_mm=said.cleaning_rain_mm,
            damp_days=said.damp_days,
            most_loss=said.most_loss_percent / 100.0,
        )
    if said is None:
        raise TypeError("a plane whose dirt doesn't follow from rain")
    return soiling_by_dust(
        rain,
        step_s,
        plane.tilt_deg,
        pm2_5=1e-6 * said.pm2_5_ug_m3,
        pm10=1e-6 * said.pm10_ug_m3,
        cleaning_rain_mm=said.cleaning_rain_mm,
        rain_within_h=said.rain_within_h,
    )


def months(weather: xr.Dataset) -> IntArray:
    """Return the calendar month of each step in local standard time, January 0 (time,)."""
    times = pd.DatetimeIndex(weather.indexes["time"]).tz_localize("UTC")
    return np.asarray(times.tz_convert(weather.attrs["time_zone"]).month) - 1
