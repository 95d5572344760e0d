"""Tables and first answer of an estimate's report."""

from __future__ import annotations

import json
import math

from yieldkit.report.markup import Html, template
from yieldkit.report.tables.html import answers_box, origin_table, sentences, table
from yieldkit.report.tables.terminal_estimate import AID, HEADS, answer_of
from yieldkit.study.estimate.result import Estimate

_HEADING = template("<h1>What does it yield? {{ name }}</h1>")
_SMALLEST_KWH = 0.05
_MEANINGS = {
    "Y_r": "reference yield: hours of 1000 W/m2 that the light in the planes adds up to",
    "Y_A": "array yield: energy of the array by its rated power",
    "Y_f": "final yield: delivered energy by the array's rated power",
    "L_C": "array capture loss, Y_r - Y_A: light, heat, modules, strings and inputs",
    "L_BOS": "balance-of-system loss, Y_A - Y_f: conversion, AC side and leads",
    "PR": "performance ratio, Y_f / Y_r",
    "PR'_STC": "performance ratio with the array's power at its cells' temperature, not at 25 degC",
}


def estimate_heading(estimate: Estimate) -> Html:
    """Return the page's one main heading."""
    return Html(_HEADING.render(name=estimate.data.attrs["site"]))


def estimate_box(estimate: Estimate) -> Html:
    """Return the first thing to read: likely and cautious year, of which wiring, on what they rest.

    Parameters
    ----------
    estimate : Estimate
        What `estimate` returned.
    """
    attrs = estimate.data.attrs
    said, nominal = answer_of(estimate)
    answers = [
        ("Of which wiring?", f"{attrs['chosen']}."),
        ("Is it allowed?", f"{attrs['permission_sentence']}."),
        *([("What is NOT CHECKED?", f"{attrs['not_checked']}.")] if attrs["not_checked"] else []),
        ("Why not the nominal year?", nominal),
        ("How much do years differ?", _years(estimate)),
    ]
    if attrs["weather_remarks"]:
        answers.append(("What weather?", attrs["weather_remarks"]))
    if attrs["weather_cautions"]:
        answers.append(("How sure is the weather?", attrs["weather_cautions"]))
    if attrs["invented"]:
        answers.append(("Whose building?", "Building and equipment are invented."))
    return answers_box(said, ("", ()), answers)


def _years(estimate: Estimate) -> str:
    """Return the sentence on the spread between years: the second one."""
    return estimate.sentences[1]


def bands_table(estimate: Estimate) -> Html:
    """Return likely and cautious energies of the first year and of means of several years."""
    bands = estimate.bands
    kwp = float(estimate.data.attrs["kwp"])
    rows = [(str(name), *(_whole(value) for value in row)) for name, row in bands.iterrows()]
    first = bands.iloc[0]
    rows.append(("first year, kWh per kWp", *(_whole(value / kwp) for value in first)))
    heads = tuple(HEADS.get(str(name), str(name)) for name in bands.columns)
    return table(
        ("kWh a year", *heads),
        rows,
        "Energy a year that so many of a hundred cases exceed. In means of several years good and "
        "bad weather even out, but everything else that nobody knows stays for the plant's life; "
        "the plant ages on the way",
        numbers=tuple(range(1, len(heads) + 1)),
        marked=0,
    )


def estimate_months_table(estimate: Estimate) -> Html:
    """Return the first year month by month, with the span of each month alone."""
    months = estimate.months
    rows = [
        (str(name), *(_whole(row[key]) for key in ("likely", "cautious", "low", "high", "nominal")))
        for name, row in months.iterrows()
    ]
    sums = [_whole(months[key].sum()) for key in ("likely", "cautious")]
    rows.append(("all", *sums, "", "", _whole(months["nominal"].sum())))
    return table(
        ("month", "likely", "cautious", "alone from", "to", "nominal"),
        rows,
        "Delivered energy of the first year by month, kWh (local standard time). Likely and "
        "cautious months add up to their years; from and to hold a month alone in eight of ten "
        "years and don't add up",
        numbers=(1, 2, 3, 4, 5),
        marked=len(rows) - 1,
    )


