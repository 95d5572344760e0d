"""Dates as people and spreadsheets write them: found where they can mean one thing, else asked."""

from __future__ import annotations

import re
from typing import NamedTuple

import numpy as np
import pandas as pd

from yieldkit.words.errors import Problem

ISO = "ISO8601"
_ISO = re.compile(r"^\d{4}-\d\d-\d\d(?:[T ].*)?$")
_YEAR_FIRST = re.compile(r"^\d{4}([/.])\d{1,2}\1\d{1,2}\b")
_YEAR_LAST = re.compile(r"^(\d{1,2})([./-])(\d{1,2})\2\d{4}\b")
_CLOCK = re.compile(
    r"^(?P<gap>[T ]+)\d{1,2}:\d\d(?P<s>:\d\d(?P<f>\.\d+)?)?"
    r"(?P<half> ?[AaPp][Mm])?(?P<z> ?(?:Z|[+-]\d\d:?\d\d))?$"
)
_ZONED = re.compile(r"(?:[zZ]|[+-]\d\d:?\d\d)$")
_YEARS = (1900, 2200)
_ORDERS = {"day-first": "%d{0}%m{0}%Y", "month-first": "%m{0}%d{0}%Y"}
_ADVICE = (
    "Write date_format: day-first, date_format: month-first, or the order in signs, such as "
    "date_format: '%d.%m.%Y %H:%M', into the weather block"
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
    if all(map(_ISO.match, given)):
        zoned = _ZONED.search(given[0][10:]) is not None
        return Dates(ISO, zoned, ())
    day, problem = _day(given, said, where)
    if problem is not None:
        return Dates("", False, (problem,))
    clock, zoned = _clock(given)
    return Dates(day + clock, zoned, ())


def _asked(where: str, got: str) -> Problem:
    return Problem(where, got, "times whose day and month can be told apart", remedy=_ADVICE)


def _day(given: list[str], said: str | None, where: str) -> tuple[str, Problem | None]:
    first = _YEAR_FIRST.match(given[0])
    if first:
        return "%Y{0}%m{0}%d".format(first[1]), None
    matches = [_YEAR_LAST.match(each) for each in given]
    if not all(matches):
        odd = given[[match is None for match in matches].index(True)]
        return "", _asked(where, f"'{odd[:40]}'")
    mark = matches[0][2]
    if said is not None:
        return _ORDERS[said].format(mark), None
    firsts = max(int(match[1]) for match in matches)
    seconds = max(int(match[3]) for match in matches)
    if firsts > 12 and seconds > 12:
        return "", _asked(where, f"days of both orders, such as '{given[0][:40]}'")
    if firsts > 12 or (mark == "." and seconds <= 12):
        return _ORDERS["day-first"].format(mark), None
    if seconds > 12:
        return _ORDERS["month-first"].format(mark), None
    return "", _asked(where, f"'{given[0][:40]}', which may be day or month first")


def _clock(given: list[str]) -> tuple[str, bool]:
    """Return the format of what follows the day, and whether it carries a zone."""
    rest = re.sub(r"^[\d./-]+", "", given[0])
    match = _CLOCK.match(rest)
    if not match:
        return "", False
    hours = "%I:%M" if match["half"] else "%H:%M"
    seconds = ("%S.%f" if match["f"] else "%S") if match["s"] else ""
    half = match["half"].replace(match["half"].strip(), "%p") if match["half"] else ""
    zone = match["z"].replace(match["z"].strip(), "%z") if match["z"] else ""
    return match["gap"] + hours + (f":{seconds}" if seconds else "") + half + zone, bool(zone)


def read_times(column: pd.Series, dates: Dates, where: str) -> tuple[pd.DatetimeIndex, list]:
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
    midnight = texts.str.contains(r"[T ]24:00(?::00)?$", regex=True, na=False)
    if midnight.any():
        texts = texts.mask(midnight, texts.str.replace(r"([T ])24:00", r"\g<1>00:00", regex=True))
    try:
        times = pd.to_datetime(texts, format=dates.form, errors="coerce", utc=dates.zoned)
    except ValueError:
        return pd.DatetimeIndex([]), [_asked(where, f"the format '{dates.form}'")]
    bad = (times.isna() & column.notna() & (texts != "")).to_numpy()
    if bad.any():
        row = int(np.argmax(bad))
        got = f"'{str(column.iloc[row])[:40]}' in row {row + 1} of the table"
        others = f" and {int(bad.sum()) - 1:,} more" if bad.sum() > 1 else ""
        form = "yyyy-mm-dd hh:mm" if dates.form == ISO else dates.form
        return pd.DatetimeIndex([]), [
            Problem(where, got + others, f"a time such as the others, {form}", remedy=_ADVICE)
        ]
    index = pd.DatetimeIndex(times)
    odd = np.flatnonzero((index.year < _YEARS[0]) | (index.year > _YEARS[1]))
    if odd.size:
        got = f"'{str(column.iloc[odd[0]])[:40]}' in row {odd[0] + 1} of the table"
        years = f"a time of the years {_YEARS[0]} to {_YEARS[1]}"
        return pd.DatetimeIndex([]), [Problem(where, got, years, remedy=_ADVICE)]
    if midnight.any():
        index = index + pd.to_timedelta(midnight.to_numpy().astype(int), unit="D")
    return index, []
