"""Tables of the report about what is allowed and what is assumed."""

from __future__ import annotations

import numpy as np

from yieldkit.design.cables import ac_lead_table
from yieldkit.design.findings import Finding
from yieldkit.design.inspection import design_current
from yieldkit.design.limits import allowed_lengths
from yieldkit.report.findings_text import counts_sentence, findings_table
from yieldkit.report.picture import Html
from yieldkit.report.tables import sentences, table
from yieldkit.study.compare import Comparison
from yieldkit.study.spread import mounting_spread


def findings_html(found: tuple[Finding, ...], wiring: str, *, all_of_them: bool = False) -> Html:
    """Return a wiring's findings; those that pass only when asked."""
    grouped: dict[tuple[str, ...], list[dict[str, str]]] = {}
    for row in findings_table(found):
        if all_of_them or row["verdict"] not in ("passes", "not applicable"):
            key = (row["verdict"], row["check"], row["rule"], row["advice"])
            grouped.setdefault(key, []).append(row)
    rows = [
        (
            verdict,
            check,
            "; ".join(row["subject"] for row in own),
            _span([row["value"] for row in own]),
            _span([row["limit"] for row in own]),
            own[0]["unit"],
            rule,
            advice,
        )
        for (verdict, check, rule, advice), own in grouped.items()
    ]
    return table(
        ("verdict", "check", "of", "value", "limit", "unit", "rule", "advice"),
        rows,
        f"{wiring}: {counts_sentence(found)}",
        numbers=(3, 4),
    )


def _span(values: list[str]) -> str:
    """Return one value, or the first and last of several in order."""
    several = sorted(dict.fromkeys(values), key=lambda text: (len(text), text))
    return several[0] if len(several) == 1 else f"{several[0]} to {several[-1]}"


def lengths_table(comparison: Comparison) -> Html:
    """Return the allowed string lengths by input and plane."""
    frame = allowed_lengths(comparison.site)
    rows = [
        tuple("not known" if cell != cell else cell for cell in row)
        for row in frame.itertuples(index=False)
    ]
    return table(
        (
            "input",
            "plane",
            "fewest: start-up",
            "fewest: window",
            "fewest: full power",
            "most: cold voltage",
        ),
        rows,
        "Modules a string may have",
        numbers=(2, 3, 4, 5),
    )


def lead_table(comparison: Comparison, wiring: str) -> Html:
    """Return what each cross-section of the AC lead would mean."""
    site = comparison.site
    lead = site.grid.lead
    if lead is None:
        return sentences(["No AC lead is described: its voltage rise and loss are NOT CHECKED."])
    ac = site.inverter.ac
    result = comparison.result(wiring)
    hourly = np.maximum(result["p_ac"].to_numpy(), 0.0) / (
        ac.phases * result["v_ac"].to_numpy() * ac.power_factor
    )
    frame = ac_lead_table(
        lead,
        ac.phases,
        ac.nominal_voltage_v,
        design_current(site),
        ac.power_factor,
        hourly,
        result.attrs["interval_s"] / 3600.0,
    )
    rows = []
    for row in frame.itertuples():
        remarks = [
            text
            for text, holds in (
                ("as drawn", row.drawn),
                ("smallest that does", row.smallest_that_does),
            )
            if holds
        ]
        rows.append(
            (
                f"{row.cross_section_mm2:g}",
                f"{row.volts:.2f}",
                f"{row.percent:.2f}",
                f"{row.watts:.0f}",
                f"{row.kwh_per_year:.0f}",
                f"{row.ampacity_a:.0f}",
                row.verdict,
                ", ".join(remarks),
            )
        )
    return table(
        ("mm2", "V", "%", "W", "kWh a year", "ampacity, A", "ampacity", "remark"),
        rows,
        f"AC lead of {lead.length_m:g} m: change of voltage, heat at full current and yearly loss",
        numbers=(0, 1, 2, 3, 4, 5),
        marked=next((i for i, row in enumerate(frame.itertuples()) if row.drawn), None),
    )


def spread_table(comparison: Comparison, wiring: str) -> Html:
    """Return how neighbouring ways of mounting would move the yield."""
    base = comparison.result(wiring).attrs["energy_kwh"]
    found = mounting_spread(comparison.site, comparison.prepared.weather, wiring)
    rows = [
        (
            each.mounting,
            each.instead,
            f"{each.energy_kwh:,.0f}",
            f"{100.0 * (each.energy_kwh / base - 1.0):+.1f}",
        )
        for each in found
    ]
    return table(
        ("mounting", "if it were", "kWh", "change, %"),
        rows,
        f"Cell temperature decides more than most wirings: '{wiring}' with neighbouring mountings",
        numbers=(2, 3),
    )
