"""The beam of a cloudless sky, by the turbidity of the air."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import pandas as pd
from pvlib import atmosphere, clearsky

from yieldkit.base.arrays import FloatArray
from yieldkit.physics.irradiance.sky import Horizontal
from yieldkit.physics.irradiance.sun import Sun

_MIDDLES = pd.DatetimeIndex([f"2018-{month:02d}-15" for month in range(1, 13)])
_BY_AIRMASS = 0.09
_SCALE_HEIGHT_M = 8000.0
_ALOFT = (0.664, 0.163)
"""Ineichen and Perez (2002), eq. 8, and its constants for altitude; read in pvlib."""


def usual_turbidity(days: pd.DatetimeIndex, latitude: float, longitude: float) -> FloatArray:
    """Return the Linke turbidity that the air of a place usually has on some days [1] (day,).

    Parameters
    ----------
    days : DatetimeIndex
        The days.
    latitude, longitude : float
        [deg].

    References
    ----------
    Remund et al. (2003), Worldwide Linke turbidity information, ISES Solar World Congress: monthly
    maps that pvlib carries, joined here by straight lines between the middles of months.
    """
    by_month = _turbidity_by_month(latitude, longitude)
    middles = np.asarray(_MIDDLES.day_of_year, dtype=float)
    found: FloatArray = np.interp(np.asarray(days.day_of_year), middles, by_month, period=365.25)
    return found


@lru_cache
def _turbidity_by_month(latitude: float, longitude: float) -> FloatArray:
    """Return a place's turbidity in each month [1] (12,); the maps are opened once for a place."""
    found = clearsky.lookup_linke_turbidity(_MIDDLES, latitude, longitude, interp_turbidity=False)
    return np.asarray(found, dtype=float)


def beam_below(sun: Sun, turbidity: FloatArray, altitude_m: float) -> FloatArray:
    """Return the direct normal irradiance below a cloudless sky [W/m2] (time,).

    Parameters
    ----------
    sun : Sun
        The sun (time,).
    turbidity : ndarray
        Linke turbidity [1] (time,).
    altitude_m : float
        [m].

    Returns
    -------
    ndarray
        Zero where the sun is down.

    References
    ----------
    Ineichen and Perez (2002), Solar Energy 73, 151-157, eq. 8.
    """
    up = np.flatnonzero(sun.apparent_zenith < 90.0)
    own = sun.at(up)
    beam = np.zeros(turbidity.shape)
    fading = np.exp(-_BY_AIRMASS * _absolute(own, altitude_m) * (turbidity[up] - 1.0))
    beam[up] = np.minimum(_clean(altitude_m) * fading, 1.0) * own.dni_extra
    return beam


def turbidity_of(dni: FloatArray, sun: Sun, altitude_m: float) -> FloatArray:
    """Return the turbidity below which a cloudless sky would give a beam [1] (time,).

    Parameters
    ----------
    dni : ndarray
        Direct normal irradiance, above zero [W/m2] (time,).
    sun : Sun
        The sun, up (time,).
    altitude_m : float
        [m].
    """
    share = dni / (_clean(altitude_m) * sun.dni_extra)
    found: FloatArray = 1.0 - np.log(share) / (_BY_AIRMASS * _absolute(sun, altitude_m))
    return found


def _clean(altitude_m: float) -> float:
    """Return what air without water and dust lets through at all heights of the sun [1]."""
    return _ALOFT[0] + _ALOFT[1] * float(np.exp(altitude_m / _SCALE_HEIGHT_M))


def _absolute(sun: Sun, altitude_m: float) -> FloatArray:
    """Return the air mass at the pressure of an altitude [1] (time,)."""
    found: FloatArray = atmosphere.get_absolute_airmass(
        sun.airmass, atmosphere.alt2pres(altitude_m)
    )
    return found


def cloudless_sky(sun: Sun, turbidity: FloatArray, altitude_m: float) -> Horizontal:
    """Return the light of a cloudless sky [W/m2] (time,).

    Parameters
    ----------
    sun : Sun
        The sun (time,).
    turbidity : ndarray
        Linke turbidity [1] (time,).
    altitude_m : float
        [m].

    References
    ----------
    Ineichen and Perez (2002), Solar Energy 73, 151-157, through pvlib.
    """
    # Below the horizon the library divides by no height of the sun; what is missing there is none.
    with np.errstate(divide="ignore", invalid="ignore"):
        found = clearsky.ineichen(
            sun.apparent_zenith,
            _absolute(sun, altitude_m),
            turbidity,
            altitude=altitude_m,
            dni_extra=sun.dni_extra,
        )
    parts = (np.nan_to_num(np.asarray(found[name], dtype=float)) for name in Horizontal._fields)
    return Horizontal(*parts)
