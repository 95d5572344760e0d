"""Temperature coefficients as datasheets print them, with their unit."""

from __future__ import annotations

import re

_FORM = re.compile(
    r"^\s*([+-]?\d+(?:[.,]\d+)?(?:[eE][+-]?\d{1,2})?)\s*(%|mV|V|mA|A|mW|W)\s*/\s*"
    r"(?:K|°C|degC|C)\s*$",
    re.ASCII,
)
_SCALE = {"%": 0.01, "mV": 1e-3, "V": 1.0, "mA": 1e-3, "A": 1.0, "mW": 1e-3, "W": 1.0}


def parse_coefficient(text: str, base_unit: str) -> tuple[float, bool]:
    """Read a coefficient such as "-0.28 %/K" or "-139 mV/K".

    Parameters
    ----------
    text : str
        The coefficient with its unit.
    base_unit : str
        "V", "A" or "W": the unit it may have instead of a percentage.

    Returns
    -------
    tuple of (float, bool)
        Value per kelvin, in the base unit or as a share; True for a share.

    Raises
    ------
    ValueError
        If the text has no number with a fitting unit.
    """
    number, unit = number_and_unit(text)
    if unit != "%" and not unit.endswith(base_unit):
        raise ValueError(f"it is in {unit}/K")
    return number * _SCALE[unit], unit == "%"


def number_and_unit(text: str) -> tuple[float, str]:
    """Return a coefficient's number as written and its unit without the "per kelvin".

    Raises
    ------
    ValueError
        If the text has none.
    """
    match = _FORM.match(text.replace("\u2212", "-"))
    if match is None:
        raise ValueError("no number with a unit can be read")
    return float(match[1].replace(",", ".")), match[2]


def absolute(text: str | None, base_unit: str, stc_value: float) -> float | None:
    """Return a coefficient in its base unit per kelvin, given the value at STC.

    Parameters
    ----------
    text : str or None
        The coefficient with its unit; None where unknown.
    base_unit : str
        "V", "A" or "W".
    stc_value : float
        The quantity at standard test conditions, in the base unit.
    """
    if text is None:
        return None
    value, share = parse_coefficient(text, base_unit)
    return value * stc_value if share else value
