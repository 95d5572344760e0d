"""What verdicts on readings and on logs tell alike, for a terminal and as plain values for JSON."""

from __future__ import annotations

from typing import Any

from yieldkit.report.tables.terminal import filled
from yieldkit.study.handover.log_verdict import LogVerdict
from yieldkit.study.handover.told_slips import in_words, percent
from yieldkit.study.handover.verdict import Verdict


def first_lines(found: Verdict | LogVerdict, width: int) -> list[str]:
    """Return what is dangerous, and after it the answer, as lines.

    Parameters
    ----------
    found : Verdict or LogVerdict
        The verdict.
    width : int
        Columns of the terminal.
    """
    loud = [filled(text, width) for text in found.loud]
    return [*loud, *([""] if loud else []), filled(found.answer, width), ""]


def explanation_lines(found: Verdict | LogVerdict, width: int) -> list[str]:
    """Return what explains readings, by probability, as lines.

    Parameters
    ----------
    found : Verdict or LogVerdict
        The verdict.
    width : int
        Columns of the terminal.
    """
    if not found.explanations:
        return []
    rows = [
        filled(f"{percent(weight)}: {in_words(members)}.", width)
        for weight, members in found.explanations
    ]
    return ["", "What explains the readings, by probability:", *rows, ""]


def fits_json(found: Verdict | LogVerdict) -> dict[str, Any]:
    """Return whether the drawing fits, and what wasn't checked, as plain values.

    Parameters
    ----------
    found : Verdict or LogVerdict
        The verdict.
    """
    return {
        "answer": found.answer,
        "fits_the_drawing": found.is_as_drawn and not found.unread,
        "not_checked": list(found.unread),
    }


def explanations_json(found: Verdict | LogVerdict) -> list[dict[str, Any]]:
    """Return what explains readings, by probability, as plain values.

    Parameters
    ----------
    found : Verdict or LogVerdict
        The verdict.
    """
    return [
        {"probability": weight, "members": list(members)} for weight, members in found.explanations
    ]
