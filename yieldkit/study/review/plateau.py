"""The power at which inputs and inverters go flat, found in the log, beside what the site says."""

from __future__ import annotations

import math

import numpy as np

from yieldkit.base.arrays import BoolArray, FloatArray
from yieldkit.study.logs.plant_log import CLIPPED, COUNTED, LIMITED, REASONS
from yieldkit.study.review.beside import Beside
from yieldkit.study.review.result import Plateau

_FEWEST = 12
"""Steps that must lie on a plateau."""
_FLAT = 0.01
"""Scatter of the power on a plateau, of its height [1]."""
_BEYOND = 1.06
"""Expected power by the plateau's height, from which a step must lie on it [1]."""
_HIT = 0.8
"""Share of those steps that do [1]."""
_SAME = 0.04
"""A limit that lies this near to a plateau is the one that holds [1]."""


def plateaus(own: Beside) -> tuple[Plateau, ...]:
    """Return the plateau of each input, and of each inverter's AC side where it was written.

    A plateau is a height that most steps keep which should be higher, and keep closely; heights are
    tried from the top.

    Parameters
    ----------
    own : Beside
        The log beside its expectation.
    """
    codes = own.log.data["left_out"].to_numpy()
    kept = np.isin(codes, [REASONS.index(each) for each in (COUNTED, CLIPPED, LIMITED)])
    free = own.simulated.inputs.p_dc_available
    found = []
    limits = own.site.inputs()
    for at, name in enumerate(own.names):
        power, hours = _found(
            own.power[:, at], own.simulated.inputs.states[at].tracked, kept[:, at], own.hours
        )
        found.append(_told(name, power, hours, limits[name].max_power_w, "input's largest power"))
    if "p_ac" not in own.log.data:
        return tuple(found)
    measured = own.log.data["p_ac"].transpose("time", "inverter").to_numpy().astype(float)
    for at, one in enumerate(own.site.each_inverter()):
        mine = own.inverter == at
        if not mine.any():
            continue
        inverter = one.site.single_inverter
        there: BoolArray = np.asarray(kept[:, mine].all(axis=1))
        power, hours = _found(measured[:, at], free[:, mine].sum(axis=1), there, own.hours)
        limit = inverter.ac.max_power_w or inverter.ac.nominal_power_w
        found.append(_told(one.name, power, hours, limit, "AC side's largest power"))
    return tuple(found)


def held(own: Beside, flat: tuple[Plateau, ...]) -> BoolArray:
    """Return which steps lie on a plateau of their input or inverter (time, tracker).

    Parameters
    ----------
    own : Beside
        The log beside its expectation.
    flat : tuple of Plateau
        From `plateaus`.
    """
    heights = {each.subject: each.power_w for each in flat if math.isfinite(each.power_w)}
    found = np.zeros(own.power.shape, dtype=bool)
    for at, name in enumerate(own.names):
        if name in heights:
            found[:, at] |= own.power[:, at] > (1.0 - 2.0 * _FLAT) * heights[name]
    for at, one in enumerate(own.site.each_inverter()):
        if one.name in heights:
            fed = own.log.data["p_ac"].transpose("time", "inverter").to_numpy()[:, at]
            on = fed > (1.0 - 2.0 * _FLAT) * heights[one.name]
            found |= on[:, None] & (own.inverter == at)
    return found


def _found(
    measured: FloatArray, available: FloatArray, kept: BoolArray, step_h: float
) -> tuple[float, float]:
    """Return the height of a plateau [W] and how long it was held [h]; nan and zero if none."""
    there = kept & np.isfinite(measured) & np.isfinite(available) & (available > 0.0)
    power, could = measured[there], available[there]
    bright = could > 0.5 * could.max(initial=0.0)
    if bright.sum() < _FEWEST:
        return math.nan, 0.0
    gain = float(np.median(power[bright] / could[bright]))
    # Where a plateau holds most of the bright hours the median is too low: lesser light tells then.
    dim = (could > 0.15 * could.max()) & (could < 0.4 * could.max())
    if dim.sum() >= _FEWEST:
        gain = max(gain, float(np.median(power[dim] / could[dim])))
    top = float(np.quantile(power, 0.995))
    for height in (top, float(np.quantile(power, 0.98)), float(np.quantile(power, 0.95))):
        beyond = gain * could > _BEYOND * height
        on = beyond & (np.abs(power - height) < 2.0 * _FLAT * height)
        if beyond.sum() < _FEWEST or on.sum() < _HIT * beyond.sum():
            continue
        level = float(np.median(power[on]))
        if float(np.std(power[on])) > _FLAT * level:
            continue
        held = np.abs(power - level) < _FLAT * level
        return level, float((held & (gain * could > level)).sum()) * step_h
    return math.nan, 0.0


def _told(name: str, power: float, hours: float, limit: float | None, which: str) -> Plateau:
    if not math.isfinite(power):
        return Plateau(name, power, math.nan, 0.0, "Held at no power that the log shows.")
    said = f"Held at {power:,.0f} W for {hours:,.0f} h"
    if limit is not None and abs(power / limit - 1.0) < _SAME:
        return Plateau(name, power, limit, hours, f"{said}: the {which}, {limit:,.0f} W.")
    if limit is None:
        return Plateau(name, power, math.nan, hours, f"{said}; the site states no limit of it.")
    words = f"{said}, where the site states {limit:,.0f} W as the {which}."
    return Plateau(name, power, limit, hours, words)
