"""Voltages of strings, cold and hot, against inputs, modules and parts."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import NamedTuple

from yieldkit.config.models.modules import DatasheetModule
from yieldkit.config.site.site import Site
from yieldkit.design.checks.findings import (
    COSTS_YIELD,
    NOT_PERMITTED,
    Finding,
    at_least,
    at_most,
    not_applicable,
    not_checked,
)
from yieldkit.design.checks.rules import cold_factor, string_rule
from yieldkit.design.checks.wired import StringFacts

_STC_C = 25.0
_WINDOW_RULE = "maker's MPP window; cells in full sun at 1 m/s"


def cold_check_name(part: str) -> str:
    """Return the name of the cold voltage check against a part."""
    return f"cold open-circuit voltage against {part}"


class _Cold(NamedTuple):
    """A string's open-circuit voltage in the cold: known [V] or nan, and a lower bound of it."""

    volts: float
    at_least: float
    rule: str
    missing: str


def cold_voltages(site: Site, strings: tuple[StringFacts, ...]) -> Iterator[Finding]:
    """Check the open-circuit voltage at the lowest expected ambient against every rating.

    Where it can't be known, the voltage at 25 degC is a lower bound of it unless the lowest
    ambient is known to be higher: above a limit it is not permitted, below NOT CHECKED.
    """
    for string in strings:
        cold = _cold(site, string)
        limit = string.mppt.max_voltage_v
        yield _against("the input", string, cold, limit, "The input's maximum voltage")
        for part, rating, key in _ratings(site, string):
            yield _against(part, string, cold, rating, key)


def _cold(site: Site, string: StringFacts) -> _Cold:
    design = site.site.design_temperatures
    lowest = design.lowest_ambient_c
    where = "lowest ambient not stated"
    if lowest is not None:
        named = f"{design.definition or 'definition not stated'}, {design.station or 'no station'}"
        named += f", {design.period}" if design.period else ""
        where = f"lowest ambient {lowest:g} degC, {named}"
    edition = string_rule(site.standards.strings, "isc_factor").text.split(",")[0]
    volts, rule = string.cold_v_oc(lowest), f"{edition}: {where}"
    if math.isnan(volts):
        volts, rule = _by_table(site, string, lowest, rule)
    bounded = lowest is None or lowest < _STC_C
    missing = (
        "The lowest expected ambient (site.design_temperatures.lowest_ambient_c)"
        if lowest is None
        else "The Voc coefficient (beta_voc)"
    )
    return _Cold(
        volts,
        string.most_v_oc if bounded else 0.0,
        f"{rule}; Voc tolerance {string.tolerance_note}",
        missing,
    )


def _against(part: str, string: StringFacts, cold: _Cold, limit: float | None, key: str) -> Finding:
    """Compare with a limit what is known of the cold voltage, or else its lower bound."""
    check, volts = cold_check_name(part), cold.volts
    if math.isnan(volts) and limit is not None and cold.at_least > limit * (1.0 + 1e-9):
        most = _longest(string, cold.at_least, limit)
        return Finding(
            check,
            string.subject,
            NOT_PERMITTED,
            cold.at_least,
            limit,
            "V",
            cold.rule,
            f"So much already at 25 degC, where at most {most} modules stay below, and fewer in "
            f"the cold. {cold.missing} is not known.",
            essential=True,
        )
    return at_most(
        check,
        string.subject,
        volts,
        limit,
        "V",
        cold.rule,
        missing=cold.missing if math.isnan(volts) else key,
        advice=f"At most {_longest(string, volts, limit)} modules.",
        essential=True,
    )


def _by_table(
    site: Site, string: StringFacts, lowest: float | None, rule: str
) -> tuple[float, str]:
    """Use the code's factor table where its profile allows it without a coefficient."""
    if site.standards.strings != "nec-690" or lowest is None:
        return math.nan, rule
    factor = cold_factor(math.floor(lowest))
    if factor is None or any(
        getattr(module, "technology", "") not in ("mono-si", "poly-si")
        for *_, module in string.groups
    ):
        return math.nan, rule
    return string.most_v_oc * factor.value, factor.text


def _ratings(site: Site, string: StringFacts) -> list[tuple[str, float | None, str]]:
    modules = [module.max_system_voltage_v for *_, module in string.groups]
    module_limit = None if None in modules else min(value for value in modules if value)
    cable = string.wired.cable
    isolator = site.single_inverter.dc_isolator
    surge = site.single_inverter.surge_protection
    rows = [
        ("module", module_limit, "The module's maximum system voltage"),
        ("cable", cable.rated_voltage_v if cable else None, "The cable's rated voltage"),
        (
            "connector",
            site.single_inverter.connector_rated_voltage_v,
            "The connector's rated voltage",
        ),
        (
            "DC isolator",
            isolator.rated_voltage_v if isolator else None,
            "The DC isolator's rated voltage",
        ),
    ]
    if surge is None or surge.dc_type != "none":
        rows.append(
            (
                "surge protective device",
                surge.dc_max_continuous_voltage_v if surge else None,
                "The DC surge protective device's continuous voltage",
            )
        )
    return rows


