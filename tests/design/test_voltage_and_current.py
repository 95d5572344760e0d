"""String voltages, currents and fuses against printed tables and worked cases (block 8)."""

import re

import numpy as np
import pytest

from tests.config.small import MAPPING, mapping, site_from_mapping, with_changes
from yieldkit.design.checks.findings import (
    NOT_CHECKED,
    NOT_PERMITTED,
    PASSES,
    Finding,
    at_least,
    at_most,
)
from yieldkit.design.checks.limits import allowed_lengths, check, counts
from yieldkit.design.checks.rules import cold_factor
from yieldkit.design.checks.string_current import fuse_window, fuses_needed
from yieldkit.design.checks.wired import cold_module_voltage, module_facts
from yieldkit.design.equipment.modules import fit_module_type

pytestmark = pytest.mark.slow

# NEC table 690.7(A), every row, read in public code.
FACTORS = [
    (25, 1.00),
    (24, 1.02),
    (20, 1.02),
    (19, 1.04),
    (15, 1.04),
    (14, 1.06),
    (10, 1.06),
    (9, 1.08),
    (5, 1.08),
    (4, 1.10),
    (0, 1.10),
    (-1, 1.12),
    (-5, 1.12),
    (-6, 1.14),
    (-10, 1.14),
    (-11, 1.16),
    (-15, 1.16),
    (-16, 1.18),
    (-20, 1.18),
    (-21, 1.20),
    (-25, 1.20),
    (-26, 1.21),
    (-30, 1.21),
    (-31, 1.23),
    (-35, 1.23),
    (-36, 1.25),
    (-40, 1.25),
]


@pytest.mark.parametrize(("ambient", "factor"), FACTORS)
def test_cold_factors(ambient, factor):
    assert cold_factor(float(ambient)).value == factor


def test_below_the_cold_table_there_is_no_factor():
    assert cold_factor(-40.5) is None


def test_worked_example_by_coefficient_and_by_table():
    # Voc 49.5 V, -0.27 %/K, -10 degC, 600 V: factor 1.0945, 54.178 V, 11 modules; the table's
    # 1.14 gives 56.43 V and 10 modules. Read in a study guide.
    by_coefficient = 49.5 * (1.0 + 0.0027 * 35.0)
    assert by_coefficient == pytest.approx(54.178, abs=1e-3)
    assert int(600.0 / by_coefficient) == 11
    by_table = 49.5 * cold_factor(-10.0).value
    assert by_table == pytest.approx(56.43)
    assert int(600.0 / by_table) == 10


def small_site(**changes):
    """Return the small site with parts replaced."""
    return site_from_mapping(with_changes(**changes))


def found(site, check_name, subject=None):
    """Return the findings of one check."""
    return [
        each
        for each in check(site, site.wirings[0].name)
        if each.check == check_name and subject in (None, each.subject)
    ]


@pytest.mark.parametrize(("stated", "factor"), [(None, 1.0), (3.0, 1.03)])
def test_cold_voltage_is_the_larger_of_line_and_diode_with_stated_tolerance(stated, factor):
    types = [mapping()["module_types"][0] | {"v_oc_tolerance_percent": stated}]
    site = small_site(module_types=types)
    module = site.module_types[0]
    facts = module_facts(module, fit_module_type(module))
    plane = site.planes[0]
    line = 49.5 * (1.0 + 0.0028 * 42.0)
    volts = cold_module_voltage(facts, plane, -17.0)
    # The line lies above the diode when it is cold.
    assert volts == pytest.approx(factor * line, rel=1e-3)
    first = found(site, "cold open-circuit voltage against the input", "A, string 1")[0]
    assert first.value == pytest.approx(12.0 * volts, rel=1e-9)
    assert first.verdict == PASSES


def test_a_string_too_long_says_how_many_would_do():
    # practice.md section 4: 19 modules at -16.7 degC against 1000 V: at most 18.
    site = small_site(
        planes__west__modules=38,
        wirings__plain__trackers__0__strings=[
            {"groups": [{"plane": "west", "modules": 19}]},
            {"groups": [{"plane": "west", "modules": 19}]},
        ],
    )
    first = found(site, "cold open-circuit voltage against the input", "A, string 1")[0]
    assert first.verdict == NOT_PERMITTED
    assert "t most 18 modules" in first.advice
    assert first.margin < 0.0
    shortened = small_site(
        planes__west__modules=36,
        wirings__plain__trackers__0__strings=[
            {"groups": [{"plane": "west", "modules": 18}]},
            {"groups": [{"plane": "west", "modules": 18}]},
        ],
    )
    again = found(shortened, "cold open-circuit voltage against the input", "A, string 1")[0]
    assert again.verdict == PASSES


