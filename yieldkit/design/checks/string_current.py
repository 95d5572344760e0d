"""Currents and powers of trackers: operating limits cost yield, short-circuit limits forbid."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace

from yieldkit.config.site.site import Site
from yieldkit.design.checks.findings import (
    COSTS_YIELD,
    NOT_CHECKED,
    NOT_PERMITTED,
    PASSES,
    Finding,
    at_most,
    not_applicable,
    not_checked,
)
from yieldkit.design.checks.rear_irradiance import STRESS, rear_rule
from yieldkit.design.checks.rules import fuse_sizes, string_rule
from yieldkit.design.checks.wired import StringFacts

_LOWER_END_COUNTS = ("nec-690",)
_PROTECTION, _RATING = "string overcurrent protection", "string fuse rating"
"""Codes that ask for a rating of at least the lower bound (690.9(B)), not above it; read."""

Trackers = dict[str, tuple[StringFacts, ...]]


def backfeed(site: Site) -> tuple[float, str]:
    """Return what the inverter feeds back into the array, I_BF [A], and how it is known."""
    stated = site.single_inverter.backfeed_current_a
    if stated is None:
        return 0.0, "backfeed 0 A assumed"
    return stated, f"backfeed {stated:g} A as stated"


def by_tracker(strings: tuple[StringFacts, ...]) -> Trackers:
    """Return the strings of each tracker, in order."""
    found: dict[str, tuple[StringFacts, ...]] = {}
    for string in strings:
        found[string.mppt.name] = (*found.get(string.mppt.name, ()), string)
    return found


def currents(site: Site, strings: tuple[StringFacts, ...]) -> Iterator[Finding]:
    """Check operating and short-circuit currents of every tracker and connector."""
    factor = string_rule(site.standards.strings, "isc_factor")
    for name, own in by_tracker(strings).items():
        mppt = own[0].mppt
        operating = sum(string.i_mp for string in own)
        short = factor.value * sum(string.i_sc for string in own)
        yield at_most(
            "operating current against the maximum input current",
            name,
            operating,
            mppt.max_input_current_a,
            "A",
            "maker's maximum input current",
            missing="The maximum input current",
            advice="The input holds the current at its limit; run it to see what that costs.",
            over=COSTS_YIELD,
        )
        yield at_most(
            "short-circuit current against the input's rating",
            name,
            short,
            mppt.short_circuit_rating_a,
            "A",
            _with_rear(factor.text, own),
            missing="The short-circuit rating (the operating limit is no substitute)",
            advice=f"At most {_strings_within(own, factor.value, mppt.short_circuit_rating_a)} "
            "such strings.",
            essential=True,
        )
        yield _strong_rear_light(name, own, factor.value)
        yield at_most(
            "strings against connectors",
            name,
            float(len(own)),
            float(mppt.connectors),
            "1",
            "maker's manual",
            missing="The number of connectors",
            advice=f"{mppt.connectors} pairs; more strings need a combiner before the input.",
        )
        yield at_most(
            "current of a connector",
            name,
            factor.value * max(string.i_sc for string in own),
            mppt.max_current_per_connector_a,
            "A",
            _with_rear(factor.text, own),
            missing="The connector's rated current",
            advice="Fewer amperes per connector pair.",
            essential=True,
        )
    yield _total_short_circuit(site, strings)


def _with_rear(rule: str, own: tuple[StringFacts, ...]) -> str:
    note = "; ".join(dict.fromkeys(string.rear_note for string in own if string.rear_note))
    return f"{rule}; {note}" if note else rule


def _strong_rear_light(name: str, own: tuple[StringFacts, ...], factor: float) -> Finding:
    """Tell the current in the stress tests' light from behind, a caution and no limit."""
    check, stress = "short-circuit current in strong light from behind", rear_rule(STRESS)
    if not any(string.bifacial for string in own):
        return not_applicable(check, name, "No module on this input is bifacial.", stress.text)
    amperes = factor * sum(string.i_sc_with(stress.value) for string in own)
    rating = own[0].mppt.short_circuit_rating_a
    if rating is not None and amperes <= rating:
        return Finding(check, name, PASSES, amperes, rating, "A", stress.text)
    against = "a rating that isn't known" if rating is None else f"a rating of {rating:g} A"
    return Finding(
        check,
        name,
        NOT_CHECKED,
        amperes,
        math.nan,
        "A",
        stress.text,
        f"Caution: {stress.value:g} W/m2 from behind (snow, bright ground) make {amperes:.1f} A "
        f"against {against}: ask the maker whether the input bears it.",
    )


