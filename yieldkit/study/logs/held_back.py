"""Hours in which something holds power back: plateaus, and voltages moved up from most power."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import BoolArray, FloatArray, IntArray
from yieldkit.config.models.inverters import Inverter, MpptInput
from yieldkit.study.logs.columns import in_runs, resolution, runs

_WITHIN = 0.012
"""Values this close to a day's highest lie on its plateau, if there is one [1]."""
_LIGHT_MOVES = 0.05
"""Change of the light along a plateau, at least [1]."""
_LEAST_STEPS = 4
_LEAST_INVERTER_MIN, _LEAST_INPUT_MIN = 80.0, 100.0
"""A curve without a plateau stays that close to its top for shorter, 75 min where the sun goes
straight over a plane [min]; input by input longer, for the plane may be another than drawn."""
_NEAR = 0.03
"""So close to a stated limit a shorter plateau counts [1]."""
_RATED = 0.05
"""A plateau this close to the AC rating is held by it [1]."""
_LEAST_OF_RATED = 0.15
_MOVED_UP = 1.05
_FALLS_TO = 0.9
_GOOD_LIGHT = 250.0
_BY_HEAT, _BY_LIGHT, _WARM_K = 0.0033, 0.035, 27.0
"""How a module's voltage at most power falls with heat [1/K] and follows the logarithm of the
light [1], and how much cells lie above the air at 1000 W/m2 [K]; usual for crystalline silicon."""
_AIR_C = 15.0
_TOGETHER = 2
_AT_LIMIT = 0.005
_COARSEST = 0.2


class Plateau(NamedTuple):
    """Where a column lies on a plateau.

    Parameters
    ----------
    steps : ndarray of bool
        (step,).
    level : ndarray
        Height of the plateau of each step's day, nan where it has none (step,).
    """

    steps: BoolArray
    level: FloatArray


class Limits(NamedTuple):
    """What is stated of a column's limit, and which plateaus may be its own.

    Parameters
    ----------
    stated : tuple of float
        Stated limits, in the column's unit.
    rated : float
        What it gives at most in standard test conditions, in the column's unit.
    least_min : float
        How long a plateau lasts at least that is at no stated limit [min].
    fine : float
        Resolution of what it was reckoned from, in the column's unit; 0 where it was measured.
    """

    stated: tuple[float, ...]
    rated: float
    least_min: float
    fine: float = 0.0


def ac_rating(inverter: Inverter) -> float:
    """Return the largest active power an inverter's AC side gives [W]."""
    side = inverter.ac
    limits = [side.max_power_w or side.nominal_power_w]
    if side.max_apparent_power_va is not None:
        limits.append(side.max_apparent_power_va * side.power_factor)
    if side.max_current_a is not None:
        volts_amperes = side.max_current_a * side.nominal_voltage_v * side.phases
        limits.append(volts_amperes * side.power_factor)
    return min(limits)


def inverter_limits(inverter: Inverter) -> Limits:
    """Return the limits of an inverter's power [W]."""
    rating = ac_rating(inverter)
    export = inverter.ac.export_limit_w
    stated = (rating,) if export is None else (rating, export)
    return Limits(stated, rating, _LEAST_INVERTER_MIN)


def input_limits(mppt: MpptInput, quantity: str, rated: float) -> Limits:
    """Return the limits of an input's current [A] or power [W]."""
    stated = mppt.max_input_current_a if quantity == "i_dc" else mppt.max_power_w
    return Limits(() if stated is None else (stated,), rated, _LEAST_INPUT_MIN)


def plateau(
    values: FloatArray, light: FloatArray, day: IntArray, limits: Limits, interval_s: float
) -> Plateau:
    """Return where a column stays at its day's top though the light changes.

    Parameters
    ----------
    values : ndarray
        The column, nan where nothing counts (step,).
    light : ndarray
        Light that it should follow, measured or cloudless [W/m2] (step,).
    day : ndarray of int
        Position of each step's day (step,).
    limits : Limits
        What is stated of it.
    interval_s : float
        Length of a step [s].
    """
    known = np.where(np.isfinite(values), values, 0.0)
    level = np.full(values.size, np.nan)
    top = _tops(known, day)[day]
    at = (known >= (1.0 - _WITHIN) * top) & (top > _LEAST_OF_RATED * limits.rated)
    found = runs(at & (np.diff(day, prepend=day[:1]) == 0))
    wide = interval_s, max(resolution(values), limits.fine)
    kept = [own for own in found if _is_plateau(own, known, light, limits, wide)]
    if kept:
        own = in_runs(np.array(kept), values.size)
        days = np.unique(day[own])
        at &= np.isin(day, days)
        level[at] = top[at]
    else:
        at = np.zeros(values.size, dtype=bool)
    return Plateau(at, level)


def _tops(values: FloatArray, day: IntArray) -> FloatArray:
    """Return the mean of each day's third and fourth highest value (day,): one may be a gust."""
    days = int(day.max()) + 1
    order = np.lexsort((values, day))
    last = np.cumsum(np.bincount(day, minlength=days))
    found = np.zeros(days)
    for back in (3, 4):
        place = np.maximum(last - back, np.r_[0, last[:-1]])
        found += 0.5 * values[order[np.minimum(place, values.size - 1)]]
    return found


