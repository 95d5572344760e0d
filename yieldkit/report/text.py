"""Comparisons and results as text for a terminal."""

from __future__ import annotations

import textwrap

import xarray as xr

from yieldkit.report.held import limit_hours
from yieldkit.study.compare import Comparison
from yieldkit.study.losses import NOT_INCLUDED
from yieldkit.study.proposal import Proposal
from yieldkit.words.plain import plain_line

_WIDTH = 96


def comparison_text(comparison: Comparison) -> str:
    """Return the verdict and a table of the wirings.

    Parameters
    ----------
    comparison : Comparison
        What `compare` returned.
    """
    lines = [textwrap.fill(plain_line(comparison.verdict), _WIDTH), ""]
    width = max(len(plain_line(name)) for name, _ in comparison.results)
    width = min(width, 44)
    lines.append(
        f"{'wiring':{width}}  {'kWh':>9}  {'kWh/kWp':>8}  {'to best':>8}  {'mismatch':>9}  "
        f"{'clipped h':>9}  findings"
    )
    for name, row in comparison.table.iterrows():
        allowed = "permitted" if row["permitted"] else f"NOT PERMITTED ({row['not_permitted']})"
        lines.append(
            f"{plain_line(str(name))[:width]:{width}}  {row['energy_kwh']:9,.0f}  "
            f"{row['kwh_per_kwp']:8.0f}  {row['difference_percent']:7.2f}%  "
            f"{row['mismatch_kwh']:5.0f} kWh  {row['clipped_hours']:9.0f}  "
            f"{allowed}, {row['costs_yield']} cost yield, {row['not_checked']} NOT CHECKED"
        )
    lines.append("")
    lines.append(textwrap.fill(before_losses(), _WIDTH))
    return "\n".join(lines)


def proposal_text(proposal: Proposal) -> str:
    """Return the best wirings of a ranking as text.

    Parameters
    ----------
    proposal : Proposal
        From `weigh`.
    """
    lines = [textwrap.fill(plain_line(proposal.answer()), _WIDTH), ""]
    names = [plain_line(str(name)) for name in proposal.table["name"]]
    width = min(max(map(len, names)), 34)
    lines.append(
        f"{'wiring':{width}}  {'kWh':>8}  {'to best':>8}  {'strings':>7}  {'cable m':>7}  "
        f"{'left out':>8}  against the best"
    )
    for name, (_, row) in zip(names, proposal.table.iterrows(), strict=True):
        lines.append(
            f"{name[:width]:{width}}  {row['energy_kwh']:8,.0f}  "
            f"{row['difference_percent']:7.2f}%  {row['strings']:7}  {row['cable_m']:7.0f}  "
            f"{row['modules_left']:8}  {row['words'] or 'the best'}"
        )
        hung = plain_line(str(row["wiring"]))
        lines.append(textwrap.fill(hung, _WIDTH, initial_indent="    ", subsequent_indent="    "))
    lines.append("")
    for each in proposal.judgements:
        lines.append(textwrap.fill(plain_line(each.sentence()), _WIDTH))
    lines.extend(
        textwrap.fill(plain_line(sentence), _WIDTH) for sentence in proposal.ranking.possible.told()
    )
    if proposal.ranking.sample is not None:
        lines.append(textwrap.fill(proposal.ranking.sample.sentence(), _WIDTH))
    lines.append(textwrap.fill(before_losses(), _WIDTH))
    return "\n".join(lines)


def before_losses() -> str:
    """Return the sentence that says which losses are not included."""
    return f"Before {', '.join(NOT_INCLUDED)}. A design aid, not a certificate."


def result_text(result: xr.Dataset) -> str:
    """Return a simulated wiring's yield, its trackers and its loss budget as text.

    Parameters
    ----------
    result : Dataset
        What `simulate` returned.
    """
    attrs = result.attrs
    lines = [
        f"{plain_line(str(attrs['wiring']))}: {attrs['energy_kwh']:,.0f} kWh delivered, "
        f"{attrs['kwh_per_kwp']:.0f} kWh/kWp of {attrs['kwp']:.2f} kWp",
        "",
        "tracker                          DC energy   largest power   hours held by a limit",
    ]
    for tracker in result["tracker"].to_numpy():
        own = result.sel(tracker=tracker)
        lines.append(
            f"{plain_line(str(tracker))[:30]:30}  {float(own['tracker_energy']):8,.0f} kWh"
            f"  {float(own['p_dc'].max()):12,.0f} W  {limit_hours(own):10.0f} h"
        )
    nameplate = float(result["potential"][0])
    lines.extend(["", f"{'energy at STC efficiency':42} {nameplate:10,.0f} kWh"])
    for step, loss in zip(
        result["loss_step"].to_numpy(), result["loss_budget"].to_numpy(), strict=True
    ):
        if abs(loss) >= 0.05:
            sign = "-" if loss > 0 else "+"
            share = 100.0 * abs(loss) / nameplate
            lines.append(f"  {sign} {step:38} {abs(loss):10,.0f} kWh {share:6.2f} %")
    lines.append(f"{'delivered':42} {attrs['energy_kwh']:10,.0f} kWh")
    lines.extend(["", textwrap.fill(before_losses(), _WIDTH)])
    return "\n".join(lines)
