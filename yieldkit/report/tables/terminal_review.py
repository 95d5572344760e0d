"""A review of a log as text for a terminal, and sentences that its page tells as well."""

from __future__ import annotations

import math

import numpy as np

from yieldkit.base.plain_text import plain_line
from yieldkit.design.checks.cautions import DESIGN_AID
from yieldkit.report.tables.review_cells import duration, energy, ratio, span, sure, when
from yieldkit.report.tables.terminal import WIDTH, filled, stacked
from yieldkit.study.logs.plant_log import COUNTED, NIGHT
from yieldkit.study.review.result import Review

_BANDS = "Bands: 99 of 100 right plants lie within."


def review_text(found: Review, width: int = WIDTH) -> str:
    """Return a review as text.

    Parameters
    ----------
    found : Review
        What `review` returned.
    width : int
        Columns of the terminal.
    """
    answer = plain_line(found.answer)
    lines = [
        filled(f"Wiring '{plain_line(found.wiring)}': {answer}", width),
        "",
        *_signs(found, width),
        *_months(found, width),
        "",
        *_inputs(found, width),
        "",
        *(_said(own.subject, own.words, width) for own in found.plateaus),
        *(_said(own.inverter, own.words, width) for own in found.resistances),
        *_losses(found, width),
        "",
        filled(delivered_said(found), width),
        filled(counted_said(found), width),
        filled(f"Expected from {plain_line(found.data.attrs['light'])}. {_BANDS}", width),
        *(filled(plain_line(text), width) for text in found.remarks),
        filled(DESIGN_AID, width),
    ]
    return "\n".join(lines)


def _said(subject: str, words: str, width: int) -> str:
    return filled(f"{plain_line(subject)}: {plain_line(words)}", width)


def no_signs(found: Review) -> str:
    """Return what is said where nothing looks wrong."""
    return found.answer[:1].upper() + found.answer[1:]


def delivered_said(found: Review) -> str:
    """Return how much was measured of what was expected, in a sentence."""
    table = found.months
    measured, expected = float(table["measured_kwh"].sum()), float(table["expected_kwh"].sum())
    where = "at the inverters' AC side" if "ac_ratio" in found.data else "of the inputs"
    if not expected > 0.0:
        return "No step counts: nothing can be said of the energy."
    return (
        f"{measured:,.0f} kWh {where} of {expected:,.0f} kWh expected, in the steps that count: "
        f"{100.0 * measured / expected:.1f} %. {_whole_loss(found)}"
    ).strip()


def _whole_loss(found: Review) -> str:
    own = found.losses[-1] if found.losses else None
    if own is None or math.isnan(own.percent.value):
        return ""
    return f"As one loss of {plain_line(own.subject)}: {span(own.percent, '%')}."


def counted_said(found: Review) -> str:
    """Return how much of the daylight counts, and what was left out most, in a sentence."""
    hours = found.data["hours"].sum(("month", "tracker"))
    reasons = [str(name) for name in found.data["reason"].to_numpy()]
    values = dict(zip(reasons, hours.to_numpy().tolist(), strict=True))
    counted = values[COUNTED]
    day = sum(values.values()) - values[NIGHT]
    if not day > 0.0:
        return "The log has no hour of daylight."
    inputs = found.data.sizes["tracker"]
    out = sorted(
        ((own, name) for name, own in values.items() if name not in (COUNTED, NIGHT) and own > 0.0),
        reverse=True,
    )
    said = "; ".join(f"{name} {duration(own / inputs)} h" for own, name in out)
    left = f" Left out, mean of the inputs: {said}." if said else ""
    return f"{100.0 * counted / day:.0f} % of the daylight's hours count.{left}"


def _signs(found: Review, width: int) -> list[str]:
    lines = []
    for number, own in enumerate(found.signs, start=1):
        words = plain_line(own.words)
        if not words.startswith(f"{plain_line(own.subject)}: "):
            words = f"{plain_line(own.subject)}: {words}"
        lines.append(filled(f"{number}. {words}", width))
        size = span(own.size, own.unit)
        lines.append(
            filled(
                f"   {when(own)}; {size}; {sure(own)}; took {energy(own.lost_kwh)} kWh. "
                f"{plain_line(own.look)}",
                width,
            )
        )
    return [*lines, ""] if lines else []


def _months(found: Review, width: int) -> list[str]:
    table = found.months
    names = ["month", *map(str, table.index)]
    heads = ("measured, kWh", "expected", "PR (band)", "PR'_STC (band)")
    rows = []
    for month, row in table.iterrows():
        at = found.data.sel(month=month)
        rows.append(
            (
                energy(row["measured_kwh"]),
                energy(row["expected_kwh"]),
                *(
                    ratio(
                        float(at[name]),
                        float(at[f"{name}_band"].sel(bound="low")),
                        float(at[f"{name}_band"].sel(bound="high")),
                        3,
                    )
                    for name in ("pr", "pr_stc")
                ),
            )
        )
    return stacked(names, [heads, *rows], [[]] * len(rows), width)


def _inputs(found: Review, width: int) -> list[str]:
    trackers = [str(name) for name in found.data["tracker"].to_numpy()]
    months = found.data["month"].to_numpy()
    names = ["ratio", *map(str, months), "all"]
    rows = [
        tuple(
            _of(found, "dc_ratio", "dc_band", month=month, tracker=tracker) for tracker in trackers
        )
        for month in months
    ]
    year = tuple(_of(found, "year_ratio", "year_band", tracker=tracker) for tracker in trackers)
    heads = tuple(plain_line(name) for name in trackers)
    table = stacked(names, [heads, *rows, year], [[]] * (len(rows) + 1), width)
    return ["Measured over expected, DC (band):", *table]


def _of(found: Review, value: str, band: str, **place: object) -> str:
    at = found.data.sel(place)
    low, high = (float(at[band].sel(bound=end)) for end in ("low", "high"))
    return ratio(float(at[value]), low, high)


def _losses(found: Review, width: int) -> list[str]:
    told = [
        f"{plain_line(own.subject)} {span(own.percent, '%')}"
        for own in found.losses
        if not np.isnan(own.percent.value)
    ]
    if not told:
        return []
    return [filled(f"As one loss of all that was expected: {'; '.join(told)}.", width)]
