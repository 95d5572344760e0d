"""What a step's mean hides: minutes drawn from measured ones of like sky, both means kept."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import pandas as pd
from scipy.spatial import cKDTree

from yieldkit.base.arrays import BoolArray, FloatArray, IntArray
from yieldkit.physics.irradiance.cloudless import beam_below, turbidity_of, usual_turbidity
from yieldkit.physics.irradiance.sun import Sun, sun_position

_MINUTE_NS = 60_000_000_000
_DAY_NS = 1440 * _MINUTE_NS
_EVERY_MIN = 5
"""A stretch of the library begins every so many minutes."""
_ALIKE = 12
"""Stretches most like a step, of which one is drawn."""
_LOW_SUN, _HORIZON = 0.05, 0.01
"""Sine of the sun's elevation below which the library's minutes aren't used, and the least that
diffuse light is reckoned with [1]."""
_SCALES = (0.05, 0.05, 0.2, 0.2, 0.2)
"""How far stretches lie apart: by beam and clearness index, the beam index before and after, and
the sine of the sun's elevation [1]. Chosen on the odd and even days of the shipped month."""
_CLOUDLESS, _CLOUDLESS_NEXT = 0.92, 0.85
"""From which beam index on a step has no cloud, its own and those of both neighbours [1]."""
_ABOVE_CLOUDLESS = 1.1
"""How far a minute's beam may exceed that of the clearest hours [1]."""
_CLEAREST, _HALF_WINDOW_DAYS, _FEWEST = 0.15, 15, 10
"""The clearest hours round a day: this share of those with the sun at least half as high as its
highest, of so many days on either side, and of so many hours at least."""
_LEAST_TURBIDITY, _ABOVE_USUAL = 1.2, 1.25
"""Linke turbidity of the clearest hours lies between this [1] and so many times the usual one."""


class Spot(NamedTuple):
    """Where the sky is looked at: latitude, longitude [deg] and altitude [m]."""

    latitude: float
    longitude: float
    altitude_m: float


class Steps(NamedTuple):
    """Steps whose minutes are asked for; each (step,).

    Parameters
    ----------
    begins : ndarray of int
        Instants at which they begin [ns].
    dni, dhi : ndarray
        Their means [W/m2].
    """

    begins: IntArray
    dni: FloatArray
    dhi: FloatArray


class MinuteLibrary(NamedTuple):
    """Measured minutes without their units; each (minute,), missing ones and nights nan.

    Parameters
    ----------
    beam : ndarray
        Direct normal over that of the clearest hours round the day [1].
    diffuse : ndarray
        Diffuse over extraterrestrial, both on the horizontal [1].
    height : ndarray
        Sine of the sun's elevation [1].
    title, attribution : str
        What it is, and whose.
    """

    beam: FloatArray
    diffuse: FloatArray
    height: FloatArray
    title: str
    attribution: str = ""


class Minutes(NamedTuple):
    """Drawn minutes of some steps, each (step, minute).

    Parameters
    ----------
    instants : ndarray of int
        The middle of each minute [ns].
    dni, dhi : ndarray
        [W/m2]; the mean of the counted ones is the step's.
    found : ndarray of bool
        Whether the step has any (step,): not where the sun is too low for its light.
    """

    instants: IntArray
    dni: FloatArray
    dhi: FloatArray
    found: BoolArray


