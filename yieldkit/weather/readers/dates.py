"""Dates as people and spreadsheets write them: found where they can mean one thing, else asked."""

from __future__ import annotations

import re
from typing import NamedTuple

import numpy as np
import pandas as pd

from yieldkit.base.errors import Problem

ISO = "ISO8601"
_ISO = re.compile(r"^\d{4}-\d\d-\d\d(?:[T ].*)?(?<![AaPp][Mm])$")
_YEAR_FIRST = re.compile(r"^\d{4}([-/.])\d{1,2}\1\d{1,2}(?!\d)")
_YEAR_LAST = re.compile(r"^(\d{1,2})([./-])(\d{1,2})\2(\d{4}|\d\d)(?!\d)")
_WORD = r"(?P<month>[^\W\d_]{3,9})"
_MONTH_BETWEEN = re.compile(
    rf"^(\d{{4}}|\d{{1,2}})(?P<mark>[-/. ]|\. ){_WORD}(?P<next>[-/. ])(\d{{4}}|\d{{1,2}})(?!\d)"
)
_MONTH_FIRST = re.compile(rf"^{_WORD}(?P<mark> )\d{{1,2}}(?P<next>, | )\d{{4}}(?!\d)")
_MONTHS = (
    "january",
    "february",
    "march",
    "april",
    "may",
    "june",
    "july",
    "august",
    "september",
    "october",
    "november",
    "december",
)
_SHORT_MONTHS = tuple(month[:3] for month in _MONTHS)
_MANY_DAYS = 12
_CLOCK = re.compile(
    r"^(?P<gap>T| +|, *)\d{1,2}:\d\d(?P<s>:\d\d(?P<f>\.\d+)?)?"
    r"(?P<half> ?[AaPp][Mm])?(?P<z> ?(?:Z|[+-]\d\d:?\d\d))?$"
)
_ZONED = re.compile(r":\d\d.*(?:[zZ]|[+-]\d\d:?\d\d)$")
_YEARS = (1900, 2200)
_ORDERS = {"day-first": "%d{0}%m{0}{1}", "month-first": "%m{0}%d{0}{1}"}
_ADVICE = (
    "Write date_format: day-first, date_format: month-first, or the order in signs, such as "
    "date_format: '%d.%m.%Y %H:%M', into the weather block"
)
_IN_NUMBERS = (
    "Format the column as yyyy-mm-dd hh:mm in the spreadsheet and save it again: months are read "
    "as numbers or by their English names"
)
_SHORT_YEAR = (
    "Write the order in signs, such as date_format: '%d-%b-%y %H:%M', into the weather block (%d "
    "is the day, %b the month's short name, %y the year in two digits)"
)


class Dates(NamedTuple):
    """How a file writes its times: a format for pandas (or nothing), and what must be asked."""

    form: str
    zoned: bool
    problems: tuple[Problem, ...]


def find_dates(samples: list[str], said: str | None, where: str) -> Dates:
    """Return how times are written, from some of them spread over the file.

    Parameters
    ----------
    samples : list of str
        Times as the file has them.
    said : str or None
        What the user says: "day-first", "month-first" or a format with percent signs.
    where : str
        File and column, for problems.
    """
    given = [each for each in (sample.strip() for sample in samples) if each]
    if said is not None and said not in _ORDERS:
        return Dates(said, "%z" in said, ())
    if not given:
        return Dates("", False, (_asked(where, "no times"),))
    zoned = _ZONED.search(given[0]) is not None
    if all(map(_ISO.match, given)):
        return Dates(ISO, zoned, ())
    day, length, problem = _day(given, said, where)
    if problem is not None:
        return Dates("", zoned, (problem,))
    clock, zoned = _clock(given[0][length:])
    return Dates(day + clock, zoned, ())


def looks_like_date(text: str) -> bool:
    """Return whether a cell begins with a date in one of the forms that are read."""
    forms = (_ISO, _YEAR_FIRST, _YEAR_LAST, _MONTH_BETWEEN, _MONTH_FIRST)
    return any(form.match(text) for form in forms)


