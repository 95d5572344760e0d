"""Temperature coefficients as datasheets print them, with their unit."""

from __future__ import annotations

import re

_FORM = re.compile(r"^\s*([+-]?\d+(?:[.,]\d+)?(?:[eE][+-]?\d+)?)\s*(%|mV|V|mA|A|mW|W)\s*/\s*(?:K|°C|degC|C)\s*$")
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
    match = _FORM.match(text)
    if match is None:
        raise ValueError(
            f"'{text}' has no readable unit; write it as '-0.28 %/K' or '-0.13 {base_unit}/K'"
        )
    number = float(match[1].replace(",", "."))
    unit = match[2]
    if unit != "%" and not unit.endswith(base_unit):
        raise ValueError(f"'{text}' is in {unit}/K; expected %/K or {base_unit}/K")
    return number * _SCALE[unit], unit == "%"


def absolute(text: str | None, base_unit: str, stc_value: float) -> float | None:
    """Return a coefficient in its base unit per kelvin, given the value at STC."""
    if text is None:
        return None
    value, share = parse_coefficient(text, base_unit)
    return value * stc_value if share else value
