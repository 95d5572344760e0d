"""Insulation tests by the string's voltage, and two poles that leak side by side."""

import math

import pytest

from tests.study.sites import demo_mapping, string, variant, wiring
from yieldkit.design.checks.findings import NOT_CHECKED, NOT_PERMITTED, PASSES
from yieldkit.design.checks.insulation import (
    both_poles,
    commissioning_rule,
    insulation_test,
    parts_needed,
    resistance_finding,
    string_test,
    voltage_finding,
)
from yieldkit.design.checks.limits import site_facts
from yieldkit.design.checks.wired import string_facts

pytestmark = pytest.mark.slow


def facts_of(modules, changes=None):
    """Return the facts of a lone string of so many of the demonstration's modules (38.9 V)."""
    base = {"planes.0.modules": max(modules, 1)} | (changes or {})
    site = variant(base, [wiring("w", MPPT_1=[string(("west roof", modules))])])
    return string_facts(site, site.wirings[0], site_facts(site))[0]


# 1.25 x 38.9 V x modules; IEC 62446-1's table, from memory.
@pytest.mark.parametrize(
    ("modules", "system_v", "test_v", "megohm"),
    [(14, 680.75, 1000.0, 1.0), (7, 340.375, 500.0, 1.0), (25, 1215.625, 1500.0, 1.0)],
)
def test_the_strings_of_the_demonstration(modules, system_v, test_v, megohm):
    test = string_test(facts_of(modules))
    assert test.system_voltage_v == pytest.approx(system_v, rel=1e-12)
    assert (test.test_voltage_v, test.least_ohm) == (test_v, megohm * 1e6)
    assert test.rule.startswith("IEC 62446-1:2016, 6.7.3")
    assert test.rule.endswith("(from memory)")


@pytest.mark.parametrize(
    ("v_oc", "test_v", "least_ohm"),
    [
        (95.9, 250.0, 0.5e6),  # 119.9 V
        (96.0, 500.0, 1e6),  # 120 V
        (400.0, 500.0, 1e6),  # 500 V
        (400.1, 1000.0, 1e6),
        (800.0, 1000.0, 1e6),  # 1000 V
        (800.1, 1500.0, 1e6),
    ],
)
def test_the_rows_end_where_the_table_says(v_oc, test_v, least_ohm):
    assert insulation_test(v_oc)[1:3] == (test_v, least_ohm)


def test_a_test_voltage_above_the_modules_rating_is_a_finding_and_no_test():
    finding = voltage_finding(facts_of(25))
    assert (finding.verdict, finding.value, finding.limit) == (NOT_PERMITTED, 1500.0, 1000.0)
    assert "Don't test this string at 1500 V" in finding.advice
    assert voltage_finding(facts_of(14)).verdict == PASSES


def test_a_rating_that_is_not_known_is_no_pass():
    unknown = voltage_finding(facts_of(14, {"module_types.0.max_system_voltage_v": None}))
    assert unknown.verdict == NOT_CHECKED
    assert "maximum system voltage" in unknown.advice


def test_the_weakest_module_of_a_string_decides():
    content = demo_mapping()
    kinds = [dict(content["module_types"][0], name=name) for name in ("weak", "strong")]
    kinds[0]["max_system_voltage_v"], kinds[1]["max_system_voltage_v"] = 600.0, 1500.0
    planes = [dict(plane) for plane in content["planes"]]
    for plane, kind in zip(planes, ("strong", "weak", "strong"), strict=True):
        plane["module_type"] = kind
    mixed = [wiring("w", MPPT_1=[string(("west roof", 10), ("east roof", 4))])]
    site = variant({"module_types": kinds}, mixed, planes)
    finding = voltage_finding(string_facts(site, site.wirings[0], site_facts(site))[0])
    assert (finding.verdict, finding.limit) == (NOT_PERMITTED, 600.0)


# 1 / (1/2 + 1/3) = 1.2 and 1 / (1/1.5 + 1/2) = 0.857.
@pytest.mark.parametrize(
    ("plus", "minus", "both", "verdict"),
    [(2.0, 3.0, 1.2, PASSES), (1.5, 2.0, 0.857, NOT_PERMITTED), (2.0, 2.0, 1.0, PASSES)],
)
def test_poles_leak_side_by_side(plus, minus, both, verdict):
    ohm = both_poles(plus * 1e6, minus * 1e6)
    assert ohm / 1e6 == pytest.approx(both, abs=5e-4)
    finding = resistance_finding("A", insulation_test(544.6), ohm)
    assert finding.verdict == verdict
    assert finding.value == pytest.approx(both, abs=5e-4)


def test_poles_at_their_ends():
    assert both_poles(0.0, math.inf) == 0.0
    assert both_poles(math.inf, math.inf) == math.inf
    assert both_poles(math.inf, 2e6) == 2e6
    assert resistance_finding("A", insulation_test(544.6), math.nan).verdict == NOT_CHECKED


def test_arrays_above_ten_kilowatt_are_tested_in_parts():
    assert [parts_needed(power) for power in (9.9, 10.0, 10.01)] == [False, False, True]
    assert "from memory" in commissioning_rule("insulation_whole_array").text
    with pytest.raises(KeyError, match="no such rule"):
        commissioning_rule("no such rule")
