"""Tables and first answer of the proposal's report."""

from __future__ import annotations

import numpy as np

from yieldkit.report.markup import Html
from yieldkit.report.tables.html import answers_box, known_of_weather, sentences, table
from yieldkit.report.tables.terminal import before_losses
from yieldkit.study.ranking.proposal import Proposal
from yieldkit.study.uncertainty.unknowns import unknowns


def answer_box(proposal: Proposal) -> Html:
    """Return the first thing to read: which wiring, is it real, is it allowed.

    Parameters
    ----------
    proposal : Proposal
        From `weigh`.
    """
    allowed = str(proposal.table.iloc[0]["permission_sentence"])
    unchecked = str(proposal.table.iloc[0]["unchecked"])
    answers = [
        (
            "Is it allowed?",
            f"The first: {allowed}. The check of it tells every limit.",
        ),
        *([("What is NOT CHECKED?", f"{unchecked}.")] if unchecked else []),
        ("What is left out?", before_losses([proposal.ranking.prepared.site])),
    ]
    if proposal.ranking.prepared.remarks:
        answers.append(("What weather?", " ".join(proposal.ranking.prepared.remarks)))
    answers += known_of_weather(proposal.ranking.prepared.weather)
    if proposal.ranking.prepared.site.invented:
        answers.append(("Whose building?", "Building and equipment are invented."))
    real = [each.sentence() for each in proposal.judgements]
    return answers_box(proposal.answer(), ("Is the difference real?", real), answers)


def best_table(proposal: Proposal) -> Html:
    """Return the best wirings and the site's own, with what counts beside the yield."""
    rows = [
        (
            str(row["name"]),
            f"{row['energy_kwh']:,.0f}",
            f"{row['difference_percent']:z.2f}",
            f"{row['strings']}",
            f"{row['cable_m']:.0f}",
            f"{row['modules_left']}",
            f"{row['clipped_kwh']:,.0f}",
            _number(row["voltage_margin_v"]),
            _number(row["current_margin_a"]),
            str(row["permission"]),
            "yes" if row["worth_choosing"] else "",
        )
        for _, row in proposal.table.iterrows()
    ]
    return table(
        (
            "wiring",
            "kWh",
            "to best, %",
            "strings",
            "cable, m",
            "left out",
            "AC limit, kWh",
            "margin, V",
            "margin, A",
            "allowed",
            "worth choosing",
        ),
        rows,
        f"Energies are kWh {proposal.ranking.prepared.period.per}. "
        "The best wirings, alternatives (less energy, but no other ranked wiring is as good in "
        "energy, strings, cable and modules left out), and yours. Margins: cold "
        "open-circuit voltage and short-circuit current; the AC limit holds back so much energy. "
        "Worth choosing: no other here is at least as good in energy, strings, cable and modules "
        f"left out together. {proposal.cable_note()}",
        numbers=(1, 2, 3, 4, 5, 6, 7, 8),
        marked=0,
    )


def strings_table(proposal: Proposal) -> Html:
    """Return which strings hang on which input, and what that gives up or saves."""
    rows = [
        (str(row["name"]), str(row["wiring"]), str(row["words"]) or "the best")
        for _, row in proposal.table.iterrows()
    ]
    return table(
        ("wiring", "strings on the inputs", "against the best"),
        rows,
        "The same wirings in words.",
        marked=0,
    )


def _number(value: float) -> str:
    return "–" if np.isnan(value) else f"{value:.1f}"


def judgement_table(proposal: Proposal) -> Html:
    """Return what the draws say of the differences, and what decides them."""
    if not proposal.judgements:
        return sentences(["No draws were asked for: whether a difference is real is NOT CHECKED."])
    rows = [
        (
            each.second,
            each.verdict,
            f"{each.median_percent:+z.2f} %, {each.median_kwh:+z,.0f} kWh",
            f"{each.low_percent:+z.2f} to {each.high_percent:+z.2f} %, "
            f"{each.low_kwh:+z,.0f} to {each.high_kwh:+z,.0f} kWh",
            f"{100.0 * each.probability:.0f}",
            f"{each.unpaired_width_percent:.1f}",
            "; ".join(f"{name} {100.0 * share:.0f} %" for name, share in each.decided_by[:3]),
        )
        for each in proposal.judgements
    ]
    return table(
        (
            "best against",
            "verdict",
            "median",
            "80 % of the draws",
            "probability, %",
            "unpaired width, %",
            "decided by",
        ),
        rows,
        "Is the best really better? The same draws for both, so what they share cancels.",
        numbers=(4, 5),
    )


def unknowns_table(proposal: Proposal) -> Html:
    """Return what was drawn, how widely, and where the spread comes from."""
    rows = [
        (
            each.name,
            "each plane" if each.per_plane else "all",
            each.range(),
            each.shape,
            each.source,
        )
        for each in unknowns(proposal.ranking.site)
    ]
    return table(
        ("unknown", "drawn for", "spread", "shape", "source"),
        rows,
        "What was drawn. Modules are laid string after string from a delivery between unsorted and "
        "sorted by current.",
    )


def counts_list(proposal: Proposal) -> Html:
    """Return how many wirings there are and what was dropped."""
    ranking = proposal.ranking
    said = [f"{ranking.number_text()} with nothing forbidden, {ranking.counted_how()}."]
    said += [
        *ranking.sentences(),
        "They are ranked with the site file's cable lengths, by plane. Where the modules' places "
        "are known, the best and the site's own get the cables of their layout.",
    ]
    if ranking.constraints.fixed:
        inputs = ", ".join(ranking.site.input_name(each) for each in ranking.constraints.fixed)
        said.append(
            f"Strings laid already ({inputs}) keep their cables; where their modules lie is not "
            "known, and the roof shows a place that would do."
        )
    if ranking.sample is not None:
        said.append(ranking.sample.sentence())
    if ranking.solved_whole and not ranking.shares_out:
        said.append(
            f"{ranking.solved_whole:,} were simulated one by one, because inputs share a limit."
        )
    return sentences(said)