def _longest(string: StringFacts, volts: float, limit: float | None) -> int:
    if limit is None or math.isnan(volts):
        return 0
    return int(limit * (1.0 + 1e-9) // (volts / string.modules))


def windows(site: Site, strings: tuple[StringFacts, ...], aged_percent: float) -> Iterator[Finding]:
    """Check operating voltages against the window and start-up against the hot Voc."""
    design = site.site.design_temperatures
    hot, cold = design.highest_ambient_c, design.lowest_ambient_c
    for string in strings:
        mppt = string.mppt
        hot_missing = "The highest expected ambient (site.design_temperatures)"
        hot_v = math.nan if hot is None else string.v_mp_at(hot, aged_percent)
        hot_oc = math.nan if hot is None else string.v_oc_at(hot)
        yield at_least(
            "hot operating voltage against the window",
            string.subject,
            hot_v,
            mppt.mpp_voltage_min_v,
            "V",
            _WINDOW_RULE,
            missing=hot_missing,
            advice=f"At least {_shortest(string, hot_v, mppt.mpp_voltage_min_v)} modules.",
            under=COSTS_YIELD,
        )
        yield at_least(
            "hot operating voltage against the full-power window",
            string.subject,
            hot_v,
            mppt.full_power_voltage_min_v,
            "V",
            _WINDOW_RULE,
            missing=hot_missing if hot is None else "The full-power window",
            advice="The input can't take its full power; only a string near its limit loses.",
            under=COSTS_YIELD,
        )
        yield from _cold_windows(string, cold)
        yield at_least(
            "start-up voltage against hot open-circuit voltage",
            string.subject,
            hot_oc,
            mppt.start_voltage_v,
            "V",
            "maker's start-up voltage; cells in full sun at 1 m/s",
            missing=hot_missing,
            advice=f"At least {_shortest(string, hot_oc, mppt.start_voltage_v)} modules.",
            under=COSTS_YIELD,
        )


def _cold_windows(string: StringFacts, lowest: float | None) -> Iterator[Finding]:
    mppt, cold_v = string.mppt, math.nan if lowest is None else string.v_mp_at(lowest)
    cold_missing = "The lowest expected ambient (site.design_temperatures)"
    yield at_most(
        "cold operating voltage against the window",
        string.subject,
        cold_v,
        mppt.mpp_voltage_max_v,
        "V",
        _WINDOW_RULE,
        missing=cold_missing,
        advice=f"At most {_longest(string, cold_v, mppt.mpp_voltage_max_v)} modules.",
        over=COSTS_YIELD,
    )
    yield at_most(
        "cold operating voltage against the full-power window",
        string.subject,
        cold_v,
        mppt.full_power_voltage_max_v,
        "V",
        _WINDOW_RULE,
        missing=cold_missing if lowest is None else "The full-power window's upper end",
        advice="The input can't take its full power; only a string near its limit loses.",
        over=COSTS_YIELD,
    )


def _shortest(string: StringFacts, volts: float, limit: float) -> int:
    if math.isnan(volts):
        return 0
    return math.ceil(limit / (volts / string.modules) - 1e-9)


def earthing(site: Site, strings: tuple[StringFacts, ...]) -> Iterator[Finding]:
    """Check that module technology and inverter topology go together."""
    check = "functional earthing against the inverter's topology"
    rule = "maker's manuals; common practice, no source"
    topology = site.single_inverter.topology
    for string in strings:
        for _, _, facts, module in string.groups[:1]:
            thin = isinstance(module, DatasheetModule) and module.technology in ("cdte", "a-si")
            needs = module.needs_functional_earthing
            if needs is None and not thin:
                yield not_applicable(
                    check, string.subject, "Crystalline modules ask for none.", rule
                )
            elif needs == "no":
                yield not_applicable(check, string.subject, f"{facts.name} asks for none.", rule)
            elif needs is None or topology is None:
                yield not_checked(
                    check,
                    string.subject,
                    "Whether the module asks for an earthed pole, or the inverter's topology,",
                    rule,
                )
            elif topology == "transformerless":
                yield Finding(
                    check,
                    string.subject,
                    NOT_PERMITTED,
                    rule=rule,
                    advice="An earthed pole needs an inverter with a transformer.",
                )
            else:
                yield Finding(check, string.subject, "passes", rule=rule)
