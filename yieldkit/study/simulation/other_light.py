"""What inverters could give under other light than the weather's means: every tracker solved."""

from __future__ import annotations

from dataclasses import replace
from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import BoolArray, FloatArray, IntArray
from yieldkit.physics.circuit.api import CellConditions, StringCircuit, TrackerLimits
from yieldkit.study.simulation.dc_side import DirectSide, Points, input_power_bound
from yieldkit.study.simulation.in_light import StringsInLight
from yieldkit.study.simulation.offer import Offer, offers
from yieldkit.study.simulation.prepare import Prepared
from yieldkit.study.simulation.within_step import WithinStep

_MINUTE_S = 60.0
_MOST_KEPT = 32
"""Trackers whose minutes are kept for other wirings: some 5 MB each for a year."""


class Light(NamedTuple):
    """Cells under other light.

    Parameters
    ----------
    name : str
        Tells it from others.
    conditions : CellConditions
        Each (row, plane).
    step : ndarray of int
        The step each row belongs to (row,).
    """

    name: str
    conditions: CellConditions
    step: IntArray


class _Solved(NamedTuple):
    """A tracker's power [W] and voltage [V], where it has none, and if its current is held."""

    p_dc: FloatArray
    v_dc: FloatArray
    failed: BoolArray
    at_limit: bool


def offered(
    prepared: Prepared,
    directs: tuple[DirectSide, ...],
    within: WithinStep,
    light: Light,
    *,
    held: bool = True,
) -> tuple[Offer, BoolArray]:
    """Return what inverters could give under other light, and which rows are solved (row,).

    Parameters
    ----------
    prepared : Prepared
        Site and weather.
    directs : tuple of DirectSide
        The trackers of each inverter.
    within : WithinStep
        Keeps trackers that are solved already.
    light : Light
        The light.
    held : bool
        Whether the inputs' largest currents and powers count.
    """
    air = prepared.weather.isel(time=light.step)
    there = np.ones(light.step.size, dtype=bool)
    own = tuple(replace(one, weather=air, present=there) for one in prepared.each_inverter())
    free = []
    for one, direct in zip(own, directs, strict=True):
        points = _points(one, direct, within, light, held)
        there = there & ~points.unsolved.any(axis=1)
        free.append(replace(direct, free=points))
    return offers(own, tuple(free)), there


def held_by_inputs(
    prepared: Prepared,
    directs: tuple[DirectSide, ...],
    within: WithinStep,
    light: Light,
    offer: Offer,
) -> FloatArray:
    """Return what inputs' largest currents and powers take of an offer [W] (row, inverter).

    Parameters
    ----------
    prepared, directs, within, light
        As for `offered`.
    offer : Offer
        What it returned for them.
    """
    holding = any(
        one.site.single_inverter.max_dc_power_w is not None
        or one.site.single_inverter.max_dc_power_pairs
        or any(mppt.max_power_w is not None for mppt in one.site.single_inverter.mppts)
        or any(
            _solved(within, light, wired.strings, limits, _interval_s(one, light)).at_limit
            for wired, limits in direct.circuits
        )
        for one, direct in zip(prepared.each_inverter(), directs, strict=True)
    )
    if not holding:
        return np.zeros_like(offer.converted)
    free = offered(prepared, directs, within, light, held=False)[0].converted
    found: FloatArray = free - offer.converted
    return found


def _interval_s(one: Prepared, light: Light) -> float:
    return _MINUTE_S if light.name == "minutes" else one.interval_s


def _points(
    one: Prepared, direct: DirectSide, within: WithinStep, light: Light, held: bool
) -> Points:
    """Return the points of an inverter's trackers under other light (row, tracker)."""
    inverter = one.site.single_inverter
    efficiency = {mppt.name: mppt.tracking_efficiency for mppt in inverter.mppts}
    interval_s = _interval_s(one, light)
    size = light.step.size
    p, v = np.zeros((2, size, len(direct.names)))
    failed = np.zeros(p.shape, dtype=bool)
    for column, (wired, limits) in enumerate(direct.circuits):
        found = _solved(within, light, wired.strings, limits, interval_s)
        if found.at_limit and not held:
            unheld = limits._replace(i_max=np.inf)
            found = _solved(within, light, wired.strings, unheld, interval_s)
        p[:, column] = found.p_dc * efficiency[direct.names[column]]
        v[:, column], failed[:, column] = found.v_dc, found.failed
    p = np.where(failed, 0.0, p)
    if held:
        p = input_power_bound(p, direct.names, inverter)
    nothing = np.zeros((size, 0))
    idle = np.zeros_like(p)
    return Points(p, v, idle, nothing, np.zeros(p.shape, dtype=np.int8), idle, failed)


def _solved(
    within: WithinStep,
    light: Light,
    strings: tuple[StringCircuit, ...],
    limits: TrackerLimits,
    interval_s: float,
) -> _Solved:
    """Return a tracker solved under other light, once for all wirings that have it."""
    key = (light.name, strings, limits)
    with within.once:
        if key not in within.solved:
            found = StringsInLight(strings, light.conditions).point(limits, interval_s=interval_s)
            if len(within.solved) >= _MOST_KEPT:
                within.solved.pop(next(iter(within.solved)))
            at_limit = np.nanmax(found.i_dc, initial=0.0) >= limits.i_max * (1.0 - 1e-9)
            within.solved[key] = _Solved(found.p_dc, found.v_dc, found.status != 0, bool(at_limit))
        solved: _Solved = within.solved[key]
        return solved
