"""Time zones as people write them, read as a fixed offset of standard time."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from yieldkit.words.errors import refuse

_OFFSET = re.compile(r"^(?:UTC|GMT)?\s*([+-])\s*(\d{1,2})(?::?(\d{2}))?$", re.IGNORECASE)


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
        If it is neither.
    """
    word = text.strip()
    if word.upper() in ("UTC", "GMT", "Z"):
        return 0
    match = _OFFSET.match(word)
    if match:
        sign = 1 if match[1] == "+" else -1
        seconds = sign * (int(match[2]) * 3600 + int(match[3] or 0) * 60)
        if -12 * 3600 <= seconds <= 14 * 3600:
            return seconds
    try:
        zone = ZoneInfo(word)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        refuse(
            where,
            f"'{text}'",
            "an offset such as 'UTC+01:00' or an IANA zone such as 'Etc/GMT-1'",
            remedy="Write hours ahead of UTC, standard time, without daylight saving.",
        )
    # Standard time is the lesser of the offsets half a year apart in all but a few places.
    offsets = [
        datetime(2021, month, 1, tzinfo=UTC).astimezone(zone).utcoffset() for month in (1, 7)
    ]
    return int(min(offset.total_seconds() for offset in offsets if offset is not None))


def zone_name(offset_s: int) -> str:
    """Return an offset in the one form used in files and reports, such as 'UTC+01:00'."""
    sign = "-" if offset_s < 0 else "+"
    minutes = abs(offset_s) // 60
    return f"UTC{sign}{minutes // 60:02d}:{minutes % 60:02d}"
