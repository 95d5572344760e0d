"""The inspector's list: surge, earthing, residual current, certificates."""

from __future__ import annotations

import math
from collections.abc import Iterator

from yieldkit.config.site.site import Site
from yieldkit.design.checks.findings import (
    NOT_PERMITTED,
    PASSES,
    Finding,
    at_least,
    at_most,
    not_applicable,
    not_checked,
)
from yieldkit.design.checks.leads import total_current
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
    fitted = site.single_inverter.surge_protection is not None and (
        site.single_inverter.surge_protection.dc_type != "none"
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
    second, surge = "second surge protective device", site.single_inverter.surge_protection
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


def residual_current_device(site: Site) -> Iterator[Finding]:
    """Check the residual current device of an inverter's AC lead."""
    yield _residual_current_device(site)


def bonding(site: Site) -> Iterator[Finding]:
    """Check the bonding conductor of frames and rails."""
    yield _bonding(site)


def _residual_current_device(site: Site) -> Finding:
    inverter, grid = site.single_inverter, site.grid
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


def arcs_and_shutdown(site: Site) -> Iterator[Finding]:
    """Check arc detection and rapid shutdown, where the rule profile asks for them."""
    inverter = site.single_inverter
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


def single_phase(site: Site) -> Iterator[Finding]:
    """Check the power on one phase, that of all inverters together."""
    check, subject = "single-phase power", "inverters" if site.several_inverters else "inverter"
    rule = inspection_rule(f"single_phase_{site.grid.profile}")
    if site.phases == 3:
        yield not_applicable(check, subject, "Three-phase.")
    elif rule is None:
        yield not_checked(check, subject, "The network rules' limit for one phase")
    else:
        sides = [one.site.single_inverter.ac for one in site.each_inverter()]
        yield at_most(
            check,
            subject,
            sum(ac.max_apparent_power_va or ac.nominal_power_w for ac in sides),
            rule.value,
            "VA",
            rule.text,
            missing="",
            advice="Take a three-phase inverter."
            if len(sides) == 1
            else "Take three-phase inverters, or spread them over the phases.",
        )


def busbar(site: Site) -> Iterator[Finding]:
    """Check the board's busbar against its main device and all inverters."""
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
            main + 1.25 * total_current(site),
            share.value * bar,
            "A",
            share.text,
            missing="",
            advice="A smaller main device or a larger busbar.",
        )


def type_tests(_site: Site) -> Iterator[Finding]:
    """Tell what only an inverter's certificates prove."""
    for name in ("DC injection", "anti-islanding"):
        yield not_checked(
            f"{name} (type test)", "inverter", "Certificate required: a type test proves this; it"
        )
