"""Units that a table states, under its names or in brackets behind them: those that aren't ours."""

from __future__ import annotations

import re
from collections.abc import Mapping

from yieldkit.base.errors import Problem
from yieldkit.base.measured_planes import plain_quantity

_LIGHT = {
    "kw/m2": "Multiply its values by 1000",
    "kwh/m2": "Multiply its values by 1000, and divide them by the hours of a step",
    "mj/m2": "Multiply its values by 1,000,000 and divide them by the seconds of a step",
    "kj/m2": "Multiply its values by 1000 and divide them by the seconds of a step",
    "j/cm2": "Multiply its values by 10,000 and divide them by the seconds of a step",
    "klx": "Take a column of irradiance: light as the eye sees it is another quantity",
    "lx": "Take a column of irradiance: light as the eye sees it is another quantity",
}
_FAHRENHEIT = "Subtract 32 from its values and divide them by 1.8"
_KELVIN = "Subtract 273.15 from its values"
_SNOW = {
    "m": "Multiply its values by 100",
    "mm": "Divide its values by 10",
    "in": "Multiply its values by 2.54",
    "inch": "Multiply its values by 2.54",
}
_KNOTS = "Multiply its values by 0.514"
_OTHER = {
    "ghi": _LIGHT,
    "dni": _LIGHT,
    "dhi": _LIGHT,
    "poa_global": _LIGHT,
    "temp_air": {
        "f": _FAHRENHEIT,
        "degf": _FAHRENHEIT,
        "fahrenheit": _FAHRENHEIT,
        "k": _KELVIN,
        "degk": _KELVIN,
        "kelvin": _KELVIN,
    },
    "wind_speed": {
        "km/h": "Divide its values by 3.6",
        "kmh": "Divide its values by 3.6",
        "kph": "Divide its values by 3.6",
        "mph": "Multiply its values by 0.447",
        "kn": _KNOTS,
        "kt": _KNOTS,
        "kts": _KNOTS,
        "knots": _KNOTS,
        "ft/s": "Multiply its values by 0.305",
    },
    "rain": {
        "m": "Multiply its values by 1000",
        "cm": "Multiply its values by 10",
        "in": "Multiply its values by 25.4",
        "inch": "Multiply its values by 25.4",
    },
    "snowfall": _SNOW,
    "snow_depth": _SNOW,
    "pressure": {
        "hpa": "Multiply its values by 100",
        "mbar": "Multiply its values by 100",
        "kpa": "Multiply its values by 1000",
        "bar": "Multiply its values by 100,000",
    },
}
"""Units that are none of ours, and how to come from them to ours (definitions, rounded)."""
_OTHER |= dict.fromkeys(("temp_module", "temp_cell"), _OTHER["temp_air"])
_OURS = {
    "temp_air": "degC",
    "temp_module": "degC",
    "temp_cell": "degC",
    "wind_speed": "m/s",
    "pressure": "Pa",
    "rain": "mm",
    "snowfall": "cm",
    "snow_depth": "cm",
}
_SQUARES = (("\u00b2", "2"), ("^", ""), ("sqm", "m2"), ("qm", "m2"), ("\u00b0", "deg"))
_MINUS_TWO = re.compile(r"(?:\*|\.)?m(?:-2|\u207b2)$")
_IN_BRACKETS = re.compile(r"[\[(]([^\])]+)[\])]\s*$")


def unit_problems(
    columns: Mapping[str, str], under: Mapping[str, str], where: str
) -> list[Problem]:
    """Return what is wrong with the units that a table states.

    Parameters
    ----------
    columns : mapping of str to str
        Our name to the file's column.
    under : mapping of str to str
        The file's column to the unit in the row under it.
    where : str
        File name, for the problems.
    """
    found = []
    for name, column in columns.items():
        bracketed = _IN_BRACKETS.search(column)
        stated = under.get(column) or (bracketed[1] if bracketed else "")
        quantity = plain_quantity(name)
        remedy = _OTHER.get(quantity, {}).get(_plain(stated))
        if remedy:
            ours = _OURS.get(quantity, "W/m2")
            found.append(
                Problem(
                    f"{where}, {column}",
                    f"the unit '{stated.strip()}'",
                    ours,
                    remedy=f"{remedy}, and write {ours} in place of the unit",
                )
            )
    return found


def energy_columns(columns: Mapping[str, str], under: Mapping[str, str]) -> list[str]:
    """Return the columns that state Wh/m2, which is W/m2 in hourly steps only."""
    found = []
    for name, column in columns.items():
        if plain_quantity(name) not in ("ghi", "dni", "dhi", "poa_global"):
            continue
        bracketed = _IN_BRACKETS.search(column)
        stated = under.get(column) or (bracketed[1] if bracketed else "")
        if _plain(stated) == "wh/m2":
            found.append(column)
    return found


def _plain(stated: str) -> str:
    """Return a unit in small plain letters, without brackets and spaces."""
    text = "".join(stated.lower().split()).strip("[]()")
    for sign, word in _SQUARES:
        text = text.replace(sign, word)
    return _MINUS_TWO.sub("/m2", text)
