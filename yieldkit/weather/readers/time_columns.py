"""The columns of a table's times: one, or the date in one and the time of day beside it."""

from __future__ import annotations

import re
from collections.abc import Callable
from itertools import pairwise
from typing import NamedTuple

import pandas as pd

from yieldkit.base.errors import Problem
from yieldkit.weather.readers.dates import looks_like_date

_CLOCK_ALONE = re.compile(
    r"^\d{1,2}:\d\d(?::\d\d(?:\.\d+)?)?(?: ?[AaPp][Mm])?(?: ?[+-]\d\d:?\d\d)?$"
)
_HOUR_ALONE = re.compile(r"^\d{1,2}$")
_DIGITS_ALONE = re.compile(r"^\d{3,4}$")
_MOST = 0.8
_BESIDE = (
    "Write columns: {time: DATE, clock: TIME, ...} with the file's names of the column of dates "
    "and of the column of times of day"
)


class TimeColumns(NamedTuple):
    """Which columns hold the times, and what must be asked.

    Parameters
    ----------
    date, clock : str or None
        The column of times or of dates, and that of the time of day where it stands alone.
    problems : tuple of Problem
        What can't be told.
    """

    date: str | None
    clock: str | None = None
    problems: tuple[Problem, ...] = ()

    def names(self) -> tuple[str, ...]:
        """Return the columns' names."""
        return tuple(name for name in (self.date, self.clock) if name is not None)


def find_time_columns(
    cells: dict[str, list[str]], named: dict[str, str], where: str
) -> TimeColumns:
    """Return the columns of a table's times.

    Parameters
    ----------
    cells : dict of str to list of str
        Every column's samples, in the file's order.
    named : dict of str to str
        Our name to the file's column, of those that are there.
    where : str
        File name, for problems.
    """
    date, clock = named.get("time"), named.get("clock")
    if date is None:
        times = [column for column in cells if _all(looks_like_date, cells[column], _MOST)]
        return TimeColumns(times[0] if len(times) == 1 else None)
    if clock is not None:
        return TimeColumns(date, clock)
    free = [column for column in cells if column not in named.values()]
    if _all(_CLOCK_ALONE.match, cells[date]):
        days = [column for column in free if _is_day(cells[column])]
        if len(days) == 1:
            return TimeColumns(days[0], date)
        return TimeColumns(date, None, (_asked(f"{where}, {date}", "times of day alone", days),))
    if not _is_day(cells[date]) or not _again(cells[date]):
        return TimeColumns(date)
    clocks = [column for column in free if _all(_CLOCK_ALONE.match, cells[column])]
    if len(clocks) == 1:
        return TimeColumns(date, clocks[0])
    return TimeColumns(date, None, (_asked(f"{where}, {date}", "dates alone", clocks),))


def _asked(where: str, got: str, fitting: list[str]) -> Problem:
    several = " or ".join(f"'{column}'" for column in fitting)
    return Problem(
        where,
        got,
        "the date and the time of day",
        cause=f"Do the others stand in {several}?" if fitting else "",
        remedy=_BESIDE,
    )


def _all(fits: Callable[[str], object], cells: list[str], share: float = 1.0) -> bool:
    """Return whether cells fit: all that aren't empty, or this share of them."""
    given = [cell for cell in cells if cell]
    return bool(given) and sum(map(bool, map(fits, given))) >= share * len(given)


def _is_day(cells: list[str]) -> bool:
    """Return whether cells hold dates without a time of day."""
    return _all(looks_like_date, cells) and not any(":" in cell for cell in cells)


def _again(cells: list[str]) -> bool:
    """Return whether a date stands in several rows on end, as where a time of day goes with it."""
    return any(one == two != "" for one, two in pairwise(cells))


def joined(dates: pd.Series, clocks: pd.Series) -> pd.Series:
    """Return dates and times of day in one, as texts.

    Parameters
    ----------
    dates, clocks : Series
        Of one table. Times of day may be hours (0 to 24) or digits (0 to 2400) alone.
    """
    if pd.api.types.is_datetime64_any_dtype(dates.dtype):
        dates = dates.dt.strftime("%Y-%m-%d")
    return dates.astype("string").str.strip() + " " + _clock_texts(clocks)


def _clock_texts(clocks: pd.Series) -> pd.Series:
    texts = clocks.astype("string").str.strip()
    given = texts[texts.fillna("") != ""].tolist()
    if _all(_HOUR_ALONE.match, given):
        return texts + ":00"
    if all(_HOUR_ALONE.match(each) or _DIGITS_ALONE.match(each) for each in given):
        digits = texts.str.zfill(4)
        return digits.str[:2] + ":" + digits.str[2:]
    return texts
