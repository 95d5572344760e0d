"""Figures of the proposal's report."""

from __future__ import annotations

import numpy as np
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator

from yieldkit.base.arrays import FloatArray
from yieldkit.report.figures.picture import INK, PALE, SMALL, WIDTH, Picture, label
from yieldkit.study.ranking.proposal import Proposal
from yieldkit.study.uncertainty.verdict import SAME_PERCENT, Judgement


def ranking_picture(proposal: Proposal) -> Picture:
    """Return how the energies of all ranked wirings are spread, with the site's own marked.

    Parameters
    ----------
    proposal : Proposal
        From `weigh`.
    """
    energy = proposal.ranking.energy_kwh[proposal.ranking.order]
    best = float(energy[0])
    percent = 100.0 * (energy / best - 1.0)
    figure = Figure(figsize=(WIDTH, 2.9), layout="constrained")
    axes = figure.add_subplot()
    shared_out = proposal.ranking.shares_out
    what = (
        "best wirings of each way to share the planes out"
        if shared_out
        else ("wirings with nothing forbidden")
    )
    axes.hist(percent, bins=20 if shared_out else 60, color=PALE, edgecolor=INK, linewidth=0.5)
    axes.yaxis.set_major_locator(MaxNLocator(integer=True))
    marks = []
    for number, (_, row) in enumerate(proposal.table[proposal.table["own"]].iterrows()):
        gap, name = float(row["difference_percent"]), label(row["name"], 32)
        marks.append(f"{row['name']} {gap:+z.2f} %")
        axes.axvline(
            gap,
            color=INK,
            linestyle=("-", "--", "-.", ":")[number % 4],
            linewidth=1.2 + 0.6 * (number // 4),
            label=f"{name} ({gap:+z.2f} %)",
        )
    axes.set_xlabel("energy against the best, %", fontsize=SMALL)
    axes.set_ylabel("wirings", fontsize=SMALL)
    axes.tick_params(labelsize=SMALL)
    axes.legend(fontsize=SMALL, loc="upper left", frameon=False)
    axes.spines[["top", "right"]].set_visible(False)
    return Picture(
        figure,
        f"{energy.size} {what} between {percent.min():.1f} % and 0 % of "
        "the best; yours: " + ", ".join(marks) + ".",
        f"{'The' if shared_out else 'All'} {what} by their energy; lines mark yours.",
    )


def draws_picture(proposal: Proposal) -> Picture | None:
    """Return the spans of the differences to the best, None without draws."""
    if not proposal.judgements:
        return None
    figure = Figure(figsize=(WIDTH, 0.9 + 0.45 * len(proposal.judgements)), layout="constrained")
    axes = figure.add_subplot()
    said = []
    for place, each in enumerate(proposal.judgements):
        axes.barh(
            place,
            each.high_percent - each.low_percent,
            left=each.low_percent,
            height=0.5,
            color=PALE,
            edgecolor=INK,
        )
        percent = _draws(proposal, each)
        axes.plot(percent, np.full(percent.size, place + 0.38), "|", color=INK, markersize=4)
        axes.plot([each.median_percent] * 2, [place - 0.3, place + 0.3], color=INK, linewidth=2)
        said.append(
            f"against {each.second}: {each.low_percent:+z.2f} to {each.high_percent:+z.2f} %, "
            f"median {each.median_percent:+z.2f} %"
        )
    axes.axvspan(-SAME_PERCENT, SAME_PERCENT, color=PALE, zorder=0)
    axes.axvline(0.0, color=INK, linewidth=0.8)
    axes.set_yticks(
        np.arange(len(proposal.judgements)),
        [label(each.second, 28) for each in proposal.judgements],
        fontsize=SMALL,
    )
    axes.invert_yaxis()
    axes.set_xlabel("the best yields more by, %", fontsize=SMALL)
    axes.tick_params(labelsize=SMALL)
    axes.spines[["top", "right"]].set_visible(False)
    return Picture(
        figure,
        "80 % of the draws: " + "; ".join(said) + ".",
        "How much more the best yields, in 80 % of the draws; the line is the median, each small "
        "mark below a draw; grey is equal for every purpose.",
    )


def _draws(proposal: Proposal, judgement: Judgement) -> FloatArray:
    """Return by how much the first yields more in every draw [%]."""
    drawn = proposal.drawn
    if drawn is None:
        return np.empty(0)
    one, other = (
        drawn.energy_kwh[:, drawn.names.index(name)] for name in (judgement.first, judgement.second)
    )
    return 100.0 * (one / other - 1.0)
