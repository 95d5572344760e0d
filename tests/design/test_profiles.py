"""What a missing datum and another edition make of the verdicts."""

import pytest

from tests.config.small import mapping, site_from_mapping, with_changes
from tests.study.sites import demo_mapping, variant
from yieldkit.config.reading.changes import changed
from yieldkit.design.checks.findings import NOT_APPLICABLE, NOT_CHECKED, NOT_PERMITTED, PASSES
from yieldkit.design.checks.limits import check
from yieldkit.design.standards import standard_table

pytestmark = pytest.mark.slow

PROFILES = tuple(dict.fromkeys(standard_table("string_rules")["profile"]))


def verdicts(site, name):
    """Return verdicts by check and subject."""
    return {(each.check, each.subject): each.verdict for each in check(site, name)}


FULL = {
    "grid.bonding_conductor_mm2": 6.0,
    "inverter.max_dc_short_circuit_a": 120.0,
}
# Fields of a datasheet or of the place; each feeds at least one check.
FIELDS = {
    "module_types.0.max_system_voltage_v": "cold open-circuit voltage against module",
    "module_types.0.max_ocpr_a": "string overcurrent protection",
    "inverter.mppts.0.max_input_current_a": "operating current",
    "inverter.mppts.0.short_circuit_rating_a": "short-circuit current",
    "inverter.mppts.0.max_current_per_connector_a": "current of a connector",
    "inverter.mppts.0.full_power_voltage_min_v": "full-power window",
    "inverter.mppts.0.max_power_w": "power",
    "inverter.dc_isolator": "isolator",
    "inverter.connector_rated_voltage_v": "cold open-circuit voltage against connector",
    "inverter.surge_protection": "surge",
    "inverter.topology": "",
    "inverter.residual_current_monitor": "",
    "inverter.max_dc_power_w": "power",
    "inverter.ac.max_overcurrent_device_a": "",
    "grid.lead": "AC lead",
    "grid.lead.overcurrent_device_a": "overcurrent",
    "site.ground_flash_density_per_km2_year": "surge",
}


@pytest.mark.parametrize("field", FIELDS)
def test_a_field_left_out_is_never_a_pass(field):
    name = "west and east in parallel"
    before = verdicts(variant(FULL), name)
    after = verdicts(variant(FULL | {field: None}), name)
    newly = {key for key, verdict in after.items() if verdict == PASSES} - {
        key for key, verdict in before.items() if verdict == PASSES
    }
    assert newly == set(), field
    more = [
        key
        for key, verdict in after.items()
        if verdict == NOT_CHECKED and before.get(key) != NOT_CHECKED
    ]
    if FIELDS[field]:
        assert more, f"{field}: no check became NOT CHECKED"
        assert any(FIELDS[field] in check_name for check_name, _subject in more), more


def test_a_missing_voltage_coefficient_is_no_pass_in_the_cold():
    content = mapping()
    types = [dict(content["module_types"][0])]
    del types[0]["beta_voc"]
    site = site_from_mapping(changed(content, {"module_types": types}))
    cold = [each for each in check(site, "plain") if each.check.startswith("cold open-circuit")]
    assert cold
    assert all(each.verdict != PASSES for each in cold)


def test_a_missing_design_temperature_is_no_pass():
    site = site_from_mapping(with_changes(site__design_temperatures={"highest_ambient_c": 36}))
    cold = [each for each in check(site, "plain") if each.check.startswith("cold ")]
    assert cold
    assert all(each.verdict != PASSES for each in cold)


def three_strings(profile):
    """Return three strings of modules with 9 A and 20 A on one input, under a profile."""
    types = [
        dict(
            demo_mapping()["module_types"][0],
            i_sc_a=9.0,
            i_mp_a=8.5,
            p_max_w=277.0,
            max_ocpr_a=20.0,
        )
    ]
    inputs = [dict(each) for each in demo_mapping()["inverter"]["mppts"]]
    inputs[0] |= {"connectors": 3, "max_input_current_a": 40.0, "short_circuit_rating_a": 60.0}
    wired = [
        {
            "name": "three",
            "trackers": [
                {
                    "mppt": "MPPT 1",
                    "strings": [{"groups": [{"plane": "west roof", "modules": 9}]}] * 3,
                }
            ],
        }
    ]
    return variant(
        {"module_types": types, "inverter.mppts": inputs, "standards.strings": profile}, wired
    )


def test_one_design_under_four_profiles():
    vector = {
        profile: verdicts(three_strings(profile), "three")[
            ("string overcurrent protection", "MPPT 1")
        ]
        for profile in PROFILES
    }
    assert vector == {
        "iec-62548-2016": PASSES,
        "iec-60364-7-712-2017": PASSES,
        "iec-62548-1-2023": NOT_PERMITTED,
        "nec-690": NOT_PERMITTED,
    }


def test_profiles_are_the_configurations_words():
    from yieldkit.config.site.site import Standards

    assert set(Standards.model_fields["strings"].annotation.__args__) == set(PROFILES)


def test_every_wiring_gets_the_same_kinds_of_checks():
    site = variant()
    kinds = [{each.check for each in check(site, wiring.name)} for wiring in site.wirings]
    for other in kinds[1:]:
        assert kinds[0] == other


def test_rules_name_edition_and_status():
    for each in check(variant(), "lopsided"):
        assert each.rule or each.verdict in (NOT_CHECKED, NOT_APPLICABLE), each


# IEC 60364-7-712:2017, 712.443.101: critical length by ground flash density, from memory.
@pytest.mark.parametrize(
    ("building", "density", "metres"),
    [
        ("dwelling", 0.5, 230.0),
        ("dwelling", 2.0, 57.5),
        ("dwelling", 4.0, 28.75),
        ("other", 1.0, 450.0),
        ("other", 4.0, 112.5),
    ],
)
def test_critical_lengths_for_surge_protection(building, density, metres):
    from yieldkit.config.site.site import Place

    assert building in str(Place.model_fields["building"].annotation)
    site = variant(
        {
            "site.building": building,
            "site.ground_flash_density_per_km2_year": density,
            "inverter.surge_protection": None,
        }
    )
    own = [
        each
        for each in check(site, "lopsided")
        if each.check == "surge protection by critical length"
    ]
    assert own[0].limit == pytest.approx(metres)
    assert own[0].verdict == (PASSES if own[0].value < metres else NOT_PERMITTED)