def test_allowed_lengths_are_those_of_a_calculation_by_hand():
    # At -17 degC: 49.5 V x (1 + 0.0028 x 42) = 55.3 V, 1000 V / 55.3 V = 18.08. In full sun at
    # 36 degC with 1 m/s on an open rack (Faiman: 1000 / (25 + 6.84) = 31.4 K) the cells have
    # 67.4 degC: Voc 49.5 V x (1 - 0.0028 x 42.4) = 43.6 V, 180 V / 43.6 V = 4.13; Vmp falls by
    # 0.35 + 0.05 %/K to 41.65 V x (1 - 0.0040 x 42.4) = 34.6 V, 160 V / 34.6 V = 4.62 and
    # 300 V / 34.6 V = 8.67.
    inputs = mapping()["inverter"]["mppts"]
    inputs[0]["full_power_voltage_min_v"] = 300.0
    table = allowed_lengths(small_site(inverter__mppts=inputs))
    row = table[(table["mppt"] == "A") & (table["plane"] == "west")].iloc[0]
    assert row.drop(["mppt", "plane"]).to_dict() == {
        "fewest_by_start_up": 5,
        "fewest_by_window": 5,
        "fewest_for_full_power": 9,
        "most_by_cold_voltage": 18,
    }


def test_the_checks_allow_strings_up_to_the_longest_by_hand():
    for length, verdict in ((18, PASSES), (19, NOT_PERMITTED)):
        strings = [{"groups": [{"plane": "west", "modules": length}]}]
        own = small_site(planes__west__modules=24, wirings__plain__trackers__0__strings=strings)
        cold = found(own, "cold open-circuit voltage against the input", "A, string 1")[0]
        assert cold.verdict == verdict


def test_two_current_limits_have_two_severities():
    # practice.md finding 2: operating current costs yield, the short-circuit rating forbids.
    site = small_site(inverter__mppts__A__max_input_current_a=20.0)
    operating = found(site, "operating current against the maximum input current", "A")[0]
    assert operating.value == pytest.approx(2 * 12.97, rel=0.01)
    assert operating.verdict == "costs yield"
    rating = found(site, "short-circuit current against the input's rating", "A")[0]
    assert rating.value == pytest.approx(2 * 13.85 * 1.25, rel=1e-6)
    assert rating.verdict == PASSES
    small = small_site(
        inverter__mppts__A__max_input_current_a=20.0,
        inverter__mppts__A__short_circuit_rating_a=30.0,
    )
    assert (
        found(small, "short-circuit current against the input's rating", "A")[0].verdict
        == NOT_PERMITTED
    )


def test_an_operating_limit_is_no_substitute_for_the_rating():
    missing = found(small_site(), "short-circuit current against the input's rating", "B")
    assert [each.verdict for each in missing] == [NOT_CHECKED]


# Isc 12.28 A, rating 20 A, strings in parallel: needed or not by edition (read).
@pytest.mark.parametrize(
    ("profile", "two", "three", "four"),
    [
        ("iec-62548-2016", False, True, True),
        ("iec-60364-7-712-2017", False, True, True),
        ("iec-62548-1-2023", False, True, True),
    ],
)
def test_string_fuses_by_edition(profile, two, three, four):
    assert [fuses_needed(profile, n, 12.28, 20.0) for n in (2, 3, 4)] == [two, three, four]


def test_editions_disagree_on_the_same_design():
    # Isc 9.0 A, rating 20 A, three strings: 18.0 no; 22.5 yes; 22.5 < 27 no. Four: 2016 yes.
    answers = {
        profile: fuses_needed(profile, 3, 9.0, 20.0)
        for profile in ("iec-62548-2016", "iec-62548-1-2023", "iec-60364-7-712-2017")
    }
    assert answers == {
        "iec-62548-2016": False,
        "iec-62548-1-2023": True,
        "iec-60364-7-712-2017": False,
    }
    assert fuses_needed("iec-62548-2016", 4, 9.0, 20.0)
    assert not fuses_needed("iec-62548-1-2023", 2, 9.0, 20.0)
    assert fuses_needed("iec-62548-1-2023", 2, 9.0, 20.0, backfeed_a=10.0)


