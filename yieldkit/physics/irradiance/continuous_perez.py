"""Perez's sky with continuous coefficients, evaluated as polynomials of all six at once."""

from __future__ import annotations

import numpy as np
from pvlib import atmosphere
from scipy.interpolate import PPoly

from yieldkit.base.arrays import FloatArray

_KNOTS = (0.0, 0.0, 0.0, 0.061, 0.187, 0.333, 0.487, 0.643, 0.778, 0.839, 1.0, 1.0, 1.0)
_COEFFICIENTS = (
    (-0.053, 0.529, -0.028, -0.071, 0.061, -0.019),
    (-0.008, 0.588, -0.062, -0.060, 0.072, -0.022),
    (0.131, 0.770, -0.167, -0.026, 0.106, -0.032),
    (0.328, 0.471, -0.216, 0.069, -0.105, -0.028),
    (0.557, 0.241, -0.300, 0.086, -0.085, -0.012),
    (0.861, -0.323, -0.355, 0.240, -0.467, -0.008),
    (1.212, -1.239, -0.444, 0.305, -0.797, 0.047),
    (1.099, -1.847, -0.365, 0.275, -1.132, 0.124),
    (0.544, 0.157, -0.213, 0.118, -1.455, 0.292),
    (0.544, 0.157, -0.213, 0.118, -1.455, 0.292),
)
"""Knots in clearness and spline coefficients of F11, F12, F13, F21, F22, F23 [1]: Driesse, Jensen
and Perez (2024), Solar Energy 267, table 2; read in pvlib, which evaluates them one by one."""
_CIRCUMSOLAR_AT_MOST = 0.9
_KAPPA = 1.041
_LEAST_COSINE = float(np.cos(np.radians(85.0)))
_AIRMASS_AT_HORIZON = float(atmosphere.get_relative_airmass(90.0, "kastenyoung1989"))


def _pieces() -> tuple[FloatArray, FloatArray]:
    """Return where the polynomials begin (piece,) and their coefficients (3, 6, piece)."""
    knots = np.array(_KNOTS)
    own = np.flatnonzero(np.diff(knots) > 0.0)
    # A spline's list of coefficients is as long as its knots; the last ones are not used.
    padded = np.pad(np.array(_COEFFICIENTS), ((0, knots.size - len(_COEFFICIENTS)), (0, 0)))
    splines = [PPoly.from_spline((knots, column, 2)) for column in padded.T]
    return knots[own], np.stack([spline.c[:, own] for spline in splines], axis=1)


_BEGINS, _PIECES = _pieces()


def sky_diffuse(
    light: tuple[FloatArray, FloatArray],
    zenith: FloatArray,
    extraterrestrial: tuple[FloatArray, FloatArray],
    tilt: float,
    projection: FloatArray,
) -> FloatArray:
    """Return the sky's diffuse irradiance on a plane [W/m2] (time,).

    Parameters
    ----------
    light : tuple of ndarray
        Diffuse on the horizontal, and direct normal irradiance [W/m2] (time,).
    zenith : ndarray
        Apparent zenith of the sun [deg] (time,).
    extraterrestrial : tuple of ndarray
        Extraterrestrial normal irradiance [W/m2] and relative air mass [1] (time,).
    tilt : float
        [deg].
    projection : ndarray
        Cosine of the angle of incidence on the plane [1] (time,).

    References
    ----------
    Driesse, Jensen and Perez (2024), Solar Energy 267, 112093.
    """
    circumsolar_share, horizon = _shares(light, zenith, extraterrestrial)
    slope = np.radians(tilt)
    dome = 0.5 * (1.0 - circumsolar_share) * (1.0 + np.cos(slope))
    disc = circumsolar_share * _disc(zenith, projection)
    found: FloatArray = np.maximum(light[0] * (dome + disc + horizon * np.sin(slope)), 0.0)
    return found


def circumsolar(
    light: tuple[FloatArray, FloatArray],
    zenith: FloatArray,
    extraterrestrial: tuple[FloatArray, FloatArray],
    projection: FloatArray,
) -> FloatArray:
    """Return the part of it that comes from round the sun [W/m2] (time,).

    Parameters
    ----------
    light, zenith, extraterrestrial, projection : tuple of ndarray, and ndarray
        As for `sky_diffuse`.
    """
    found: FloatArray = (
        light[0] * _shares(light, zenith, extraterrestrial)[0] * _disc(zenith, projection)
    )
    return found


def _disc(zenith: FloatArray, projection: FloatArray) -> FloatArray:
    """Return the disc round the sun seen from a plane over that seen from the ground [1]."""
    level = np.maximum(np.cos(np.radians(zenith)), _LEAST_COSINE)
    seen: FloatArray = np.maximum(projection, 0.0) / level
    return seen


def _shares(
    light: tuple[FloatArray, FloatArray],
    zenith: FloatArray,
    extraterrestrial: tuple[FloatArray, FloatArray],
) -> tuple[FloatArray, FloatArray]:
    """Return the circumsolar share of the sky's light, and that of the horizon's band [1]."""
    dhi, dni = light
    above, airmass = extraterrestrial
    z = np.radians(zenith)
    brightness = dhi * np.where(zenith >= 90.0, _AIRMASS_AT_HORIZON, airmass) / above
    total = dhi + dni
    clear = np.divide(dni, total, out=np.zeros_like(total), where=(total != 0.0) & (dhi != 0.0))
    clear = clear / (1.0 - _KAPPA * z * z * z * (clear - 1.0))
    piece = np.clip(np.searchsorted(_BEGINS, clear, side="right") - 1, 0, _BEGINS.size - 1)
    off = clear - _BEGINS[piece]
    f11, f12, f13, f21, f22, f23 = (
        (two[piece] * off + one[piece]) * off + zero[piece]
        for two, one, zero in zip(*_PIECES, strict=True)
    )
    around = np.clip(f11 + f12 * brightness + f13 * z, 0.0, _CIRCUMSOLAR_AT_MOST)
    return around, f21 + f22 * brightness + f23 * z
