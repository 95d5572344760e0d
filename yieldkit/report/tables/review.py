"""Tables and first answer of a review's page."""

from __future__ import annotations

import json

import numpy as np
import xarray as xr

from yieldkit.report.markup import Html, template
from yieldkit.report.tables.html import answers_box, sentences, table
from yieldkit.report.tables.review_cells import (
    NOTHING,
    duration,
    energy,
    ratio,
    span,
    sure,
    when,
)
from yieldkit.report.tables.terminal_review import counted_said, delivered_said, no_signs
from yieldkit.study.review.result import Review

_HEADING = template("<h1>Does it do what it should? {{ name }}</h1>")
_FIRST = 3


def review_heading(found: Review) -> Html:
    """Return the page's one main heading."""
    return Html(_HEADING.render(name=found.site))


def review_box(found: Review) -> Html:
    """Return the first thing to read: what to look at first, and how much was measured.

    Parameters
    ----------
    found : Review
        What `review` returned.
    """
    attrs = found.data.attrs
    answers = [
        ("How much was measured?", delivered_said(found)),
        (
            "Of what?",
            f"Wiring '{found.wiring}', log '{found.log}', {attrs['from']} to {attrs['to']}.",
        ),
        ("What counts?", counted_said(found)),
        ("On what light does it rest?", f"{attrs['light']}."),
    ]
    return answers_box(
        found.answer[:1].upper() + found.answer[1:],
        ("What to do first?", [own.look for own in found.signs[:_FIRST]]),
        answers,
    )


def signs_table(found: Review) -> Html:
    """Return everything that looks wrong, that which takes most first."""
    if not found.signs:
        return sentences([no_signs(found)])
    rows = [
        (
            own.subject,
            own.words,
            when(own),
            span(own.size, own.unit),
            sure(own),
            energy(own.lost_kwh),
            own.look,
        )
        for own in found.signs
    ]
    return table(
        ("of what", "what it looks like", "when", "size", "how sure", "took, kWh", "look first at"),
        rows,
        "What to look at, that which takes most first. Spans hold nine of ten",
        numbers=(5,),
    )


def review_months_table(found: Review) -> Html:
    """Return energies by month with ratio, band and performance ratios of IEC 61724-1."""
    side, of = _side(found.data)
    whole = found.months
    one = found.data.sizes[of] == 1
    data = found.data.isel({of: 0}) if one else found.data
    rows = []
    for month, row in whole.iterrows():
        at = data.sel(month=month)
        cells = [str(month), energy(row["measured_kwh"]), energy(row["expected_kwh"])]
        if one:
            cells.append(_banded(at, f"{side}_ratio", f"{side}_band"))
        cells += [
            energy(float(at["pr_irradiation"])),
            _banded(at, "pr", "pr_band", 3),
            _banded(at, "pr_stc", "pr_stc_band", 3),
        ]
        rows.append(tuple(cells))
    heads = ["month", "measured, kWh", "expected, kWh"]
    heads += ["measured over expected"] if one else []
    heads += ["Y_r, kWh/m2", "PR", "PR'_STC"]
    where = (
        "at the inverters' AC side" if side == "ac" else "of the inputs, for no AC power is written"
    )
    return table(
        heads,
        rows,
        f"Month by month, {where}, in steps that count. In brackets between what 99 of 100 right "
        "plants lie; PR and PR'_STC by IEC 61724-1",
        numbers=tuple(range(1, len(heads))),
    )


def review_inputs_table(found: Review) -> Html:
    """Return each input's, and each inverter's, measured over expected energy by month."""
    sides = [("dc", "tracker"), *([("ac", "inverter")] if "ac_ratio" in found.data else [])]
    columns = [(side, of, str(name)) for side, of in sides for name in found.data[of].to_numpy()]
    rows = []
    for month in found.data["month"].to_numpy():
        at = found.data.sel(month=month)
        cells = [
            _banded(at.sel({of: name}), f"{side}_ratio", f"{side}_band")
            for side, of, name in columns
        ]
        rows.append((str(month), *cells))
    year = [
        _banded(found.data.sel(tracker=name), "year_ratio", "year_band")
        if side == "dc"
        else NOTHING
        for side, _, name in columns
    ]
    rows.append(("all months", *year))
    heads = ("month", *(f"{name}, {side.upper()}" for side, _, name in columns))
    return table(
        heads,
        rows,
        "Measured over expected energy of each input and inverter, with the band in which 99 of "
        "100 right plants lie",
        numbers=tuple(range(1, len(heads))),
        marked=len(rows) - 1,
    )


