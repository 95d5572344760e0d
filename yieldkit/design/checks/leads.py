"""The AC leads: what they carry, what guards them, and the voltage change along them."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import NamedTuple

from yieldkit.config.models.conductors import AcLead
from yieldkit.config.models.inverters import AcSide
from yieldkit.config.site.site import Site
from yieldkit.design.checks.findings import (
    COSTS_YIELD,
    Finding,
    at_least,
    at_most,
    not_applicable,
    not_checked,
)
from yieldkit.design.checks.grid_profiles import profile_rule
from yieldkit.design.checks.rules import inspection_rule
from yieldkit.design.equipment.ampacity import lead_ampacity
from yieldkit.design.equipment.cables import lead_per_m, voltage_change

LEAD_AMPACITY = "AC current against the lead's ampacity"
LEAD_CHANGE = "voltage change of the AC lead"
DEVICE_CHECKS = (
    "AC overcurrent device against the current",
    "AC overcurrent device against the lead",
    "AC overcurrent device against the maker's maximum",
)
_RULE = "IEC 60364-4-43, 433.1: Ib <= In <= Iz (from memory)"
_AMPACITY_RULE = f"{_RULE}; ampacity IEC 60364-5-52 annex B"
_NO_AMPACITY = "The ampacity for this section, method and temperature"


class Stretch(NamedTuple):
    """An AC lead with what it carries.

    Parameters
    ----------
    subject : str
        What findings call it.
    key : str
        Where the site file describes it.
    lead : AcLead or None
        The lead; None where it isn't described.
    current : float
        Largest continuous current of a phase, Ib [A].
    ac : AcSide or None
        The AC side of the inverter whose own lead it is; None for the common lead of several.
    """

    subject: str
    key: str
    lead: AcLead | None
    current: float
    ac: AcSide | None


def design_current(ac: AcSide) -> float:
    """Return an inverter's largest continuous AC current of a phase, Ib [A]."""
    if ac.max_current_a is not None:
        return ac.max_current_a
    power = ac.max_apparent_power_va or ac.max_power_w or ac.nominal_power_w
    return power / (ac.phases * ac.nominal_voltage_v * ac.power_factor)


def total_current(site: Site) -> float:
    """Return the largest continuous AC current of a phase of all inverters together [A]."""
    return sum(design_current(one.site.single_inverter.ac) for one in site.each_inverter())


def stretches(site: Site) -> tuple[Stretch, ...]:
    """Return every AC lead of a site: the inverters' own, and the one that all share."""
    each = site.each_inverter()
    if not site.several_inverters:
        (one,) = each
        ac = one.site.single_inverter.ac
        current = design_current(ac)
        shared = Stretch("AC lead", "grid.lead", site.grid.lead, current, ac)
        if one.lead is None:
            return (shared,)
        own = Stretch("AC lead", "inverters.0.lead", one.lead, current, ac)
        if site.grid.lead is None:
            return (own,)
        # The device at the inverter is its own lead's; behind it the common lead has one too.
        return own, shared._replace(subject="common AC lead", ac=None)
    own_leads = (
        Stretch(
            f"AC lead of {one.name}",
            f"inverters.{place}.lead",
            one.lead,
            design_current(one.site.single_inverter.ac),
            one.site.single_inverter.ac,
        )
        for place, one in enumerate(each)
    )
    common = Stretch("common AC lead", "grid.lead", site.grid.lead, total_current(site), None)
    return (*own_leads, common)


def ac_leads(site: Site) -> Iterator[Finding]:
    """Check ampacity, overcurrent device and voltage change of every AC lead."""
    every = stretches(site)
    for stretch in every:
        yield from _carrying(site, stretch)
    common = [each for each in every if each.ac is None]
    for stretch in every:
        if stretch.ac is not None:
            yield _change(site, [stretch, *common])


def _carrying(site: Site, stretch: Stretch) -> Iterator[Finding]:
    lead = stretch.lead
    if lead is None:
        for name in (LEAD_AMPACITY, *DEVICE_CHECKS):
            missing = f"The {stretch.subject} ({stretch.key})"
            yield not_checked(name, stretch.subject, missing, _RULE, essential=True)
        return
    ampacity = lead_ampacity(lead, site.phases)
    yield at_most(
        LEAD_AMPACITY,
        stretch.subject,
        stretch.current,
        None if math.isnan(ampacity) else ampacity,
        "A",
        _AMPACITY_RULE,
        missing=_NO_AMPACITY,
        advice=f"{lead.cross_section_mm2:g} mm2 laid like this carries {ampacity:.1f} A: "
        "a thicker lead.",
        essential=True,
    )
    yield from _overcurrent_device(stretch, lead, ampacity)


def _overcurrent_device(stretch: Stretch, lead: AcLead, ampacity: float) -> Iterator[Finding]:
    """Check the device against the current it carries, the lead it guards and the maker's word."""
    device = lead.overcurrent_device_a
    rating = math.nan if device is None else device
    yield at_least(
        DEVICE_CHECKS[0],
        stretch.subject,
        rating,
        stretch.current,
        "A",
        _RULE,
        missing="The overcurrent device's rating",
        advice=f"At least {stretch.current:.1f} A.",
        essential=True,
    )
    yield at_most(
        DEVICE_CHECKS[1],
        stretch.subject,
        rating,
        None if math.isnan(ampacity) else ampacity,
        "A",
        _AMPACITY_RULE,
        missing="The overcurrent device's rating" if device is None else _NO_AMPACITY,
        advice="A thicker lead, or a smaller device.",
        essential=True,
    )
    if stretch.ac is None:
        why = "Each inverter's own device guards it."
        yield not_applicable(DEVICE_CHECKS[2], stretch.subject, why, essential=True)
        return
    yield at_most(
        DEVICE_CHECKS[2],
        stretch.subject,
        rating,
        stretch.ac.max_overcurrent_device_a,
        "A",
        "maker's manual",
        missing="The maker's largest overcurrent device",
        advice=f"At most {stretch.ac.max_overcurrent_device_a or 0:g} A.",
        essential=True,
    )


def _change(site: Site, way: list[Stretch]) -> Finding:
    """Check the voltage change along all leads from an inverter to the meter."""
    subject = way[0].subject if len(way) == 1 else f"{way[0].subject} and common AC lead"
    for stretch in way:
        if stretch.lead is None:
            return not_checked(
                LEAD_CHANGE, subject, f"The {stretch.subject} ({stretch.key})", _RULE
            )
    volts = sum(_volts(stretch.lead, stretch.current, way[0].ac, site.phases) for stretch in way)
    across = site.nominal_voltage_v * (math.sqrt(3.0) if site.phases == 3 else 1.0)
    limit = profile_rule(site.grid.profile, "lead_rise") or inspection_rule("lead_voltage_change")
    return at_most(
        LEAD_CHANGE,
        subject,
        100.0 * volts / across,
        limit.value if limit else None,
        "%",
        limit.text if limit else "",
        missing="A limit",
        advice="See the table of cross-sections.",
        over=COSTS_YIELD,
    )


def _volts(lead: AcLead | None, current: float, ac: AcSide | None, phases: int) -> float:
    if lead is None or ac is None:
        return math.nan
    per_m, reactance = lead_per_m(lead)
    return voltage_change(current, per_m, reactance, lead.length_m, phases, ac.power_factor)
