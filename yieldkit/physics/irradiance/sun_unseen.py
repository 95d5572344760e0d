"""The sky while the sun stands behind a sensor: its beam from a time when it was seen."""

from __future__ import annotations

import numpy as np
from pvlib import irradiance

from yieldkit.base.arrays import FloatArray, IntArray
from yieldkit.physics.irradiance.sky import Horizontal, decompose, plane_irradiance
from yieldkit.physics.irradiance.sun import Sun

GRAZING = float(np.cos(np.radians(80.0)))
"""Cosine of the sun's angle on a sensor below which readings that no sky gives are not believed:
from about 80 degrees on light turned back is poor (pvlib on Marion's model, read)."""
TELLING = float(np.cos(np.radians(70.0)))
_SQUARELY = float(np.cos(np.radians(50.0)))
"""Cosines of the angles between which a sensor's reading tells how clear the sky is. Marion takes
65 to 80 degrees. Turned back by Erbs and Driesse's split, readings beyond 70 give far too dim a
beam on clear days. With 50 to 70 the energy of a plane that faces the other way is less off in nine
of eleven cases and more in one: measured minutes of June 2016 at 15 and 60 minutes and the typical
year, each with sensors to the east at 30, 60 and 90 degrees, and the two days invented in the tests
(computed)."""
_HIGH_ENOUGH_DEG = 86.0
"""Zenith up to which global light tells how clear the sky is: beyond 86.3 degrees pvlib's clearness
index is of a sun that stands higher, beyond 87 its splits know no beam (read)."""
_THICKEST_AIR = 38.0
"""Relative air mass at the horizon [1] (Kasten and Young 1989, computed)."""
_LEAST_DIFFUSE = 0.165
"""Share of global light that is diffuse under the clearest sky [1]: Erbs, Klein and Duffie (1982),
Solar Energy 28, 293-302; read in pvlib."""
_HALVINGS = 40


def most_global(sun: Sun) -> FloatArray:
    """Return the most global irradiance that is physically possible [W/m2] (time,).

    Parameters
    ----------
    sun : Sun
        The sun (time,).

    References
    ----------
    BSRN's physically possible limits (Long and Dutton 2002; Long and Shi 2008, The Open
    Atmospheric Science Journal 2, 23-37), read in pvanalytics: 1.5 x extraterrestrial x
    cos(zenith)^1.2 + 100 W/m2.
    """
    most: FloatArray = 1.5 * sun.dni_extra * _level(sun) ** 1.2 + 100.0
    return most


def most_diffuse(sun: Sun) -> FloatArray:
    """Return the most diffuse irradiance that is physically possible [W/m2] (time,).

    Parameters
    ----------
    sun : Sun
        The sun (time,).

    References
    ----------
    As `most_global`: 0.95 x extraterrestrial x cos(zenith)^1.2 + 50 W/m2.
    """
    most: FloatArray = 0.95 * sun.dni_extra * _level(sun) ** 1.2 + 50.0
    return most


def assumed_beam(ghi: FloatArray, facing: FloatArray, sun: Sun, model: str) -> FloatArray:
    """Return the beam of a sky as clear as while the sun was last, or will next be, seen.

    How clear is the clearness index with the air mass taken out: its mean over the steps of the
    same morning or afternoon in which the sun met the sensor at 50 to 70 degrees; where there are
    none, that of the nearest step of the same day in which it met it at less than 70.

    Parameters
    ----------
    ghi : ndarray
        Global irradiance [W/m2] (time,), in the order of time; nan where it isn't known.
    facing : ndarray
        Cosine of the sun's angle on the sensor [1] (time,).
    sun : Sun
        The sun (time,).
    model : str
        A key of `DECOMPOSITION`.

    Returns
    -------
    ndarray
        DNI [W/m2] (time,), no more than comes from space; nan where the sun was not seen all day.

    References
    ----------
    Marion (2015), Solar Energy 122, 1037-1046, section 2.2, as pvlib has it (read). Clearness:
    Perez et al. (1992), ASHRAE Transactions 98, 354-369, through pvlib. Ours are the
    angles, the step for days without them, and the model that splits global light.
    """
    air = np.nan_to_num(sun.airmass, nan=_THICKEST_AIR)
    own = irradiance.clearness_index_zenith_independent(1.0, air, np.inf)
    clearness = own * np.asarray(irradiance.clearness_index(ghi, sun.zenith, sun.dni_extra))
    half, day = _halves_and_days(sun)
    told = ~np.isnan(ghi) & (facing >= TELLING) & (sun.zenith < _HIGH_ENOUGH_DEG)
    slanting = told & (facing <= _SQUARELY)
    number = np.bincount(half[slanting], minlength=half.max(initial=0) + 1)
    total = np.bincount(half[slanting], clearness[slanting], number.size)
    mean = np.divide(total, number, out=np.full(number.size, np.nan), where=number > 0)[half]
    mean = np.where(np.isnan(mean), _nearest(clearness, np.flatnonzero(told), day), mean)
    cloudless = sun.dni_extra * _level(sun)
    # No more than comes from space, of which every model leaves the beam a part.
    return decompose(np.clip(mean / own, 0.0, 1.0) * cloudless, sun, model)[0]


