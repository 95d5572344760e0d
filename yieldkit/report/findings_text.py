"""Findings as rows, as text for a terminal, as a JSON object and as a table for CSV."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Iterable, Mapping

import pandas as pd

from yieldkit.design.cautions import cautions
from yieldkit.design.findings import (
    COSTS_YIELD,
    NOT_APPLICABLE,
    NOT_PERMITTED,
    PASSES,
    VERDICTS,
    Finding,
)

_WIDTH = 100
_COLUMNS = ("verdict", "check", "subject", "value", "limit", "margin", "unit")


def against_limits(findings: Iterable[Finding]) -> bool:
    """Return whether any finding is against a limit (costs yield, or not permitted)."""
    return any(finding.verdict in (NOT_PERMITTED, COSTS_YIELD) for finding in findings)


def counts(findings: Iterable[Finding]) -> dict[str, int]:
    """Return how many findings have each verdict, worst first, zeros included."""
    found = [finding.verdict for finding in findings]
    return {verdict: found.count(verdict) for verdict in VERDICTS}


def counts_sentence(findings: Iterable[Finding]) -> str:
    """Return the counts in words, such as "31 checks: 2 not permitted, ... "."""
    numbers = counts(findings)
    parts = ", ".join(f"{number} {verdict}" for verdict, number in numbers.items())
    return f"{sum(numbers.values())} checks: {parts}."


def worst_first(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Return the findings sorted by verdict, worst first; equal ones keep their order."""
    return tuple(sorted(findings, key=lambda finding: VERDICTS.index(finding.verdict)))


def findings_table(findings: Iterable[Finding]) -> list[dict[str, str]]:
    """Return findings as rows of text, worst first.

    Parameters
    ----------
    findings : iterable of Finding
        Of one wiring.

    Returns
    -------
    list of dict
        Keys verdict, check, subject, value, limit, margin, unit, rule, advice; a number that
        doesn't exist is an en dash.
    """
    return [
        {
            "verdict": finding.verdict,
            "check": finding.check,
            "subject": finding.subject,
            "value": _number(finding.value),
            "limit": _number(finding.limit),
            "margin": _number(finding.margin),
            "unit": finding.unit,
            "rule": finding.rule,
            "advice": finding.advice,
        }
        for finding in worst_first(findings)
    ]


def findings_text(findings: Mapping[str, tuple[Finding, ...]], *, brief: bool = False) -> str:
    """Return the findings of several wirings as text for a terminal.

    Parameters
    ----------
    findings : mapping of str to tuple of Finding
        By wiring.
    brief : bool
        Leave out what passes and what doesn't apply; the counts stay.

    Returns
    -------
    str
        Per wiring the counts and a table, each row followed by its advice and rule; then the
        cautions.
    """
    blocks = [_wiring_block(name, found, brief) for name, found in findings.items()]
    return "\n\n".join([*blocks, "Cautions\n" + "\n".join(_bullet(text) for text in cautions())])


def findings_json(findings: Mapping[str, tuple[Finding, ...]]) -> dict[str, object]:
    """Return the findings of several wirings as an object ready for JSON.

    Parameters
    ----------
    findings : mapping of str to tuple of Finding
        By wiring.

    Returns
    -------
    dict
        `findings` (a list, each with its wiring), `counts` by wiring, `cautions`. Missing
        numbers are None.
    """
    return {
        "findings": [
            {"wiring": name} | finding.as_dict()
            for name, found in findings.items()
            for finding in found
        ],
        "counts": {name: counts(found) for name, found in findings.items()},
        "cautions": list(cautions()),
    }


def findings_frame(findings: Mapping[str, tuple[Finding, ...]]) -> pd.DataFrame:
    """Return the findings of several wirings as one table, a row each, for CSV."""
    rows = [
        {"wiring": name} | finding.as_dict()
        for name, found in findings.items()
        for finding in found
    ]
    columns = ["wiring", *_COLUMNS, "rule", "advice"]
    return pd.DataFrame(rows, columns=columns)


def _wiring_block(name: str, found: tuple[Finding, ...], brief: bool) -> str:
    shown = [
        row
        for row in findings_table(found)
        if not (brief and row["verdict"] in (PASSES, NOT_APPLICABLE))
    ]
    head = f"Wiring '{name}'. {counts_sentence(found)}"
    if not shown:
        return head
    widths = {key: max(len(key), *(len(row[key]) for row in shown)) for key in _COLUMNS}
    lines = ["  ".join(_cell(key, key, widths) for key in _COLUMNS).rstrip()]
    lines.append("-" * min(len(lines[0]), _WIDTH))
    for row in shown:
        lines.append("  ".join(_cell(key, row[key], widths) for key in _COLUMNS).rstrip())
        remark = " ".join(
            part for part in (row["advice"], f"[{row['rule']}]" if row["rule"] else "") if part
        )
        if remark:
            lines.append(
                textwrap.fill(remark, _WIDTH, initial_indent="    ", subsequent_indent="    ")
            )
    return "\n".join([head, *lines])


def _cell(key: str, text: str, widths: Mapping[str, int]) -> str:
    right = key in ("value", "limit", "margin")
    return text.rjust(widths[key]) if right else text.ljust(widths[key])


def _bullet(text: str) -> str:
    return textwrap.fill(text, _WIDTH, initial_indent="- ", subsequent_indent="  ")


def _number(value: float) -> str:
    if math.isnan(value):
        return "–"
    if math.isinf(value):
        return "unlimited"
    digits = 0 if abs(value) >= 1000.0 else 1 if abs(value) >= 100.0 else 2
    text = f"{value:,.{digits}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text
