"""The handover sheet of a wiring: what who builds and tests it has to have at hand."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime

from yieldkit.base.errors import NothingPermitted, Problem
from yieldkit.config.site.site import Site, Wiring
from yieldkit.design.checks.insulation import commissioning_rule, parts_needed
from yieldkit.design.checks.limits import check, named_wiring
from yieldkit.design.checks.permission import FORBIDDEN, permission
from yieldkit.design.roof.layout import string_layout
from yieldkit.study.handover.cloudless_day import cloudless_day
from yieldkit.study.handover.form import clock_of, clock_words
from yieldkit.study.handover.meter import TEMP_AIR_C
from yieldkit.study.handover.names import planes_in_use, sheet_mark
from yieldkit.study.handover.points import expected_points
from yieldkit.study.handover.reference_errors import (
    METER_A,
    METER_V,
    MODULES_A,
    MODULES_V,
    READING_A,
    READING_V,
    REFERENCE_ERRORS,
    SENSOR_HEAT,
    SENSOR_LIGHT,
)
from yieldkit.study.handover.sheet import Handover, SheetPlane
from yieldkit.study.handover.sheet_inverters import sheet_inverter
from yieldkit.study.handover.sheet_strings import sheet_strings
from yieldkit.study.handover.steps import DOCUMENTS, order_of_tests
from yieldkit.study.simulation.provenance import site_hash, versions

_TOLD = (METER_V, METER_A, READING_V, READING_A, SENSOR_LIGHT, SENSOR_HEAT, MODULES_V, MODULES_A)
"""Reference errors that the sheet names."""


def handover(
    site: Site,
    wiring: str | None = None,
    *,
    day: date | None = None,
    temp_air: float = TEMP_AIR_C,
) -> Handover:
    """Return the handover sheet of a wiring.

    Parameters
    ----------
    site : Site
        The site.
    wiring : str, optional
        Name of the wiring that is built; the site's first if left out.
    day : date, optional
        A day whose full hours are listed as below a cloudless sky, for those without a sensor.
    temp_air : float
        Air temperature on it [degC].

    Returns
    -------
    Handover
        The sheet as plain values; `save` writes them with the table to fill in.

    Raises
    ------
    InputError
        If there is no such wiring.
    NothingPermitted
        If a limit forbids it: nobody is told how to build that.
    """
    chosen = named_wiring(site, wiring)
    findings = check(site, chosen)
    allowed = permission(findings)
    if allowed.word == FORBIDDEN:
        raise NothingPermitted((_forbidden(site, chosen, allowed.sentence()),))
    points, operating = expected_points(site, chosen)
    strings = sheet_strings(site, chosen, findings, points)
    if day is not None:
        hours = cloudless_day(site, chosen, day, temp_air)
        strings = tuple((replace(own, cloudless=hours[own.name]), kwp) for own, kwp in strings)
    inverters = tuple(sheet_inverter(site, one, strings, operating) for one in site.each_inverter())
    power = sum(each.power_kwp for each in inverters)
    return Handover(
        site_name=site.site.name,
        wiring=chosen.name,
        mark=sheet_mark(site, chosen),
        invented=site.invented,
        made=f"{datetime.now(UTC):%Y-%m-%d %H:%M UTC}",
        clock=clock_of(site),
        clock_words=clock_words(site),
        allowed=allowed.sentence(),
        not_checked=findings.unchecked(),
        power_kwp=power,
        inverters=tuple(each for each in inverters if each.power_kwp > 0.0),
        strings=tuple(own for own, _ in strings),
        planes=tuple(
            SheetPlane(each.name, each.tilt_deg, each.azimuth_deg)
            for each in planes_in_use(site, chosen)
        ),
        layout=string_layout(site, chosen),
        order=order_of_tests(_in_parts(power)),
        documents=DOCUMENTS,
        usual=_usual(),
        site_sha256=site_hash(site),
        versions=versions(),
        day="" if day is None else day.isoformat(),
        temp_air=temp_air,
        idle=tuple(each.name for each in inverters if each.power_kwp == 0.0),
    )


def _usual() -> str:
    """Return on what the bands of expected figures rest."""
    by_source: dict[str, list[str]] = {}
    for key in _TOLD:
        own = REFERENCE_ERRORS[key]
        by_source.setdefault(own.source, []).append(f"{own.words} {own.spread:g} {own.unit}")
    told = [f"{'; '.join(each)} ({source})" for source, each in by_source.items()]
    return (
        "Usual is what 19 of 20 readings keep to, twice the standard deviation of all that "
        f"differs: {'; '.join(told)}."
    )


def _forbidden(site: Site, wiring: Wiring, why: str) -> Problem:
    return Problem(
        f"wiring '{wiring.name}' of {site.site.name}",
        why,
        "a wiring that no limit forbids, before anybody builds it",
        remedy="`yieldkit check` tells values and limits, `yieldkit propose` finds wirings that "
        "are allowed; --wiring NAME chooses another one of the file.",
    )


def _in_parts(power_kwp: float) -> str:
    if not parts_needed(power_kwp):
        return ""
    rule = commissioning_rule("insulation_whole_array")
    return (
        f"The array has {power_kwp:.1f} kWp, more than {rule.value:g}: it is tested in parts, "
        f"string by string, never as a whole ({rule.text})."
    )
