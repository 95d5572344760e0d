"""What a wrong value probably is, key by key: the slips that people make."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from functools import partial
from typing import Any

from yieldkit.base.errors import nearest
from yieldkit.base.time_zones import zone_name
from yieldkit.config.reading.content import Location
from yieldkit.config.reading.wording import is_number, shown

Likely = tuple[str, str, str]
"""What is expected (empty: as the model says), the likely cause and what to do."""

_BEARINGS = "compass degrees: 0 north, 90 east, 180 south, 270 west"
_NUMBER = re.compile(r"^\s*([+-]?\d+(?:[.,]\d+)?)\s*(.*?)\s*$")
_THOUSANDS = re.compile(r"[+-]?[1-9]\d{0,2},\d{3}")
_COMPASS = {
    "north": 0,
    "north-east": 45,
    "east": 90,
    "south-east": 135,
    "south": 180,
    "south-west": 225,
    "west": 270,
    "north-west": 315,
}
_UNITS = {
    "v": ("v", "volt", "volts"),
    "a": ("a", "ampere", "amperes"),
    "w": ("w", "watt", "watts"),
    "va": ("va", "volt-amperes"),
    "m": ("m", "metre", "metres"),
    "s": ("s", "second", "seconds"),
    "ohm": ("ohm", "ω", "ohms"),
    "c": ("c", "°c", "degc", "degrees Celsius"),
    "mm2": ("mm2", "mm²", "square millimetres"),
    "percent": ("%", "percent"),
    "deg": ("deg", "°", "degree", "degrees"),
    "min": ("min", "minute", "minutes"),
}
"""Units that end the keys' names, as people write them."""
_MINUSES = ("\N{MINUS SIGN}", "\N{EN DASH}", "\N{HYPHEN}", "\N{NON-BREAKING HYPHEN}")
"""What word processors make of the minus on the keyboard."""
_PREFIXES = {"k": 1e3, "K": 1e3, "M": 1e6, "c": 1e-2, "m": 1e-3}
_NEGATIVE_SIDE = {"latitude": ("s", "south"), "longitude": ("w", "west")}
_LETTERS = {"n": 0, "ne": 45, "e": 90, "se": 135, "s": 180, "sw": 225, "w": 270, "nw": 315}


def likely(
    location: Location, value: Any, kind: str, most: float | None, allowed_values: tuple[Any, ...]
) -> Likely | None:
    """Return what is expected, the likely cause and the remedy, or None if nothing is known.

    Parameters
    ----------
    location : tuple
        Where the value stands.
    value : object
        The wrong value.
    kind : str
        The models' name for what is wrong.
    most : float or None
        The largest value allowed, where that is what is wrong.
    allowed_values : tuple
        The allowed words of a field of choices.
    """
    key = next((part for part in reversed(location) if isinstance(part, str)), "")
    own = _OWN.get(key)
    found = own(value) if own is not None else None
    if found is not None:
        return found
    if kind == "literal_error":
        return _word(value, allowed_values)
    if kind in ("float_type", "int_type"):
        return _not_a_number(key, value)
    if kind in ("bool_type", "string_type", "tuple_type", "model_type"):
        return _wrong_kind(value, kind)
    if most == 1 and is_number(value) and 1.0 < value <= 100.0:
        return "", "Written in percent?", f"As a share it is {shown(value / 100.0)}"
    return None


def _bearing(value: Any) -> Likely | None:
    if isinstance(value, str):
        word = value.strip().lower().replace(" ", "-").replace("_", "-")
        degrees = _COMPASS.get(word, _LETTERS.get(word))
        if degrees is None:
            return None
        return _BEARINGS, "", f"For {word} write {degrees}"
    if not is_number(value) or 0 <= value <= 360:
        return None
    turned = value % 360
    named = (name for name, degrees in _COMPASS.items() if degrees == turned)
    name = next(named, "this bearing")
    return (
        _BEARINGS,
        "Counted from south, or from north to the west?",
        f"For {name} write {turned:g}",
    )


def _tilt(value: Any) -> Likely | None:
    needed = "degrees from horizontal, 0 to 90"
    if isinstance(value, str):
        match = _NUMBER.match(value)
        if match is None or match[2] != "%":
            return None
        percent = float(match[1].replace(",", "."))
        return needed, "A roof pitch in percent", _pitch(percent)
    if not is_number(value) or 0 <= value <= 90:
        return None
    if value < 0:
        return needed, "", "A plane's direction belongs in azimuth_deg; its tilt is never negative"
    return needed, f"A roof pitch of {value:g} % or degrees?", _pitch(value)


def _pitch(percent: float) -> str:
    degrees = math.degrees(math.atan(percent / 100.0))
    return f"A pitch of {percent:g} % is {degrees:.1f} degrees: write {degrees:.1f}"


def _latitude(value: Any) -> Likely | None:
    if not is_number(value) or -90 <= value <= 90:
        return None
    return "degrees north, -90 to 90", "Latitude and longitude swapped?", "Write the latitude here"


