"""Thin air: what altitude leaves of the inverter's power, and whether its clearances hold."""

from __future__ import annotations

from collections.abc import Iterator

from yieldkit.config.site.site import Site
from yieldkit.design.checks.findings import COSTS_YIELD, PASSES, Finding, at_most, not_checked
from yieldkit.design.checks.rules import Rule, inspection_rule
from yieldkit.physics.ac.derating import thin_air_factor

CLEARANCE = "altitude against air clearances"
DERATING = "altitude derating"
_MANUAL = "maker's manual"


def altitude_factor(site: Site) -> float:
    """Return what the site's altitude leaves of its inverter's power [1]; 1 where none is given."""
    thin = site.single_inverter.altitude_derating
    if thin is None:
        return 1.0
    return thin_air_factor(site.site.altitude_m, thin.above_m, thin.percent_per_100_m)


def altitude(site: Site) -> Iterator[Finding]:
    """Check air clearances and derating of the inverter at the site's altitude.

    Air insulates and cools less the thinner it is. Up to 2000 m the standard's own clearances
    hold; above it only the maker's word does, and where it is not given neither is checked.
    """
    rule = inspection_rule("altitude")
    if rule is None:
        yield not_checked(CLEARANCE, "inverter", "The altitude up to which clearances hold")
        yield not_checked(DERATING, "inverter", "The altitude up to which clearances hold")
        return
    yield _clearance(site, rule)
    yield _derating(site, rule)


def _clearance(site: Site, rule: Rule) -> Finding:
    height, highest = site.site.altitude_m, site.single_inverter.max_altitude_m
    if highest is None and height > rule.value:
        return not_checked(
            CLEARANCE,
            "inverter",
            f"At {height:g} m air insulates less than at the {rule.value:g} m that clearances are "
            "made for: the highest altitude the maker allows (inverter.max_altitude_m)",
            rule.text,
        )
    return at_most(
        CLEARANCE,
        "inverter",
        height,
        rule.value if highest is None else highest,
        "m",
        rule.text if highest is None else _MANUAL,
        missing="The highest altitude the maker allows (inverter.max_altitude_m)",
        advice="Take an inverter that its maker allows at this altitude.",
    )


def _derating(site: Site, rule: Rule) -> Finding:
    height = site.site.altitude_m
    if site.single_inverter.altitude_derating is None:
        if height > rule.value:
            return not_checked(
                DERATING,
                "inverter",
                f"What {height:g} m take of the power (inverter.altitude_derating)",
                rule.text,
            )
        return Finding(
            DERATING,
            "inverter",
            PASSES,
            height,
            rule.value,
            "m",
            rule.text,
            "No loss in thin air is given, and none is applied.",
        )
    left = 100.0 * altitude_factor(site)
    return Finding(
        DERATING,
        "inverter",
        COSTS_YIELD if left < 100.0 else PASSES,
        left,
        100.0,
        "% of power left",
        _MANUAL,
        "Thin air cools less." if left < 100.0 else "",
        from_below=True,
    )
