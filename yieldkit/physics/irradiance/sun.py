"""The sun over the site: its instants in each step and its position."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import pandas as pd
import pvlib
from pvlib import irradiance

from yieldkit.base.arrays import BoolArray, FloatArray, IntArray


class Sun(NamedTuple):
    """The sun at the instants of a weather series, each (time,).

    Parameters
    ----------
    apparent_zenith, zenith, azimuth : ndarray
        [deg]; azimuth from north through east.
    dni_extra : ndarray
        Extraterrestrial normal irradiance [W/m2].
    airmass : ndarray
        Relative optical air mass; nan below the horizon.
    day_of_year : ndarray
        Day of the year.
    """

    apparent_zenith: FloatArray
    zenith: FloatArray
    azimuth: FloatArray
    dni_extra: FloatArray
    airmass: FloatArray
    day_of_year: IntArray


def sun_instants(
    starts: pd.DatetimeIndex,
    interval_s: float,
    sampling: str,
    sun_offset_s: float,
    latitude: float,
    longitude: float,
    altitude: float,
) -> pd.DatetimeIndex:
    """Return the instant at which each step's sun is taken.

    Parameters
    ----------
    starts : DatetimeIndex
        Starts of the intervals, or labels of the snapshots, with a time zone.
    interval_s : float
        Length of a step [s].
    sampling : str
        "mean" (the middle of the sunlit part of the interval) or "snapshot".
    sun_offset_s : float
        Seconds from the label to the instant of a snapshot.
    latitude, longitude : float
        [deg].
    altitude : float
        [m].

    Returns
    -------
    DatetimeIndex
        One instant a step.
    """
    if sampling == "snapshot":
        return starts + pd.Timedelta(seconds=sun_offset_s)
    step = pd.Timedelta(seconds=interval_s)
    middle = starts + step / 2
    edges = pd.DatetimeIndex(starts.append(starts[-1:] + step))
    up = _elevation(edges, latitude, longitude, altitude) > 0.0
    partly = np.flatnonzero(up[:-1] != up[1:])
    if partly.size == 0:
        return middle
    crossing = _crossing(starts[partly], step, up[:-1][partly], latitude, longitude, altitude)
    share = np.where(up[:-1][partly], crossing / 2.0, (1.0 + crossing) / 2.0)
    moved = middle.tz_convert(None).to_numpy().astype("datetime64[ns]")
    shift = (share * interval_s * 1e9).astype("timedelta64[ns]")
    moved[partly] = starts[partly].tz_convert(None).to_numpy() + shift
    return pd.DatetimeIndex(moved).tz_localize("UTC")


def _elevation(
    times: pd.DatetimeIndex, latitude: float, longitude: float, altitude: float
) -> FloatArray:
    return 90.0 - _position(times, latitude, longitude, altitude)["zenith"].to_numpy()


def _crossing(
    starts: pd.DatetimeIndex,
    step: pd.Timedelta,
    up_first: BoolArray,
    latitude: float,
    longitude: float,
    altitude: float,
) -> FloatArray:
    """Return the share of the interval after which the sun crosses the horizon, by bisection."""
    low = np.zeros(len(starts))
    high = np.ones(len(starts))
    for _ in range(10):
        half = 0.5 * (low + high)
        times = starts + pd.to_timedelta(half * step.total_seconds(), unit="s")
        same = (_elevation(times, latitude, longitude, altitude) > 0.0) == up_first
        low = np.where(same, half, low)
        high = np.where(same, high, half)
    return 0.5 * (low + high)


def _position(
    times: pd.DatetimeIndex, latitude: float, longitude: float, altitude: float
) -> pd.DataFrame:
    found: pd.DataFrame = pvlib.solarposition.get_solarposition(
        times, latitude, longitude, altitude=altitude
    )
    return found


def sun_position(
    instants: pd.DatetimeIndex, latitude: float, longitude: float, altitude: float
) -> Sun:
    """Return the sun at some instants.

    Parameters
    ----------
    instants : DatetimeIndex
        With a time zone.
    latitude, longitude : float
        [deg].
    altitude : float
        [m].

    References
    ----------
    Reda and Andreas (2004), Solar Energy 76, 577-589, through pvlib; air mass after Kasten and
    Young (1989), Applied Optics 28, 4735-4738.
    """
    position = _position(instants, latitude, longitude, altitude)
    apparent = position["apparent_zenith"].to_numpy()
    return Sun(
        apparent_zenith=apparent,
        zenith=position["zenith"].to_numpy(),
        azimuth=position["azimuth"].to_numpy(),
        dni_extra=irradiance.get_extra_radiation(instants.day_of_year.to_numpy()),
        airmass=pvlib.atmosphere.get_relative_airmass(apparent),
        day_of_year=instants.day_of_year.to_numpy(),
    )
