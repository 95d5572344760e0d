"""Shade in midwinter: which modules lie without direct light, and for how long."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
import pandas as pd

from yieldkit.base.arrays import BoolArray, FloatArray
from yieldkit.config.models.planes import Plane
from yieldkit.config.site.site import Site
from yieldkit.design.checks.findings import (
    COSTS_YIELD,
    NOT_CHECKED,
    PASSES,
    Finding,
    not_applicable,
    not_checked,
)
from yieldkit.design.roof.scene import PlaneScene, idle_obstacles, plane_frame, plane_scenes
from yieldkit.physics.irradiance.horizon import hides_sun
from yieldkit.physics.irradiance.module_light import Components, directions, module_light
from yieldkit.physics.irradiance.sky_seen import SkyViews
from yieldkit.physics.irradiance.sun import Sun, sun_position

CHECK = "modules without direct light in midwinter"
IDLE = "obstacles that shade nothing"
WHY_IDLE = (
    "It lets all light through, or lies wholly below or behind every plane's modules: a slip in "
    "its place or height, or in a plane's corner_m?"
)
_RULE = "geometry of planes and obstacles, common practice, no source"
_MIDWINTER_NORTH = pd.Timestamp("2021-12-21", tz="UTC")
_MIDWINTER_SOUTH = pd.Timestamp("2021-06-21", tz="UTC")
_STEP_MIN = 5
_HALF = 0.5
_MOST_TOLD = 6


class _Shade(NamedTuple):
    """A plane's modules on the day of the lowest sun, where that stands before the plane.

    Parameters
    ----------
    clock : ndarray
        Local standard time of the steps [h] (step,).
    without : ndarray of bool
        Whether a cell gets less than half of the direct light (step, module).
    """

    clock: FloatArray
    without: BoolArray


def shade(site: Site) -> Iterator[Finding]:
    """Report modules in the shade of obstacles and other planes under the year's lowest noon sun.

    Parameters
    ----------
    site : Site
        The planes with their corners, and obstacles.
    """
    if all(plane.corner_m is None for plane in site.planes):
        what = "Where the planes lie (corner_m of each) and what stands round them (obstacles)"
        yield not_checked(CHECK, "array", what, _RULE)
        return
    scenes = plane_scenes(site)
    sun, clock = _sun_of_the_day(site)
    for plane, scene in zip(site.planes, scenes, strict=True):
        yield _of_plane(site, plane, scene, sun, clock)
    for idle in idle_obstacles(site):
        yield not_applicable(IDLE, site.obstacles[idle].name, WHY_IDLE, _RULE)


def _midwinter(site: Site) -> pd.Timestamp:
    """Return the day of the lowest noon sun: June's solstice south of the equator."""
    return _MIDWINTER_NORTH if site.site.latitude >= 0.0 else _MIDWINTER_SOUTH


def _sun_of_the_day(site: Site) -> tuple[Sun, FloatArray]:
    """Return the sun on that day and the local standard time of each step [h]."""
    place = site.site
    begin = _midwinter(site) - pd.Timedelta(seconds=place.utc_offset_s)
    middles: FloatArray = (np.arange(0, 24 * 60, _STEP_MIN, dtype=float) + _STEP_MIN / 2) / 60.0
    times = begin + pd.to_timedelta(middles, unit="h")
    sun = sun_position(pd.DatetimeIndex(times), place.latitude, place.longitude, place.altitude_m)
    up = np.flatnonzero(sun.apparent_zenith < 90.0)
    return sun.at(up), middles[up]


def _of_plane(
    site: Site, plane: Plane, scene: PlaneScene | None, sun: Sun, clock: FloatArray
) -> Finding:
    """Return the finding of one plane."""
    if scene is None:
        return Finding(CHECK, plane.name, PASSES, 0.0, 0.0, "modules", _RULE)
    module = next(each for each in site.module_types if each.name == plane.module_type)
    if module.cell_layout == "shingled":
        return Finding(
            CHECK,
            plane.name,
            NOT_CHECKED,
            rule=_RULE,
            advice="Shingled modules in partial shade are NOT MODELLED: what they lose in the "
            f"shadow of {_list(tuple(dict.fromkeys(scene.names)))} isn't known.",
        )
    midwinter = _midwinter(site)
    day = f"{midwinter.day} {midwinter.month_name()}"
    found = _shade(plane, scene, sun, clock, midwinter.month - 1)
    if not found.clock.size:
        why = f"On {day} the sun stays behind {plane.name} or below the horizon."
        return not_applicable(CHECK, plane.name, why, _RULE)
    count = int(found.without.any(axis=0).sum())
    return Finding(
        CHECK,
        plane.name,
        COSTS_YIELD if count else PASSES,
        float(count),
        0.0,
        "modules",
        _RULE,
        _told(plane, found, day) if count else "",
    )


def _shade(plane: Plane, scene: PlaneScene, sun: Sun, clock: FloatArray, month: int) -> _Shade:
    """Return which modules of a plane have too little direct light, and when; January is 0."""
    faces = directions(sun) @ plane_frame(plane).normal > 0.0
    if scene.horizon is not None:
        faces &= ~hides_sun(sun, *scene.horizon)
    steps = np.flatnonzero(faces)
    modules = scene.modules
    dark = np.zeros((12, len(modules.starts), len(modules.cells.middles)))
    only = Components(np.ones(steps.size), np.zeros(steps.size), np.zeros(steps.size))
    months = np.full(steps.size, month)
    views = SkyViews(dark, np.arange(12))
    light = module_light(modules, scene.bodies, views, sun.at(steps), months, only)
    return _Shade(clock[steps], light.darkest.min(axis=(2, 3)) < _HALF)


def _told(plane: Plane, found: _Shade, day: str) -> str:
    """Return for how long which modules lie without direct light, the longest first."""
    hours = found.without.sum(axis=0) * _STEP_MIN / 60.0
    order = [int(each) for each in np.argsort(-hours, kind="stable") if hours[each] > 0.0]
    told = [
        f"row {plane.places[each].row}, column {plane.places[each].column} for {hours[each]:.1f} h "
        f"({_span(found, each)})"
        for each in order[:_MOST_TOLD]
    ]
    more = len(order) - len(told)
    rest = f"; {more} more for up to {hours[order[len(told)]]:.1f} h" if more else ""
    whole = len(found.clock) * _STEP_MIN / 60.0
    return (
        f"On {day} the sun stands before {plane.name} for {whole:.1f} h; cells have less than half "
        f"of its direct light in {'; '.join(told)}{rest}. Wire them together, or leave them out."
    )


def _span(found: _Shade, module: int) -> str:
    """Return from when to when a module lies in shade, in local standard time."""
    at = found.clock[found.without[:, module]]
    half = _STEP_MIN / 120.0
    return f"{_clock(at[0] - half)} to {_clock(at[-1] + half)}"


def _clock(hour: float) -> str:
    minutes = round(hour * 60.0)
    return f"{minutes // 60:02d}:{minutes % 60:02d}"


def _list(names: tuple[str, ...]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
