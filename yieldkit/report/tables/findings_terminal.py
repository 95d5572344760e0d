"""Findings for a terminal: grouped by check, all subjects on one line, cautions once."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping

from yieldkit.base.plain_text import plain_line
from yieldkit.design.checks.cautions import cautions
from yieldkit.design.checks.findings import (
    COSTS_YIELD,
    NOT_APPLICABLE,
    NOT_CHECKED,
    NOT_PERMITTED,
    PASSES,
    VERDICTS,
    Finding,
)
from yieldkit.design.checks.permission import permission
from yieldkit.design.checks.string_voltage import cold_check_name
from yieldkit.report.tables.findings import counts, number_text

WIDTH = 80
_COUNTED = {
    NOT_PERMITTED: "not permitted",
    COSTS_YIELD: "cost yield",
    NOT_CHECKED: "NOT CHECKED",
    PASSES: "passed",
    NOT_APPLICABLE: "don't apply",
}
_HIDDEN = (PASSES, NOT_APPLICABLE)
_Found = list[tuple[str, Finding]]


def findings_text(
    findings: Mapping[str, tuple[Finding, ...]], *, everything: bool = False, width: int = WIDTH
) -> str:
    """Return the findings of several wirings as text for a terminal.

    Parameters
    ----------
    findings : mapping of str to tuple of Finding
        By wiring.
    everything : bool
        Show also what passes and what doesn't apply; otherwise they are counted.
    width : int
        Columns of the terminal.

    Returns
    -------
    str
        What each wiring may be called, with its counts; then every check once, worst first, with
        all its subjects, values, advice and rule; then the cautions.
    """
    cold_rules = _cold_rules(findings)
    blocks = ["\n".join(_heads(findings, everything, width))]
    if cold_rules:
        text = f"Voltages in the cold by {' | '.join(cold_rules)}."
        blocks.append(_filled(text, width, "", "  "))
    for verdict in VERDICTS:
        if verdict in _HIDDEN and not everything:
            continue
        groups: dict[str, _Found] = {}
        for name, found in findings.items():
            for finding in found:
                if finding.verdict == verdict:
                    groups.setdefault(finding.check, []).append((name, finding))
        if groups:
            lines = [verdict.upper()]
            for own in groups.values():
                lines += _group(own, list(findings), width, cold_rules)
            blocks.append("\n".join(lines))
    bullets = [_filled(text, width, "- ", "  ") for text in cautions()]
    return "\n\n".join([*blocks, "\n".join(["CAUTIONS", *bullets])])


def _heads(findings: Mapping[str, tuple[Finding, ...]], everything: bool, width: int) -> list[str]:
    """Return what each wiring may be called, and how many of its checks ended how."""
    lines = []
    for name, found in findings.items():
        lines.append(_filled(f"Wiring '{name}': {permission(found).sentence()}.", width, "", "  "))
        parts = [
            f"{count} {_COUNTED[verdict]}"
            + (" (--all)" if verdict == PASSES and not everything else "")
            for verdict, count in counts(found).items()
            if count
        ]
        lines.append(_filled(f"{len(found)} checks: {', '.join(parts)}.", width, "  ", "  "))
    return lines


def _cold_rules(findings: Mapping[str, tuple[Finding, ...]]) -> tuple[str, ...]:
    """Return by which rule, ambient and tolerance the voltages in the cold were found."""
    every = [each for found in findings.values() for each in found]
    name = cold_check_name("the input")
    return tuple(dict.fromkeys(each.rule for each in every if each.check == name))


def _group(own: _Found, wirings: list[str], width: int, cold_rules: tuple[str, ...]) -> list[str]:
    """Return one check: where, with which values, what to do and by which rules not yet told."""
    findings = [finding for _, finding in own]
    advised: dict[str, _Found] = {}
    for name, finding in own:
        advised.setdefault(finding.advice, []).append((name, finding))
    apart = len(advised) > 1
    every = dict.fromkeys(each.rule for each in findings if each.rule)
    rules = [f"[{rule}]" for rule in every if rule not in cold_rules]
    remark = " ".join(
        part for part in (_values(findings), *("" if apart else advised), *rules) if part
    )
    lines = [_filled(f"{findings[0].check}: {_where(own, wirings)}", width, "- ", "  ")]
    lines += [_filled(remark, width, "    ", "    ")] if remark else []
    # What is to be done differs: each advice with whom it is for.
    return lines + [
        _filled(f"{_where(whose, wirings)}: {advice}", width, "    ", "      ")
        for advice, whose in advised.items()
        if apart and advice
    ]


def _where(own: _Found, wirings: list[str]) -> str:
    """Return the subjects, by wiring where they differ."""
    subjects: dict[str, list[str]] = {name: [] for name in wirings}
    for name, finding in own:
        subjects[name].append(finding.subject)
    alike: dict[str, list[str]] = {}
    for name, each in subjects.items():
        if each:
            alike.setdefault(_subjects(each), []).append(f"'{name}'")
    if len(alike) == 1 and all(subjects.values()):
        return next(iter(alike))
    return " | ".join(f"{what} in {', '.join(names)}" for what, names in alike.items())


def _subjects(names: list[str]) -> str:
    """Return subjects in short: the strings of an input stand together."""
    strings: dict[str, list[str]] = {}
    for name in dict.fromkeys(names):
        place, is_string, number = name.partition(", string ")
        strings.setdefault(place, []).extend([number] if is_string else [])
    return "; ".join(
        f"{place}, string{'s' if len(own) > 1 else ''} {' and '.join(own)}" if own else place
        for place, own in strings.items()
    )


def _values(findings: list[Finding]) -> str:
    """Return the values against their limits, the span of several."""
    known = [each for each in findings if each.value == each.value]
    if not known or findings[0].verdict == NOT_CHECKED:
        return ""
    unit = "" if known[0].unit == "1" else f" {known[0].unit}"
    limits = [each.limit for each in known if each.limit == each.limit]
    against = f" against {_span(limits)}" if limits else ""
    return f"{_span([each.value for each in known])}{against}{unit}."


def _span(values: list[float]) -> str:
    low, high = number_text(min(values)), number_text(max(values))
    return low if low == high else f"{low} to {high}"


def _filled(text: str, width: int, first: str, then: str) -> str:
    return textwrap.fill(
        plain_line(text),
        width,
        initial_indent=first,
        subsequent_indent=then,
        break_on_hyphens=False,
    )
