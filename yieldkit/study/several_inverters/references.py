"""Upper bounds on delivered energy that add up over inverters, tangent to a wiring that is known.

What arrives in an hour is the inverters' power less own consumption and the leads' heat, and no
more than export limit and load take. An inverter without DC power counts with what it draws then.
Heat rises faster than power, so its tangent at a known wiring lies below it everywhere; and an hour
in which that wiring is at the export limit may count with what the limit lets through, whatever
hangs on the inverters. Switch-off, power that falls with the voltage and the current of absorbed
reactive power only take away. So the bound is exact where it touches, and never too low.
"""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import BoolArray, FloatArray
from yieldkit.design.checks.connection_point import (
    without_power_by_voltage,
    without_reactive_power,
)
from yieldkit.physics.ac.connection import connection
from yieldkit.physics.ac.reactive import FIXED, Q_OF_U, Converters
from yieldkit.study.several_inverters.shared_side import SharedSide
from yieldkit.study.simulation.month_weights import weighed
from yieldkit.study.wiring_energies.arrangement_tables import WORKERS
from yieldkit.study.wiring_energies.behind_meter import weights_of

_STEP_W = 2.0
"""By how much the power is moved for the slope of the heat [W]."""
_MOST_RISE = 0.15
"""Highest rise of the voltage by which the heat is surely convex, as a share of the voltage."""


class Reference(NamedTuple):
    """A bound on delivered energy that adds up over inverters: constant and weighted power.

    Parameters
    ----------
    constant_kwh : float
        What doesn't depend on the inverters' power [kWh].
    weight : ndarray
        What an inverter's power counts for, own limits met and what it draws without DC power taken
        off [kWh/W] (inverter, lit step).
    dc, ac : ndarray
        Power of the known wiring, before any limit [W] (inverter, lit step).
    held : ndarray of bool
        Where its own limit holds an inverter (inverter, lit step).
    rows : tuple
        What hangs on each inverter; empty where the powers stand for no wiring.
    """

    constant_kwh: float
    weight: FloatArray
    dc: FloatArray
    ac: FloatArray
    held: BoolArray
    rows: tuple[tuple[int, ...], ...] = ()


def own_caps(side: SharedSide) -> FloatArray:
    """Return the largest power of each inverter by limits of its own [W] (inverter, lit step).

    Amperes count at the highest voltage its terminals can have, apparent power with the reactive
    power that a fixed displacement factor asks for.
    """
    rules = side.point.converters
    caps: FloatArray = np.minimum(side.limits.cap, side.limits.dc).T
    fixed = (rules.reactive_kind == FIXED) & (rules.reactive_first != 0)
    share = np.where(fixed, 1.0 / np.sqrt(1.0 + rules.tangent**2), 1.0)
    caps = np.minimum(caps, (rules.max_apparent * share)[:, None])
    if not np.isfinite(rules.max_current).any():
        return caps
    # An infinite current stays without limit whatever the voltage.
    amperes = side.point.branches.phases * rules.max_current[:, None]
    by_amperes: FloatArray = np.minimum(caps, amperes * _highest_voltages(side, caps))
    return by_amperes


def _highest_voltages(side: SharedSide, caps: FloatArray) -> FloatArray:
    """Return the highest voltage of each inverter's terminals [V] (inverter, lit step).

    Voltage rises with power, and with reactive power: it is highest at full power or none, by the
    rules of reactive power or with the most that each may inject and none absorbed.
    """
    rules = without_power_by_voltage(side.point.converters)._replace(
        max_current=np.full(caps.shape[0], np.inf)
    )
    full, none = caps.T.copy(), np.zeros(caps.T.shape)
    found = [
        _voltages(side, offer, own)
        for offer, own in (
            (full, rules),
            (none, rules),
            (full, _most_injecting(rules)),
        )
    ]
    highest = np.max(found, axis=0)
    return np.where(np.isnan(highest), np.inf, highest).T


def _most_injecting(rules: Converters) -> Converters:
    """Return the same inverters with the most reactive power that they may inject at any power."""
    lacking = np.clip(rules.reactive_y, 0.0, None)
    cos_phi = 1.0 - lacking.max(axis=1)
    by_power = np.sqrt(1.0 / cos_phi**2 - 1.0)
    own = np.where(rules.reactive_kind == FIXED, np.maximum(rules.tangent, 0.0), by_power)
    return rules._replace(
        max_apparent=np.full_like(rules.max_apparent, np.inf),
        reactive_kind=np.where(rules.reactive_kind == Q_OF_U, Q_OF_U, FIXED),
        tangent=np.where(rules.reactive_kind == Q_OF_U, 0.0, own),
        reactive_y=lacking,
    )


def _voltages(side: SharedSide, offer: FloatArray, rules: Converters) -> FloatArray:
    state = connection(
        offer,
        np.zeros(offer.shape),
        side.point.stiff_v,
        side.point.load.min(axis=1),
        side.point.branches,
        rules,
    )
    return state.v_ac


