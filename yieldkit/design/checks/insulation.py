"""Insulation of strings: at which voltage each is tested, and what it has to show."""

from __future__ import annotations

import math
from functools import cache
from typing import NamedTuple

from yieldkit.design.checks.findings import Finding, at_least, at_most
from yieldkit.design.checks.rules import Rule, inspection_rule
from yieldkit.design.checks.wired import StringFacts
from yieldkit.design.standards import standard_table

VOLTAGE = "insulation test voltage against the module"
RESISTANCE = "insulation resistance"
_MEGOHM = 1e6


class InsulationTest(NamedTuple):
    """How a string's insulation is tested.

    Parameters
    ----------
    system_voltage_v : float
        The voltage by which the row of the table is chosen [V].
    test_voltage_v : float
        DC voltage of the tester [V].
    least_ohm : float
        Smallest resistance to earth that passes [ohm].
    rule : str
        Edition, clause and how it was known.
    """

    system_voltage_v: float
    test_voltage_v: float
    least_ohm: float
    rule: str


def commissioning_rule(item: str) -> Rule:
    """Return a number of the tests before a plant is taken into use.

    Parameters
    ----------
    item : str
        Its name in the table of the inspector's rules.
    """
    rule = inspection_rule(item)
    if rule is None:
        raise KeyError(item)
    return rule


@cache
def insulation_test(v_oc_stc_v: float) -> InsulationTest:
    """Return the insulation test of a string or array.

    Parameters
    ----------
    v_oc_stc_v : float
        Its open-circuit voltage at standard test conditions [V].

    References
    ----------
    IEC 62446-1:2016, 6.7.3, from memory: the system voltage is 1.25 times that voltage.
    """
    volts = commissioning_rule("insulation_system_voltage").value * v_oc_stc_v
    for row in standard_table("insulation_tests").to_dict("records"):
        bound = float(row["system_voltage_v"])
        if math.isnan(bound) or volts < bound or (row["reach"] == "up to" and volts == bound):
            rule = f"{row['edition']}, {row['clause']} ({row['status']})"
            least = _MEGOHM * float(row["least_megohm"])
            return InsulationTest(volts, float(row["test_voltage_v"]), least, rule)
    raise ValueError(f"no insulation test for {v_oc_stc_v} V")


def string_test(string: StringFacts) -> InsulationTest:
    """Return the insulation test of a string, by its modules' datasheet voltages."""
    return insulation_test(sum(count * facts.v_oc for count, _, facts, _ in string.groups))


def voltage_finding(string: StringFacts) -> Finding:
    """Hold a string's test voltage against what its modules may stand.

    Parameters
    ----------
    string : StringFacts
        The string.

    Returns
    -------
    Finding
        Not permitted where a module is rated for less: the string is then not tested at that
        voltage. NOT CHECKED where a rating isn't known.
    """
    test = string_test(string)
    ratings = [module.max_system_voltage_v for *_, module in string.groups]
    known = [rating for rating in ratings if rating is not None]
    least = min(known) if known else None
    if len(known) < len(ratings) and (least is None or test.test_voltage_v <= least):
        least = None
    return at_most(
        VOLTAGE,
        string.subject,
        test.test_voltage_v,
        least,
        "V",
        test.rule,
        missing="The module's maximum system voltage (max_system_voltage_v)",
        advice=f"Don't test this string at {test.test_voltage_v:g} V: its modules are made for "
        "less. Ask their maker how such a string is tested.",
    )


def both_poles(plus_ohm: float, minus_ohm: float) -> float:
    """Return the resistance to earth of both poles together [ohm], from each measured alone.

    Parameters
    ----------
    plus_ohm, minus_ohm : float
        Between each pole and earth [ohm]; beyond the tester's range is infinite, nan
        was not read.
    """
    if plus_ohm != plus_ohm or minus_ohm != minus_ohm:
        return math.nan
    if plus_ohm <= 0.0 or minus_ohm <= 0.0:
        return 0.0
    leaks = 1.0 / plus_ohm + 1.0 / minus_ohm
    return 1.0 / leaks if leaks > 0.0 else math.inf


def resistance_finding(subject: str, test: InsulationTest, ohm: float) -> Finding:
    """Hold a measured insulation resistance against the smallest that passes.

    Parameters
    ----------
    subject : str
        The string.
    test : InsulationTest
        Its test.
    ohm : float
        Resistance of both poles together to earth [ohm]; nan where a reading is missing.
    """
    return at_least(
        RESISTANCE,
        subject,
        ohm / _MEGOHM,
        test.least_ohm / _MEGOHM,
        "Mohm",
        test.rule,
        missing="The resistance of both poles to earth",
        advice="Find the leak to earth first (connectors, pinched cable, moisture), test again.",
    )


def parts_needed(power_kwp: float) -> bool:
    """Return whether an array is too large to be tested in one piece.

    Parameters
    ----------
    power_kwp : float
        Sum of its modules' power at standard test conditions [kWp].
    """
    return power_kwp > commissioning_rule("insulation_whole_array").value
