"""String cables: what they may carry by the rule profile, and the voltage they cost."""

from __future__ import annotations

from collections.abc import Iterator

from yieldkit.config.site.site import Site
from yieldkit.design.checks.findings import (
    COSTS_YIELD,
    Finding,
    at_least,
    at_most,
    not_checked,
)
from yieldkit.design.checks.rules import inspection_rule, string_rule
from yieldkit.design.checks.string_current import backfeed, by_tracker
from yieldkit.design.checks.wired import StringFacts
from yieldkit.design.equipment.ampacity import string_cable_ampacity
from yieldkit.design.equipment.cables import string_resistance

AMPACITY = "string cable's ampacity"
DROP = "voltage drop of the string cable"
_NO_CABLE = "The string's cable"


def string_cables(site: Site, strings: tuple[StringFacts, ...]) -> Iterator[Finding]:
    """Check every string cable's ampacity and voltage drop."""
    for own in by_tracker(strings).values():
        for string in own:
            yield _ampacity(site, string, own)
            yield _drop(string)


def needed_ampacity(
    profile: str,
    i_sc: float,
    others: tuple[float, ...],
    fuse_a: float | None,
    backfeed_a: float = 0.0,
) -> tuple[float, str]:
    """Return what a string cable has to carry [A], and why in words.

    Parameters
    ----------
    profile : str
        Rule profile.
    i_sc : float
        Short-circuit current of the string, light from behind included [A].
    others : tuple of float
        The same of every other string on the input [A].
    fuse_a : float or None
        Rating of the string's fuse [A].
    backfeed_a : float
        What the inverter feeds back into the array [A].
    """
    factor = string_rule(profile, "isc_factor").value
    own = factor * i_sc, f"{factor:g} x Isc {i_sc:.2f} A"
    if fuse_a:
        return max(own, (fuse_a, f"the {fuse_a:g} A fuse"))
    back = string_rule(profile, "string_fuse_factor").value
    parts = [f"{len(others)} x {back:g} x Isc of the other strings"] if others else []
    parts += [f"{backfeed_a:g} A of backfeed"] if backfeed_a else []
    return max(own, (back * sum(others) + backfeed_a, " and ".join(parts)))


def _ampacity(site: Site, string: StringFacts, own: tuple[StringFacts, ...]) -> Finding:
    profile = site.standards.strings
    source = string_rule(profile, "string_fuse_factor").text
    cable = string.wired.cable
    if cable is None:
        return not_checked(AMPACITY, string.subject, _NO_CABLE, source, essential=True)
    found = string_cable_ampacity(cable, len(own))
    others = tuple(each.i_sc for each in own if each is not string)
    fuse = string.wired.fuse_a or string.mppt.string_fuses_built_in_a
    backfeed_a, backfeed_note = backfeed(site)
    amperes, why = needed_ampacity(profile, string.i_sc, others, fuse, backfeed_a)
    if profile == "nec-690":
        before = string_rule(profile, "conductor_before_correction").value
        amperes = max(amperes, before * string.i_sc * found.factor)
    fused = "fused" if fuse else "not fused"
    return at_least(
        AMPACITY,
        string.subject,
        found.amperes,
        amperes,
        "A",
        f"{source}; {fused}; {backfeed_note}; {found.words}; EN 50618 / IEC 62930 "
        "and IEC 60364-5-52",
        missing="The ampacity of this section, laying, ambient and bunching",
        advice=f"{cable.cross_section_mm2:g} mm2 carries {found.amperes:.1f} A, needed is {why}: a "
        "thicker cable, or state laying_method, temp_ambient_c and circuits_bunched.",
        essential=True,
    )


def _drop(string: StringFacts) -> Finding:
    limit = inspection_rule("string_cable_drop")
    cable = string.wired.cable
    if cable is None or limit is None:
        return not_checked(DROP, string.subject, _NO_CABLE)
    volts = string.i_mp * string_resistance(cable)
    return at_most(
        DROP,
        string.subject,
        100.0 * volts / string.v_mp,
        limit.value,
        "%",
        limit.text,
        missing="",
        advice=f"{volts:.1f} V at rated current: a thicker or shorter cable.",
        over=COSTS_YIELD,
    )
