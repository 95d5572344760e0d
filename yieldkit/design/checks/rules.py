"""Rule profiles as numbers, and the words that say where each comes from."""

from __future__ import annotations

from functools import cache
from typing import NamedTuple

from yieldkit.design.standards import standard_table


class Rule(NamedTuple):
    """A number of a standard.

    Parameters
    ----------
    value : float
        The number.
    text : str
        Edition, clause and how it was known.
    """

    value: float
    text: str


@cache
def string_rule(profile: str, quantity: str) -> Rule:
    """Return a number of a string rule profile."""
    table = standard_table("string_rules")
    row = table[(table["profile"] == profile) & (table["quantity"] == quantity)].iloc[0]
    return Rule(float(row["value"]), f"{row['edition']}, {row['clause']} ({row['status']})")


@cache
def inspection_rule(item: str) -> Rule | None:
    """Return a number of the inspector's list, or None where there is no such rule."""
    table = standard_table("inspection_rules")
    rows = table[table["item"] == item]
    if rows.empty:
        return None
    row = rows.iloc[0]
    return Rule(float(row["value"]), f"{row['edition']}, {row['clause']} ({row['status']})")


@cache
def cold_factor(lowest_ambient_c: float) -> Rule | None:
    """Return the factor on Voc at a lowest ambient temperature; None below the table.

    References
    ----------
    NEC table 690.7(A); whole degrees, the colder row counts.
    """
    table = standard_table("cold_factors")
    rows = table[table["lowest_c"] <= lowest_ambient_c]
    if rows.empty:
        return None
    row = rows.sort_values("lowest_c").iloc[-1]
    return Rule(float(row["factor"]), f"{row['source']} ({row['status']})")


@cache
def fuse_sizes() -> tuple[float, ...]:
    """Return the preferred fuse ratings [A], rising."""
    return tuple(float(value) for value in standard_table("fuse_sizes")["rating_a"])


@cache
def isolator_category(stated: str) -> Rule | None:
    """Return whether an isolator's category is made to switch load [1 or 0]; None if unknown.

    Parameters
    ----------
    stated : str
        As on the nameplate; blanks and case don't count, nor does a hyphen left out.
    """
    table = standard_table("isolator_categories")
    rows = table[table["category"].str.replace("-", "") == _bare(stated)]
    if rows.empty:
        return None
    row = rows.iloc[0]
    text = f"{row['edition']}, {row['clause']} ({row['status']})"
    return Rule(float(row["switches_load"] == "yes"), text)


@cache
def switching_categories() -> tuple[str, ...]:
    """Return the categories of isolators that are made to switch load."""
    table = standard_table("isolator_categories")
    return tuple(table[table["switches_load"] == "yes"]["category"])


def _bare(category: str) -> str:
    return "".join(sign for sign in category.upper() if sign.isalnum())
