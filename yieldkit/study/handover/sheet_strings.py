"""The strings of a handover sheet: where each goes, its cable, fuse and insulation test."""

from __future__ import annotations

from collections.abc import Mapping

from yieldkit.config.models.conductors import Cable
from yieldkit.config.models.planes import Plane
from yieldkit.config.site.site import Site, Wiring
from yieldkit.design.checks.findings import NOT_CHECKED, NOT_PERMITTED, Finding
from yieldkit.design.checks.insulation import string_test, voltage_finding
from yieldkit.design.checks.wired import StringFacts
from yieldkit.study.handover.names import NamedString, facts_by_name, named_strings
from yieldkit.study.handover.points import Points
from yieldkit.study.handover.set_up import NOT_STATED
from yieldkit.study.handover.sheet import Insulation, SheetString
from yieldkit.study.simulation.labels import string_label

_QUARTERS = (
    "north",
    "north-east",
    "east",
    "south-east",
    "south",
    "south-west",
    "west",
    "north-west",
)


def sheet_strings(
    site: Site, wiring: Wiring, findings: tuple[Finding, ...], points: Mapping[str, Points]
) -> tuple[tuple[SheetString, float], ...]:
    """Return the sheet's strings, each with its power [kWp].

    Parameters
    ----------
    site : Site
        The site.
    wiring : Wiring
        The wiring that is built.
    findings : tuple of Finding
        Of its checks.
    points : mapping of str to Points
        What each string should show.
    """
    facts = facts_by_name(site, wiring)
    return tuple(
        (_string(site, one, facts[one.name], findings, points[one.name]), _kwp(facts[one.name]))
        for one in named_strings(site, wiring)
    )


def _kwp(string: StringFacts) -> float:
    return sum(count * facts.p_max for count, _, facts, _ in string.groups) / 1000.0


def _string(
    site: Site,
    one: NamedString,
    facts: StringFacts,
    findings: tuple[Finding, ...],
    points: Points,
) -> SheetString:
    inverters = site.each_inverter()
    inverter = one.tracker.inverter if site.several_inverters else None
    pairs = facts.mppt.connectors
    cold = facts.cold_v_oc(site.site.design_temperatures.lowest_ambient_c)
    planes = dict.fromkeys(_plane(plane) for _, plane, *_ in facts.groups)
    return SheetString(
        number=one.number,
        name=one.name,
        input_name=one.input_name,
        inverter=inverter or inverters[0].name,
        connector=f"pair {one.place} of {pairs}" if one.place <= pairs else "through a combiner",
        modules=string_label(one.string),
        count=facts.modules,
        planes=tuple(planes),
        module_types=tuple(dict.fromkeys(own.name for _, _, own, _ in facts.groups)),
        cable=_cable(one.string.cable),
        fuse=_fuse(one, facts, findings),
        cold_v_oc=None if cold != cold else cold,
        stc_v_oc=sum(count * own.v_oc for count, _, own, _ in facts.groups),
        stc_i_sc=min(own.i_sc for _, _, own, _ in facts.groups),
        points=points,
        insulation=_insulation(facts),
    )


def _plane(plane: Plane) -> str:
    quarter = _QUARTERS[round(plane.azimuth_deg / 45.0) % 8]
    return f"{plane.name}: tilt {plane.tilt_deg:g}°, azimuth {plane.azimuth_deg:g}° ({quarter})"


def _cable(cable: Cable | None) -> str:
    """Return a string's cable in words."""
    if cable is None:
        return NOT_STATED
    many = "" if cable.conductors_in_parallel == 1 else f"{cable.conductors_in_parallel} x "
    rated = "" if cable.rated_voltage_v is None else f", rated {cable.rated_voltage_v:g} V DC"
    return (
        f"{cable.length_m:g} m one way, {many}{cable.cross_section_mm2:g} mm² {cable.material}"
        f"{rated}"
    )


def _fuse(one: NamedString, facts: StringFacts, findings: tuple[Finding, ...]) -> str:
    """Return a string's fuse, or whether it needs none."""
    if one.string.fuse_a is not None:
        return f"{one.string.fuse_a:g} A"
    if facts.mppt.string_fuses_built_in_a is not None:
        return f"{facts.mppt.string_fuses_built_in_a:g} A, inside the inverter"
    own = [
        each
        for each in findings
        if each.check == "string overcurrent protection" and each.subject == one.input_name
    ]
    unknown = any(each.verdict == NOT_CHECKED for each in own)
    return "none; whether one is needed is NOT CHECKED" if unknown else "none needed"


def _insulation(facts: StringFacts) -> Insulation:
    test, finding = string_test(facts), voltage_finding(facts)
    allowed = finding.verdict != NOT_PERMITTED
    return Insulation(
        test.system_voltage_v,
        test.test_voltage_v if allowed else None,
        test.least_ohm / 1e6,
        finding.verdict,
        finding.advice,
        test.rule,
    )
