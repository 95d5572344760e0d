"""Fuses, reverse current, isolators, surge protection and leakage, each case by hand."""

import math

import pytest

from tests.study.several import twice
from tests.study.sites import demo_mapping, string, variant, wiring
from yieldkit.design.checks.findings import (
    COSTS_YIELD,
    NOT_APPLICABLE,
    NOT_CHECKED,
    NOT_PERMITTED,
    PASSES,
)
from yieldkit.design.checks.limits import check
from yieldkit.design.checks.rules import isolator_category, switching_categories

pytestmark = pytest.mark.slow


def found(site, check_name, subject=None):
    """Return the one finding of a check."""
    own = [
        each
        for each in check(site, site.wirings[0])
        if each.check == check_name and subject in (None, each.subject)
    ]
    assert len(own) == 1, own
    return own[0]


def parallel(lengths, changes=None, fuse_a=None):
    """Return a site with strings of so many modules on one input."""
    inputs = [dict(each) for each in demo_mapping()["inverter"]["mppts"]]
    inputs[0] |= {
        "connectors": len(lengths),
        "max_input_current_a": 120.0,
        "short_circuit_rating_a": 150.0,
    }
    strings = [string(("west roof", length)) for length in lengths]
    for each in strings if fuse_a else ():
        each["fuse_a"] = fuse_a
    base = {"inverter.mppts": inputs, "planes.0.modules": sum(lengths)}
    return variant(base | (changes or {}), [wiring("w", MPPT_1=strings)])


def nec(i_sc, fuse_a, profile="nec-690"):
    """Return the fuse's finding of three strings of modules with a rating of 25 A."""
    changes = {
        "module_types.0.i_sc_a": i_sc,
        "module_types.0.i_mp_a": 0.95 * i_sc,
        "module_types.0.p_max_w": round(0.95 * i_sc * 32.6),
        "standards.strings": profile,
    }
    return found(parallel((7, 7, 7), changes, fuse_a), "string fuse rating", "MPPT 1")


# 690.9(B): 1.5625 x 12.8 A is 20.0 A, and a fuse of 20 A is enough.
def test_a_fuse_at_the_codes_lower_end_is_allowed():
    good = nec(12.8, 20.0)
    assert good.verdict == PASSES
    assert good.value == 20.0
    small = nec(12.9, 20.0)
    assert small.verdict == NOT_PERMITTED
    assert small.advice == "At least 20.2 and up to 25 A, such as 25 A."


def test_where_a_code_asks_for_more_than_the_bound_its_lower_end_is_not_allowed():
    # IEC 62548:2016: above 1.5 Isc; 13.333... A gives 20 A.
    at = nec(40.0 / 3.0, 20.0, "iec-62548-2016")
    assert at.verdict == NOT_PERMITTED
    assert at.advice == "Above 20.0 and up to 25 A, such as 25 A."
    assert nec(13.3, 20.0, "iec-62548-2016").verdict == PASSES


def test_an_upper_end_below_the_lower_one_says_that_no_rating_fits():
    refused = nec(17.0, 25.0, "iec-62548-2016")
    assert refused.verdict == NOT_PERMITTED
    assert refused.advice == "Above 25.5 and up to 25 A; no preferred rating fits."


def test_the_weakest_module_of_an_input_sets_what_a_fault_may_feed():
    # Three strings of 13 A: the other two feed 2 x 13 = 26 A; one module type bears 20 A, one 30.
    base = demo_mapping()
    strong = base["module_types"][0] | {"i_sc_a": 13.0, "i_mp_a": 12.3, "p_max_w": 401.0}
    types = (
        strong | {"name": "strong", "max_ocpr_a": 30.0},
        strong | {"name": "weak", "max_ocpr_a": 20.0},
    )
    planes = [
        base["planes"][0] | {"modules": 14, "module_type": "strong"},
        base["planes"][1] | {"modules": 7, "module_type": "weak"},
    ]
    inputs = [
        base["inverter"]["mppts"][0]
        | {"connectors": 3, "max_input_current_a": 120.0, "short_circuit_rating_a": 150.0}
    ]
    lengths = [string(("west roof", 7)), string(("west roof", 7)), string(("east roof", 7))]
    changes = {"module_types": types, "inverter.mppts": inputs}
    site = variant(changes, [wiring("w", MPPT_1=lengths)], planes)
    own = found(site, "string overcurrent protection", "MPPT 1")
    assert own.value == pytest.approx(26.0)
    assert own.limit == 20.0
    assert own.verdict == NOT_PERMITTED


