"""What must be told of readings: polarity first, then light, clocks, and what is missing."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence

from yieldkit.design.checks.findings import NOT_CHECKED, PASSES
from yieldkit.design.checks.insulation import (
    both_poles,
    commissioning_rule,
    resistance_finding,
    string_test,
)
from yieldkit.design.checks.wired import StringFacts
from yieldkit.study.handover.names import NamedString
from yieldkit.study.handover.reading import QUANTITIES, Reading

_LEAST_LIGHT = {
    "i_sc": "short_circuit_light",
    "poa_second": "short_circuit_light",
    "v_dc": "curve_light",
    "i_dc": "curve_light",
    "p_dc": "curve_light",
}
"""Quantities that tell nothing below the light of a rule."""
_WORDS = {each.key: each.words for each in QUANTITIES}
_MOST_NAMED = 6
_POLES = ("plus", "minus")


def not_judged(reading: Reading) -> str:
    """Return why nothing can be concluded from a reading; nothing where something can.

    Parameters
    ----------
    reading : Reading
        The reading.
    """
    rule = _LEAST_LIGHT.get(reading.quantity)
    light = reading.poa_global
    if rule is None:
        return "no light" if light <= 0.0 and reading.quantity == "v_oc" else ""
    least = commissioning_rule(rule)
    if light < least.value:
        return (
            f"{light:.0f} W/m2 is too little light to judge the {_WORDS[reading.quantity]}: at "
            f"least {least.value:.0f} W/m2 ({least.text})"
        )
    return ""


def loud_sentences(readings: Sequence[Reading]) -> tuple[str, ...]:
    """Return what must be said before anything else, in capitals: reversed polarity.

    Parameters
    ----------
    readings : sequence of Reading
        All readings.
    """
    found: dict[str, str] = {}
    for each in readings:
        if each.quantity == "polarity" and each.value < 0.0:
            found.setdefault(each.subject, f"recorded as reversed, line {each.line}")
        elif each.quantity in ("v_oc", "v_dc") and each.value < 0.0:
            found[each.subject] = f"{each.value:.1f} V, line {each.line}"
    return tuple(
        f"REVERSED POLARITY: {subject} ({why}). DO NOT CLOSE ITS ISOLATOR, DO NOT JOIN IT TO "
        "ANOTHER STRING, DO NOT PART ITS CONNECTORS UNDER LOAD. If it is connected already, prove "
        "with a clamp meter that no current flows before anything is touched; wait for darkness "
        "where current flows. Then look at the meter's leads, turn the string's ends round, and "
        "read again."
        for subject, why in found.items()
    )


def told_of(readings: Sequence[Reading], strings: Sequence[NamedString]) -> tuple[str, ...]:
    """Return what is to be told of light and of what is missing.

    Parameters
    ----------
    readings : sequence of Reading
        All readings.
    strings : sequence of NamedString
        The wiring's strings.
    """
    return (*_changing_light(readings, strings), *_missing(readings, strings))


def clock_sentence(said: str, own: str) -> str:
    """Return how times are read that carry no zone of their own.

    Parameters
    ----------
    said : str
        The zone that stands beside them; nothing where none does.
    own : str
        The site's clock.
    """
    clock = said or own
    season = "summer time included" if "/" in clock else "the same all year, no summer time"
    why = "" if said else ", for no zone stands beside them"
    return f"Times are read by the clock of {clock} ({season}){why}."


def insulation_sentences(
    readings: Sequence[Reading], strings: Mapping[str, StringFacts]
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return what is to be said loud of insulation, and what is to be told of it.

    Parameters
    ----------
    readings : sequence of Reading
        All readings.
    strings : mapping of str to StringFacts
        What is known of each string, by name.
    """
    loud, told = [], []
    passing: dict[str, list[str]] = {}
    poles = {(each.subject, each.quantity): each.value for each in readings}
    for name, string in strings.items():
        plus, minus = (poles.get((name, f"insulation_{pole}"), math.nan) for pole in _POLES)
        if plus != plus and minus != minus:
            continue
        found = resistance_finding(name, string_test(string), both_poles(plus, minus))
        least = f"at least {found.limit:g} Mohm"
        if found.verdict == NOT_CHECKED:
            told.append(f"Insulation of {name}: {NOT_CHECKED}. {found.advice}")
        elif found.verdict == PASSES:
            passing.setdefault(f"{least}, {found.rule}", []).append(
                f"{name} {found.value:.3g} Mohm"
            )
        else:
            loud.append(
                f"INSULATION OF {name} FAILS: {found.value:.3g} Mohm of plus and minus together, "
                f"{least}. DO NOT CLOSE IT. {found.advice}"
            )
    told += [
        f"Insulation of plus and minus together passes ({least}): {'; '.join(each)}."
        for least, each in passing.items()
    ]
    return tuple(loud), tuple(told)


def _changing_light(readings: Sequence[Reading], strings: Sequence[NamedString]) -> Iterator[str]:
    rule = commissioning_rule("light_steady")
    for string in strings:
        lights = [
            each.poa_global
            for each in readings
            if each.subject == string.name and each.poa_global > 0.0
        ]
        if not lights:
            continue
        least, most = min(lights), max(lights)
        change = 100.0 * (most - least) / most
        if change > rule.value:
            yield (
                f"{string.name}: the light changed by {change:.0f} % between its readings "
                f"({least:.0f} to {most:.0f} W/m2), more than {rule.value:g} %: read it again in "
                "steady light, or trust its currents less."
            )


def _missing(readings: Sequence[Reading], strings: Sequence[NamedString]) -> Iterator[str]:
    for key in ("polarity", "v_oc"):
        read = {each.subject for each in readings if each.quantity == key}
        if key == "polarity":
            # A voltage read with its sign tells the polarity as well.
            read |= {each.subject for each in readings if each.quantity == "v_oc"}
        left = [string.name for string in strings if string.name not in read]
        if left:
            more = len(left) - _MOST_NAMED
            named = "; ".join(left[:_MOST_NAMED]) + (f"; {more} more" if more > 0 else "")
            yield f"No {_WORDS[key]} was read of: {named}."