def _asked(where: str, got: str) -> Problem:
    return Problem(where, got, "times whose day and month can be told apart", remedy=_ADVICE)


def _day(given: list[str], said: str | None, where: str) -> tuple[str, int, Problem | None]:
    """Return the format of the day, how long it is in the first sample, and what must be asked."""
    first = _YEAR_FIRST.match(given[0])
    if first:
        return "%Y{0}%m{0}%d".format(first[1]), first.end(), None
    if _MONTH_BETWEEN.match(given[0]) or _MONTH_FIRST.match(given[0]):
        return _named_day(given, said, where)
    matches = _matched(_YEAR_LAST, given, where)
    if isinstance(matches, Problem):
        return "", 0, matches
    mark, length = matches[0][2], matches[0].end()
    year = "%Y" if len(matches[0][4]) == 4 else "%y"
    orders = {word: form.format(mark, year) for word, form in _ORDERS.items()}
    if said is not None:
        return orders[said], length, None
    # Two digits behind hyphens may be the day of dates that begin with the year.
    ends = [match[1] for match in matches], [match[4] for match in matches]
    if year == "%y" and mark == "-" and _year_first(*ends) is not False:
        return "", 0, _asked(where, f"'{given[0][:40]}', with a year of two digits")
    firsts = max(int(match[1]) for match in matches)
    seconds = max(int(match[3]) for match in matches)
    if firsts > 12 and seconds > 12:
        return "", 0, _asked(where, f"days of both orders, such as '{given[0][:40]}'")
    if firsts > 12 or (mark == "." and seconds <= 12):
        return orders["day-first"], length, None
    if seconds > 12:
        return orders["month-first"], length, None
    return "", 0, _asked(where, f"'{given[0][:40]}', which may be day or month first")


def _matched(
    pattern: re.Pattern[str], given: list[str], where: str
) -> list[re.Match[str]] | Problem:
    """Return a form's match of every sample, or what must be asked of the first without one."""
    matches = []
    for each in given:
        match = pattern.match(each)
        if match is None:
            return _asked(where, f"'{each[:40]}'")
        matches.append(match)
    return matches


def _named_day(given: list[str], said: str | None, where: str) -> tuple[str, int, Problem | None]:
    """Return the format of a day whose month is a word, as `_day` does."""
    pattern = _MONTH_FIRST if _MONTH_FIRST.match(given[0]) else _MONTH_BETWEEN
    matches = _matched(pattern, given, where)
    if isinstance(matches, Problem):
        return "", 0, matches
    names = {match["month"].lower() for match in matches}
    if names <= set(_SHORT_MONTHS):
        name = "%b"
    elif names <= set(_MONTHS):
        name = "%B"
    else:
        odd = next(each for each, match in zip(given, matches, strict=True) if _foreign(match))
        got = f"'{odd[:40]}', with a month that is no English word, nor its first three letters"
        needed = "times whose day and month can be told apart"
        return "", 0, Problem(where, got, needed, remedy=_IN_NUMBERS)
    mark, after, length = matches[0]["mark"], matches[0]["next"], matches[0].end()
    if pattern is _MONTH_FIRST:
        return f"{name}{mark}%d{after}%Y", length, None
    year_first = _year_first([match[1] for match in matches], [match[5] for match in matches])
    if year_first is None and said is None:
        needed = "times whose day and year can be told apart"
        return "", 0, Problem(where, f"'{given[0][:40]}'", needed, remedy=_SHORT_YEAR)
    year = "%Y" if max(len(matches[0][1]), len(matches[0][5])) == 4 else "%y"
    first, last = (year, "%d") if year_first else ("%d", year)
    return f"{first}{mark}{name}{after}{last}", length, None


def _foreign(match: re.Match[str]) -> bool:
    word = match["month"].lower()
    return word not in _MONTHS + _SHORT_MONTHS