def review_hours_table(found: Review) -> Html:
    """Return each input's measured over expected energy by the hour of the day."""
    names = found.data["tracker"].to_numpy()
    rows = []
    for hour in found.data["hour"].to_numpy():
        at = found.data.sel(hour=hour)
        if not np.isfinite(at["hour_ratio"].to_numpy()).any():
            continue
        cells = [_banded(at.sel(tracker=name), "hour_ratio", "hour_band") for name in names]
        rows.append((f"{hour} to {hour + 1} h", *cells))
    return table(
        ("local standard time", *map(str, names)),
        rows,
        "Measured over expected energy by the hour of the day, all months together, with the band "
        "in which 99 of 100 right plants lie",
        numbers=tuple(range(1, len(names) + 1)),
    )


def between_inputs_table(found: Review) -> Html:
    """Return one input's ratio over another's; sensors and sky are the same for both."""
    names = [str(name) for name in found.data["tracker"].to_numpy()]
    if len(names) < 2:
        return sentences(["There is one input only: none to hold it against."])
    rows = [
        (
            f"{one} over {other}",
            _banded(found.data.sel(tracker=one, other=other), "between", "between_band", 3),
        )
        for at, one in enumerate(names)
        for other in names[at + 1 :]
    ]
    return table(
        ("inputs", "ratio over ratio"),
        rows,
        "Inputs beside one another: what they have in common, such as the sky, cancels",
        numbers=(1,),
    )


def plateaus_table(found: Review) -> Html:
    """Return at which power inputs and inverters go flat, beside what the site lets expect."""
    rows = [
        (own.subject, _power(own.power_w), _power(own.limit_w), duration(own.hours), own.words)
        for own in found.plateaus
    ]
    return table(
        ("of what", "goes flat at, W", "limit of the site, W", "held, h", "what that says"),
        rows,
        "Powers at which the log goes flat",
        numbers=(1, 2, 3),
    )


def resistances_table(found: Review) -> Html:
    """Return the AC resistance by the log's volts and power, beside the one that was drawn."""
    if not found.resistances:
        return sentences(["No AC voltage and power are written: nothing is said of the AC lead."])
    rows = [
        (
            own.inverter,
            span(own.found, "ohm", 3),
            f"{own.expected:.3f} ohm",
            f"{own.lead:.3f} ohm",
            own.words,
        )
        for own in found.resistances
    ]
    return table(
        ("inverter", "by the log", "by the site", "the leads' part", "what that says"),
        rows,
        "Resistance between the terminals and a stiff network, of a phase's loop",
        numbers=(1, 2, 3),
    )


def fitted_losses_table(found: Review) -> Html:
    """Return the one loss that would explain all that was measured, with its span."""
    rows = [(own.subject, span(own.percent, "%")) for own in found.losses]
    return table(
        ("of what", "loss"),
        rows,
        "One loss taken off everything expected gives what was measured; negative: more was "
        "measured. In brackets what nine of ten lie in",
        numbers=(1,),
    )


def left_out_table(found: Review) -> Html:
    """Return how long each reason kept steps of each input from counting, by month."""
    names = [str(name) for name in found.data["reason"].to_numpy()]
    held = found.data["hours"].transpose("month", "tracker", "reason")
    shown = [at for at, name in enumerate(names) if float(held[..., at].sum()) > 0.0]
    rows = [
        (
            f"{month}, {tracker}",
            *(duration(float(held.sel(month=month, tracker=tracker)[at])) for at in shown),
            _share(found.data["coverage"].sel(month=month, tracker=tracker)),
        )
        for month in held["month"].to_numpy()
        for tracker in held["tracker"].to_numpy()
    ]
    heads = ("month, input", *(f"{names[at]}, h" for at in shown), "of the daylight counts")
    return table(
        heads,
        rows,
        "All hours of the log: how long each input counts, and why not",
        numbers=tuple(range(1, len(heads))),
    )


def review_rests_on(found: Review) -> Html:
    """Return on what expectation and bands rest, and what must be told of the log."""
    return sentences([*found.remarks, *found.rests_on])


def review_origin(found: Review) -> Html:
    """Return what the review was made from."""
    attrs = found.data.attrs
    keys = (
        ("run", "run"),
        ("site, SHA-256 of its content", "site_sha256"),
        ("log", "log"),
        ("local standard time", "time_zone"),
    )
    rows = [(title, attrs[key]) for title, key in keys if attrs.get(key, "") != ""]
    versions = json.loads(attrs["versions"])
    rows.append(("versions", ", ".join(f"{name} {number}" for name, number in versions.items())))
    return table(("what", "which"), rows, "What this review was made from")


def _side(data: xr.Dataset) -> tuple[str, str]:
    """Return the side on which energies are told, and its dimension."""
    return ("ac", "inverter") if "ac_ratio" in data else ("dc", "tracker")


def _banded(at: xr.Dataset, value: str, band: str, digits: int = 2) -> str:
    low, high = (float(at[band].sel(bound=end)) for end in ("low", "high"))
    return ratio(float(at[value]), low, high, digits)


def _power(value: float) -> str:
    return NOTHING if np.isnan(value) else f"{value:,.0f}"


def _share(value: xr.DataArray) -> str:
    return NOTHING if np.isnan(float(value)) else f"{100.0 * float(value):.0f} %"