def _halves_and_days(sun: Sun) -> tuple[IntArray, IntArray]:
    """Return the number of the morning or afternoon, and of the day, of each step (time,)."""
    up, west = sun.apparent_zenith < 90.0, sun.azimuth > 180.0
    rises = up & ~np.r_[False, up[:-1]]
    turns = west != np.r_[west[:1], west[:-1]]
    half = np.cumsum(rises | (up & turns))
    # Where the sun doesn't set a day begins at its northernmost, or southernmost, instead.
    return half, np.cumsum(rises | (up & turns & ~west))


def _nearest(values: FloatArray, told: IntArray, day: IntArray) -> FloatArray:
    """Return the value of the nearest step of the same day that is told; nan where none is."""
    found = np.full(values.size, np.nan)
    if told.size == 0:
        return found
    steps = np.arange(values.size)
    after = np.searchsorted(told, steps)
    pair = np.stack([told[np.maximum(after - 1, 0)], told[np.minimum(after, told.size - 1)]])
    away = np.where(day[pair] == day, np.abs(pair - steps), np.inf)
    best = np.take_along_axis(pair, np.argmin(away, axis=0)[None], axis=0)[0]
    return np.where(np.isfinite(away.min(axis=0)), values[best], np.nan)


def sky_with_beam(
    measured: FloatArray,
    beam: FloatArray,
    sun: Sun,
    plane: tuple[float, float],
    albedo: float,
    transposition: str,
) -> Horizontal:
    """Return the sky of a known beam whose diffuse light gives what was measured on a plane.

    Parameters
    ----------
    measured : ndarray
        Light on the plane [W/m2] (time,).
    beam : ndarray
        DNI [W/m2] (time,); less where a sky so clear would give more than was measured.
    sun : Sun
        The sun (time,).
    plane : tuple of float
        Tilt and azimuth [deg].
    albedo : float
        Share of light that the ground reflects [1].
    transposition : str
        A key of `TRANSPOSITION`.

    Returns
    -------
    Horizontal
        [W/m2] (time,), none of them more than is physically possible.
    """
    level = _level(sun)
    clearest = (1.0 / _LEAST_DIFFUSE - 1.0) / np.maximum(level, 1e-9)

    def sky(dhi: FloatArray) -> Horizontal:
        dni = np.minimum(beam, clearest * dhi)
        return Horizontal(dhi + dni * level, dni, dhi)

    low = np.zeros(measured.size)
    high = np.minimum(most_diffuse(sun), np.maximum(most_global(sun) - beam * level, 0.0))
    for _ in range(_HALVINGS):
        half = 0.5 * (low + high)
        given = plane_irradiance(sun, sky(half), albedo, *plane, transposition).poa_global
        low, high = np.where(given < measured, half, low), np.where(given < measured, high, half)
    return sky(np.where(measured > 0.0, 0.5 * (low + high), 0.0))


def _level(sun: Sun) -> FloatArray:
    """Return the cosine of the sun's zenith, zero while it is down [1] (time,)."""
    level: FloatArray = np.maximum(np.cos(np.radians(sun.zenith)), 0.0)
    return level
