"""Time zones as people write them, read as a fixed offset of standard time."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from functools import lru_cache
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError, available_timezones

from yieldkit.base.errors import nearest, refuse

_OFFSET = re.compile(r"^(?:UTC|GMT)?\s*([+-])\s*(\d{1,2})(?::?([0-5]\d))?$", re.IGNORECASE)
_FURTHEST_S = (-12 * 3600, 14 * 3600)


def utc_offset(text: str, where: str = "time_zone") -> int:
    """Return the offset of standard time from UTC that a zone's name means.

    Parameters
    ----------
    text : str
        "UTC+01:00", "+1", "+10", "UTC", "Etc/GMT-1" (which is one hour ahead of UTC, as its
        name doesn't say) or an IANA name such as "Area/City", of which standard time counts.
    where : str
        Where it was written, for the error.

    Returns
    -------
    int
        Seconds ahead of UTC.

    Raises
    ------
    InputError
        If it is neither: a name that is like a known one gets that suggested.
    """
    word = text.strip().replace("\u2212", "-")
    if word.upper() in ("UTC", "GMT", "Z"):
        return 0
    match = _OFFSET.match(word)
    if match:
        plus_or_minus = 1 if match[1] == "+" else -1
        seconds = plus_or_minus * (int(match[2]) * 3600 + int(match[3] or 0) * 60)
        if _FURTHEST_S[0] <= seconds <= _FURTHEST_S[1]:
            return seconds
    offset = _standard_offset(word)
    if offset is not None:
        return offset
    close = nearest(word, _zone_names()) if len(word) <= 40 else None
    unsigned = _OFFSET.match(f"+{word}")
    if unsigned and word[:1].isdecimal() and int(unsigned[2]) * 3600 <= _FURTHEST_S[1]:
        close = zone_name(int(unsigned[2]) * 3600 + int(unsigned[3] or 0) * 60)
    advice = "Write hours ahead of UTC, standard time, without daylight saving."
    refuse(
        where,
        f"'{text}'",
        "an offset such as 'UTC+01:00' or an IANA zone such as 'Etc/GMT-1'",
        remedy=f"Did you mean '{close}'? {advice}" if close else advice,
    )


@lru_cache(maxsize=64)
def _standard_offset(name: str) -> int | None:
    try:
        zone = ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        return None
    # Standard time is the lesser of the offsets half a year apart in all but a few places.
    offsets = [
        datetime(2021, month, 1, tzinfo=UTC).astimezone(zone).utcoffset() for month in (1, 7)
    ]
    return int(min(offset.total_seconds() for offset in offsets if offset is not None))


def wall_clock(text: str, where: str) -> ZoneInfo:
    """Return the zone of a clock on the wall, with summer time where the place has it.

    Parameters
    ----------
    text : str
        An IANA name such as "Area/City".
    where : str
        Where it was written, for the error.

    Raises
    ------
    InputError
        If it is an offset, which no summer time follows from, or no zone at all.
    """
    utc_offset(text, where)
    word = text.strip()
    if "/" not in word or word.startswith("Etc/"):
        refuse(
            where,
            f"'{text}', of which no summer time is known",
            "an IANA zone such as 'Area/City' for the clock on the wall",
            remedy="Write the zone's name, or clock: standard",
        )
    return ZoneInfo(word)


def has_summer_time(text: str) -> bool:
    """Tell whether a zone that was read by `utc_offset` is one whose clocks are put forward.

    Parameters
    ----------
    text : str
        As for `utc_offset`.
    """
    try:
        zone = ZoneInfo(text.strip())
    except (ZoneInfoNotFoundError, ValueError, OSError):
        return False
    months = [datetime(2025, month, 1, tzinfo=UTC).astimezone(zone) for month in (1, 7)]
    return len({each.utcoffset() for each in months}) > 1


@lru_cache(maxsize=1)
def _zone_names() -> tuple[str, ...]:
    return tuple(sorted(available_timezones()))


def zone_name(offset_s: int) -> str:
    """Return an offset in the one form used in files and reports, such as 'UTC+01:00'.

    Parameters
    ----------
    offset_s : int
        Seconds ahead of UTC.
    """
    plus_or_minus = "-" if offset_s < 0 else "+"
    minutes = abs(offset_s) // 60
    return f"UTC{plus_or_minus}{minutes // 60:02d}:{minutes % 60:02d}"
