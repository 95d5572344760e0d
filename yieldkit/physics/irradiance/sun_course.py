"""Where the sun stands: its slow course from a table of days, the turning earth at every step.

The library's own algorithm sums some 140 terms for every instant. What those terms describe, the
earth's way round the sun and its axis, hardly changes within a day; only the hour angle does. So
the library is asked once for each midnight of a year, cubic splines go through those midnights,
and hour angle, parallax and refraction are taken for every instant. The splines stay within 2e-7
degrees of the library from 1990 to 2050, which is what a double holds of a Julian day.
"""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple

import numpy as np
import pandas as pd
from pvlib import atmosphere, spa
from scipy.interpolate import CubicSpline

from yieldkit.base.arrays import FloatArray, IntArray

_DAY_NS = 86_400_000_000_000
_DELTA_T_S = 67.0
_AIR_C = 12.0
_REFRACTION_AT_HORIZON_DEG = 0.5667
"""Terrestrial minus universal time [s], air temperature [degC] and refraction at the horizon
[deg]: what the library takes where nothing else is said."""
_FLATTENING = 0.99664719
_EARTH_RADIUS_M = 6_378_140.0
_PARALLAX_DEG = 8.794 / 3600.0
"""Polar over equatorial radius [1], the earth's radius [m], and the angle under which it is seen
from the sun at the mean distance [deg]: Reda and Andreas (2004), 3.11 and 3.12; read in pvlib."""
_BEYOND_DAYS = 16
"""Midnights before and after a year that its splines run through as well: what the ends do dies
away by a factor of 0.27 a day, to 1e-9, so that years join without a step."""
_STEPS_AT_ONCE = 8192
"""Steps whose arrays stay together in a processor's own memory."""


class Direction(NamedTuple):
    """The sun seen from a place, without refraction: parts along three axes, each (time,).

    Parameters
    ----------
    up, west, south : ndarray
        Parts of a vector towards the sun, of length 1 but for parallax.
    """

    up: FloatArray
    west: FloatArray
    south: FloatArray


class Angles(NamedTuple):
    """Where the sun stands, each (time,) [deg].

    Parameters
    ----------
    apparent_zenith, zenith : ndarray
        From straight above, with and without refraction.
    azimuth : ndarray
        From north through east.
    """

    apparent_zenith: FloatArray
    zenith: FloatArray
    azimuth: FloatArray


class _Course(NamedTuple):
    """The sun's slow course, from midnight to midnight.

    Parameters
    ----------
    first_day : int
        First day, counted from 1970-01-01.
    hour_angle : ndarray
        Hour angle in Greenwich less the time of day as an angle [rad]: coefficients of cubes,
        squares, days and 1 within each day (4, day).
    declination_sine : ndarray
        Sine of the geocentric declination [1], likewise (4, day).
    parallax : ndarray
        Sine of the horizontal parallax [1] at midnight, and what a day adds (2, day).
    """

    first_day: int
    hour_angle: FloatArray
    declination_sine: FloatArray
    parallax: FloatArray


@lru_cache(maxsize=128)
def course_of_year(year: int) -> _Course:
    """Return the course through a year's days, in [rad] and [1], from values at midnights."""
    own = _first_day(year), _first_day(year + 1)
    days = np.arange(own[0] - _BEYOND_DAYS, own[1] + _BEYOND_DAYS + 1, dtype=float)
    seconds = days * 86_400.0
    nowhere = (0.0, 0.0, 0.0, 1013.25, _AIR_C)
    sidereal, ascension, declination = spa.solar_position(
        seconds, *nowhere, _DELTA_T_S, _REFRACTION_AT_HORIZON_DEG, 1, sst=True
    )
    distance = np.asarray(spa.earthsun_distance(seconds, _DELTA_T_S, 1)).reshape(-1)
    # At midnight the sun is always within 5 degrees of 180, so that nothing wraps round.
    hour_angle = np.radians((sidereal - ascension) % 360.0)
    parallax = np.sin(np.radians(_PARALLAX_DEG / distance))
    kept = slice(_BEYOND_DAYS, _BEYOND_DAYS + own[1] - own[0])
    return _Course(
        own[0],
        np.ascontiguousarray(CubicSpline(days, hour_angle).c[:, kept]),
        np.ascontiguousarray(CubicSpline(days, np.sin(np.radians(declination))).c[:, kept]),
        np.stack([parallax[:-1], np.diff(parallax)])[:, kept],
    )


def _first_day(year: int) -> int:
    """Return the first of January, counted in days from 1970-01-01."""
    return int(np.datetime64(year - 1970, "Y").astype("datetime64[D]").astype(np.int64))