def _total_short_circuit(site: Site, strings: tuple[StringFacts, ...]) -> Finding:
    check, limit = (
        "short-circuit current of all inputs",
        site.single_inverter.max_dc_short_circuit_a,
    )
    factor = string_rule(site.standards.strings, "isc_factor")
    if limit is None:
        why = "No limit of all inputs is stated."
        return not_applicable(check, "inverter", why, factor.text, essential=True)
    return at_most(
        check,
        "inverter",
        factor.value * sum(string.i_sc for string in strings),
        limit,
        "A",
        factor.text,
        missing="The limit of all inputs",
        advice="Fewer strings in parallel.",
        essential=True,
    )


def _strings_within(own: tuple[StringFacts, ...], factor: float, limit: float | None) -> int:
    largest = max(string.i_sc for string in own)
    return 0 if limit is None else int(limit * (1.0 + 1e-9) // (factor * largest))


def powers(site: Site, strings: tuple[StringFacts, ...]) -> Iterator[Finding]:
    """Check DC powers against the limits of inputs, pairs and the whole inverter."""
    inverter = site.single_inverter
    rule = "maker's DC power limit, module power at STC"
    power = {
        name: sum(count * facts.p_max for s in own for count, _, facts, _ in s.groups)
        for name, own in by_tracker(strings).items()
    }
    for name, own in by_tracker(strings).items():
        yield at_most(
            "tracker power",
            name,
            power[name],
            own[0].mppt.max_power_w,
            "W",
            rule,
            missing="The input's maximum power",
            advice="The input holds the power at its limit.",
            over=COSTS_YIELD,
        )
    yield at_most(
        "total DC power",
        "inverter",
        sum(power.values()),
        inverter.max_dc_power_w,
        "W",
        rule,
        missing="The inverter's maximum DC power",
        advice="The inputs share what the inverter takes.",
        over=COSTS_YIELD,
    )
    if not inverter.max_dc_power_pairs:
        yield not_applicable("power of a pair of inputs", "inverter", "No pair limit is stated.")
    for pair in inverter.max_dc_power_pairs:
        yield at_most(
            "power of a pair of inputs",
            " + ".join(pair.mppts),
            sum(power.get(name, 0.0) for name in pair.mppts),
            pair.max_power_w,
            "W",
            rule,
            missing="The pair's limit",
            advice="The pair shares what it takes.",
            over=COSTS_YIELD,
        )
    yield from _ratio(site, strings)


def _ratio(site: Site, strings: tuple[StringFacts, ...]) -> Iterator[Finding]:
    nominal = site.single_inverter.ac.nominal_power_w
    planes: dict[str, float] = {}
    for string in strings:
        for count, plane, facts, _ in string.groups:
            planes[plane.name] = planes.get(plane.name, 0.0) + count * facts.p_max
    total = sum(planes.values()) / nominal
    shares = ", ".join(f"{name} {watts / nominal:.2f}" for name, watts in planes.items())
    yield at_most(
        "DC/AC ratio",
        "inverter",
        total,
        2.0,
        "1",
        "plausibility; common practice, no source",
        missing="",
        advice="Is the inverter too small, or a count wrong?",
        over=COSTS_YIELD,
    )
    yield Finding(
        "DC/AC ratio per orientation",
        "inverter",
        PASSES,
        total,
        rule="information; what is clipped is in the loss budget",
        unit="1",
        advice=f"{shares}.",
    )


def fuses(site: Site, strings: tuple[StringFacts, ...]) -> Iterator[Finding]:
    """Check whether string fuses are needed, and those that are drawn."""
    for name, own in by_tracker(strings).items():
        for finding in _fuses_of(site.standards.strings, name, own, *backfeed(site)):
            yield replace(finding, essential=True)


def fuses_needed(
    profile: str, number: int, i_sc: float, max_ocpr: float, backfeed_a: float = 0.0
) -> bool:
    """Return whether parallel strings need overcurrent protection.

    Parameters
    ----------
    profile : str
        Rule profile.
    number : int
        Strings in parallel.
    i_sc : float
        Module short-circuit current at STC [A].
    max_ocpr : float
        Module maximum overcurrent protection rating [A].
    backfeed_a : float
        Backfeed of the inverter or a battery [A]; with any, no number of strings is free of fuses.
    """
    free = string_rule(profile, "string_fuse_free_strings").value
    if number <= free and backfeed_a == 0.0:
        return False
    fault = _fault_current(profile, number, i_sc, backfeed_a)
    return fault > string_rule(profile, "ocpr_factor").value * max_ocpr


def _fault_current(profile: str, number: int, i_sc: float, backfeed_a: float) -> float:
    """Return what the other strings and the inverter feed into a faulty string [A]."""
    return (number - 1) * string_rule(profile, "string_fuse_factor").value * i_sc + backfeed_a


def fuse_window(profile: str, i_sc: float, max_ocpr: float) -> tuple[float, float, float | None]:
    """Return the lowest and highest fuse rating [A], and the smallest preferred one between."""
    low = string_rule(profile, "fuse_low").value * i_sc
    if profile == "iec-60364-7-712-2017":
        low *= string_rule(profile, "isc_factor").value
    high = min(string_rule(profile, "fuse_high").value * i_sc, max_ocpr)
    fitting = [size for size in fuse_sizes() if _fits(profile, size, low, high)]
    return low, high, fitting[0] if fitting else None


def _fits(profile: str, size: float, low: float, high: float) -> bool:
    """Return whether a rating lies in the window; only some codes count its lower end in."""
    least = low * (1.0 - 1e-9) if profile in _LOWER_END_COUNTS else low * (1.0 + 1e-9)
    return least < size <= high * (1.0 + 1e-9)


def _fuses_of(
    profile: str, name: str, own: tuple[StringFacts, ...], backfeed_a: float, backfeed_note: str
) -> Iterator[Finding]:
    check, window = _PROTECTION, _RATING
    rule = f"{string_rule(profile, 'ocpr_factor').text}; {backfeed_note}"
    ratings = [module.max_ocpr_a for string in own for *_, module in string.groups]
    i_sc = max(string.i_sc for string in own)
    drawn = [string.wired.fuse_a or own[0].mppt.string_fuses_built_in_a for string in own]
    if len(own) == 1 and backfeed_a == 0.0:
        yield not_applicable(check, name, "One string alone feeds no fault of its own.", rule)
        yield not_applicable(window, name, "One string alone needs no string fuse.", rule)
        return
    if None in ratings:
        missing = "The module's maximum overcurrent protection rating"
        yield not_checked(check, name, missing, rule)
        yield not_checked(window, name, missing, rule)
        return
    limit = min(value for value in ratings if value is not None)
    needed = fuses_needed(profile, len(own), i_sc, limit, backfeed_a)
    fault = _fault_current(profile, len(own), i_sc, backfeed_a)
    allowed = string_rule(profile, "ocpr_factor").value * limit
    window_a = fuse_window(profile, i_sc, limit)
    size = window_a[2]
    fit = f"Fit {size:g} A fuses in every string." if size else "No preferred rating fits."
    verdict, advice = PASSES, "No string fuses needed."
    if needed:
        verdict = PASSES if all(drawn) else NOT_PERMITTED
        advice = "String fuses are drawn." if all(drawn) else fit
    yield Finding(check, name, verdict, fault, allowed, "A", rule, advice)
    if any(drawn):
        yield from _drawn_fuses(profile, name, drawn, window_a, rule)
    elif needed:
        yield Finding(window, name, NOT_PERMITTED, math.nan, window_a[1], "A", rule, fit)
    else:
        none = "No string fuses are drawn and none are needed."
        yield not_applicable(window, name, none, rule)


def _drawn_fuses(
    profile: str,
    name: str,
    drawn: list[float | None],
    window_a: tuple[float, float, float | None],
    rule: str,
) -> Iterator[Finding]:
    """Check each rating that is drawn against the window of ratings [A]."""
    low, high, size = window_a
    least = "At least" if profile in _LOWER_END_COUNTS else "Above"
    for value in sorted({fuse for fuse in drawn if fuse}):
        fits = _fits(profile, value, low, high)
        note = f"{least} {low:.1f} and up to {high:g} A" + (
            f", such as {size:g} A." if size else "; no preferred rating fits."
        )
        verdict = PASSES if fits else NOT_PERMITTED
        yield Finding(_RATING, name, verdict, value, high, "A", rule, "" if fits else note)
