"""The AC side: conversion, limits, curtailment, auxiliary power, lead and network."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import BoolArray, FloatArray, IntArray
from yieldkit.config.models.inverters import Inverter
from yieldkit.config.site.site import Site
from yieldkit.design.checks.altitude import altitude_factor
from yieldkit.design.checks.connection import site_network
from yieldkit.design.checks.grid_profiles import site_rules
from yieldkit.design.checks.mounting import inlet_offset_k
from yieldkit.physics.ac import derating
from yieldkit.physics.ac.conversion import ac_power
from yieldkit.physics.ac.conversion_curves import ConversionCurve, ListedConversion
from yieldkit.physics.ac.curtailment import curtail
from yieldkit.physics.ac.limits import AC_LIMIT, AcCap, ac_cap
from yieldkit.physics.ac.network import Network, Terminals, terminals
from yieldkit.physics.ac.voltage_rules import off_fraction, voltage_dependent_cap
from yieldkit.physics.module import temperature as heat
from yieldkit.study.simulation.dc_side import DirectSide, Points
from yieldkit.study.simulation.loss_budget import AcChain
from yieldkit.study.simulation.network_voltage import network_voltage, within_step_spread
from yieldkit.study.simulation.prepare import Prepared


class AlternatingSide(NamedTuple):
    """The AC side of a simulated wiring; arrays (time,) unless said otherwise.

    Parameters
    ----------
    chain : AcChain
        Power after each step of the loss budget [W].
    points : Points
        The trackers' final points (time, tracker).
    p_ac_cap : ndarray
        Largest AC power allowed [W].
    ac_limit : ndarray of int8
        Which limit holds, codes of `AC_LIMIT`, zero where none does.
    clipped, derated, clamped : ndarray of bool
        Steps held by an AC limit, by derating, and with a voltage outside the efficiencies.
    temp_inlet : ndarray
        Inlet air [degC].
    v_ac : ndarray
        Voltage at the terminals, phase to neutral [V].
    off_fraction : ndarray
        Share of the step lost to switch-off.
    p_lead_loss : ndarray
        Heat in the lead [W].
    curve : ConversionCurve or ListedConversion
        The conversion that was used.
    """

    chain: AcChain
    points: Points
    p_ac_cap: FloatArray
    ac_limit: IntArray
    clipped: BoolArray
    derated: BoolArray
    clamped: BoolArray
    temp_inlet: FloatArray
    v_ac: FloatArray
    off_fraction: FloatArray
    p_lead_loss: FloatArray
    curve: ConversionCurve | ListedConversion


class _Caps(NamedTuple):
    fixed: AcCap
    derated: FloatArray
    grid: FloatArray
    total: AcCap


def alternating_side(prepared: Prepared, direct: DirectSide) -> AlternatingSide:
    """Follow the trackers' power to the far end of the AC lead.

    Parameters
    ----------
    prepared : Prepared
        Site and weather.
    direct : DirectSide
        The solved trackers.
    """
    site = prepared.site
    chosen = site.inverter
    curve = prepared.conversion
    free = direct.free
    converted = ac_power(curve, free.p_dc, free.v_dc)
    temp_inlet = heat.inlet_temperature(
        prepared.weather.variables["temp_air"].to_numpy(), inlet_offset_k(site)[0]
    )
    outside = network_voltage(prepared)
    network = site_network(chosen, site.grid)
    caps = _caps(prepared, free, converted.p_ac, temp_inlet, outside, network)
    points, limited_power = _curtailed(direct, curve, converted.p_ac, caps.total.power)
    limited = np.minimum(converted.p_ac, caps.fixed.power)
    derated = np.minimum(limited, caps.derated)
    allowed = np.minimum(derated, caps.grid)
    fed = np.where(np.isnan(limited_power), allowed, limited_power)
    # A tracker that no voltage brings down to its share is off: that is the AC limit's cost.
    limited = limited - (allowed - fed)
    derated = derated - (allowed - fed)
    auxiliary = _auxiliary(chosen, free.p_dc)
    after_auxiliary = derated - auxiliary
    far = _far_end(site, fed - auxiliary, outside, network)
    chain = AcChain(
        dc=free.p_dc.sum(axis=1),
        converted=converted.p_ac,
        limited=limited,
        derated=derated,
        after_auxiliary=after_auxiliary,
        after_lead=after_auxiliary - far.state.lead_loss,
        delivered=far.delivered,
        available=far.available,
    )
    binds = converted.p_ac > caps.total.power
    which = np.where(binds, caps.total.which, np.int8(0)).astype(np.int8)
    return AlternatingSide(
        chain=chain,
        points=points,
        p_ac_cap=np.where(prepared.present, caps.total.power, np.nan),
        ac_limit=which,
        clipped=binds & (which != AC_LIMIT["derating"]),
        derated=binds & (which == AC_LIMIT["derating"]),
        clamped=converted.clamped,
        temp_inlet=temp_inlet,
        v_ac=far.state.voltage,
        off_fraction=np.where(prepared.present, far.off, np.nan),
        p_lead_loss=far.state.lead_loss,
        curve=curve,
    )


class _FarEnd(NamedTuple):
    """What arrives at the far end of the lead, each (time,).

    Parameters
    ----------
    state : Terminals
        Voltages, current and heat of the lead.
    off : ndarray
        Share of the step lost to switch-off for the network's voltage.
    delivered, available : ndarray
        Power behind lead and switch-off, and of that what the plant's availability leaves [W].
    """

    state: Terminals
    off: FloatArray
    delivered: FloatArray
    available: FloatArray


def _far_end(
    site: Site, at_terminals: FloatArray, outside: FloatArray, network: Network
) -> _FarEnd:
    """Follow power at the terminals [W] (time,) through lead, network voltage and availability."""
    state = terminals(at_terminals, outside, site.grid.load_w, network)
    alone = terminals(np.zeros_like(at_terminals), outside, site.grid.load_w, network)
    feeding = at_terminals > 0.0
    rise = np.where(feeding, state.voltage - alone.voltage, 0.0)
    off = off_fraction(alone.voltage, rise, within_step_spread(site.grid), site_rules(site))
    behind_lead = at_terminals - state.lead_loss
    delivered = np.where(feeding, behind_lead * (1.0 - off), behind_lead)
    share = site.grid.availability_percent / 100.0
    return _FarEnd(state, off, delivered, np.where(delivered > 0.0, delivered * share, delivered))


def fixed_limits(
    prepared: Prepared, highest_v: FloatArray, temp_inlet: FloatArray, outside: FloatArray
) -> tuple[AcCap, FloatArray]:
    """Return the AC limits that don't depend on the power fed in.

    Parameters
    ----------
    prepared : Prepared
        Site and weather.
    highest_v : ndarray
        Highest DC voltage of the inputs [V] (time,).
    temp_inlet : ndarray
        Inlet air [degC] (time,).
    outside : ndarray
        Network voltage [V] (time,).

    Returns
    -------
    tuple of (AcCap, ndarray)
        Power, apparent power, amperes and export; and the derated power [W] (time,).
    """
    site = prepared.site
    chosen = site.inverter
    ac = chosen.ac
    fixed: dict[str, FloatArray | float] = {"maximum power": ac.max_power_w or ac.nominal_power_w}
    if ac.max_apparent_power_va is not None:
        fixed["apparent power"] = ac.max_apparent_power_va * ac.power_factor
    if ac.max_current_a is not None:
        per_volt = ac.max_current_a * ac.phases * ac.power_factor
        fixed["amperes"] = per_volt * outside
    if ac.export_limit_w is not None:
        fixed["export"] = ac.export_limit_w + site.grid.load_w
    table = np.array(
        [
            (
                point.temp_inlet_c,
                np.nan if point.dc_voltage_v is None else point.dc_voltage_v,
                point.max_power_w,
            )
            for point in chosen.derating
        ]
    ).reshape(-1, 3)
    derated = derating.derated_power(
        temp_inlet, highest_v, table, ac.nominal_power_w, altitude_factor(site)
    )
    return ac_cap(fixed, outside.size), derated


def _caps(
    prepared: Prepared,
    free: Points,
    p_ac: FloatArray,
    temp_inlet: FloatArray,
    outside: FloatArray,
    network: Network,
) -> _Caps:
    site = prepared.site
    ac = site.inverter.ac
    fixed, derated = fixed_limits(prepared, free.v_dc.max(axis=1), temp_inlet, outside)
    before_grid = np.minimum(p_ac, np.minimum(fixed.power, derated))
    rules = site_rules(site)
    by_voltage = voltage_dependent_cap(
        before_grid, outside, site.grid.load_w, network, rules, ac.nominal_power_w
    )
    total = np.minimum(np.minimum(fixed.power, derated), by_voltage)
    which = np.where(derated < fixed.power, np.int8(AC_LIMIT["derating"]), fixed.which)
    lowest = by_voltage < np.minimum(fixed.power, derated)
    which = np.where(lowest, np.int8(AC_LIMIT["voltage-dependent power"]), which)
    return _Caps(fixed, derated, by_voltage, AcCap(total, which.astype(np.int8)))


def _curtailed(
    direct: DirectSide,
    curve: ConversionCurve | ListedConversion,
    p_ac: FloatArray,
    cap: FloatArray,
) -> tuple[Points, FloatArray]:
    """Move the trackers at capped steps; return their points and the AC power where it was held.

    Where the cap is met the power is the cap; where a tracker has no point below its maximum
    voltage, it is what is left.
    """
    points = Points._make(before.copy() for before in direct.free)
    tried = np.full(direct.free.p_dc.shape, np.nan)

    def move(bound: FloatArray, steps: IntArray) -> Points:
        moved = direct.under(bound, steps)
        tried[steps] = bound
        for before, after in zip(points, moved, strict=True):
            before[steps] = after
        return moved

    def convert(bound: FloatArray, steps: IntArray) -> FloatArray:
        moved = move(bound, steps)
        return ac_power(curve, moved.p_dc, moved.v_dc).p_ac

    limited_power = np.full(p_ac.shape, np.nan)
    found = curtail(direct.free.p_dc, p_ac, cap, convert)
    if found.steps.size == 0:
        return direct.free, limited_power
    # Most steps stand where the search has left them; a cap of nothing was never tried.
    other = (tried[found.steps] != found.bound).any(axis=1)
    if other.any():
        move(found.bound[other], found.steps[other])
    limited_power[found.steps] = np.where(found.met, cap[found.steps], found.p_ac)
    return points, limited_power


def _auxiliary(chosen: Inverter, p_dc: FloatArray) -> FloatArray:
    """Power the inverter draws that its efficiencies don't contain, once per inverter [W]."""
    night = p_dc.sum(axis=1) <= 0.0
    return np.where(night, chosen.night_power_w, 0.0) + chosen.auxiliary_power_w