def test_one_string_alone_needs_no_fuse():
    own = found(parallel((7,)), "string overcurrent protection", "MPPT 1")
    assert own.verdict == NOT_APPLICABLE
    assert own.advice == "One string alone feeds no fault of its own."
    rating = found(parallel((7,)), "string fuse rating", "MPPT 1")
    assert rating.verdict == NOT_APPLICABLE
    assert rating.advice == "One string alone needs no string fuse."


@pytest.mark.parametrize("built_in", [None, 25.0, 40.0])
@pytest.mark.parametrize("drawn", [None, 25.0])
def test_no_fuse_lifts_what_modules_bear_backwards(built_in, drawn):
    # Two strings of 14 feed one of 9 above its rating of 25 A.
    site = parallel((14, 14, 14, 9), {"inverter.mppts.0.string_fuses_built_in_a": built_in}, drawn)
    reverse = found(site, "reverse current of unloaded strings", "MPPT 1")
    assert reverse.value > 27.0
    assert reverse.limit == 25.0
    assert reverse.verdict == NOT_PERMITTED
    assert reverse.advice == "Make the strings equally long, or give each an input of its own."


@pytest.mark.parametrize(
    "category",
    [
        "DC-PV1",
        "DC-PV2",
        "DC-21A",
        "DC-21B",
        "DC-22A",
        "DC-22B",
        "DC-23A",
        "DC-23B",
        "dc-pv2",
        "DC21B",
    ],
)
def test_isolators_made_to_switch_pass(category):
    own = found(variant({"inverter.dc_isolator.category": category}), "DC isolator category")
    assert own.verdict == PASSES
    assert own.rule.startswith("IEC 60947-3:2020")
    assert own.rule.endswith("(from memory)")


@pytest.mark.parametrize("category", ["DC-PV0", "DC-20A", "DC-20B", "dc-pv0"])
def test_isolators_for_no_load_are_not_permitted(category):
    own = found(variant({"inverter.dc_isolator.category": category}), "DC isolator category")
    assert own.verdict == NOT_PERMITTED
    assert own.advice.startswith(f"'{category}' is made to open and close without load only. Take")
    assert "DC-PV1, DC-PV2" in own.advice


@pytest.mark.parametrize("category", ["DC-PV3", "DC-20", "DC-21", "AC-22B", "DC-PVX", "?"])
def test_unknown_isolators_are_not_permitted(category):
    own = found(variant({"inverter.dc_isolator.category": category}), "DC isolator category")
    assert own.verdict == NOT_PERMITTED
    assert own.advice.startswith(f"'{category}' is no known category. Take one of DC-21A")


def test_categories_are_rows_of_data_with_their_source():
    assert len(switching_categories()) == 8
    assert isolator_category("DC-PV2").value == 1.0
    assert isolator_category("DC-PV0").value == 0.0
    assert isolator_category("DC-PV9") is None


SECOND = "second surge protective device"


@pytest.mark.parametrize(
    ("length_m", "second", "verdict"),
    [(10.0, "none", PASSES), (10.5, "none", NOT_PERMITTED), (40.0, "type-2", PASSES)],
)
def test_beyond_10_m_a_second_surge_protective_device_is_asked_for(length_m, second, verdict):
    wired = [wiring("w", MPPT_1=[string(("west roof", 9), length_m=length_m)])]
    site = variant({"inverter.surge_protection.dc_type_at_array": second}, wired)
    own = found(site, SECOND)
    assert own.verdict == verdict
    assert own.value == length_m
    if verdict == NOT_PERMITTED:
        assert own.limit == 10.0
        assert own.advice == "Fit a second device at the array (dc_type_at_array)."


def test_a_second_device_without_known_lengths_is_not_checked():
    alone = {"inverter.surge_protection.dc_type_at_array": "none"}
    for strings in ([None], [8.0, None]):
        wired = [string(("west roof", 9), length_m=length) for length in strings]
        assert found(variant(alone, [wiring("w", MPPT_1=wired)]), SECOND).verdict == NOT_CHECKED


# A dwelling, 2 flashes per km2 and year: 115 / 2 = 57.5 m (IEC 60364-7-712, from memory).
@pytest.mark.parametrize(
    ("lengths", "verdict"),
    [
        ([60.0, None], NOT_PERMITTED),
        ([60.0, 5.0], NOT_PERMITTED),
        ([50.0, None], NOT_CHECKED),
        ([50.0, 5.0], PASSES),
    ],
)
def test_a_known_length_decides_where_it_is_too_long(lengths, verdict):
    wired = [string(("west roof", 9), length_m=length) for length in lengths]
    bare = variant({"inverter.surge_protection": None}, [wiring("w", MPPT_1=wired)])
    assert found(bare, "surge protection by critical length").verdict == verdict
    fitted = {"inverter.surge_protection.dc_type_at_array": "none"}
    own = found(variant(fitted, [wiring("w", MPPT_1=wired)]), SECOND)
    assert (own.verdict, own.value, own.limit) == (NOT_PERMITTED, lengths[0], 10.0)