def test_no_current_feeds_back_unless_one_is_stated():
    # Three strings of 9.75 A: 2 x 9.75 = 19.5 A stay below the rating of 20 A.
    assert not fuses_needed("iec-62548-2016", 3, 9.75, 20.0)
    assert fuses_needed("iec-62548-2016", 3, 9.75, 20.0, backfeed_a=0.6)


# Fuse window of 2016, read: 12.28 A and 20 A give 20 A; 9.24 A and 15 A give 15 A.
@pytest.mark.parametrize(
    ("i_sc", "rating", "low", "high", "size"),
    [(12.28, 20.0, 18.42, 20.0, 20.0), (9.24, 15.0, 13.86, 15.0, 15.0)],
)
def test_fuse_windows(i_sc, rating, low, high, size):
    found_low, found_high, found_size = fuse_window("iec-62548-2016", i_sc, rating)
    assert found_low == pytest.approx(low)
    assert found_high == pytest.approx(high)
    assert found_size == size


def test_an_empty_window_rounds_to_nothing():
    assert fuse_window("iec-62548-2016", 14.0, 20.0)[2] is None


def test_nec_takes_the_next_size_above_156_percent():
    # 690.9: 9.5 A gives 14.84 A, hence 15 A (read).
    low, _high, size = fuse_window("nec-690", 9.5, 20.0)
    assert low == pytest.approx(14.84, abs=0.01)
    assert size == 15.0


def test_unequal_strings_are_told_what_flows_when_nothing_is_drawn():
    site = small_site(
        wirings__plain__trackers__0__strings=[
            {"groups": [{"plane": "west", "modules": 12}]},
            {"groups": [{"plane": "west", "modules": 10}]},
        ]
    )
    names = {each.check: each for each in check(site, "plain") if each.subject == "A"}
    reverse = [each for name, each in names.items() if "reverse current" in name]
    assert reverse
    # practice.md step 5: 12.0 A into the 10-string beside 12, at 1000 W/m2.
    assert 9.0 < reverse[0].value < 14.0


def test_comparisons_never_pass_without_a_limit():
    for compare in (at_most, at_least):
        none = compare("c", "s", 1.0, None, "V", "r", missing="The limit")
        assert none.verdict == NOT_CHECKED
        assert none.advice == "The limit is not known."
        blank = compare("c", "s", float("nan"), 5.0, "V", "r", missing="The value")
        assert blank.verdict == NOT_CHECKED
    assert at_most("c", "s", 5.0, 5.0, "V", "r", missing="").verdict == PASSES
    assert at_most("c", "s", 5.1, 5.0, "V", "r", missing="").verdict == NOT_PERMITTED
    assert at_least("c", "s", 5.1, 5.0, "V", "r", missing="").margin == pytest.approx(0.1)
    assert Finding("c", "s", PASSES, 3.0, 5.0).margin == 2.0


def test_margins_of_what_passes_are_never_negative():
    for wiring in MAPPING["wirings"]:
        for each in check(small_site(), wiring["name"]):
            if each.verdict == PASSES and not np.isnan(each.margin):
                assert each.margin >= -1e-6, each


def test_every_check_is_reported_and_counted():
    everything = check(small_site(), "plain")
    assert sum(counts(everything).values()) == len(everything)


@pytest.mark.parametrize(
    ("check_name", "limit_key"),
    [
        ("start-up voltage against hot open-circuit voltage", "start_voltage_v"),
        ("hot operating voltage against the window", "mpp_voltage_min_v"),
    ],
)
def test_the_number_of_modules_that_would_do_is_the_least_that_does(check_name, limit_key):
    content = mapping()
    limits = {"start_voltage_v": 700, "stop_voltage_v": 90, "mpp_voltage_min_v": 690}
    content["inverter"]["mppts"] = [
        {**each, **limits, "connectors": 2} for each in content["inverter"]["mppts"]
    ]
    (first, *_) = found(site_from_mapping(content), check_name, "A, string 1")
    of_one, limit = first.value / 12, limits[limit_key]
    (least,) = map(int, re.findall(r"At least (\d+) modules\.", first.advice))
    assert least > 12
    assert least * of_one >= limit > (least - 1) * of_one
