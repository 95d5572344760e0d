"""When a price of an offer holds, in the customer's words: months, days of the week, hours."""

from __future__ import annotations

from collections.abc import Sequence

from yieldkit.config.models.offer import TariffPeriod
from yieldkit.report.words.language import Language

DAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
_RUN = 3
"""So many in a row are told by the first and the last."""


def when_told(period: TariffPeriod, language: Language) -> str:
    """Return when a period's price holds; nothing where that is always.

    Parameters
    ----------
    period : TariffPeriod
        The period, by the clock on the wall.
    language : Language
        The customer's.
    """
    months = [language.month(number) for number in range(1, 13)]
    days = [language.say(f"day {name}") for name in DAYS]
    parts = [
        _told([number - 1 for number in sorted(period.months)], months),
        _told(sorted(DAYS.index(name) for name in period.days), days),
        ", ".join(f"{first}:00–{last}:00" for first, last in period.hours),
    ]
    return ", ".join(part for part in parts if part)


def _told(chosen: Sequence[int], names: Sequence[str]) -> str:
    """Return names by their places, rows of them by the first and the last."""
    runs: list[list[int]] = []
    for place in chosen:
        if runs and place == runs[-1][-1] + 1:
            runs[-1].append(place)
        else:
            runs.append([place])
    told = []
    for run in runs:
        if len(run) >= _RUN:
            told.append(f"{names[run[0]]}–{names[run[-1]]}")
        else:
            told += [names[place] for place in run]
    return ", ".join(told)
