"""Cells of a filled-in table as people and spreadsheets write them: numbers, words, moments."""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import UTC, date, datetime, time, timedelta, timezone, tzinfo
from typing import NamedTuple
from zoneinfo import ZoneInfo

from yieldkit.base.errors import Problem
from yieldkit.base.time_zones import utc_offset

_NUMBER = re.compile(r"^(?P<more>>?)\s*(?P<number>[-+]?[\d.,'’ ]*\d)\s*(?P<unit>[^\d\s.,]\S*)?$")
_ISO = re.compile(r"^(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})\.?$")
_DAY_FIRST = re.compile(r"^(\d{1,2})\.(\d{1,2})\.(\d{4})\.?$")
_SLASHED = re.compile(r"^(\d{1,2})[/-](\d{1,2})[/-](\d{4})$")
_CLOCK = re.compile(
    r"^(\d{1,2})[:.h](\d{2})(?:[:.](\d{2})(?:\.\d+)?)?\s*([AaPp]\.?[Mm]\.?)?"
    r"\s*(Z|(?:UTC)?[+-]\d{1,2}:?\d{2})?$"
)
_STAMP = re.compile(r"^(\S+?)(?:T|\s+)(\d{1,2}[:.h]\d{2}.*)$")


class Number(NamedTuple):
    """A number as it was written: its value, the unit behind it, and whether it is more."""

    value: float
    unit: str
    more: bool


def decimal_sign(cells: Iterable[str], separator: str) -> str:
    """Return the decimal sign of a table's numbers.

    Parameters
    ----------
    cells : iterable of str
        Cells that hold numbers.
    separator : str
        What stands between the table's cells.

    Returns
    -------
    str
        The comma where any number has one behind its points, or alone in a table whose cells are
        separated by something else or that quotes it; else the point.
    """
    numbers = [cell for cell in cells if "," in cell]
    both = [cell for cell in numbers if "." in cell]
    if both:
        return max(",.", key=both[0].rfind)
    grouped = re.compile(r"^[-+]?\d{1,3}(,\d{3})+$")
    alone = [cell for cell in numbers if separator != "," or not grouped.match(cell.strip())]
    return "," if alone else "."


def number(text: str, decimal: str) -> Number | None:
    """Return a cell's number, or None where it holds none.

    Parameters
    ----------
    text : str
        Such as "545,2", "1 015", "> 200" or "5.4 kW".
    decimal : str
        The decimal sign.
    """
    plain = text.replace("\u00a0", " ").replace("\u202f", " ").replace("\u2212", "-").strip()
    found = _NUMBER.match(plain)
    if not found:
        return None
    other = "." if decimal == "," else ","
    bare = re.sub(r"['’ ]", "", found["number"])
    whole, _, rest = bare.partition(decimal)
    if other in rest or not re.fullmatch(rf"[-+]?(\d*|\d{{1,3}}(\{other}\d{{3}})+)", whole):
        return None
    bare = bare.replace(other, "").replace(decimal, ".")
    try:
        return Number(float(bare), found["unit"] or "", bool(found["more"]))
    except ValueError:
        return None


def why_no_number(text: str, decimal: str) -> str:
    """Return why a cell holds no number; empty where it has no digit.

    Parameters
    ----------
    text : str
        The cell.
    decimal : str
        The decimal sign.
    """
    if not any(sign.isdigit() for sign in text):
        return ""
    if ("." if decimal == "," else ",") in text:
        return "Points and commas mean different things in this file"
    return "More than a number and its unit?"


def month_first(cells: Iterable[str]) -> bool | None:
    """Return whether dates such as 6/21/2026 begin with the month; None where they may both."""
    pairs = [(int(m[1]), int(m[2])) for m in map(_SLASHED.match, cells) if m]
    if any(first > 12 for first, _ in pairs):
        return False
    if any(second > 12 for _, second in pairs):
        return True
    return None