LEAKAGE = "leakage current by array size"


def leak(modules, **changes):
    """Return the leakage finding of so many modules of 430 W, at 230 V and 50 Hz."""
    wired = [wiring("w", MPPT_1=[string(("west roof", modules), length_m=8.0)])]
    named = {key.replace("__", "."): value for key, value in changes.items()}
    return found(variant({"planes.0.modules": modules} | named, wired), LEAKAGE)


def test_leakage_follows_from_capacitance_frequency_and_half_the_phase_voltage():
    # 20 x 0.43 kWp x 150 nF at 115 V, 50 Hz: by hand 46.6 mA.
    by_hand = 2.0 * math.pi * 50.0 * 20 * 0.43 * 150e-9 * 115.0 * 1000.0
    assert by_hand == pytest.approx(46.6, abs=0.05)
    own = leak(20)
    assert own.value == pytest.approx(by_hand, rel=1e-9)
    assert own.limit == 300.0
    assert own.verdict == PASSES
    assert "150 nF/kWp assumed: common practice" in own.rule
    assert "IEC 62109-2:2011" in own.rule
    fast = leak(20, inverter__ac__nominal_frequency_hz=60)
    assert fast.value == pytest.approx(1.2 * by_hand)


def test_a_stated_capacitance_counts_and_more_than_the_limit_costs_yield():
    own = leak(20, module_types__0__capacitance_nf_per_kwp=1000.0)
    assert own.value == pytest.approx(46.6 * 1000.0 / 150.0, rel=1e-3)
    assert own.verdict == COSTS_YIELD
    assert not own.essential
    assert own.rule.startswith("1000 nF/kWp as stated")
    assert own.advice == "Expect the monitoring to trip in the wet."


@pytest.mark.parametrize(("kva", "limit"), [(15.0, 300.0), (30.0, 300.0), (50.0, 500.0)])
def test_the_limit_grows_with_inverters_above_30_kva(kva, limit):
    watts = {
        "inverter__ac__nominal_power_w": 1000.0 * kva,
        "inverter__ac__max_power_w": 1000.0 * kva,
        "inverter__ac__max_apparent_power_va": 1000.0 * kva,
        "inverter__ac__max_current_a": None,
        "inverter__derating": (),
    }
    assert leak(20, **watts).limit == pytest.approx(limit)


def test_thin_film_is_assumed_to_hold_more_and_a_transformer_keeps_it_inside():
    thin = leak(20, module_types__0__technology="cigs")
    assert thin.value == pytest.approx(46.6 * 1000.0 / 150.0, rel=1e-3)
    inside = leak(20, inverter__topology="transformer")
    assert inside.verdict == "not applicable"
    assert inside.advice == "A transformer keeps it inside."
    assert leak(20, inverter__topology=None).verdict == NOT_CHECKED


def backfed(lengths, amperes, changes=None, fuse_a=None):
    """Return a site of modules rated at 25 A with an inverter that feeds back."""
    return parallel(lengths, (changes or {}) | {"inverter.backfeed_current_a": amperes}, fuse_a)


@pytest.mark.parametrize(
    ("check_name", "verdict"),
    [
        ("string overcurrent protection", PASSES),
        ("string fuse rating", NOT_APPLICABLE),
        ("reverse current of unloaded strings", PASSES),
        ("string cable's ampacity", NOT_CHECKED),
    ],
)
def test_backfeed_left_out_is_assumed_none_and_said(check_name, verdict):
    one = found(parallel((7, 7)), "string overcurrent protection", "MPPT 1")
    assert one.rule.endswith("; backfeed 0 A assumed")
    cable = {"length_m": 10.0, "cross_section_mm2": 4.0}
    site = parallel((7, 7)).variant({"wirings.0.trackers.0.strings.0.cable": cable})
    subject = "MPPT 1, string 2" if "cable" in check_name else "MPPT 1"
    assert found(site, check_name, subject).verdict == verdict
    carried = found(site, "string cable's ampacity", "MPPT 1, string 1")
    assert "; not fused; backfeed 0 A assumed; " in carried.rule
    reverse = found(site, "reverse current of unloaded strings", "MPPT 1")
    assert reverse.rule.endswith("; backfeed 0 A assumed")