def minute_library(
    begins: IntArray, dni: FloatArray, dhi: FloatArray, spot: Spot, title: str, attribution: str
) -> MinuteLibrary:
    """Return measured minutes without their units.

    Parameters
    ----------
    begins : ndarray of int
        Instants at which successive minutes begin, a whole number of hours [ns] (minute,).
    dni, dhi : ndarray
        Direct normal and diffuse horizontal irradiance [W/m2] (minute,); nan where missing.
    spot : Spot
        Where they were measured.
    title, attribution : str
        What they are, and whose.
    """
    sun = _sun(begins + _MINUTE_NS // 2, spot)
    height = np.cos(np.radians(sun.zenith))
    hours = Steps(begins[::60], *(each.reshape(-1, 60).mean(axis=1) for each in (dni, dhi)))
    turbidity = np.repeat(clearest_turbidity(hours, 60, spot), 60)
    cloudless = beam_below(sun, turbidity, spot.altitude_m)
    sound = np.isfinite(dni) & np.isfinite(dhi) & (height > _LOW_SUN) & (cloudless > 1.0)
    beam = np.divide(dni, cloudless, out=np.full(dni.shape, np.nan), where=sound)
    diffuse = np.divide(dhi, sun.dni_extra * height, out=np.full(dni.shape, np.nan), where=sound)
    return MinuteLibrary(beam, diffuse, height, title, attribution)


def clearest_turbidity(steps: Steps, span_min: int, spot: Spot) -> FloatArray:
    """Return the Linke turbidity of the clearest hours round each step [1] (step,).

    Parameters
    ----------
    steps : Steps
        The steps; missing ones are nan.
    span_min : int
        Their length [min].
    spot : Spot
        Where.
    """
    sun = _sun(steps.begins + span_min * _MINUTE_NS // 2, spot)
    height = np.cos(np.radians(sun.zenith))
    own = np.full(steps.dni.shape, np.inf)
    lit = np.flatnonzero((steps.dni > 1.0) & (height > _LOW_SUN))
    own[lit] = turbidity_of(steps.dni[lit], sun.at(lit), spot.altitude_m)
    day, there = steps.begins // _DAY_NS, np.isfinite(steps.dni)
    days, place = np.unique(day, return_inverse=True)
    usual = usual_turbidity(
        pd.DatetimeIndex((days * _DAY_NS).view("datetime64[ns]")), spot.latitude, spot.longitude
    )
    found = np.empty(days.size)
    for at, each in enumerate(days):
        begin, end = np.searchsorted(day, (each - _HALF_WINDOW_DAYS, each + _HALF_WINDOW_DAYS + 1))
        high = (height[begin:end] > max(0.5 * height[begin:end].max(), _LOW_SUN)) & there[begin:end]
        near = own[begin:end][high]
        clearest = np.inf
        if near.size >= _FEWEST:
            clearest = float(np.quantile(near, _CLEAREST, method="lower"))
        found[at] = max(min(clearest, _ABOVE_USUAL * usual[at]), _LEAST_TURBIDITY)
    return found[place]


def _sun(instants: IntArray, spot: Spot) -> Sun:
    index = pd.DatetimeIndex(instants.view("datetime64[ns]")).tz_localize("UTC")
    return sun_position(index, *spot)


def draw_minutes(
    steps: Steps, span_min: int, lead_min: int, spot: Spot, library: MinuteLibrary, seed: int
) -> Minutes:
    """Draw the minutes of steps from measured ones of like sky.

    Parameters
    ----------
    steps : Steps
        In their order; those next to one another in time are neighbours.
    span_min : int
        Length of a step [min].
    lead_min : int
        So many minutes before each step are given too, of the same sky [min]; they don't count in
        its means.
    spot : Spot
        Where the sun is looked at.
    library : MinuteLibrary
        What to draw from.
    seed : int
        Of the draw.

    Returns
    -------
    Minutes
        No beam above that outside the atmosphere, and none while the sun is down.
    """
    count = lead_min + span_min
    offsets = (np.arange(count) - lead_min) * _MINUTE_NS + _MINUTE_NS // 2
    instants = steps.begins[:, None] + offsets
    shape = instants.shape
    sun = _sun(np.ascontiguousarray(instants).ravel(), spot)
    height = np.cos(np.radians(sun.zenith)).reshape(shape)
    up, above = height > 0.0, sun.dni_extra.reshape(shape)
    turbidity = np.repeat(clearest_turbidity(steps, span_min, spot), count)
    cloudless = beam_below(sun, turbidity, spot.altitude_m).reshape(shape) * up
    level = above * np.maximum(height, _HORIZON)
    counted = np.arange(count) >= lead_min
    like = _like(steps, span_min, cloudless[:, counted], level[:, counted], height[:, counted])
    rows = _drawn(like, library, span_min, lead_min, seed)[:, None] + np.arange(count)
    pattern = cloudless * np.maximum(library.beam[rows], 0.0)
    diffuse = level * library.diffuse[rows]
    even = cloudless_steps(like)
    pattern[even] = cloudless[even]
    diffuse[even] = level[even]
    dark = (pattern[:, counted].sum(axis=1) <= 0.0) & (steps.dni > 0.0)
    pattern[dark] = cloudless[dark]
    dni, found = _kept_mean(
        pattern, _ceiling(cloudless, above * up, steps.dni, counted), steps.dni, counted
    )
    mean = diffuse[:, counted].mean(axis=1)
    dhi = diffuse * np.divide(steps.dhi, mean, out=np.zeros_like(mean), where=mean > 0.0)[:, None]
    return Minutes(instants, dni, dhi, found & up[:, counted].any(axis=1))


def cloudless_steps(like: FloatArray) -> BoolArray:
    """Return which steps have no cloud: with the beam of the clearest hours, as their neighbours.

    Parameters
    ----------
    like : ndarray
        By what each step's sky is told (step, 5).
    """
    found: BoolArray = (like[:, 0] >= _CLOUDLESS) & (
        np.minimum(like[:, 2], like[:, 3]) >= _CLOUDLESS_NEXT
    )
    return found


def beam_index(steps: Steps, cloudless: FloatArray) -> FloatArray:
    """Return each step's beam over that of the clearest hours [1] (step,).

    Parameters
    ----------
    steps : Steps
        The steps.
    cloudless : ndarray
        What the clearest hours' beam would be in them [W/m2] (step, minute).
    """
    most = cloudless.mean(axis=1)
    found: FloatArray = np.divide(steps.dni, most, out=np.zeros_like(most), where=most > 1.0)
    return found


def _like(
    steps: Steps, span_min: int, cloudless: FloatArray, level: FloatArray, height: FloatArray
) -> FloatArray:
    """Return by what a step's sky is told (step, 5)."""
    beam = beam_index(steps, cloudless)
    clearness = steps.dhi / level.mean(axis=1)
    next_to = np.diff(steps.begins) <= max(span_min, 60) * _MINUTE_NS
    before, after = beam.copy(), beam.copy()
    before[1:] = np.where(next_to, beam[:-1], beam[1:])
    after[:-1] = np.where(next_to, beam[1:], beam[:-1])
    return np.stack([beam, clearness, before, after, np.maximum(height, 0.0).mean(axis=1)], axis=1)


def _drawn(
    like: FloatArray, library: MinuteLibrary, span_min: int, lead_min: int, seed: int
) -> IntArray:
    """Return at which minute of the library each step's own begin, the lead before it (step,)."""
    begins, features = _stretches(library, span_min, lead_min)
    scales = np.array(_SCALES)
    alike = min(_ALIKE, begins.size)
    _, found = cKDTree(features / scales).query(like / scales, k=np.arange(1, alike + 1))
    near = np.asarray(found)
    chosen = np.random.default_rng(seed).integers(0, alike, like.shape[0])
    drawn: IntArray = begins[near[np.arange(like.shape[0]), chosen]]
    return drawn


def _stretches(library: MinuteLibrary, span_min: int, lead_min: int) -> tuple[IntArray, FloatArray]:
    """Return where stretches of whole minutes begin, and by what each is told (stretch, 5)."""
    there = np.isfinite(library.beam) & np.isfinite(library.diffuse)
    count = lead_min + span_min
    whole = _sums(there.astype(float), count) == count
    begins = np.arange(0, whole.size, _EVERY_MIN)
    begins = begins[whole[begins]]

    def mean(values: FloatArray, moved: int) -> FloatArray:
        means = _sums(np.where(there, values, 0.0), span_min) / span_min
        known = _sums(there.astype(float), span_min) == span_min
        at = begins + lead_min + moved
        inside = np.clip(at, 0, means.size - 1)
        lies = (at == inside) & known[inside]
        found: FloatArray = np.where(lies, means[inside], means[begins + lead_min])
        return found

    neighbour = max(span_min, 60)
    return begins, np.stack(
        [
            mean(library.beam, 0),
            mean(library.diffuse, 0),
            mean(library.beam, -neighbour),
            mean(library.beam, neighbour),
            mean(library.height, 0),
        ],
        axis=1,
    )


def _sums(values: FloatArray, count: int) -> FloatArray:
    total = np.concatenate([[0.0], np.cumsum(values)])
    found: FloatArray = total[count:] - total[:-count]
    return found


def _ceiling(
    cloudless: FloatArray, above: FloatArray, mean: FloatArray, counted: BoolArray
) -> FloatArray:
    """Return what a minute's beam may reach [W/m2] (step, minute): outside the air at most."""
    usual = np.minimum(_ABOVE_CLOUDLESS * cloudless, above)
    short = usual[:, counted].mean(axis=1) < mean
    return np.where(short[:, None], above, usual)


def _kept_mean(
    pattern: FloatArray, ceiling: FloatArray, mean: FloatArray, counted: BoolArray
) -> tuple[FloatArray, BoolArray]:
    """Return a pattern scaled to a mean below a ceiling (step, minute), and where that can be.

    What is cut off at the ceiling goes to the minutes below it.
    """
    held = np.zeros(pattern.shape, dtype=bool)
    scaled = np.zeros_like(pattern)
    number = int(counted.sum())
    for _ in range(number + 1):
        free = np.where(held, 0.0, pattern)[:, counted].sum(axis=1)
        left = number * mean - np.where(held, ceiling, 0.0)[:, counted].sum(axis=1)
        factor = np.divide(left, free, out=np.zeros_like(free), where=free > 0.0)
        scaled = np.where(held, ceiling, pattern * np.maximum(factor, 0.0)[:, None])
        over = (scaled > ceiling) & ~held
        if not over[:, counted].any():
            break
        held |= over
    scaled = np.minimum(scaled, ceiling)
    found = np.abs(scaled[:, counted].mean(axis=1) - mean) <= 1e-10 * np.maximum(mean, 1.0)
    return scaled, found
