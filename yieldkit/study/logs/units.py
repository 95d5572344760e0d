"""Units of electrical columns: what a table states, and what its values are in ours."""

from __future__ import annotations

import re
from collections.abc import Mapping

from yieldkit.base.errors import Problem

_FACTORS: dict[str, dict[str, float]] = {
    "V": {"V": 1.0, "mV": 1e-3, "kV": 1e3},
    "A": {"A": 1.0, "mA": 1e-3},
    "W": {"W": 1.0, "kW": 1e3, "MW": 1e6},
    "Wh": {"Wh": 1.0, "kWh": 1e3, "MWh": 1e6},
}
_KIND = {
    "v_dc": "V",
    "v_ac": "V",
    "i_dc": "A",
    "p_dc": "W",
    "p_ac": "W",
    "e_dc": "Wh",
    "e_ac": "Wh",
}
ELECTRICAL = tuple(_KIND)
"""Quantities of inverters that a log may have."""
_FOREIGN = ("VA", "kVA", "var", "kvar", "Ah", "Ohm", "Hz")
_KNOWN = {unit: unit for units in _FACTORS.values() for unit in units} | {u: u for u in _FOREIGN}
_LOOSELY = {unit.casefold(): unit for unit in ("V", "A", "W", "kW", "Wh", "kWh", *_FOREIGN)}
_IN_BRACKETS = re.compile(r"[\[(]([^\])]+)[\])]\s*$")
_BEHIND = re.compile(r"(?:[/_]|\s(?:in\s)?)([A-Za-z]{1,4})$")


def stated_unit(column: str, under: Mapping[str, str]) -> str:
    """Return the unit that a table states of a column, nothing where it states none.

    Parameters
    ----------
    column : str
        The column's name; a unit may stand behind it, such as "Pac [kW]", "P_W" or "U in V".
    under : mapping of str to str
        The column to the cell of a row of units under the names.
    """
    behind = _IN_BRACKETS.search(column)
    told = under.get(column) or (behind[1] if behind else "")
    word = "".join(told.split()).strip("[]()")
    if word:
        return _KNOWN.get(word, _LOOSELY.get(word.casefold(), word))
    last = _BEHIND.search(column)
    # A letter behind a name is a unit only as units are written: "U_a" is a phase.
    return _KNOWN.get(last[1], "") if last else ""


def factor_to_own(
    quantity: str, column: str, stated: str, said: str | None, where: str
) -> float | Problem:
    """Return by what a column's values are multiplied to come to V, A, W or Wh.

    Parameters
    ----------
    quantity : str
        One of `ELECTRICAL`.
    column : str
        The column.
    stated : str
        What the table states, see `stated_unit`; nothing where it states none.
    said : str or None
        What the description says.
    where : str
        File and column, for the problem.
    """
    kind = _KIND[quantity]
    units = _FACTORS[kind]
    if stated and stated not in units:
        return _other_kind(quantity, stated, where)
    if stated and said is not None and stated != said:
        return Problem(
            where,
            f"the unit '{stated}' in the table, and units.{quantity}: {said} in the description",
            "one unit",
            remedy=f"Leave units.{quantity} out, or correct the table's head",
        )
    unit = stated or said
    if unit is None and kind == "Wh":
        return Problem(
            where,
            "an energy counter without a unit",
            "Wh, kWh or MWh",
            remedy=f"Write units: {{{quantity}: kWh}} into the log's description",
        )
    return units[unit] if unit else 1.0


def _other_kind(quantity: str, stated: str, where: str) -> Problem:
    needed = " or ".join(_FACTORS[_KIND[quantity]])
    if _KIND[quantity] == "W" and stated in _FACTORS["Wh"]:
        counter = quantity.replace("p_", "e_")
        return Problem(
            where,
            f"the unit '{stated}', an energy",
            f"a power in {needed}",
            cause="Energy where power is asked",
            remedy=f"Write {counter} in place of {quantity} if it is a counter that adds up; "
            "energies of single steps times the steps of an hour are the power",
        )
    if _KIND[quantity] == "Wh" and stated in _FACTORS["W"]:
        power = quantity.replace("e_", "p_")
        remedy = f"Write {power} in place of {quantity}"
        return Problem(where, f"the unit '{stated}', a power", f"{needed}", remedy=remedy)
    cause = "Another column?"
    return Problem(where, f"the unit '{stated}'", f"{quantity} in {needed}", cause=cause)