def day(text: str, where: str, by_month: bool | None) -> date | Problem:
    """Return a cell's date.

    Parameters
    ----------
    text : str
        Such as "2026-06-21", "21.06.2026" or "6/21/2026".
    where : str
        The line, for problems.
    by_month : bool or None
        From `month_first` of all the table's dates.
    """
    word = text.strip()
    iso, first, slashed = _ISO.match(word), _DAY_FIRST.match(word), _SLASHED.match(word)
    if slashed and by_month is None:
        return Problem(
            where,
            f"the date '{word}', whose day and month can't be told apart",
            "a date such as 2026-06-21",
            remedy="Write the year first",
        )
    try:
        if iso:
            return date(int(iso[1]), int(iso[2]), int(iso[3]))
        if first:
            return date(int(first[3]), int(first[2]), int(first[1]))
        if slashed:
            month, own = (1, 2) if by_month else (2, 1)
            return date(int(slashed[3]), int(slashed[month]), int(slashed[own]))
    except ValueError:
        pass
    return Problem(where, f"'{word}'", "a date such as 2026-06-21")


def zone_of(text: str, where: str) -> tzinfo:
    """Return the clock that a cell names: with summer time where it names a place.

    Parameters
    ----------
    text : str
        "Area/City" for the clock on the wall there, or an offset such as "UTC+01:00".
    where : str
        The line, for the error.

    Raises
    ------
    InputError
        If it is neither.
    """
    word = text.strip()
    seconds = utc_offset(word, where)
    if "/" in word and not word.startswith("Etc/"):
        return ZoneInfo(word)
    return timezone(timedelta(seconds=seconds))


def split_stamp(cell: str) -> tuple[str, str]:
    """Return date and time of day of a cell that may hold both; what isn't there is empty."""
    word = cell.strip()
    both = _STAMP.match(word)
    if both:
        return both[1], both[2]
    # 21.06.26 is a date that lacks its century.
    return ("", word) if _CLOCK.match(word) and word.count(".") < 2 else (word, "")


def moment(own: date, text: str, zone: tzinfo, where: str) -> datetime | Problem:
    """Return a moment in UTC.

    Parameters
    ----------
    own : date
        Its date.
    text : str
        Its time of day, such as "12:10"; an offset behind it counts before the zone.
    zone : tzinfo
        The clock it was read from.
    where : str
        The line, for problems.

    Returns
    -------
    datetime or Problem
        A problem for what is no time, and for one that the clock showed twice or never.
    """
    found = _CLOCK.match(text.strip())
    if not found:
        return Problem(where, f"the time '{text.strip()}'", "a time of day such as 12:10")
    hour, half = int(found[1]), (found[4] or "").replace(".", "").lower()
    if half and 1 <= hour <= 12:
        hour = hour % 12 + (12 if half == "pm" else 0)
    try:
        naive = datetime.combine(own, time(hour, int(found[2]), int(found[3] or 0)))
    except ValueError:
        return Problem(where, f"the time '{text.strip()}'", "a time of day such as 12:10")
    if found[5]:
        seconds = 0 if found[5] == "Z" else utc_offset(found[5], where)
        return naive.replace(tzinfo=timezone(timedelta(seconds=seconds))).astimezone(UTC)
    return _on(naive, zone, where)


def _on(naive: datetime, zone: tzinfo, where: str) -> datetime | Problem:
    """Put a time on its clock, unless that showed it twice or never."""
    early, late = (naive.replace(tzinfo=zone, fold=fold) for fold in (0, 1))
    shown = f"{naive:%Y-%m-%d %H:%M}"
    if early.utcoffset() == late.utcoffset():
        return early.astimezone(UTC)
    back = early.astimezone(UTC).astimezone(zone).replace(tzinfo=None)
    if back != naive:
        return Problem(
            where,
            f"{shown}, which the clock of {zone} left out when summer time began",
            "a time that the clock showed",
            remedy="Look whether it was read from another clock",
        )
    return Problem(
        where,
        f"{shown}, which the clock of {zone} showed twice when summer time ended",
        "one moment",
        remedy="Write the offset behind the time, such as 02:30+01:00",
    )
