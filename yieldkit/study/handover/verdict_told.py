"""What verdicts on readings and on logs tell alike: explanations, card, what stays NOT CHECKED."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from yieldkit.base.display import Card
from yieldkit.base.plain_text import plain_line
from yieldkit.study.handover.judge import Judgement
from yieldkit.study.handover.told_slips import in_words, percent

Explanations = tuple[tuple[float, tuple[str, ...]], ...]
"""Probability of each group of slips that can't be parted, and its members in words."""
SURE = 0.9
"""Probability from which on what was read is said to fit the drawing."""
CALLED = 0.75
"""Probability from which on a slip is called by its name; below it nothing is decided."""
LOUD_FROM = 0.2
"""Probability from which on a reversed or swapped string is said before all else."""
_WORTH_TELLING = 0.02
_ON_A_CARD = 4


def explanations(found: Judgement) -> Explanations:
    """Return groups of slips that can't be parted, in words, the most probable first.

    Parameters
    ----------
    found : Judgement
        What was found.

    Returns
    -------
    tuple of (float, tuple of str)
        Probability [1] and members; only those worth telling.
    """
    return tuple(
        (weight, tuple(found.slips[at].words for at in members))
        for weight, members in found.ranked()
        if weight >= _WORTH_TELLING
    )


def verdict_card(answer: str, loud: Iterable[str], explained: Explanations, hint: str) -> Card:
    """Return what a verdict says of itself when a person shows it.

    Parameters
    ----------
    answer : str
        What it says, in a sentence or two.
    loud : iterable of str
        What must be said before anything else.
    explained : tuple of (float, tuple of str)
        From `explanations`.
    hint : str
        What to ask it next.
    """
    rows = [("first", text) for text in loud]
    rows += [(percent(weight), in_words(words)) for weight, words in explained[:_ON_A_CARD]]
    return Card(answer, tuple(rows), hint)


def most_probable(explained: Explanations) -> str:
    """Return what explains most, in words that end a sentence.

    Parameters
    ----------
    explained : tuple of (float, tuple of str)
        From `explanations`; not empty.
    """
    weight, members = explained[0]
    return f"most probable ({percent(weight)}): {in_words(members)}."


def not_checked(names: Sequence[str], why: str) -> str:
    """Return the sentence about what wasn't checked, after a space; empty where all was.

    Parameters
    ----------
    names : sequence of str
        Strings or inputs.
    why : str
        The reason, which follows "for" and is followed by their names.
    """
    if not names:
        return ""
    return f" NOT CHECKED, for {why}: {'; '.join(plain_line(name) for name in names)}."