def _is_plateau(
    run: IntArray, values: FloatArray, light: FloatArray, limits: Limits, wide: tuple[float, float]
) -> bool:
    """Return whether a run near a day's top is a plateau.

    `wide` is the length of a step [s] and the column's resolution: what is written coarsely stays
    at its top for longer by itself.
    """
    first, after = int(run[0]), int(run[1])
    interval_s, fine = wide
    own = light[first:after]
    level = float(np.median(values[first:after]))
    if after - first < _LEAST_STEPS or not own.max() > 0.0 or fine > _COARSEST * level:
        return False
    moves = (own.max() - own.min()) / own.max()
    coarse = fine / level
    if any(abs(level / limit - 1.0) < _NEAR for limit in limits.stated if limit > 0.0):
        return bool(moves > 0.5 * _LIGHT_MOVES + 2.0 * coarse)
    longer = float(np.arccos(1.0 - _WITHIN - coarse) / np.arccos(1.0 - _WITHIN))
    lasts = (after - first) * interval_s / 60.0 >= limits.least_min * longer
    return bool(moves > _LIGHT_MOVES + 2.0 * coarse and lasts)


def by_rating(own: Plateau, values: FloatArray, rating: float) -> tuple[BoolArray, BoolArray]:
    """Return where an inverter is held by its AC rating, and where by another limit (step,).

    Parameters
    ----------
    own : Plateau
        Plateaus of its power.
    values : ndarray
        Its power [W] (step,).
    rating : float
        [W].
    """
    with np.errstate(invalid="ignore"):
        at_rating = own.steps & (own.level >= (1.0 - _RATED) * rating)
        reached = values >= (1.0 - _WITHIN) * rating
    return at_rating | reached, own.steps & ~at_rating


def voltage_kept(volts: FloatArray, amperes: FloatArray, mppt: MpptInput) -> BoolArray:
    """Return where an input's voltage stays at an end of its window for a while (step,).

    Parameters
    ----------
    volts, amperes : ndarray
        [V], [A] (step,).
    mppt : MpptInput
        Its window.
    """
    found = np.zeros(volts.size, dtype=bool)
    ends = mppt.mpp_voltage_min_v, mppt.max_operating_voltage_v or mppt.mpp_voltage_max_v
    for end in ends:
        with np.errstate(invalid="ignore"):
            at = (np.abs(volts - end) < _AT_LIMIT * end) & (amperes > 0.0)
        own = runs(at)
        found |= in_runs(own[own[:, 1] - own[:, 0] >= _LEAST_STEPS], volts.size)
    return found


class Electric(NamedTuple):
    """Volts and amperes of an inverter's inputs, and what is drawn of them.

    Parameters
    ----------
    volts, amperes : ndarray
        [V], [A], nan where nothing counts (step, tracker).
    v_mp, i_mp : ndarray
        At most power in standard test conditions (tracker,).
    light : ndarray
        On each input, measured or cloudless [W/m2] (step, tracker).
    air : ndarray or None
        Temperature of the air where it was measured [degC] (step,).
    """

    volts: FloatArray
    amperes: FloatArray
    v_mp: FloatArray
    i_mp: FloatArray
    light: FloatArray
    air: FloatArray | None


def moved_up(own: Electric, day: IntArray) -> BoolArray:
    """Return where all lit inputs of an inverter stand above the voltage of most power.

    Voltage is held against what goes with the current itself, by the log's own usual ratio: of its
    days where the air's temperature was measured, of each day where it was not. Current must have
    fallen against the light too. One input alone is not judged: a shadow does that as well.

    Parameters
    ----------
    own : Electric
        The inverter's inputs.
    day : ndarray of int
        Position of each step's day (step,).
    """
    lit = (own.light > _GOOD_LIGHT) & np.isfinite(own.volts) & np.isfinite(own.amperes)
    lit &= own.amperes > 0.02 * own.i_mp
    if not lit.any():
        return np.zeros(day.size, dtype=bool)
    inside = np.clip(np.nan_to_num(own.amperes / own.i_mp), 0.02, 2.0)
    air = (
        np.full(day.size, _AIR_C)
        if own.air is None
        else np.where(np.isfinite(own.air), own.air, _AIR_C)
    )
    warm = air[:, None] + _WARM_K * inside - 25.0
    usual = own.v_mp * (1.0 - _BY_HEAT * warm + _BY_LIGHT * np.log(inside))
    higher = np.where(lit, own.volts / usual, np.nan)
    gain = np.where(lit, own.amperes / np.maximum(own.light, 1.0), np.nan)
    found: BoolArray = np.count_nonzero(lit, axis=1) >= _TOGETHER
    for at in range(lit.shape[1]):
        if not lit[:, at].any():
            continue
        by = higher[:, at] / _middle(higher[:, at], day if own.air is None else None)
        low = gain[:, at] / np.nanquantile(gain[:, at], 0.7)
        with np.errstate(invalid="ignore"):
            found &= ~lit[:, at] | ((by > _MOVED_UP) & (low < _FALLS_TO))
    return found


def _middle(values: FloatArray, day: IntArray | None) -> FloatArray | float:
    """Return the median of a column, or that of each step's day."""
    if day is None:
        return float(np.nanmedian(values))
    found = np.full(values.size, np.nan)
    for steps in _steps_of_days(day):
        own = values[steps]
        if np.isfinite(own).any():
            found[steps] = np.nanmedian(own)
    return found


def _steps_of_days(day: IntArray) -> Iterator[slice]:
    edges = np.r_[0, np.flatnonzero(np.diff(day)) + 1, day.size]
    for first, after in pairwise(edges):
        yield slice(int(first), int(after))
