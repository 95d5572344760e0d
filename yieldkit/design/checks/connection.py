"""The AC lead and the network behind it: what the lead carries, and the voltage at full power."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from yieldkit.config.models.conductors import AcLead
from yieldkit.config.models.inverters import Inverter
from yieldkit.config.site.site import GridConnection, Site
from yieldkit.design.checks.altitude import altitude_factor
from yieldkit.design.checks.findings import (
    COSTS_YIELD,
    Finding,
    at_least,
    at_most,
    not_applicable,
    not_checked,
)
from yieldkit.design.checks.grid_profiles import grid_rules, profile_rule
from yieldkit.design.checks.rules import inspection_rule
from yieldkit.design.equipment.ampacity import lead_ampacity
from yieldkit.design.equipment.cables import ac_lead_impedance, lead_per_m, voltage_change
from yieldkit.physics.ac.network import Network, Terminals, terminals
from yieldkit.physics.ac.network_voltage import modelled_voltage

LEAD_AMPACITY = "AC current against the lead's ampacity"
LEAD_CHANGE = "voltage change of the AC lead"
NETWORK_RISE = "voltage rise in the network at full power"
TERMINAL_VOLTAGE = "voltage at the terminals at full power"
_NO_LEAD = "The AC lead (grid.lead)"
_DEVICE_CHECKS = (
    "AC overcurrent device against the current",
    "AC overcurrent device against the lead",
    "AC overcurrent device against the maker's maximum",
)
_RULE = "IEC 60364-4-43, 433.1: Ib <= In <= Iz (from memory)"
_AMPACITY_RULE = f"{_RULE}; ampacity IEC 60364-5-52 annex B"
_NO_AMPACITY = "The ampacity for this section, method and temperature"
_NOON_H = 12.0
_BRIGHT_W_M2 = 1000.0


def design_current(site: Site) -> float:
    """Return the inverter's largest continuous AC current of a phase, Ib [A]."""
    ac = site.inverter.ac
    if ac.max_current_a is not None:
        return ac.max_current_a
    power = ac.max_apparent_power_va or ac.max_power_w or ac.nominal_power_w
    return power / (ac.phases * ac.nominal_voltage_v * ac.power_factor)


def site_network(chosen: Inverter, connection: GridConnection) -> Network:
    """Return the impedances between the inverter and the stiff network."""
    ac = chosen.ac
    lead = (0.0, 0.0)
    if connection.lead is not None:
        lead = ac_lead_impedance(connection.lead, ac.phases)
    sign = 1.0 if ac.power_factor_sign == "injecting" else -1.0
    tangent = sign * np.sqrt(1.0 - ac.power_factor**2) / ac.power_factor
    return Network(
        *lead,
        connection.network_resistance_ohm,
        connection.network_reactance_ohm,
        ac.phases,
        float(tangent),
    )


def ac_lead(site: Site) -> Iterator[Finding]:
    """Check ampacity, overcurrent device and voltage change of the AC lead."""
    lead = site.grid.lead
    if lead is None:
        for name in (LEAD_AMPACITY, *_DEVICE_CHECKS):
            yield not_checked(name, "AC lead", _NO_LEAD, _RULE, essential=True)
        yield not_checked(LEAD_CHANGE, "AC lead", _NO_LEAD, _RULE)
        return
    ac = site.inverter.ac
    current = design_current(site)
    ampacity = lead_ampacity(lead, ac.phases)
    yield at_most(
        LEAD_AMPACITY,
        "AC lead",
        current,
        None if math.isnan(ampacity) else ampacity,
        "A",
        _AMPACITY_RULE,
        missing=_NO_AMPACITY,
        advice=f"{lead.cross_section_mm2:g} mm2 laid like this carries {ampacity:.1f} A: "
        "a thicker lead.",
        essential=True,
    )
    yield from _overcurrent_device(site, lead, current, ampacity)
    yield _lead_change(site, lead, current)


def _overcurrent_device(
    site: Site, lead: AcLead, current: float, ampacity: float
) -> Iterator[Finding]:
    """Check the device against the current it carries, the lead it guards and the maker's word."""
    ac = site.inverter.ac
    device = lead.overcurrent_device_a
    yield at_least(
        _DEVICE_CHECKS[0],
        "AC lead",
        math.nan if device is None else device,
        current,
        "A",
        _RULE,
        missing="The overcurrent device's rating",
        advice=f"At least {current:.1f} A.",
        essential=True,
    )
    yield at_most(
        _DEVICE_CHECKS[1],
        "AC lead",
        math.nan if device is None else device,
        None if math.isnan(ampacity) else ampacity,
        "A",
        _AMPACITY_RULE,
        missing="The overcurrent device's rating" if device is None else _NO_AMPACITY,
        advice="A thicker lead, or a smaller device.",
        essential=True,
    )
    yield at_most(
        _DEVICE_CHECKS[2],
        "AC lead",
        math.nan if device is None else device,
        ac.max_overcurrent_device_a,
        "A",
        "maker's manual",
        missing="The maker's largest overcurrent device",
        advice=f"At most {ac.max_overcurrent_device_a or 0:g} A.",
        essential=True,
    )


