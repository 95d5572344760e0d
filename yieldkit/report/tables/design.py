"""Tables of the report about what is allowed and what is assumed."""

from __future__ import annotations

import pandas as pd

from yieldkit.design.checks.findings import NOT_APPLICABLE, PASSES, VERDICTS, Finding
from yieldkit.design.checks.leads import stretches
from yieldkit.design.checks.limits import every_allowed_length
from yieldkit.report.markup import Html
from yieldkit.report.tables.findings import counts, number_text
from yieldkit.report.tables.html import sentences, table
from yieldkit.study.comparison.compare import Comparison
from yieldkit.study.comparison.details import Details

_Found = list[tuple[str, Finding]]


def open_findings_table(comparison: Comparison) -> Html:
    """Return the findings of all wirings that are not passed, alike ones together.

    Parameters
    ----------
    comparison : Comparison
        What `compare` returned.
    """
    grouped: dict[tuple[str, ...], _Found] = {}
    for wiring, found in comparison.findings:
        for each in found:
            if each.verdict not in (PASSES, NOT_APPLICABLE):
                key = (each.verdict, each.check, each.rule, each.advice, each.unit)
                grouped.setdefault(key, []).append((wiring, each))
    names = [name for name, _ in comparison.findings]
    order = sorted(grouped.items(), key=lambda item: VERDICTS.index(item[0][0]))
    rows = [
        (
            verdict,
            check,
            _where(own, names),
            _with_unit([each.value for _, each in own], unit),
            _with_unit([each.limit for _, each in own], unit),
            f"{advice} {f'[{rule}]' if rule else ''}".strip(),
        )
        for (verdict, check, rule, advice, unit), own in order
    ]
    if not rows:
        return sentences(["Every check that applies is passed in every wiring."])
    return table(
        ("verdict", "check", "where", "value", "limit", "what to do, and by which rule"),
        rows,
        "Findings that are not passed, worst first; alike ones of several wirings stand together",
    )


def counts_table(comparison: Comparison) -> Html:
    """Return how many findings of each verdict each wiring has.

    Parameters
    ----------
    comparison : Comparison
        What `compare` returned.
    """
    rows = [(name, *counts(found).values(), len(found)) for name, found in comparison.findings]
    return table(
        ("wiring", *VERDICTS, "all"),
        rows,
        "Checks of each wiring. A limit that could not be checked is NOT CHECKED, never passed.",
        numbers=tuple(range(1, len(VERDICTS) + 2)),
    )


def _where(own: _Found, names: list[str]) -> str:
    """Return subjects by wiring, briefly where they are the same everywhere."""
    subjects: dict[str, list[str]] = {}
    for wiring, finding in own:
        subjects.setdefault(wiring, []).append(finding.subject)
    if len(subjects) == len(names) and len({tuple(each) for each in subjects.values()}) == 1:
        return f"all wirings: {'; '.join(next(iter(subjects.values())))}"
    alike: dict[str, list[str]] = {}
    for wiring, each in subjects.items():
        alike.setdefault("; ".join(each), []).append(f"'{wiring}'")
    return " | ".join(f"{', '.join(who)}: {what}" for what, who in alike.items())


def _with_unit(values: list[float], unit: str) -> str:
    """Return one value, or the lowest and highest of several, with their unit."""
    known = [value for value in values if value == value]
    if not known:
        return "–"
    several = dict.fromkeys(number_text(value) for value in (min(known), max(known)))
    return " to ".join(several) if unit in ("", "1") else f"{' to '.join(several)} {unit}"


def lengths_table(comparison: Comparison) -> Html:
    """Return the allowed string lengths; inputs and planes that agree stand together.

    Parameters
    ----------
    comparison : Comparison
        What `compare` returned.
    """
    site = comparison.site
    by_plane: dict[tuple[str, tuple[object, ...]], list[str]] = {}
    for mppt, plane, *lengths in every_allowed_length(site).itertuples(index=False):
        shown = tuple("not known" if cell != cell else cell for cell in lengths)
        by_plane.setdefault((plane, shown), []).append(mppt)
    alike: dict[tuple[str, tuple[object, ...]], list[str]] = {}
    for (plane, shown), inputs in by_plane.items():
        alike.setdefault((", ".join(inputs), shown), []).append(plane)
    return table(
        (
            "input",
            "plane",
            "fewest: start-up",
            "fewest: window",
            "fewest: full power",
            "most: cold voltage",
        ),
        [(inputs, ", ".join(planes), *shown) for (inputs, shown), planes in alike.items()],
        "Modules a string may have",
        numbers=(2, 3, 4, 5),
    )


_ROUNDED = ("switched_off_kwh", "gain_kwh")


def lead_table(comparison: Comparison, details: Details) -> Html:
    """Return what each cross-section of the AC lead would mean.

    Parameters
    ----------
    comparison : Comparison
        What `compare` returned.
    details : Details
        Its details.
    """
    frame = details.leads
    if frame is None:
        return sentences(["No AC lead is described: its voltage rise and loss are NOT CHECKED."])
    lengths = {stretch.subject: stretch.lead for stretch in stretches(comparison.site)}
    parts = []
    for name, own in frame.groupby("lead", sort=False):
        lead = lengths[str(name)]
        length = "" if lead is None else f" of {lead.length_m:g} m"
        parts.append(_one_lead(comparison, own, f"{name}{length}", len(lengths) > 1))
    return Html("".join(part.text for part in parts))


def _one_lead(comparison: Comparison, frame: pd.DataFrame, name: str, others: bool) -> Html:
    period = comparison.period
    rows = []
    # Nothing is nothing, on whichever side of it rounding ends.
    lost, gains = (frame[key].to_numpy(float).round() + 0.0 for key in _ROUNDED)
    for row, off, gain in zip(frame.itertuples(), lost, gains, strict=True):
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
                f"{row.lead_kwh:.0f}",
                f"{off:.0f}",
                f"{row.hours_above_limit:.0f}",
                f"{gain:+z.0f}",
                f"{row.ampacity_a:.0f}",
                row.verdict,
                ", ".join(remarks),
            )
        )
    return table(
        (
            "mm2",
            "V",
            "%",
            "W",
            f"heat{' of all leads' if others else ''}, kWh {period.head}",
            "switched off, kWh",
            "hours above limit",
            "against drawn, kWh",
            "ampacity, A",
            "ampacity",
            "remark",
        ),
        rows,
        f"{name}: voltage, heat, and energies {period.per}",
        numbers=(0, 1, 2, 3, 4, 5, 6, 7, 8),
        marked=next((i for i, row in enumerate(frame.itertuples()) if row.drawn), None),
    )


def mountings_table(comparison: Comparison, details: Details) -> Html:
    """Return how neighbouring ways of mounting would move the yield.

    Parameters
    ----------
    comparison : Comparison
        What `compare` returned.
    details : Details
        Its details.
    """
    wiring = details.wirings[0]
    base = comparison.result(wiring).attrs["energy_kwh"]
    rows = [
        (
            each.mounting,
            each.instead,
            f"{each.energy_kwh:,.0f}",
            f"{100.0 * (each.energy_kwh / base - 1.0):+z.1f}",
        )
        for each in details.mountings
    ]
    return table(
        ("mounting", "if it were", "kWh", "change, %"),
        rows,
        f"Cell temperature decides more than most wirings: '{wiring}' with neighbouring mountings",
        numbers=(2, 3),
    )
