"""Findings as rows, as a JSON object and as a table for CSV."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping

import pandas as pd

from yieldkit.design.checks.cautions import cautions
from yieldkit.design.checks.findings import VERDICTS, Finding
from yieldkit.design.checks.permission import permission

_COLUMNS = ("verdict", "check", "subject", "value", "limit", "margin", "unit")


def counts(findings: Iterable[Finding]) -> dict[str, int]:
    """Return how many findings have each verdict, worst first, zeros included."""
    found = [finding.verdict for finding in findings]
    return {verdict: found.count(verdict) for verdict in VERDICTS}


def findings_json(findings: Mapping[str, tuple[Finding, ...]]) -> dict[str, object]:
    """Return the findings of several wirings as an object ready for JSON.

    Parameters
    ----------
    findings : mapping of str to tuple of Finding
        By wiring.

    Returns
    -------
    dict
        `findings` (a list, each with its wiring), `counts` and `permission` (what it may be
        called, with its sentence) by wiring, `cautions`. Missing numbers are None.
    """
    return {
        "findings": [
            {"wiring": name, **finding.as_dict()}
            for name, found in findings.items()
            for finding in found
        ],
        "counts": {name: counts(found) for name, found in findings.items()},
        "permission": {
            name: {"word": allowed.word, "sentence": allowed.sentence()}
            for name, allowed in ((each, permission(found)) for each, found in findings.items())
        },
        "cautions": list(cautions()),
    }


def findings_frame(findings: Mapping[str, tuple[Finding, ...]]) -> pd.DataFrame:
    """Return the findings of several wirings as one table, a row each, for CSV."""
    rows = [
        {"wiring": name, **finding.as_dict()}
        for name, found in findings.items()
        for finding in found
    ]
    columns = ["wiring", *_COLUMNS, "essential", "rule", "advice"]
    return pd.DataFrame(rows, columns=columns)


def number_text(value: float) -> str:
    """Return a number as tables show it; an en dash for none."""
    if math.isnan(value):
        return "–"
    if math.isinf(value):
        return "unlimited"
    digits = 0 if abs(value) >= 1000.0 else 1 if abs(value) >= 100.0 else 2
    text = f"{value:,.{digits}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text