def _lead_change(site: Site, lead: AcLead, current: float) -> Finding:
    ac = site.inverter.ac
    per_m, reactance = lead_per_m(lead)
    volts = voltage_change(current, per_m, reactance, lead.length_m, ac.phases, ac.power_factor)
    across = ac.nominal_voltage_v * (math.sqrt(3.0) if ac.phases == 3 else 1.0)
    limit = profile_rule(site.grid.profile, "lead_rise") or inspection_rule("lead_voltage_change")
    return at_most(
        LEAD_CHANGE,
        "AC lead",
        100.0 * volts / across,
        limit.value if limit else None,
        "%",
        limit.text if limit else "",
        missing="A limit",
        advice="See the table of cross-sections.",
        over=COSTS_YIELD,
    )


def network_voltages(site: Site) -> Iterator[Finding]:
    """Check the voltage that the inverter's full power makes in the network and at its terminals.

    Both only cost yield: above the trip limit the inverter switches itself off.
    """
    described = site.grid.network_voltage
    if described.kind == "series":
        why = "A measured series of voltages: simulate and compare count every step of it."
        yield not_applicable(NETWORK_RISE, "network", why)
        yield not_applicable(TERMINAL_VOLTAGE, "inverter", why)
        return
    outside = described.voltage_v
    if described.kind == "modelled":
        outside = _bright_noon(site)
    state = _at_full_power(site, outside)
    known = site.grid.network_resistance_ohm > 0.0 or site.grid.network_reactance_ohm > 0.0
    yield _network_rise(site, float(state.connection_voltage[0]) - outside, known)
    yield _terminal_voltage(site, float(state.voltage[0]), outside, known)


def full_power(site: Site) -> float:
    """Return the largest AC power all limits allow [W].

    Power at the site's altitude, apparent power, amperes and export.
    """
    ac = site.inverter.ac
    thin = altitude_factor(site)
    limits = [ac.max_power_w or ac.nominal_power_w]
    if thin < 1.0:
        limits.append(ac.nominal_power_w * thin)
    if ac.max_apparent_power_va is not None:
        limits.append(ac.max_apparent_power_va * ac.power_factor)
    if ac.max_current_a is not None:
        limits.append(ac.max_current_a * ac.phases * ac.nominal_voltage_v * ac.power_factor)
    if ac.export_limit_w is not None:
        limits.append(ac.export_limit_w + site.grid.load_w)
    return min(limits)


def _at_full_power(site: Site, outside: float) -> Terminals:
    return terminals(
        np.array([full_power(site)]),
        np.array([outside]),
        site.grid.load_w,
        site_network(site.inverter, site.grid),
    )


def _bright_noon(site: Site) -> float:
    """Return the modelled network's mean voltage at noon in full sun [V]."""
    described = site.grid.network_voltage
    return float(
        modelled_voltage(
            np.array([_NOON_H]),
            np.array([_BRIGHT_W_M2]),
            described.voltage_v,
            described.daily_swing_v,
            described.load_term_v,
            described.neighbours_rise_v,
        )[0]
    )


def _network_rise(site: Site, volts: float, known: bool) -> Finding:
    limit = profile_rule(site.grid.profile, "network_rise")
    if limit is None:
        why = "The chosen network rules recommend no largest rise."
        if site.grid.profile is None:
            why = "No network rules are chosen (grid.profile)."
        return not_applicable(NETWORK_RISE, "network", why)
    if not known:
        return not_checked(NETWORK_RISE, "network", "The network's impedance", limit.text)
    return at_most(
        NETWORK_RISE,
        "network",
        100.0 * volts / site.inverter.ac.nominal_voltage_v,
        limit.value,
        "%",
        limit.text,
        missing="",
        advice=f"{volts:.1f} V: less power, reactive power, or a stronger connection; ask the "
        "network operator.",
        over=COSTS_YIELD,
    )


def _terminal_voltage(site: Site, volts: float, outside: float, known: bool) -> Finding:
    profile = site.grid.profile
    if profile is None:
        why = "No network rules are chosen (grid.profile)."
        return not_applicable(TERMINAL_VOLTAGE, "inverter", why)
    rules = grid_rules(profile, site.inverter.ac.nominal_voltage_v)
    limit = float(np.nanmin([rules.mean_limit_v, rules.stage_limit_v]))
    rule = f"{profile}, lowest trip limit, network at {outside:.1f} V without this plant"
    if volts <= limit and not known:
        return not_checked(TERMINAL_VOLTAGE, "inverter", "The network's impedance", rule)
    return at_most(
        TERMINAL_VOLTAGE,
        "inverter",
        volts,
        limit,
        "V",
        rule,
        missing="",
        advice="The inverter will switch off in bright hours: a thicker or shorter lead, reactive "
        "power, or ask the network operator; simulate says what it costs.",
        over=COSTS_YIELD,
    )