def life_table(estimate: Estimate) -> Html:
    """Return the energy of each year of the plant's life."""
    years = estimate.by_year
    heads = tuple(HEADS.get(str(name), str(name)) for name in years.columns)
    return table(
        ("year of life", *heads),
        [(str(name), *(_whole(value) for value in row)) for name, row in years.iterrows()],
        "Energy of each year of life that so many of a hundred cases exceed, kWh",
        numbers=tuple(range(1, len(heads) + 1)),
    )


def way_table(estimate: Estimate) -> Html:
    """Return the steps from the nominal to the likely year."""
    way = estimate.way
    rows = [
        (
            str(name),
            _whole(row["energy_kwh"]) if place == 0 else f"{row['energy_kwh']:+z,.0f}",
            _whole(row["sum_kwh"]),
        )
        for place, (name, row) in enumerate(way.iterrows())
    ]
    return table(
        ("step", "kWh", "arriving at, kWh"),
        rows,
        "From the nominal year, as the site file stands, to the likely one, the median of all "
        "draws",
        numbers=(1, 2),
    )


def doubts_table(estimate: Estimate) -> Html:
    """Return what makes the first year unsure, how widely each is drawn, and why."""
    rows = [
        (
            str(name),
            f"{_unsigned(100.0 * row['first_order'], 1):.1f}",
            f"{_unsigned(100.0 * row['total_order'], 1):.1f}",
            _whole(row["saved"]),
            str(row["spread"]),
            str(row["source"]),
        )
        for name, row in estimate.contributions.iterrows()
    ]
    return table(
        ("what", "alone, %", "with others, %", "known, saves kWh", "drawn", "source"),
        rows,
        "What makes the first year unsure: shares of its variance, by itself and together with all "
        "others, and by how much the way from the likely to the cautious year would be shorter if "
        "it were known. Shares below 0.1 % are noise of the draws",
        numbers=(1, 2, 3),
    )


def losses_table(estimate: Estimate) -> Html:
    """Return the loss budget of the nominal year."""
    attrs, losses = estimate.data.attrs, estimate.losses
    start = float(attrs["nameplate_kwh"])
    rows = [("all modules at rated efficiency", _whole(start), "100.00")]
    rows += [
        (str(name), f"{row['loss_kwh']:,.1f}", f"{row['share_percent']:.2f}")
        for name, row in losses.iterrows()
        if abs(row["loss_kwh"]) >= _SMALLEST_KWH
    ]
    end = estimate.nominal_kwh
    rows.append(("delivered", _whole(end), f"{100.0 * end / start:.2f}"))
    return table(
        ("step", "kWh", "%"),
        rows,
        "Loss budget of the nominal year; a negative loss is a gain",
        numbers=(1, 2),
        marked=len(rows) - 1,
    )


def no_losses(estimate: Estimate) -> Html:
    """Return which steps of the nominal year's loss budget cost nothing."""
    losses = estimate.losses["loss_kwh"]
    none = ", ".join(str(name) for name, lost in losses.items() if abs(lost) < _SMALLEST_KWH)
    return sentences([f"No loss in the nominal year: {none or 'in no step'}."])


def yields_table(estimate: Estimate) -> Html:
    """Return yields and ratios of the nominal year by IEC 61724-1."""
    rows = [
        (str(symbol), _MEANINGS[str(symbol)], f"{value:,.0f} h" if value > 2.0 else f"{value:.3f}")
        for symbol, value in estimate.yields.items()
    ]
    return table(
        ("symbol", "meaning", "value"),
        rows,
        "Yields of the nominal year by IEC 61724-1 (formulas from memory), all modules of the site "
        "counted; light of several planes by their rated power",
        numbers=(2,),
    )


def estimate_rests_on(estimate: Estimate) -> Html:
    """Return on what the figures rest: the draws, then the simulation."""
    assumed = json.loads(estimate.data.attrs["assumptions"])
    return sentences(dict.fromkeys([*estimate.sentences, *assumed, AID]))


def estimate_origin(estimate: Estimate) -> Html:
    """Return what the estimate was made from."""
    return origin_table(estimate.data.attrs)


def _whole(value: float) -> str:
    return "missing" if math.isnan(value) else f"{_unsigned(value, 0):,.0f}"


def _unsigned(value: float, digits: int) -> float:
    """Return a rounded number, nothing without a sign."""
    return round(float(value), digits) + 0.0
