"""Figures of an estimate: bands, months, the plant's life, and what makes it unsure."""

from __future__ import annotations

import numpy as np

from yieldkit.report.figures.picture import (
    INK,
    PALE,
    SMALL,
    SOFT,
    Picture,
    dress,
    label,
    new_figure,
)
from yieldkit.study.estimate.result import Estimate

_SHOWN_SHARE = 0.001


def bands_picture(estimate: Estimate) -> Picture:
    """Show likely and cautious energies of the first year and of means of several years.

    Parameters
    ----------
    estimate : Estimate
        What `estimate` returned.
    """
    bands = estimate.bands
    figure = new_figure(2.3)
    axes = figure.subplots()
    said = []
    for place, (name, row) in enumerate(bands.iterrows()):
        axes.barh(
            place, row["P50"] - row["P99"], left=row["P99"], height=0.3, color=PALE, edgecolor=INK
        )
        axes.barh(
            place, row["P50"] - row["P90"], left=row["P90"], height=0.5, color=SOFT, edgecolor=INK
        )
        axes.plot([row["P50"]] * 2, [place - 0.35, place + 0.35], color=INK, linewidth=2.5)
        for key in ("P50", "P90", "P99"):
            axes.annotate(
                f"{key} {row[key]:,.0f}",
                (row[key], place - 0.38),
                fontsize=6,
                ha="center",
                va="bottom",
            )
        said.append(
            f"{name}: likely {row['P50']:,.0f} kWh, cautious {row['P90']:,.0f} kWh, 99 of 100 "
            f"more than {row['P99']:,.0f} kWh"
        )
    nominal = estimate.nominal_kwh
    axes.axvline(nominal, color=INK, linewidth=0.9, linestyle=":")
    axes.annotate(
        f"nominal {nominal:,.0f}",
        (nominal, len(bands) - 0.5),
        (3, 0),
        textcoords="offset points",
        fontsize=6,
        va="bottom",
        rotation=90,
    )
    axes.set_yticks(np.arange(len(bands)), [str(name) for name in bands.index], fontsize=SMALL)
    axes.invert_yaxis()
    axes.set_ylim(len(bands) - 0.45, -0.75)
    low, high = float(bands["P99"].min()), max(nominal, float(bands["P50"].max()))
    axes.set_xlim(low - 0.06 * (high - low), high + 0.08 * (high - low))
    dress(axes, x="energy a year, kWh", grid=None)
    return Picture(
        figure,
        f"{'. '.join(said)}. Nominal: {nominal:,.0f} kWh.",
        "Likely year (thick line), cautious year that nine of ten exceed (end of the dark bar), "
        "and what 99 of 100 exceed (end of the light one); dotted the nominal year. The axis "
        "doesn't begin at nothing.",
    )


def estimate_months_picture(estimate: Estimate) -> Picture:
    """Show the likely first year month by month, with each month's own span.

    Parameters
    ----------
    estimate : Estimate
        What `estimate` returned.
    """
    months = estimate.months
    figure = new_figure(2.9)
    axes = figure.subplots()
    at = np.arange(len(months))
    likely, cautious = months["likely"].to_numpy(), months["cautious"].to_numpy()
    axes.bar(at, likely, width=0.7, color=PALE, edgecolor=INK, label="likely year")
    axes.plot(at, cautious, "_", color=INK, markersize=14, mew=1.8, label="cautious year")
    spans = np.abs(months[["low", "high"]].to_numpy().T - likely)
    axes.errorbar(
        at,
        likely,
        yerr=spans,
        fmt="none",
        ecolor=INK,
        elinewidth=0.9,
        capsize=3,
        label="the month alone, eight of ten years",
    )
    axes.set_xticks(at, months.index)
    axes.tick_params(axis="x", length=0, labelsize=SMALL)
    dress(axes, y="delivered, kWh")
    axes.legend(fontsize=SMALL, frameon=False, loc="upper left", ncols=3)
    axes.set_ylim(0.0, 1.16 * float(months["high"].max()))
    parts = "; ".join(
        f"{name} {row['likely']:,.0f} kWh ({row['low']:,.0f} to {row['high']:,.0f})"
        for name, row in months.iterrows()
    )
    return Picture(
        figure,
        f"First year by month, likely and between what each month alone lies: {parts}.",
        "The likely first year month by month, the months of the cautious one, and between what "
        "each month alone lies in eight of ten years.",
    )


def life_picture(estimate: Estimate) -> Picture:
    """Show likely and cautious energy of each year of the plant's life.

    Parameters
    ----------
    estimate : Estimate
        What `estimate` returned.
    """
    years = estimate.by_year
    figure = new_figure(2.4)
    axes = figure.subplots()
    at = years.index.to_numpy()
    axes.fill_between(at, years["P99"], years["P50"], color=PALE, label="down to P99")
    axes.plot(at, years["P50"], color=INK, linewidth=1.8, label="P50 likely")
    axes.plot(at, years["P90"], color=INK, linewidth=1.2, linestyle="--", label="P90 cautious")
    dress(axes, x="year of life", y="kWh")
    axes.legend(fontsize=SMALL, frameon=False, ncols=3, loc="lower left")
    axes.set_ylim(0.0, 1.05 * float(years["P50"].max()))
    first, last = years.iloc[0], years.iloc[-1]
    return Picture(
        figure,
        f"Likely year from {first['P50']:,.0f} kWh in the first to {last['P50']:,.0f} kWh in year "
        f"{int(at[-1])}; cautious from {first['P90']:,.0f} to {last['P90']:,.0f} kWh.",
        "Each year of the plant's life as its modules age.",
    )


def doubts_picture(estimate: Estimate) -> Picture:
    """Show what makes the first year unsure, by shares of its variance.

    Parameters
    ----------
    estimate : Estimate
        What `estimate` returned.
    """
    table = estimate.contributions
    shown = table[table["total_order"] >= _SHOWN_SHARE]
    figure = new_figure(0.7 + 0.2 * max(len(shown), 1))
    axes = figure.subplots()
    at = np.arange(len(shown))
    share = 100.0 * shown["total_order"].to_numpy()
    axes.barh(at, share, height=0.6, color=PALE, edgecolor=INK)
    for place, value in zip(at, share, strict=True):
        axes.annotate(
            f"{value:.1f}",
            (value, place),
            (3, 0),
            textcoords="offset points",
            fontsize=6,
            va="center",
        )
    axes.set_yticks(at, [label(name) for name in shown.index], fontsize=SMALL)
    axes.invert_yaxis()
    dress(axes, x="share of the variance, with all others, %", grid=None)
    parts = "; ".join(
        f"{name} {100.0 * row['total_order']:.1f} %" for name, row in shown.iterrows()
    )
    return Picture(
        figure,
        f"Shares of the first year's variance: {parts}.",
        "What makes the first year unsure.",
    )