def _year_first(firsts: list[str], lasts: list[str]) -> bool | None:
    """Return whether the year stands before the month's name, or None where it may be either."""
    if len(firsts[0]) == 4 or len(lasts[0]) == 4:
        return len(firsts[0]) == 4
    one, two = set(map(int, firsts)), set(map(int, lasts))
    if max(one) > 31 or max(two) > 31:
        return max(one) > 31
    # No series has more than a dozen years on the same one or two days of a month.
    if len(one) > _MANY_DAYS and len(two) <= 2:
        return False
    if len(two) > _MANY_DAYS and len(one) <= 2:
        return True
    return None


def _clock(rest: str) -> tuple[str, bool]:
    """Return the format of what follows the day, and whether it carries a zone."""
    match = _CLOCK.match(rest)
    if not match:
        return "", False
    hours = "%I:%M" if match["half"] else "%H:%M"
    seconds = ("%S.%f" if match["f"] else "%S") if match["s"] else ""
    half = match["half"].replace(match["half"].strip(), "%p") if match["half"] else ""
    zone = match["z"].replace(match["z"].strip(), "%z") if match["z"] else ""
    return match["gap"] + hours + (f":{seconds}" if seconds else "") + half + zone, bool(zone)


def read_times(
    column: pd.Series, dates: Dates, where: str
) -> tuple[pd.DatetimeIndex, list[Problem]]:
    """Return a column of times as an index, and what is wrong with it.

    Parameters
    ----------
    column : Series
        Times: texts, or what a table of typed columns holds.
    dates : Dates
        How they are written.
    where : str
        File and column, for problems.
    """
    if pd.api.types.is_datetime64_any_dtype(column.dtype):
        return pd.DatetimeIndex(column), []
    if pd.api.types.is_numeric_dtype(column.dtype):
        return pd.DatetimeIndex([]), [_asked(where, f"the number {column.iloc[0]:g} as a time")]
    texts = column.astype("string").str.strip()
    try:
        index = times_or_nothing(texts, dates)
    except ValueError:
        return pd.DatetimeIndex([]), [_asked(where, f"the format '{dates.form}'")]
    bad = np.asarray(index.isna()) & (column.notna() & (texts != "")).to_numpy(dtype=bool)
    if bad.any():
        row = int(np.argmax(bad))
        got = f"'{str(column.iloc[row])[:40]}' in row {row + 1} of the table"
        others = f" and {int(bad.sum()) - 1:,} more" if bad.sum() > 1 else ""
        form = "yyyy-mm-dd hh:mm" if dates.form == ISO else dates.form
        return pd.DatetimeIndex([]), [
            Problem(where, got + others, f"a time such as the others, {form}", remedy=_ADVICE)
        ]
    odd = np.flatnonzero((index.year < _YEARS[0]) | (index.year > _YEARS[1]))
    if odd.size:
        got = f"'{str(column.iloc[odd[0]])[:40]}' in row {odd[0] + 1} of the table"
        years = f"a time of the years {_YEARS[0]} to {_YEARS[1]}"
        return pd.DatetimeIndex([]), [Problem(where, got, years, remedy=_ADVICE)]
    return index, []


def times_or_nothing(texts: pd.Series, dates: Dates) -> pd.DatetimeIndex:
    """Return texts as times, and no time (NaT) for each that is none.

    Parameters
    ----------
    texts : Series
        Times as texts, without blanks around them; 24:00 is the next day's midnight.
    dates : Dates
        How they are written.

    Raises
    ------
    ValueError
        If the form is none that dates can be written in.
    """
    midnight = texts.str.contains(r"[T ]24:00(?::00)?$", regex=True, na=False)
    if midnight.any():
        texts = texts.mask(midnight, texts.str.replace(r"([T ])24:00", r"\g<1>00:00", regex=True))
    times = pd.DatetimeIndex(
        pd.to_datetime(texts, format=dates.form, errors="coerce", utc=dates.zoned)
    )
    if midnight.any():
        times = times + pd.to_timedelta(midnight.to_numpy().astype(int), unit="D")
    return times
