"""What counts of a proposed wiring beside its yield, as plain values and in words."""

from __future__ import annotations

import numpy as np
import pandas as pd

from yieldkit.config.site.site import Site, Wiring
from yieldkit.design.checks.findings import Finding
from yieldkit.design.checks.limits import check
from yieldkit.design.checks.permission import permission
from yieldkit.study.simulation.labels import wiring_text

_COLD = "cold open-circuit voltage against the input"
_CURRENT = "short-circuit current against the input's rating"


def wiring_row(site: Site, wiring: Wiring, energy: float, best: float) -> dict[str, object]:
    """Return what counts of a wiring.

    Parameters
    ----------
    site : Site
        The site.
    wiring : Wiring
        The wiring.
    energy, best : float
        What it and the best deliver [kWh].
    """
    findings = check(site, wiring)
    strings = [string for tracker in wiring.trackers for string in tracker.strings]
    wired = sum(group.modules for string in strings for group in string.groups)
    lengths = [string.cable.length_m for string in strings if string.cable is not None]
    allowed = permission(findings)
    return {
        "name": wiring.name,
        "energy_kwh": energy,
        "difference_percent": 100.0 * (energy / best - 1.0),
        "strings": len(strings),
        "inputs": len(wiring.trackers),
        "cable_m": 2.0 * sum(lengths),
        "modules_left": sum(plane.modules for plane in site.planes) - wired,
        "voltage_margin_v": _least_margin(findings, _COLD),
        "current_margin_a": _least_margin(findings, _CURRENT),
        "permission": allowed.word,
        "permission_sentence": allowed.sentence(),
        "called": allowed.best_of(),
        "unchecked": findings.unchecked(),
        "wiring": wiring_text(wiring),
    }


def _least_margin(findings: tuple[Finding, ...], name: str) -> float:
    margins = [each.margin for each in findings if each.check == name]
    return min((margin for margin in margins if margin == margin), default=np.nan)


def differences(row: pd.Series, best: pd.Series) -> str:
    """Say in words what a wiring gives up and saves against the best.

    Parameters
    ----------
    row, best : Series
        From `wiring_row`.
    """
    parts = []
    for column, one, several in (
        ("strings", "string", "strings"),
        ("inputs", "input", "inputs"),
        ("modules_left", "module", "modules"),
    ):
        gap = int(row[column] - best[column])
        if gap:
            noun = one if abs(gap) == 1 else several
            more = "more" if gap > 0 else "fewer"
            left = column == "modules_left"
            parts.append(
                f"{abs(gap)} {more} {noun} left out" if left else f"{abs(gap)} {noun} {more}"
            )
    metres = row["cable_m"] - best["cable_m"]
    if abs(metres) >= 1.0:
        parts.append(f"{abs(metres):.0f} m of cable {'more' if metres > 0 else 'less'}")
    lost = -row["difference_percent"]
    if lost >= 0.005:
        parts.append(f"{lost:.2f} % less energy")
    return ", ".join(parts)
