"""Places as people write them: latitude and longitude in degrees, and the hours they suggest."""

from __future__ import annotations

import re

from yieldkit.base.errors import refuse
from yieldkit.base.time_zones import zone_name

_PAIR = re.compile(r"^([+-]?\d{1,3}(?:\.\d*)?)\s*[,;]\s*([+-]?\d{1,3}(?:\.\d*)?)$")
_NEEDED = "latitude and longitude in degrees, such as 45.1,8.2 or -33.9,151"


def latitude_longitude(text: str, where: str) -> tuple[float, float]:
    """Read a place written as "LAT,LON".

    Parameters
    ----------
    text : str
        Degrees with a decimal point, north and east positive.
    where : str
        Where it was written, for the error.

    Returns
    -------
    tuple of float
        Latitude and longitude [deg].

    Raises
    ------
    InputError
        If it isn't two numbers, or they are none of a place on Earth.
    """
    found = _PAIR.match(text.strip().replace("\u2212", "-"))
    if not found:
        refuse(where, f"'{text}'", _NEEDED, remedy="North and east are positive.")
    latitude, longitude = float(found[1]), float(found[2])
    if abs(latitude) > 90.0 or abs(longitude) > 180.0:
        swapped = abs(longitude) <= 90.0 and abs(latitude) <= 180.0
        refuse(
            where,
            f"latitude {latitude:g} and longitude {longitude:g}",
            "a latitude from -90 to 90 and a longitude from -180 to 180",
            cause="Latitude and longitude swapped?" if swapped else "",
            remedy="Write the latitude first.",
        )
    return latitude, longitude


def degrees_text(latitude: float, longitude: float) -> str:
    """Return a place in words, such as "33.9 S 151 E"."""
    north, east = ("S" if latitude < 0 else "N"), ("W" if longitude < 0 else "E")
    return f"{_short(latitude)} {north} {_short(longitude)} {east}"


def place_in_name(latitude: float, longitude: float) -> str:
    """Return a place as part of a file's name, such as "33.9s-151e"."""
    north, east = ("s" if latitude < 0 else "n"), ("w" if longitude < 0 else "e")
    return f"{_short(latitude)}{north}-{_short(longitude)}{east}"


def _short(degrees: float) -> str:
    return f"{abs(degrees):.4f}".rstrip("0").rstrip(".")


def zone_by_longitude(longitude: float) -> str:
    """Return the whole hours ahead of UTC that a longitude suggests: a guess, no clock's law.

    Parameters
    ----------
    longitude : float
        [deg], east positive.
    """
    return zone_name(3600 * round(longitude / 15.0))
