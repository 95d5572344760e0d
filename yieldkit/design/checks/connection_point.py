"""The connection point of a site's inverters as the physics wants it: branches, rules, limit."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from yieldkit.base.errors import refuse
from yieldkit.config.models.conductors import AcLead
from yieldkit.config.models.installed import ReactivePower
from yieldkit.config.models.inverters import AcSide
from yieldkit.config.site.site import OneInverter, Site
from yieldkit.design.checks.grid_profiles import grid_rules
from yieldkit.design.equipment.cables import ac_lead_impedance
from yieldkit.design.standards import standard_table
from yieldkit.physics.ac.connection_state import Branches, ExportLimit
from yieldkit.physics.ac.reactive import REACTIVE_KIND, Converters, departure


def branches(site: Site) -> Branches:
    """Return the impedances between a site's inverters and the stiff network."""
    each = site.each_inverter()
    phases, grid = site.phases, site.grid
    return Branches(
        network=complex(grid.network_resistance_ohm, grid.network_reactance_ohm),
        common_lead=_ohms(grid.lead, phases),
        own_leads=np.array([_ohms(one.lead, phases) for one in each]),
        phases=phases,
    )


def _ohms(lead: AcLead | None, phases: int) -> complex:
    return 0j if lead is None else complex(*ac_lead_impedance(lead, phases))


def export_limit(site: Site) -> ExportLimit:
    """Return the export limit at the meter: the site's, or that of its only inverter."""
    each = site.each_inverter()
    limit = site.grid.export_limit_w
    if limit is None and len(each) == 1:
        limit = each[0].site.single_inverter.ac.export_limit_w
    in_order = site.grid.export_sharing == "in-order"
    return ExportLimit(np.inf if limit is None else limit, in_order)


def converters(each: Sequence[OneInverter]) -> Converters:
    """Return what inverters can and must do at the voltage of their terminals.

    Parameters
    ----------
    each : sequence of OneInverter
        The site's inverters.

    Raises
    ------
    InputError
        Where a curve of reactive power is asked for and neither the site file nor the network
        rules give one.
    """
    sides = [one.site.single_inverter.ac for one in each]
    rules = [grid_rules(one.site.grid.profile, one.site.nominal_voltage_v) for one in each]
    curves = [_curve(one) for one in each]
    longest = max(len(curve) for curve in curves)
    points = np.array([[*curve, *[curve[-1]] * (longest - len(curve))] for curve in curves])
    return Converters(
        nominal_power=np.array([ac.nominal_power_w for ac in sides]),
        apparent_rating=np.array([apparent_rating(ac) for ac in sides]),
        max_apparent=np.array([ac.max_apparent_power_va or np.inf for ac in sides]),
        max_current=np.array([ac.max_current_a or np.inf for ac in sides]),
        watt_start_v=np.array([rule.watt_start_v for rule in rules]),
        watt_end_v=np.array([rule.watt_end_v for rule in rules]),
        watt_end_share=np.array([rule.watt_end_share for rule in rules]),
        reactive_kind=np.array([REACTIVE_KIND[_kind(one.reactive)] for one in each]),
        tangent=np.array([tangent(ac) for ac in sides]),
        reactive_x=points[:, :, 0],
        reactive_y=points[:, :, 1],
        reactive_first=np.array(
            [int(one.reactive is None or one.reactive.priority == "reactive") for one in each]
        ),
    ).numbers


def apparent_rating(ac: AcSide) -> float:
    """Return the apparent power that curves of reactive power refer to [VA]."""
    return ac.max_apparent_power_va or ac.max_power_w or ac.nominal_power_w


def tangent(ac: AcSide) -> float:
    """Return reactive over active power of an inverter's displacement factor, + injecting."""
    sign = 1.0 if ac.power_factor_sign == "injecting" else -1.0
    return sign * math.sqrt(1.0 - ac.power_factor**2) / ac.power_factor


def without_reactive_power(rules: Converters) -> Converters:
    """Return the same inverters at unity power factor."""
    nothing = np.zeros_like(rules.tangent)
    return rules._replace(reactive_kind=np.zeros_like(rules.reactive_kind), tangent=nothing)


def without_power_by_voltage(rules: Converters) -> Converters:
    """Return the same inverters without a power that falls with the voltage."""
    return rules._replace(watt_start_v=np.full_like(rules.watt_start_v, np.nan))


def _kind(reactive: ReactivePower | None) -> str:
    return "fixed" if reactive is None else reactive.kind


def _curve(one: OneInverter) -> list[tuple[float, float]]:
    """Return the points of an inverter's curve, in volts or shares of power."""
    kind, ac = _kind(one.reactive), one.site.single_inverter.ac
    if one.reactive is None or kind == "fixed":
        return [(0.0, 0.0)]
    points = one.reactive.points or profile_curve(one.site.grid.profile, kind, ac)
    if not points:
        refuse(
            f"inverters.{one.name}.reactive",
            f"{kind} without points",
            "points: the curve that the network operator asks for",
            cause=f"Network rules {one.site.grid.profile} give none."
            if one.site.grid.profile
            else "No network rules are chosen (grid.profile).",
        )
    if kind == "q-of-u":
        return [(x * ac.nominal_voltage_v, y) for x, y in points]
    injecting = ac.power_factor_sign == "injecting"
    return [(x, float(departure(y, injecting))) for x, y in points]


def profile_curve(profile: str | None, kind: str, ac: AcSide) -> tuple[tuple[float, float], ...]:
    """Return the curve of reactive power that network rules give by default.

    Parameters
    ----------
    profile : str or None
        Network rules.
    kind : str
        "cos-phi-of-p" or "q-of-u".
    ac : AcSide
        The inverter, on whose size the curve may depend.

    Returns
    -------
    tuple of (float, float)
        Points as a site file has them; none where the rules leave them to the operator.
    """
    table = standard_table("reactive_curves")
    size = apparent_rating(ac)
    rows = table[
        (table["profile"] == profile)
        & (table["kind"] == kind)
        & (table["above_va"] < size)
        & (table["up_to_va"].fillna(np.inf) >= size)
    ]
    return tuple((float(x), float(y)) for x, y in zip(rows["x"], rows["y"], strict=True))


def curve_source(profile: str | None, kind: str) -> str:
    """Return edition, clause and status of a default curve; empty where there is none."""
    table = standard_table("reactive_curves")
    rows = table[(table["profile"] == profile) & (table["kind"] == kind)]
    if rows.empty:
        return ""
    row = rows.iloc[-1]
    return f"{row['edition']}, {row['clause']} ({row['status']})"


def least_load(site: Site) -> float:
    """Return the least consumption behind the meter that a site file promises [W]."""
    load = site.grid.load
    if load is None:
        return site.grid.load_w
    if load.kind == "constant":
        return load.power_w or 0.0
    return min(load.hours_w) if load.kind == "day" else 0.0
