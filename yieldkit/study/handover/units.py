"""Readings in other units than the sheet's, taken over by what is written beside them."""

from __future__ import annotations

import unicodedata

from yieldkit.base.errors import Problem
from yieldkit.study.handover.cells import Number
from yieldkit.study.handover.reading import Quantity

_SI: dict[str, dict[str, float]] = {
    "V": {"V": 1.0, "mV": 1e-3, "kV": 1e3},
    "A": {"A": 1.0, "mA": 1e-3},
    "W": {"W": 1.0, "kW": 1e3},
    "Mohm": {
        "Mohm": 1e6,
        "MΩ": 1e6,
        "ohm": 1.0,
        "Ω": 1.0,
        "kohm": 1e3,
        "kΩ": 1e3,
        "Gohm": 1e9,
        "GΩ": 1e9,
    },
    "deg": {"deg": 1.0, "°": 1.0, "degrees": 1.0},
    "W/m2": {"W/m2": 1.0, "kW/m2": 1e3},
    "min": {"min": 1.0, "h": 60.0},
}
"""The sheet's unit, and what others of its kind are in SI."""

TURNED = ("i_sc", "i_dc")
"""Quantities whose minus tells of a clamp that was turned round, and of nothing else."""


def in_own_unit(
    found: Number, unit: str, quantity: Quantity, where: str, subject: str
) -> tuple[float, str | Problem]:
    """Return a reading in SI, and what is to be told of its unit.

    Parameters
    ----------
    found : Number
        The reading with the unit behind it, if any.
    unit : str
        The cell of its unit; the sheet's own where it is empty.
    quantity : Quantity
        What was read.
    where, subject : str
        Line and string or input, for what is told.

    Returns
    -------
    tuple of (float, str or Problem)
        In SI; nothing, a sentence on a unit that was taken over, or why it can't be.
    """
    units = _SI[quantity.unit]
    # The sign of ohm has two codes.
    said = unicodedata.normalize("NFKC", found.unit or unit or quantity.unit)
    factor = units.get(said, units.get(_loosely(said, units)))
    if factor is None:
        known = ", ".join(dict.fromkeys(name for name in units if name.isascii()))
        return 0.0, Problem(where, f"the unit '{said}'", f"one of {known}")
    if found.more and quantity.unit != "Mohm":
        return 0.0, Problem(where, f"more than {found.value:g}", f"a number in {quantity.unit}")
    value = found.value * factor
    if factor == quantity.si:
        return value, ""
    own = value / quantity.si
    return value, f"{where}: {found.value:g} {said} are taken as {own:g} {quantity.unit}."


def _loosely(unit: str, units: dict[str, float]) -> str:
    """Return the one unit that is written so but for small and capital letters; else nothing."""
    word = unit.strip(" .").casefold()
    alike = [name for name in units if name.casefold() == word]
    return alike[0] if len(alike) == 1 else ""


def turned_round(line: int, words: str) -> str:
    """Return what is told of a current with a minus.

    Parameters
    ----------
    line : int
        Its line.
    words : str
        The quantity.
    """
    return f"Line {line}: the {words} has a minus; taken as a clamp that was turned round."
