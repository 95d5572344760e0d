"""The sun over the site: its instants in each step and its position."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import pandas as pd
import pvlib
from pvlib import irradiance

from yieldkit.base.arrays import BoolArray, FloatArray, IntArray
from yieldkit.physics.irradiance.sun_course import Place, nanoseconds

_EXTRATERRESTRIAL = np.asarray(irradiance.get_extra_radiation(np.arange(367)))
"""Extraterrestrial normal irradiance by the day of the year [W/m2] (367,), after Spencer (1971)
through pvlib."""


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

    def at(self, steps: IntArray) -> Sun:
        """Return the sun at some of the instants, by their positions."""
        return Sun(
            self.apparent_zenith[steps],
            self.zenith[steps],
            self.azimuth[steps],
            self.dni_extra[steps],
            self.airmass[steps],
            self.day_of_year[steps],
        )


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
    place, step_ns = Place(latitude, longitude, altitude), step.value
    begins = nanoseconds(starts)
    up = _is_up(np.append(begins, begins[-1:] + step_ns), place)
    partly = np.flatnonzero(up[:-1] != up[1:])
    if partly.size == 0:
        return middle
    crossing = _crossing(begins[partly], step_ns, up[:-1][partly], place)
    share = np.where(up[:-1][partly], crossing / 2.0, (1.0 + crossing) / 2.0)
    moved = nanoseconds(middle).copy()
    moved[partly] = begins[partly] + (share * interval_s * 1e9).astype(np.int64)
    return pd.DatetimeIndex(moved.view("datetime64[ns]")).tz_localize("UTC")


def _is_up(instants: IntArray, place: Place) -> BoolArray:
    """Return whether the sun stands above the true horizon (time,)."""
    return place.direction(instants).up > 0.0


def _crossing(begins: IntArray, step_ns: int, up_first: BoolArray, place: Place) -> FloatArray:
    """Return the share of the interval after which the sun crosses the horizon, by bisection."""
    low = np.zeros(begins.size)
    high = np.ones(begins.size)
    for _ in range(10):
        half = 0.5 * (low + high)
        same = _is_up(begins + np.rint(half * step_ns).astype(np.int64), place) == up_first
        low = np.where(same, half, low)
        high = np.where(same, high, half)
    return 0.5 * (low + high)


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
    Reda and Andreas (2004), Solar Energy 76, 577-589, through pvlib's table of days; air mass
    after Kasten and Young (1989), Applied Optics 28, 4735-4738.
    """
    angles = Place(latitude, longitude, altitude).angles(nanoseconds(instants))
    day_of_year = np.asarray(instants.day_of_year)
    return Sun(
        apparent_zenith=angles.apparent_zenith,
        zenith=angles.zenith,
        azimuth=angles.azimuth,
        dni_extra=_EXTRATERRESTRIAL[day_of_year],
        airmass=pvlib.atmosphere.get_relative_airmass(angles.apparent_zenith),
        day_of_year=day_of_year,
    )