# IEC 62548-1, I_F + I_BF > I_MOD_MAX_OCPR: 1 x 13.95 + 12 A is 25.95 A against 25 A.
def test_backfeed_makes_fuses_needed_for_two_strings_and_for_one():
    check_name = "string overcurrent protection"
    for amperes, verdict in ((11.0, PASSES), (12.0, NOT_PERMITTED)):
        own = found(backfed((7, 7), amperes), check_name, "MPPT 1")
        assert own.verdict == verdict
        assert own.value == pytest.approx(13.95 + amperes)
        assert own.rule.endswith(f"; backfeed {amperes:g} A as stated")
    alone = found(backfed((7,), 26.0), check_name, "MPPT 1")
    assert (alone.verdict, alone.value) == (NOT_PERMITTED, 26.0)
    assert alone.advice == "Fit 25 A fuses in every string."
    assert found(backfed((7,), 24.0), check_name, "MPPT 1").verdict == PASSES
    assert found(backfed((7,), 26.0, fuse_a=25.0), check_name, "MPPT 1").verdict == PASSES
    # Two strings are free of fuses without it; 1.25 x 13.95 + 17 A is 34.4 A against 1.35 x 25 A.
    two = {"standards.strings": "iec-60364-7-712-2017"}
    assert found(backfed((7, 7), 0.0, two), check_name, "MPPT 1").verdict == PASSES
    assert found(backfed((7, 7), 17.0, two), check_name, "MPPT 1").verdict == NOT_PERMITTED


def test_backfeed_counts_as_reverse_current_unless_diodes_keep_it_out():
    check_name = "reverse current of unloaded strings"
    free = found(parallel((14, 13)), check_name, "MPPT 1")
    fed = found(backfed((14, 13), 5.0), check_name, "MPPT 1")
    assert fed.value == pytest.approx(free.value + 5.0)
    alone = found(backfed((7,), 26.0), check_name, "MPPT 1")
    assert (alone.verdict, alone.value) == (NOT_PERMITTED, 26.0)
    assert alone.advice == "Fit string fuses, or choose an inverter with less backfeed."
    none = found(parallel((7,)), check_name, "MPPT 1")
    assert none.verdict == NOT_APPLICABLE
    assert none.advice == "One string on this input, backfeed 0 A assumed."
    blocked = backfed((7,), 26.0).variant({"inverter.mppts.0.blocking_diodes": True})
    kept = found(blocked, check_name, "MPPT 1")
    assert (kept.verdict, kept.value) == (PASSES, 0.0)
    assert kept.rule.endswith("; backfeed 26 A as stated, kept out by the blocking diodes")


# 4 mm2 single in free air at 70 degC, six bunched by default: less than 45 A of backfeed.
def test_backfeed_has_to_be_carried_by_the_cable_of_one_string_alone():
    cable = {"length_m": 10.0, "cross_section_mm2": 4.0}
    site = backfed((7,), 45.0).variant({"wirings.0.trackers.0.strings.0.cable": cable})
    own = found(site, "string cable's ampacity", "MPPT 1, string 1")
    assert (own.verdict, own.limit) == (NOT_PERMITTED, 45.0)
    assert "needed is 45 A of backfeed: a thicker cable" in own.advice


def test_what_hangs_on_an_inverter_without_strings_is_neither_passed_nor_open():
    # Nothing is known of the idle inverter's isolator, and no cable of it has a length.
    drawn = demo_mapping()["inverter"]
    other = {key: value for key, value in drawn.items() if key != "dc_isolator"}
    site = twice(types=[drawn, other | {"name": "other (invented)"}])
    wired = site.wirings[0]
    alone = [each for each in wired.trackers if each.inverter == "north"]
    findings = check(site, wired.model_copy(update={"trackers": tuple(alone)}))
    idle = {each.check: each for each in findings if each.subject.startswith("south / ")}
    for name in (
        "DC isolator category",
        "DC isolator current",
        "surge protection by critical length",
        "second surge protective device",
        "leakage current by array size",
        "DC/AC ratio",
        "one connector type per mated pair",
    ):
        assert idle[name].verdict == NOT_APPLICABLE, name
        assert idle[name].advice == "No string hangs on this inverter."
    assert idle["DC injection (type test)"].verdict == NOT_CHECKED
    of_both = {each.check: each for each in check(site) if each.subject.startswith("south / ")}
    assert of_both["DC isolator category"].verdict == NOT_CHECKED
    assert of_both["DC/AC ratio"].verdict == PASSES
    assert not [each for each in idle.values() if each.verdict == NOT_CHECKED and each.essential]