def _longitude(value: Any) -> Likely | None:
    if not is_number(value) or -180 <= value <= 180:
        return None
    return (
        "degrees east, -180 to 180; west is negative",
        "",
        f"Is it {(value + 180) % 360 - 180:g}?",
    )


def _version(value: Any) -> Likely | None:
    if not is_number(value) or value in (1, 2):
        return None
    remedy = "Write 1 for one inverter or 2 for several, and check the keys"
    return "", "A file for another version of yieldkit?", remedy


def _gap(value: Any) -> Likely | None:
    if not is_number(value) or value <= 3.0:
        return None
    return (
        "at most 3: nobody knows the light of longer gaps",
        "",
        "Leave longer gaps as they are: their steps stay missing, and every total is of the time "
        "that is covered",
    )


def _coefficient(value: Any, unit: str) -> Likely | None:
    if not is_number(value):
        return None
    ways = f"'{value:g} %/K' or '{value:g} {unit}/K'"
    return "text with its unit", "", f"Write {ways}, as the datasheet has it"


def _hours_ahead(value: Any) -> Likely | None:
    """Say how a number of hours is written as a zone."""
    if not is_number(value) or not -12 <= value <= 14:
        return None
    return "hours ahead of UTC with a sign", "", f"Write {zone_name(round(value * 3600))}"


_OWN: dict[str, Callable[[Any], Likely | None]] = {
    "alpha_sc": partial(_coefficient, unit="A"),
    "beta_voc": partial(_coefficient, unit="V"),
    "gamma_pmp": partial(_coefficient, unit="W"),
    "azimuth_deg": _bearing,
    "fill_gaps_up_to_h": _gap,
    "tilt_deg": _tilt,
    "latitude": _latitude,
    "longitude": _longitude,
    "schema_version": _version,
    "time_zone": _hours_ahead,
    "zone": _hours_ahead,
}


def _word(value: Any, allowed: tuple[Any, ...]) -> Likely | None:
    allowed_values = [word for word in allowed if isinstance(word, str)]
    if isinstance(value, bool) and "none" in allowed_values:
        return "", "", "Write the word, or leave the key out"
    if not isinstance(value, str):
        return None
    same = value.strip().lower().replace(" ", "-").replace("_", "-")
    close = same if same in allowed_values else nearest(same, allowed_values)
    return ("", "", f"Did you mean '{close}'?") if close else None


def _not_a_number(key: str, value: Any) -> Likely | None:
    if value is None:
        return "", "", "Write the number, or leave the key out if it may be unknown"
    if is_number(value):
        return "", "", f"Is it {round(value)}?"
    if not isinstance(value, str):
        return None
    if value.strip().startswith(_MINUSES) and (after := _NUMBER.match(value.strip()[1:])):
        return "", "A dash that is no minus", f"Write -{after[1].replace(',', '.')}"
    match = _NUMBER.match(value)
    if match is None:
        return None
    number, unit = match[1], match[2]
    if unit:
        return "", "", _without_unit(key, number.replace(",", "."), unit)
    if _THOUSANDS.fullmatch(number):
        whole, part = number.replace(",", ""), float(number.replace(",", "."))
        cause = "A comma between thousands, or a decimal comma?"
        return "", cause, f"Write {whole} or {part:g}, whichever is meant"
    if "," in number:
        return "", "A decimal comma", f"Write {number.replace(',', '.')}"
    return "", "A number in quotes", f"Write {number} without quotes"


def _without_unit(key: str, number: str, unit: str) -> str:
    """Return how a number with a unit is written where the key's name has the unit."""
    if key in _NEGATIVE_SIDE:
        turned = unit.lower() in _NEGATIVE_SIDE[key] and not number.startswith("-")
        return f"The unit is in the key's name: write {'-' if turned else ''}{number} alone"
    own = key.rsplit("_", 1)[-1]
    if own not in _UNITS or unit.lower() in _UNITS[own]:
        return f"The unit is in the key's name: write {number} alone"
    prefix, base = unit[0], unit[1:].lower()
    if prefix in _PREFIXES and base in _UNITS[own]:
        return (
            f"The unit is in the key's name: write {float(number) * _PREFIXES[prefix]:.10g} alone"
        )
    return f"Write the number alone, in {_UNITS[own][-1]}, as the key's name says"


def _wrong_kind(value: Any, kind: str) -> Likely | None:
    if kind == "bool_type" and isinstance(value, str):
        yes = value.strip().lower() in ("yes", "on", "y")
        return "", "", f"Write {'true' if yes else 'false'}"
    if kind == "string_type" and is_number(value):
        return "", "", f"Put it in quotes: '{value}'"
    if kind == "tuple_type" and value is not None:
        return "", "", "Begin every entry with '- ', also a single one"
    if kind == "tuple_type":
        return "", "", "Write the entries below it, or leave the key out"
    return None
