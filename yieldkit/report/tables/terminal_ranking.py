"""A ranking weighed, as text for a terminal."""

from __future__ import annotations

from yieldkit.report.tables.terminal import WIDTH, before_losses, filled, stacked
from yieldkit.study.ranking.proposal import Proposal


def proposal_text(proposal: Proposal, width: int = WIDTH) -> str:
    """Return the best wirings of a ranking as text.

    Parameters
    ----------
    proposal : Proposal
        From `weigh`.
    width : int
        Columns of the terminal.
    """
    numbers = [("kWh", "to best", "strings", "cable", "left out")]
    below = []
    for _, row in proposal.table.iterrows():
        numbers.append(
            (
                f"{row['energy_kwh']:,.0f}",
                f"{row['difference_percent']:z.2f}%",
                f"{row['strings']}",
                f"{row['cable_m']:.0f} m",
                f"{row['modules_left']}",
            )
        )
        words = str(row["words"]) or "the best"
        below.append([str(row["wiring"]), f"{words}; {row['permission']}"])
    names = ["wiring", *(str(name) for name in proposal.table["name"])]
    said = [
        proposal.cable_note(),
        *(each.sentence() for each in proposal.judgements),
        *proposal.ranking.sentences(),
        *([] if proposal.ranking.sample is None else [proposal.ranking.sample.sentence()]),
        *proposal.ranking.prepared.remarks,
        before_losses([proposal.ranking.prepared.site]),
    ]
    rows = stacked(names, numbers, below, width)
    answer = filled(proposal.answer(), width)
    return "\n".join([answer, "", *rows, "", *(filled(text, width) for text in said)])