def reference(
    side: SharedSide,
    dc: FloatArray,
    ac: FloatArray,
    caps: FloatArray,
    rows: tuple[tuple[int, ...], ...] = (),
) -> Reference:
    """Return the bound that touches a wiring's powers.

    Parameters
    ----------
    side : SharedSide
        The inverters behind their connection point.
    dc, ac : ndarray
        Power of every inverter, before any limit [W] (inverter, lit step).
    caps : ndarray
        From `own_caps`.
    rows : tuple
        What hangs on each inverter.
    """
    grid = side.prepared.site.grid
    hours = side.prepared.step_hours / 1000.0 * grid.availability_percent / 100.0
    weights = weights_of(side.prepared, side.lit)
    power, drawn = np.minimum(ac, caps), side.limits.drawn(dc.T).T
    heat, slope = _heat(side, power, drawn)
    most = side.point.limit.power + side.point.load.mean(axis=1)
    auxiliary = side.limits.auxiliary
    sent = power - (drawn - auxiliary[:, None])
    arriving = sent.sum(axis=0) - auxiliary.sum() - heat
    masked = arriving >= most
    weight = weighed(np.where(masked, 0.0, hours * (1.0 - slope)).T, weights).T
    plain = -auxiliary.sum() - heat + (slope * sent).sum(axis=0)
    constant = weighed(np.where(masked, np.where(masked, most, 0.0), plain), weights).sum() * hours
    return Reference(float(constant) + side.dark_kwh, weight, dc, ac, ac >= caps, rows)


def _heat(side: SharedSide, power: FloatArray, drawn: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return heat of the leads that is surely lost [W] (lit step,), and its slope [1].

    The slope is by each inverter's power (inverter, lit step).
    """
    branches = side.point.branches
    resistance = branches.common_lead.real + np.abs(branches.own_leads.real).sum()
    nothing = np.zeros(power.shape[1])
    if resistance == 0.0 or _may_inject(side):
        return nothing, np.zeros(power.shape)
    rules = without_reactive_power(without_power_by_voltage(side.point.converters))._replace(
        max_apparent=np.full(power.shape[0], np.inf), max_current=np.full(power.shape[0], np.inf)
    )

    def heat_at(offer: FloatArray) -> tuple[FloatArray, FloatArray]:
        state = connection(
            offer.T,
            drawn.T,
            side.point.stiff_v,
            side.point.load.min(axis=1),
            branches,
            rules,
        )
        rise = state.v_ac.max(axis=1) / side.point.stiff_v - 1.0
        return state.common_heat + state.own_heat.sum(axis=1), rise

    heat, rise = heat_at(power)
    # Near no power both looks go upwards; either way a parabola's slope is found exactly.
    near = power < 2.0 * _STEP_W
    other = np.where(near, 2.0 * _STEP_W, -_STEP_W)
    moved = [
        power + own[:, None] * step for own in np.eye(power.shape[0]) for step in (_STEP_W, other)
    ]
    with ThreadPoolExecutor(WORKERS) as pool:
        found = np.array([more for more, _ in pool.map(heat_at, moved)]) - heat
    first, second = found[::2], found[1::2]
    upwards = (4.0 * first - second) / (2.0 * _STEP_W)
    slope = np.where(near, upwards, (first - second) / (2.0 * _STEP_W))
    sure = (rise < _MOST_RISE) & np.isfinite(heat) & np.isfinite(slope).all(axis=0)
    return np.where(sure, heat, 0.0), np.where(sure, np.minimum(slope, 1.0), 0.0)


def _may_inject(side: SharedSide) -> bool:
    """Tell whether any inverter may inject reactive power, which could cool the leads a little."""
    rules = side.point.converters
    lowest = np.nanmin(
        _voltages(side, np.zeros((side.lit.size, side.kind_of.size)), without_reactive_power(rules))
    )
    for place, kind in enumerate(rules.reactive_kind):
        if kind == Q_OF_U:
            if np.interp(lowest, rules.reactive_x[place], rules.reactive_y[place]) > 0.0:
                return True
        elif kind == FIXED:
            if rules.tangent[place] > 0.0:
                return True
        elif (rules.reactive_y[place] > 0.0).any():
            return True
    return False


def reference_of(side: SharedSide, rows: Sequence[Sequence[int]], caps: FloatArray) -> Reference:
    """Return the bound that touches a wiring.

    Parameters
    ----------
    side, caps
        As for `reference`.
    rows : sequence
        What hangs on each inverter.
    """
    powers = [side.powers(place, own) for place, own in enumerate(rows)]
    dc, ac = (np.array(each) for each in zip(*powers, strict=True))
    return reference(side, dc, ac, caps, tuple(tuple(own) for own in rows))
