"""The inspector's list: surge, earthing, residual current, certificates."""

from __future__ import annotations

import math
from collections.abc import Iterator

from yieldkit.config.site.site import Site
from yieldkit.design.checks.connection import design_current
from yieldkit.design.checks.findings import (
    NOT_PERMITTED,
    PASSES,
    Finding,
    at_least,
    at_most,
    not_applicable,
    not_checked,
)
from yieldkit.design.checks.rules import Rule, inspection_rule
from yieldkit.design.checks.wired import StringFacts


def surge(site: Site, strings: tuple[StringFacts, ...]) -> Iterator[Finding]:
    """Check surge protection by critical length, and the second device."""
    check, second = "surge protection by critical length", "second surge protective device"
    density = site.site.ground_flash_density_per_km2_year
    lengths = [string.wired.cable.length_m for string in strings if string.wired.cable]
    rule = inspection_rule(f"surge_critical_{site.site.building}")
    far = inspection_rule("surge_second_device")
    if rule is None or far is None or not lengths:
        yield not_checked(check, "array", "The length of every string cable")
        yield not_checked(second, "array", "The length of every string cable")
        return
    # A length that is too long decides, whatever else isn't known.
    known, longest = len(lengths) == len(strings), max(lengths)
    fitted = site.inverter.surge_protection is not None and (
        site.inverter.surge_protection.dc_type != "none"
    )
    critical = math.nan if density is None or density <= 0.0 else rule.value / density
    ok = longest < critical or fitted
    if not known and (ok or math.isnan(critical)):
        yield not_checked(check, "array", "The length of every string cable")
    elif math.isnan(critical):
        yield not_checked(check, "array", "The ground flash density", rule.text)
    else:
        yield Finding(
            check,
            "array",
            PASSES if ok else NOT_PERMITTED,
            longest,
            critical,
            "m",
            rule.text,
            "A DC surge protective device is fitted."
            if fitted
            else ("" if ok else "Fit DC surge protective devices."),
        )
    yield from _second_surge(site, longest, known, fitted, far)


def _second_surge(
    site: Site, longest: float, known: bool, fitted: bool, far: Rule
) -> Iterator[Finding]:
    """Check that a long cable has a second device at the array."""
    second, surge = "second surge protective device", site.inverter.surge_protection
    if not fitted:
        yield not_applicable(second, "array", "No DC surge protective device is drawn.", far.text)
        return
    drawn = surge is not None and surge.dc_type_at_array != "none"
    ok = longest <= far.value or drawn
    if ok and not known and not drawn:
        yield not_checked(second, "array", "The length of every string cable")
        return
    yield Finding(
        second,
        "array",
        PASSES if ok else NOT_PERMITTED,
        longest,
        # A second device lifts the limit.
        math.nan if drawn else far.value,
        "m",
        far.text,
        "A second device is drawn at the array."
        if drawn
        else ("" if ok else "Fit a second device at the array (dc_type_at_array)."),
    )


def earthing_and_faults(site: Site) -> Iterator[Finding]:
    """Check residual current device, bonding, arc detection and rapid shutdown."""
    yield _residual_current_device(site)
    yield _bonding(site)
    yield from _arcs_and_shutdown(site)


def _residual_current_device(site: Site) -> Finding:
    inverter, grid = site.inverter, site.grid
    check = "residual current device"
    rule = "IEC 60364-7-712, 712.531.3.5 (from memory)"
    if grid.residual_current_device is None:
        return not_checked(check, "AC lead", "Whether a residual current device is fitted", rule)
    if grid.residual_current_device != "type-a":
        return Finding(check, "AC lead", PASSES, rule=rule)
    if inverter.topology is None:
        return not_checked(check, "AC lead", "The inverter's topology", rule)
    good = inverter.topology == "transformer"
    return Finding(
        check,
        "AC lead",
        PASSES if good else NOT_PERMITTED,
        rule=rule,
        advice="" if good else "Without a transformer type B, unless the maker allows type A.",
    )


def _bonding(site: Site) -> Finding:
    section, rule = site.grid.bonding_conductor_mm2, inspection_rule("bonding_conductor")
    return at_least(
        "bonding conductor",
        "frames and rails",
        math.nan if section is None else section,
        None if rule is None else rule.value,
        "mm2",
        "" if rule is None else rule.text,
        missing="The bonding conductor's section (grid.bonding_conductor_mm2)",
        advice="At least 6 mm2 copper.",
    )


def _arcs_and_shutdown(site: Site) -> Iterator[Finding]:
    inverter = site.inverter
    nec = site.standards.strings == "nec-690"
    for name, value, clause in (
        ("arc-fault detection", inverter.arc_detection, "NEC 2020 690.11"),
        ("rapid shutdown", inverter.rapid_shutdown, "NEC 2020 690.12"),
    ):
        if not nec:
            yield not_applicable(name, "array", "The chosen rule profile doesn't ask for it.")
        elif value is None:
            yield not_checked(name, "array", f"Whether the inverter has {name}", clause)
        else:
            yield Finding(name, "array", PASSES if value else NOT_PERMITTED, rule=clause)


def connection(site: Site) -> Iterator[Finding]:
    """Check phase imbalance, the busbar, and what only certificates prove."""
    ac = site.inverter.ac
    check = "single-phase power"
    rule = inspection_rule(f"single_phase_{site.grid.profile}")
    if ac.phases == 3:
        yield not_applicable(check, "inverter", "Three-phase.")
    elif rule is None:
        yield not_checked(check, "inverter", "The network rules' limit for one phase")
    else:
        yield at_most(
            check,
            "inverter",
            ac.max_apparent_power_va or ac.nominal_power_w,
            rule.value,
            "VA",
            rule.text,
            missing="",
            advice="Take a three-phase inverter.",
        )
    share = inspection_rule("busbar_share")
    bar, main = site.grid.busbar_rating_a, site.grid.main_device_a
    if site.standards.strings != "nec-690":
        yield not_applicable("busbar", "board", "The chosen rule profile doesn't ask for it.")
    elif bar is None or main is None or share is None:
        yield not_checked("busbar", "board", "The busbar's rating or its main device")
    else:
        yield at_most(
            "busbar",
            "board",
            main + 1.25 * design_current(site),
            share.value * bar,
            "A",
            share.text,
            missing="",
            advice="A smaller main device or a larger busbar.",
        )
    for name in ("DC injection", "anti-islanding"):
        yield not_checked(
            f"{name} (type test)", "inverter", "Certificate required: a type test proves this; it"
        )
