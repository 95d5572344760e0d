"""What is built into the inverter or beside it: residual current monitor, AC surge device."""

from __future__ import annotations

from collections.abc import Iterator

from yieldkit.config.site.site import Site
from yieldkit.design.checks.findings import (
    NOT_CHECKED,
    NOT_PERMITTED,
    PASSES,
    Finding,
    not_applicable,
    not_checked,
)

MONITOR = "residual current monitor"
AC_SURGE = "surge protective device on the AC side"
_MONITOR_RULE = "IEC 62109-2, 4.8.3.5 (from memory)"
_AC_SURGE_RULE = "IEC 60364-7-712:2017, 712.534, and IEC 60364-4-44, 443 (from memory)"


def built_in(site: Site) -> Iterator[Finding]:
    """Check the residual current monitor and the AC side's surge protective device."""
    yield _monitor(site)
    yield _ac_surge(site)


def _monitor(site: Site) -> Finding:
    """Without a transformer the array's fault currents reach the AC side: somebody must watch."""
    inverter = site.single_inverter
    if inverter.topology == "transformer":
        return not_applicable(MONITOR, "inverter", "A transformer separates.", _MONITOR_RULE)
    if inverter.topology is None:
        return not_checked(MONITOR, "inverter", "The inverter's topology", _MONITOR_RULE)
    if inverter.residual_current_monitor is None:
        missing = "Whether the inverter has a residual current monitor"
        return not_checked(MONITOR, "inverter", missing, _MONITOR_RULE)
    if inverter.residual_current_monitor:
        return Finding(MONITOR, "inverter", PASSES, rule=_MONITOR_RULE)
    if site.grid.residual_current_device == "type-b":
        said = "None is built in; the type B device in the AC lead watches instead."
        return Finding(MONITOR, "inverter", PASSES, rule=_MONITOR_RULE, advice=said)
    return Finding(
        MONITOR,
        "inverter",
        NOT_PERMITTED,
        rule=_MONITOR_RULE,
        advice="Without a transformer a monitor is needed, or a type B device in the AC lead "
        "(grid.residual_current_device).",
    )


def _ac_surge(site: Site) -> Finding:
    fitted = site.single_inverter.surge_protection
    if fitted is None:
        missing = "Whether surge protective devices are fitted"
        return not_checked(AC_SURGE, "AC lead", missing, _AC_SURGE_RULE)
    if fitted.ac_type != "none":
        said = f"One of {fitted.ac_type.replace('-', ' ')} is drawn."
        return Finding(AC_SURGE, "AC lead", PASSES, rule=_AC_SURGE_RULE, advice=said)
    if fitted.dc_type == "none":
        why = "None is drawn on either side; what the building needs decides."
        return not_applicable(AC_SURGE, "AC lead", why, _AC_SURGE_RULE)
    return Finding(
        AC_SURGE,
        "AC lead",
        NOT_CHECKED,
        rule=_AC_SURGE_RULE,
        advice="A device is drawn on the DC side and none on the AC side: whether the board has "
        "one is not known.",
    )
