"""The inspector's list: surge, earthing, isolators, certificates."""

from __future__ import annotations

import math
from collections.abc import Iterator

from yieldkit.config.site import Site
from yieldkit.design.connection import design_current
from yieldkit.design.findings import (
    NOT_PERMITTED,
    PASSES,
    Finding,
    at_least,
    at_most,
    not_applicable,
    not_checked,
)
from yieldkit.design.rules import inspection_rule, string_rule
from yieldkit.design.wired import StringFacts


def surge(site: Site, strings: tuple[StringFacts, ...]) -> Iterator[Finding]:
    """Check surge protection by critical length, and the second device."""
    check, second = "surge protection by critical length", "second surge protective device"
    density = site.site.ground_flash_density_per_km2_year
    lengths = [string.wired.cable.length_m for string in strings if string.wired.cable]
    rule = inspection_rule(f"surge_critical_{site.site.building}")
    far = inspection_rule("surge_second_device")
    known = len(lengths) == len(strings) and rule is not None and far is not None
    if not known:
        yield not_checked(check, "array", "The length of every string cable")
        yield not_checked(second, "array", "The length of every string cable")
        return
    longest = max(lengths)
    fitted = site.inverter.surge_protection is not None and (
        site.inverter.surge_protection.dc_type != "none"
    )
    if density is None or density <= 0.0:
        yield not_checked(check, "array", "The ground flash density", rule.text)
    else:
        critical = rule.value / density
        ok = longest < critical or fitted
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
    if not fitted:
        yield not_applicable(second, "array", "No DC surge protective device is drawn.", far.text)
    else:
        near = longest <= far.value
        yield Finding(
            second,
            "array",
            PASSES if near else "NOT CHECKED",
            longest,
            far.value,
            "m",
            far.text,
            "" if near else "Beyond 10 m a second device at the array is needed; it is not drawn.",
        )


def isolator(site: Site, strings: tuple[StringFacts, ...]) -> Iterator[Finding]:
    """Check the DC isolator's category, current and poles."""
    part = site.inverter.dc_isolator
    factor = string_rule(site.standards.strings, "isc_factor").value
    sums: dict[str, float] = {}
    for string in strings:
        sums[string.mppt.name] = sums.get(string.mppt.name, 0.0) + string.i_sc
    largest = factor * max(sums.values(), default=0.0)
    rule = "IEC 60947-3, utilisation category DC-PV; common practice, from memory"
    if part is None or part.category is None:
        yield not_checked("DC isolator category", "DC isolator", "The isolator's category", rule)
    else:
        good = part.category.upper().startswith("DC-PV") or part.category.upper() == "DC-21B"
        yield Finding(
            "DC isolator category",
            "DC isolator",
            PASSES if good else NOT_PERMITTED,
            rule=rule,
            advice="" if good else "Take one of category DC-PV1 or DC-PV2.",
        )
    yield at_most(
        "DC isolator current",
        "DC isolator",
        largest,
        part.rated_current_a if part else None,
        "A",
        rule,
        missing="The isolator's rated current",
        advice="A larger isolator.",
        essential=True,
    )
    yield at_least(
        "DC isolator poles",
        "DC isolator",
        float(part.poles) if part and part.poles else math.nan,
        2.0,
        "1",
        rule,
        missing="The number of poles",
        advice="Both poles have to open.",
    )


def earthing_and_faults(site: Site) -> Iterator[Finding]:
    """Check residual current device, bonding, arc detection and rapid shutdown."""
    inverter = site.inverter
    grid = site.grid
    check = "residual current device"
    rule = "IEC 60364-7-712, 712.531.3.5 (from memory)"
    if grid.residual_current_device is None:
        yield not_checked(check, "AC lead", "Whether a residual current device is fitted", rule)
    elif grid.residual_current_device != "type-a":
        yield Finding(check, "AC lead", PASSES, rule=rule)
    elif inverter.topology is None:
        yield not_checked(check, "AC lead", "The inverter's topology", rule)
    else:
        good = inverter.topology == "transformer"
        yield Finding(
            check,
            "AC lead",
            PASSES if good else NOT_PERMITTED,
            rule=rule,
            advice="" if good else "Without a transformer type B, unless the maker allows type A.",
        )
    yield at_least(
        "bonding conductor",
        "frames and rails",
        math.nan if grid.bonding_conductor_mm2 is None else grid.bonding_conductor_mm2,
        (bonding := inspection_rule("bonding_conductor")) and bonding.value,
        "mm2",
        bonding.text if bonding else "",
        missing="The bonding conductor's section (grid.bonding_conductor_mm2)",
        advice="At least 6 mm2 copper.",
    )
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


def leakage(site: Site, strings: tuple[StringFacts, ...]) -> Finding:
    """Estimate the array's capacitive leakage against a 30 mA residual current device."""
    check = "leakage current by array size"
    rule = inspection_rule("leakage_per_kwp")
    if site.inverter.topology is None or rule is None:
        return not_checked(check, "array", "The inverter's topology")
    if site.inverter.topology == "transformer":
        return not_applicable(check, "array", "A transformer keeps it inside.", rule.text)
    power = sum(count * facts.p_max for s in strings for count, _, facts, _ in s.groups) / 1000.0
    estimate = rule.value * power
    return at_most(
        check,
        "array",
        estimate,
        300.0,
        "mA",
        f"{rule.text}; 300 mA continuous limit, IEC 62109-2",
        missing="",
        advice="Expect trips of a sensitive residual current device in the wet.",
        over="costs yield",
    )


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


def connectors(site: Site, strings: tuple[StringFacts, ...]) -> Finding:
    """Check that mated connector pairs are of one make and type."""
    check = "one connector type per mated pair"
    rule = "IEC 62548, connectors of the same make and type (from memory)"
    types = {module.connector for string in strings for *_, module in string.groups}
    types.add(site.inverter.connector)
    if None in types:
        return not_checked(check, "connectors", "The make and type of every connector", rule)
    same = len(types) == 1
    return Finding(
        check,
        "connectors",
        PASSES if same else NOT_PERMITTED,
        rule=rule,
        advice="" if same else "Change one side: " + ", ".join(sorted(map(str, types))) + ".",
    )
