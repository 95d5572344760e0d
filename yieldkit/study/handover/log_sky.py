"""Light and heat on all planes at a log's steps, under each slip."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from pvlib.irradiance import aoi_projection

from yieldkit.base.arrays import BoolArray, FloatArray
from yieldkit.config.site.site import Site
from yieldkit.study.handover.diffuse_share import diffuse_share_off
from yieldkit.study.handover.log_rows import LogRows
from yieldkit.study.handover.meter import TEMP_AIR_C, Skies, of_like_skies
from yieldkit.study.handover.slips import Slip
from yieldkit.study.simulation.plane_sky import (
    PlaneSky,
    cells_behind,
    cells_without_thermometer,
    cloudless,
)

_BESIDE_MIN = 5.0
_DIFFUSE_PASSED = 0.95
"""Share of evenly diffuse light that glass lets through, over that of light straight on; common
practice, no source."""
_BEAM_GONE = 1.6
"""Measured light that is less than a cloudless sky's by one share has lost so many of its direct
light; common practice, no source."""
_EVER_OTHER, _BY_CLOUD = 0.1, 0.5
"""How far the share of direct light may be off in clear light, and by so much of what is gone."""
_LEAST_W_M2 = 1.0
_MOST_OFF = 0.7


class LogSky(NamedTuple):
    """Light and heat under each slip.

    Parameters
    ----------
    light : ndarray
        In the cells [W/m2] (slip, step, plane).
    on_glass : ndarray
        On the glass [W/m2] (slip, step, plane).
    heat : ndarray
        Of the cells [degC] (slip, step, plane).
    by_clock : ndarray
        By how much the logarithm of the light grows if the clock is a minute more ahead [1/min]
        (slip, step, plane).
    by_clouds : ndarray
        By how much the logarithm of the light in a plane's cells may be off, for its direct share
        isn't known: glass takes more of low direct light than of diffuse, and where light is
        brought from elsewhere it hangs on that share (slip, step, plane).
    lit_by_sensor, warm_by_sensor : ndarray of bool
        Planes whose light was measured in them, by a sensor that lies as they do, or whose heat
        was on them (plane,).
    """

    light: FloatArray
    on_glass: FloatArray
    heat: FloatArray
    by_clock: FloatArray
    by_clouds: FloatArray
    lit_by_sensor: BoolArray
    warm_by_sensor: BoolArray


def log_sky(site: Site, rows: LogRows, slips: Sequence[Slip]) -> LogSky:
    """Return light and heat under each slip.

    A plane's light is what its own sensor measured; where it has none, what a cloudless sky gives
    it, as much brighter as the sensors of other planes, or of global irradiance, were than below
    that sky; and the cloudless sky itself where nothing was measured.

    Parameters
    ----------
    site : Site
        The site.
    rows : LogRows
        The log.
    slips : sequence of Slip
        The slips.
    """
    sensed = np.asarray(np.isfinite(rows.light).all(axis=0))
    warm = np.asarray(np.isfinite(rows.heat).all(axis=0) | np.isfinite(rows.cells).all(axis=0))
    shape = len(slips), rows.steps, len(site.planes)
    light, on_glass, heat, by_clock, by_clouds = (np.empty(shape) for _ in range(5))
    rear = np.array([1.0 + plane.rear_gain_percent / 100.0 for plane in site.planes])
    skies = Skies(site, rows.moments)
    for members in of_like_skies(slips):
        slip = slips[members[0]]
        sky = skies.of(slip)
        glass = _on_glass(rows, sensed, sky, skies, slip)
        earlier, later = (skies.of(slip, own) for own in (_BESIDE_MIN, -_BESIDE_MIN))
        duller, gone = np.log(_DIFFUSE_PASSED * rear / sky.passed), _beam_gone(glass, sky, sensed)
        passed = sky.passed * np.where(sensed, np.exp(gone * duller), 1.0)
        on_glass[members], light[members] = glass, np.maximum(glass * passed, _LEAST_W_M2)
        by_share = _by_share(site, rows, sky) if rows.measured else 0.0
        by_clouds[members] = np.where(sensed, (_EVER_OTHER + _BY_CLOUD * gone) * duller, by_share)
        heat[members] = _heat(site, rows, warm, glass)
        logs = [np.log(np.maximum(own.poa_global * own.passed, 10.0)) for own in (earlier, later)]
        by_clock[members] = np.where(sensed, 0.0, (logs[0] - logs[1]) / (2.0 * _BESIDE_MIN))
    light *= np.stack([slip.light for slip in slips])[:, None]
    return LogSky(light, on_glass, heat, by_clock, by_clouds, sensed & rows.in_plane, warm)


def _beam_gone(glass: FloatArray, sky: PlaneSky, sensed: BoolArray) -> FloatArray:
    """Return the share of a cloudless sky's direct light that clouds took [1] (step, 1).

    It goes by all planes that were measured together: one that the sun grazes has little of it.
    """
    below = sky.poa_global[:, sensed].sum(axis=1, keepdims=True)
    brighter = glass[:, sensed].sum(axis=1, keepdims=True) / np.maximum(below, _LEAST_W_M2)
    found: FloatArray = np.clip(_BEAM_GONE * (1.0 - brighter), 0.0, 1.0)
    return found


def _by_share(site: Site, rows: LogRows, sky: PlaneSky) -> FloatArray:
    """Return by how much light brought from elsewhere may be off, as a logarithm (step, plane)."""
    lit = cloudless(site, rows.moments)
    height = 90.0 - lit.sun.apparent_zenith
    upward = np.sin(np.radians(np.maximum(height, 3.0)))
    found = np.empty(sky.poa_global.shape)
    for at, plane in enumerate(site.planes):
        lies = plane.tilt_deg, plane.azimuth_deg
        facing = aoi_projection(*lies, lit.sun.apparent_zenith, lit.sun.azimuth)
        moved = np.clip(facing, 0.0, 1.0) / upward
        moved -= 0.5 * (1.0 + np.cos(np.radians(plane.tilt_deg)))
        whole = np.maximum(sky.poa_global[:, at], _LEAST_W_M2)
        found[:, at] = lit.light.ghi * moved / whole * diffuse_share_off(height)
    return np.clip(found, -_MOST_OFF, _MOST_OFF)


def _on_glass(
    rows: LogRows, sensed: BoolArray, sky: PlaneSky, skies: Skies, slip: Slip
) -> FloatArray:
    """Return the light on all planes under a slip [W/m2] (step, plane)."""
    read = rows.light / slip.sensor
    brighter = np.ones(rows.steps)
    if sensed.any():
        below = sky.poa_global[:, sensed].sum(axis=1)
        brighter = read[:, sensed].sum(axis=1) / np.maximum(below, _LEAST_W_M2)
    elif np.isfinite(rows.beside).all():
        brighter = rows.beside / slip.sensor / np.maximum(skies.level(slip), _LEAST_W_M2)
    return np.where(sensed, read, brighter[:, None] * sky.poa_global)


def _heat(site: Site, rows: LogRows, warm: BoolArray, glass: FloatArray) -> FloatArray:
    """Return the temperature of cells [degC] (step, plane)."""
    air = np.where(np.isfinite(rows.temp_air), rows.temp_air, TEMP_AIR_C)
    found = np.empty(glass.shape)
    for place, plane in enumerate(site.planes):
        plain = cells_without_thermometer(plane, glass[:, place], air)
        behind = cells_behind(plane, rows.heat[:, place], glass[:, place])
        own = np.where(np.isfinite(rows.cells[:, place]), rows.cells[:, place], behind)
        found[:, place] = own if warm[place] else plain
    if warm.any() and not warm.all():
        # Elsewhere they are as much warmer than reckoned as where a thermometer was.
        others = [
            found[:, place] - cells_without_thermometer(site.planes[place], glass[:, place], air)
            for place in np.flatnonzero(warm)
        ]
        found[:, ~warm] += np.mean(others, axis=0)[:, None]
    return found
