"""The network: the voltage that full power makes in it and at the terminals."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from yieldkit.base.arrays import FloatArray
from yieldkit.config.site.site import Site
from yieldkit.design.checks.altitude import altitude_factor
from yieldkit.design.checks.connection_point import (
    branches,
    converters,
    export_limit,
    least_load,
    tangent,
    without_power_by_voltage,
)
from yieldkit.design.checks.findings import (
    COSTS_YIELD,
    Finding,
    at_most,
    not_applicable,
    not_checked,
)
from yieldkit.design.checks.grid_profiles import grid_rules, profile_rule
from yieldkit.physics.ac.connection import connection
from yieldkit.physics.ac.network import Network, terminals
from yieldkit.physics.ac.network_voltage import modelled_voltage

NETWORK_RISE = "voltage rise in the network at full power"
TERMINAL_VOLTAGE = "voltage at the terminals at full power"
_NOON_H = 12.0
_BRIGHT_W_M2 = 1000.0


def single_network(site: Site) -> Network:
    """Return the impedances between a site's only inverter and the stiff network."""
    (one,) = site.each_inverter()
    ohms = branches(site)
    lead = complex(ohms.common_lead + ohms.own_leads[0])
    factor = tangent(one.site.single_inverter.ac)
    grid = site.grid
    return Network(
        lead.real,
        lead.imag,
        grid.network_resistance_ohm,
        grid.network_reactance_ohm,
        site.phases,
        factor,
    )


def network_voltages(site: Site) -> Iterator[Finding]:
    """Check the voltage that the inverter's full power makes in the network and at its terminals.

    Both only cost yield: above the trip limit the inverter switches itself off.
    """
    described = site.grid.network_voltage
    if described.kind == "series":
        why = "A measured series of voltages: simulate and compare count every step of it."
        yield not_applicable(NETWORK_RISE, "network", why)
        for one in site.each_inverter():
            subject = one.name if site.several_inverters else "inverter"
            yield not_applicable(TERMINAL_VOLTAGE, subject, why)
        return
    outside = described.voltage_v
    if described.kind == "modelled":
        outside = _bright_noon(site)
    known = site.grid.network_resistance_ohm > 0.0 or site.grid.network_reactance_ohm > 0.0
    meter, at_terminals = _at_full_power(site, outside)
    yield _network_rise(site, meter - outside, known)
    for one, volts in zip(site.each_inverter(), at_terminals, strict=True):
        subject = one.name if site.several_inverters else "inverter"
        yield _terminal_voltage(site, subject, volts, outside, known)


def full_power(site: Site) -> float:
    """Return the largest AC power all limits of a single inverter allow [W].

    Power at the site's altitude, apparent power, amperes and export.
    """
    ac = site.single_inverter.ac
    limits = [_rated_power(site)]
    if ac.max_apparent_power_va is not None:
        limits.append(ac.max_apparent_power_va * ac.power_factor)
    if ac.max_current_a is not None:
        limits.append(ac.max_current_a * ac.phases * ac.nominal_voltage_v * ac.power_factor)
    return min(*limits, export_limit(site).power + least_load(site))


def _at_full_power(site: Site, outside: float) -> tuple[float, list[float]]:
    """Return the voltages at the meter and at every inverter's terminals at full power [V].

    The least load that is promised, and no power that falls with the voltage: both would hide
    what the network is asked to carry.
    """
    each = site.each_inverter()
    (first, *others) = each
    if not others and (first.reactive is None or first.reactive.kind == "fixed"):
        # In closed form: nothing is to be compiled for a check.
        network = single_network(site)
        power = np.array([full_power(site)])
        state = terminals(power, np.array([outside]), least_load(site), network)
        return float(state.connection_voltage[0]), [float(state.voltage[0])]
    # All at once for the meter, and each inverter alone first in line for its own terminals: what
    # an export limit takes away from it then, it gives while the others stand in the shade.
    offers = _offers(site)
    steps = len(offers)
    found = connection(
        offers,
        np.zeros((steps, len(each))),
        np.full(steps, outside),
        least_load(site),
        branches(site),
        without_power_by_voltage(converters(each)),
        export_limit(site),
    )
    highest = np.maximum(found.v_ac[0], np.diagonal(found.v_ac[1:]))
    return float(found.v_meter[0]), [float(volts) for volts in highest]


def _offers(site: Site) -> FloatArray:
    """Return what inverters offer [W]: all their largest power, then one after the other its own.

    Returns
    -------
    ndarray
        Beside an inverter's own power the others give what an export limit leaves, each the same
        share of its power (1 + inverter, inverter).
    """
    rated = np.array([_rated_power(one.site) for one in site.each_inverter()])
    allowed = export_limit(site).power + least_load(site)
    own = np.minimum(rated, allowed)
    others = rated.sum() - rated
    left = np.clip((allowed - own) / np.maximum(others, 1.0), 0.0, 1.0)
    alone = left[:, None] * rated
    np.fill_diagonal(alone, own)
    found: FloatArray = np.vstack([rated, alone])
    return found


def _rated_power(site: Site) -> float:
    """Return a single inverter's largest active power at the site's altitude [W]."""
    ac, thin = site.single_inverter.ac, altitude_factor(site)
    rated = ac.max_power_w or ac.nominal_power_w
    return min(rated, ac.nominal_power_w * thin) if thin < 1.0 else rated


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
        100.0 * volts / site.nominal_voltage_v,
        limit.value,
        "%",
        limit.text,
        missing="",
        advice=f"{volts:.1f} V: less power, reactive power, or a stronger connection; ask the "
        "network operator.",
        over=COSTS_YIELD,
    )


def _terminal_voltage(
    site: Site, subject: str, volts: float, outside: float, known: bool
) -> Finding:
    profile = site.grid.profile
    if profile is None:
        why = "No network rules are chosen (grid.profile)."
        return not_applicable(TERMINAL_VOLTAGE, subject, why)
    rules = grid_rules(profile, site.nominal_voltage_v)
    limit = float(np.nanmin([rules.mean_limit_v, rules.stage_limit_v]))
    rule = f"{profile}, lowest trip limit, network at {outside:.1f} V without this plant"
    if volts <= limit and not known:
        return not_checked(TERMINAL_VOLTAGE, subject, "The network's impedance", rule)
    return at_most(
        TERMINAL_VOLTAGE,
        subject,
        volts,
        limit,
        "V",
        rule,
        missing="",
        advice="The inverter will switch off in bright hours: a thicker or shorter lead, reactive "
        "power, or ask the network operator; simulate says what it costs.",
        over=COSTS_YIELD,
    )
