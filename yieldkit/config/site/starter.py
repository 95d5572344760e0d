"""A commented site file to start from, for any place."""

from __future__ import annotations

import re
import shlex

from yieldkit.base.coordinates import degrees_text, place_in_name, zone_by_longitude
from yieldkit.base.errors import InputError, YieldkitError
from yieldkit.base.time_zones import utc_offset, zone_name
from yieldkit.config.relations.place import zone_far_off
from yieldkit.config.site.files import new_site_text

GUESS = "a guess"
"""Words by which a value is known that nobody has stated yet."""
OWN_REMARKS = ("Not there yet", "of 45.0 N 8.0 E only!")
"""How remarks of ours begin that are true only of the weather file they stand beside."""


def usual_weather(latitude: float, longitude: float) -> str:
    """Return the name of the weather file that will be fetched for a place, if nothing is said."""
    return f"weather-{place_in_name(latitude, longitude)}.csv"


def site_text_at(
    latitude: float, longitude: float, zone: str | None, weather: str, name: str
) -> str:
    """Return a commented site file of a place; it lacks the weather file that it names.

    Parameters
    ----------
    latitude, longitude : float
        [deg].
    zone : str or None
        Its time zone; by default whole hours from the longitude, marked as a guess.
    weather : str
        The weather file that will be fetched.
    name : str
        The site file, for the hints.

    Raises
    ------
    InputError
        If the zone is none, or further off the sun there than any clock.
    """
    if zone is None:
        guessed = zone_by_longitude(longitude)
        clock = f"{guessed} # {GUESS} from the longitude: correct it; standard time"
    else:
        offset_h = utc_offset(zone, "--time-zone") / 3600.0
        problem = zone_far_off("--time-zone", offset_h, longitude, latitude)
        if problem is not None:
            raise InputError((problem,))
        clock = f"{zone} # hours ahead of UTC, standard time"
    into = f"yieldkit weather --into {shlex.quote(name)}"
    lines = {
        "latitude": f"{_whole(latitude)} # degrees north",
        "longitude": f"{_whole(longitude)} # degrees east, west is negative",
        "altitude_m": f"0 # {GUESS}: fetched with the weather, or write your own",
        "time_zone": clock,
        "file": f"{weather} # {OWN_REMARKS[0]}: {into}",
    }
    text = new_site_text()
    for key, value in lines.items():
        text = _put(text, key, value)
    return _in_place_of_the_remark(text, latitude, longitude, into)


def _whole(degrees: float) -> str:
    """Return degrees with every digit that was stated."""
    return f"{degrees:.9f}".rstrip("0").rstrip(".")


def _put(text: str, key: str, value: str) -> str:
    text, number = re.subn(rf"(?m)^  {key}: .*$", lambda _found: f"  {key}: {value}", text)
    if number != 1:
        raise YieldkitError(f"the file to start from has {number} lines of {key}")
    return text


def _in_place_of_the_remark(text: str, latitude: float, longitude: float, into: str) -> str:
    remark = (
        f"  # Stands at {degrees_text(latitude, longitude)}. Its weather must be of that place:\n"
        f"  # {into}\n"
    )
    text, number = re.subn(
        r"(?m)^  # Place and weather belong.*\n(?:  # .*\n)*", lambda _: remark, text
    )
    if number != 1:
        raise YieldkitError("the file to start from has no remark on its place")
    return text


def shown_zone(zone: str | None, longitude: float, where: str = "--time-zone") -> tuple[str, bool]:
    """Return a zone as it is written, guessed from the longitude where none is stated.

    Parameters
    ----------
    zone : str or None
        What was stated.
    longitude : float
        [deg].
    where : str
        Where it was stated, for the error.

    Returns
    -------
    str
        Such as "UTC+01:00".
    bool
        Whether it is a guess.
    """
    if zone is None:
        return zone_by_longitude(longitude), True
    return zone_name(utc_offset(zone, where)), False