def _course(first_day: int, last_day: int) -> _Course:
    """Return the course through all years that some days lie in."""
    first, last = (
        int(np.datetime64(day, "D").astype("datetime64[Y]").astype(np.int64)) + 1970
        for day in (first_day, last_day)
    )
    years = [course_of_year(year) for year in range(first, last + 1)]
    if len(years) == 1:
        return years[0]
    _, *parts = zip(*years, strict=True)
    return _Course(years[0].first_day, *(np.concatenate(part, axis=1) for part in parts))


class Place:
    """A place on the earth, from which the sun is looked at.

    Parameters
    ----------
    latitude, longitude : float
        [deg].
    altitude : float
        [m].
    """

    def __init__(self, latitude: float, longitude: float, altitude: float) -> None:
        self._sine, self._cosine = np.sin(np.radians(latitude)), np.cos(np.radians(latitude))
        self._longitude = np.radians(longitude)
        self._pressure = atmosphere.alt2pres(altitude) / 100.0
        # From the earth's centre, in its radii: Reda and Andreas (2004), 3.12.2 to 3.12.4.
        reduced = np.arctan(_FLATTENING * np.tan(np.radians(latitude)))
        height = altitude / _EARTH_RADIUS_M
        self._from_axis = np.cos(reduced) + height * self._cosine
        self._from_equator = _FLATTENING * np.sin(reduced) + height * self._sine

    def direction(self, instants: IntArray) -> Direction:
        """Return the direction of the sun without refraction.

        Parameters
        ----------
        instants : ndarray of int
            Nanoseconds from 1970-01-01, UTC (time,).
        """
        parts = np.empty((3, instants.size))
        if instants.size:
            days = int(instants.min() // _DAY_NS), int(instants.max() // _DAY_NS)
            course = _course(*days)
            for begin in range(0, instants.size, _STEPS_AT_ONCE):
                own = slice(begin, begin + _STEPS_AT_ONCE)
                parts[:, own] = self._turned(course, instants[own])
        return Direction(*parts)

    def _turned(self, course: _Course, instants: IntArray) -> tuple[FloatArray, ...]:
        """Turn the earth under the slow course (time,)."""
        day, within = np.divmod(instants, _DAY_NS)
        share = within / float(_DAY_NS)
        row = day - course.first_day
        hour_angle = _cubic(course.hour_angle, row, share)
        hour_angle += 2.0 * np.pi * share + self._longitude
        declination_sine = _cubic(course.declination_sine, row, share)
        # The topocentric direction is the geocentric one less the place's own: Reda and Andreas
        # (2004), 3.12 to 3.14, whose angles of parallax are those of this difference.
        parallax = course.parallax[1][row] * share + course.parallax[0][row]
        across = np.sqrt(1.0 - declination_sine * declination_sine)
        outward = across * np.cos(hour_angle) - parallax * self._from_axis
        along = declination_sine - parallax * self._from_equator
        return (
            self._sine * along + self._cosine * outward,
            across * np.sin(hour_angle),
            self._sine * outward - self._cosine * along,
        )

    def angles(self, instants: IntArray) -> Angles:
        """Return where the sun stands.

        Parameters
        ----------
        instants : ndarray of int
            Nanoseconds from 1970-01-01, UTC (time,).
        """
        up, west, south = self.direction(instants)
        elevation = np.degrees(np.arctan2(up, np.hypot(west, south)))
        azimuth = np.degrees(np.arctan2(west, south)) + 180.0
        zenith = 90.0 - elevation
        refraction = spa.atmospheric_refraction_correction(
            self._pressure, _AIR_C, elevation, _REFRACTION_AT_HORIZON_DEG
        )
        return Angles(zenith - refraction, zenith, np.where(azimuth >= 360.0, 0.0, azimuth))


def _cubic(coefficients: FloatArray, row: IntArray, share: FloatArray) -> FloatArray:
    """Return polynomials of the third degree, one row of coefficients (4, day) a step (time,)."""
    value: FloatArray = coefficients[0][row] * share
    for each in coefficients[1:3]:
        value += each[row]
        value *= share
    value += coefficients[3][row]
    return value


def nanoseconds(instants: pd.DatetimeIndex) -> IntArray:
    """Return instants as integers, from 1970-01-01 UTC [ns] (time,).

    Parameters
    ----------
    instants : DatetimeIndex
        With a time zone.
    """
    found: IntArray = np.asarray(instants.as_unit("ns").asi8)
    return found
