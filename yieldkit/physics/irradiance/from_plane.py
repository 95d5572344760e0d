"""Light measured on a plane: its parts, what a sensor would read, and the sky that gave it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from pvlib.irradiance import aoi_projection

from yieldkit.base.arrays import BoolArray, FloatArray
from yieldkit.physics.irradiance.sky import (
    Horizontal,
    Modifiers,
    PlaneIrradiance,
    decompose,
    effective_irradiance,
    plane_irradiance,
)
from yieldkit.physics.irradiance.sun import Sun
from yieldkit.physics.irradiance.sun_unseen import (
    GRAZING,
    TELLING,
    assumed_beam,
    sky_with_beam,
)

_LEAST = 1.0
"""Modelled light below which a share of it says nothing of a sensor that lies otherwise [W/m2]."""
_LEAST_SHARE = 0.5
"""Share of a level plane's beam below which a plane that the sun grazes tells a dim sky from a
bright one badly. In minutes of June 2016 at 15 and 60 minutes and the typical year, each with
twelve single sensors and up to six pairs, light on eight other planes is then off by less (root of
the mean square, by over 2 W/m2) in 37 of 49 cases and by more in none; with all that is met at over
70 degrees by less in 37 too, but by more in ten: planes nearly level, and pairs (computed)."""
_HALVINGS = 40


class Reading(NamedTuple):
    """Light measured on a plane.

    Parameters
    ----------
    measured : ndarray
        What the sensor read [W/m2] (time,).
    modelled : PlaneIrradiance
        What is modelled where the sensor lies.
    modifiers : Modifiers or None
        Of its glass, for a cell behind glass; None for a pyranometer, which takes all light.
    in_plane : bool
        Whether it lies as the plane does.
    """

    measured: FloatArray
    modelled: PlaneIrradiance
    modifiers: Modifiers | None
    in_plane: bool


def with_reading(
    on_plane: PlaneIrradiance, through: Modifiers, reading: Reading
) -> tuple[PlaneIrradiance, FloatArray]:
    """Return a plane's light as measured, its parts in the proportion that is modelled.

    Parameters
    ----------
    on_plane : PlaneIrradiance
        What is modelled of the plane.
    through : Modifiers
        Of the plane's own glass.
    reading : Reading
        What was measured.

    Returns
    -------
    tuple of (PlaneIrradiance, ndarray)
        The plane's light, and the factor on its modelled parts [1] (time,); zero where nothing
        is modelled, so that all that was measured is taken to come from the sky.
    """
    expected = reading.modelled.poa_global
    if reading.modifiers is not None:
        expected = effective_irradiance(reading.modelled, reading.modifiers)
    told = expected > (0.0 if reading.in_plane else _LEAST)
    with np.errstate(divide="ignore", invalid="ignore"):
        factor = np.where(told, reading.measured / expected, 0.0)
    factor = np.where(np.isnan(expected), np.nan, factor)
    glass = 1.0 if reading.modifiers is None else through.sky
    rest = np.where(told, 0.0, reading.measured / glass)
    direct, sky, ground = (
        part * factor
        for part in (on_plane.poa_direct, on_plane.poa_sky_diffuse, on_plane.poa_ground_diffuse)
    )
    sky = sky + rest
    total = direct + sky + ground
    if reading.modifiers is None and reading.in_plane:
        total = np.where(np.isnan(total), np.nan, reading.measured)
    return on_plane._replace(
        poa_direct=direct, poa_sky_diffuse=sky, poa_ground_diffuse=ground, poa_global=total
    ), factor


class SkyBehind(NamedTuple):
    """The sky behind light measured on planes, each (time,).

    Parameters
    ----------
    light : Horizontal
        [W/m2]; missing where a reading is.
    unseen : ndarray of bool
        Daylit steps in which no sensor told of the sun, so that its beam is assumed.
    beamless : ndarray of bool
        Those of days on which none told of it at all, so that no beam is assumed.
    doubtful : ndarray of bool
        Steps of such days in which the sun grazed the sensors, whose readings fit dim and bright
        skies alike; `light` is sought in them all the same.
    """

    light: Horizontal
    unseen: BoolArray
    beamless: BoolArray
    doubtful: BoolArray


def sky_from_planes(
    readings: Sequence[tuple[FloatArray, float, float]],
    sun: Sun,
    albedo: float,
    decomposition: str,
    transposition: str = "perez-driesse",
) -> SkyBehind:
    """Return the sky that gives the light measured on planes.

    At every step the plane that the sun meets most squarely is asked: the global irradiance is
    sought whose direct and diffuse parts give what was measured there. With the sun behind it
    diffuse light alone is seen, which a bright sky gives as well as a dim one: the beam is then
    that of `assumed_beam`, and what was measured says the diffuse light. So it is, too, where the
    sun grazes the plane, at over 70 degrees and with less than half of its beam on a level one, and
    where it does so at over 80 and the reading gave a sky that is physically impossible.

    Parameters
    ----------
    readings : sequence of tuple
        Of each plane what was measured [W/m2] (time,), and the sensor's tilt and azimuth [deg].
    sun : Sun
        The sun (time,), in the order of time.
    albedo : float
        Share of light that the ground reflects [1].
    decomposition, transposition : str
        Models, keys of `DECOMPOSITION` and `TRANSPOSITION`.

    Returns
    -------
    SkyBehind
        DNI is no more than comes from space, GHI no more than `most_global`, bounds of BSRN.
    """
    angles = np.array(
        [
            aoi_projection(tilt, azimuth, sun.apparent_zenith, sun.azimuth)
            for _, tilt, azimuth in readings
        ]
    )
    chosen, facing = np.argmax(angles, axis=0), np.max(angles, axis=0)
    measured = np.stack([each for each, _, _ in readings])[chosen, np.arange(chosen.size)]
    day = (sun.apparent_zenith < 90.0) & ~np.isnan(measured)
    behind = day & (facing <= 0.0)
    level = np.cos(np.radians(sun.apparent_zenith))
    grazed = day & ~behind & (facing < np.minimum(TELLING, _LEAST_SHARE * level))
    ghi = np.full(sun.zenith.size, np.nan)
    planes = [(tilt, azimuth) for _, tilt, azimuth in readings]
    for at, plane in enumerate(planes):
        own = np.flatnonzero((chosen == at) & ~behind)
        models = (decomposition, transposition)
        ghi[own] = _turned_back(measured[own], sun.at(own), plane, albedo, models)
    parts = (ghi, *decompose(ghi, sun, decomposition))
    # Where so low a sun gives more global light than is possible, it gives more direct light too.
    impossible = day & ~behind & (parts[1] > sun.dni_extra)
    unseen = behind | (impossible & (facing < GRAZING))
    beam = sun.dni_extra
    if unseen.any() or grazed.any():
        seen = assumed_beam(ghi, facing, sun, decomposition)
        # A poor reading tells more than a day of which nothing is known.
        unseen = unseen | (grazed & ~np.isnan(seen))
        beam = np.where(unseen, seen, beam)
    anew = unseen | impossible
    for at, plane in enumerate(planes):
        own = np.flatnonzero((chosen == at) & anew)
        filled = sky_with_beam(
            measured[own], np.nan_to_num(beam[own]), sun.at(own), plane, albedo, transposition
        )
        for part, values in zip(parts, filled, strict=True):
            part[own] = values
    return SkyBehind(Horizontal(*parts), unseen, unseen & np.isnan(beam), grazed & ~unseen)


def _turned_back(
    measured: FloatArray,
    sun: Sun,
    plane: tuple[float, float],
    albedo: float,
    models: tuple[str, str],
) -> FloatArray:
    """Return the global irradiance that gives what was measured on a plane [W/m2] (time,)."""
    decomposition, transposition = models
    low = np.zeros(measured.size)
    # Clouds beside the sun throw more on the ground than comes from space.
    high = 1.3 * sun.dni_extra * np.maximum(np.cos(np.radians(sun.zenith)), 0.0) + 50.0
    for _ in range(_HALVINGS):
        half = 0.5 * (low + high)
        light = Horizontal(half, *decompose(half, sun, decomposition))
        given = plane_irradiance(sun, light, albedo, *plane, transposition).poa_global
        low, high = np.where(given < measured, half, low), np.where(given < measured, high, half)
    return np.where(np.isnan(measured), np.nan, np.where(measured > 0.0, 0.5 * (low + high), 0.0))
