"""The inverters of a handover sheet: inputs, set-up, isolation and place."""

from __future__ import annotations

from collections.abc import Mapping

from yieldkit.config.models.conductors import AcLead
from yieldkit.config.site.site import OneInverter, Site
from yieldkit.design.checks.mounting import PREVAILS, usual_clearances
from yieldkit.study.handover.points import Operating
from yieldkit.study.handover.set_up import NOT_STATED, set_up
from yieldkit.study.handover.sheet import SheetInverter, SheetString


def sheet_inverter(
    site: Site,
    one: OneInverter,
    strings: tuple[tuple[SheetString, float], ...],
    operating: Mapping[str, Operating],
) -> SheetInverter:
    """Return an inverter of the sheet.

    Parameters
    ----------
    site : Site
        The site.
    one : OneInverter
        The inverter.
    strings : tuple of (SheetString, float)
        All strings of the sheet with their power [kWp].
    operating : mapping of str to Operating
        What each input in use should show.
    """
    kind = one.site.single_inverter
    own = [(string, power) for string, power in strings if string.inverter == one.name]
    prefix = f"{one.name} / " if site.several_inverters else ""
    inputs = tuple(
        (mppt.name, tuple(s.number for s, _ in own if s.input_name == f"{prefix}{mppt.name}"))
        for mppt in kind.mppts
    )
    return SheetInverter(
        one.name,
        kind.name,
        sum(power for _, power in own),
        inputs,
        tuple((name, operating[name]) for name in dict.fromkeys(s.input_name for s, _ in own)),
        set_up(site, one),
        _isolation(site, one),
        _place(one),
    )


def _isolation(site: Site, one: OneInverter) -> tuple[str, ...]:
    isolator = one.site.single_inverter.dc_isolator
    if isolator is None:
        said = f"DC isolator: {NOT_STATED}."
    else:
        rated = [
            NOT_STATED if value is None else f"{value:g} {unit}"
            for value, unit in ((isolator.rated_voltage_v, "V"), (isolator.rated_current_a, "A"))
        ]
        poles = NOT_STATED if isolator.poles is None else f"{isolator.poles}"
        said = (
            f"DC isolator: category {isolator.category or NOT_STATED}, {rated[0]}, {rated[1]}, "
            f"poles: {poles}."
        )
    surge = one.site.single_inverter.surge_protection
    devices = NOT_STATED if surge is None else f"DC {surge.dc_type}, AC {surge.ac_type}"
    lead = one.lead if site.several_inverters or one.lead is not None else site.grid.lead
    return (
        said,
        f"AC side: {_lead(lead)}.",
        f"Surge protective devices: {devices}. They are disconnected for the insulation test.",
        "Discharge time by the nameplate, before anything is opened: ______ min.",
    )


def _lead(lead: AcLead | None) -> str:
    if lead is None:
        return f"lead {NOT_STATED}"
    device = lead.overcurrent_device_a
    guarded = NOT_STATED if device is None else f"{device:g} A"
    return (
        f"lead of {lead.length_m:g} m, {lead.cross_section_mm2:g} mm² {lead.material}, "
        f"overcurrent device {guarded}"
    )


def _place(one: OneInverter) -> tuple[str, ...]:
    gap, place = usual_clearances(), one.site.inverter_place
    where = NOT_STATED if place is None else place.surroundings.replace("-", ", ")
    return (
        f"Place: {where}.",
        f"Free round the case: {100 * gap.beside:.0f} cm to the next inverter beside, "
        f"{100 * gap.above:.0f} cm to the next above or below, {100 * gap.to_obstacles:.0f} cm to "
        f"everything else, {100 * gap.in_front:.0f} cm in front. {PREVAILS}",
    )
