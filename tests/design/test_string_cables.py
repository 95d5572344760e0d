"""String cables against what they carry: tables, hand examples, assumptions, sections."""

import numpy as np
import pytest

from tests.config.small import SITE, mapping, refusal, sentence, with_changes
from yieldkit.config.models.conductors import SECTIONS, AcLead, Cable
from yieldkit.config.site.files import load_site, site_from_mapping
from yieldkit.design.checks.findings import COSTS_YIELD, NOT_CHECKED, NOT_PERMITTED, PASSES
from yieldkit.design.checks.limits import check, site_facts
from yieldkit.design.checks.string_cables import AMPACITY, DROP, needed_ampacity
from yieldkit.design.equipment.ampacity import (
    ampacity_base,
    bunching_factor,
    lead_ampacity,
    string_cable_ampacity,
)
from yieldkit.design.equipment.cables import (
    ac_lead_impedance,
    cross_sections,
    resistance_per_m,
    string_resistance,
)
from yieldkit.design.permitted.arrangements import forbidding_check
from yieldkit.design.standards import standard_table

pytestmark = pytest.mark.slow

THIN = {"length_m": 80, "cross_section_mm2": 1.5}
STATED = {"laying_method": "free-in-air", "temp_ambient_c": 70.0, "circuits_bunched": 6}


def site_of(strings, cable, modules=20, fuse=None, **changes):
    """Return the demonstration with equal strings of one plane on its first input."""
    string = {"groups": [{"plane": "west roof", "modules": modules}], "cable": cable}
    if fuse:
        string["fuse_a"] = fuse
    wiring = {
        "name": "own",
        "trackers": [{"mppt": "MPPT 1", "strings": [string] * strings}],
    }
    return load_site().variant(
        {
            "wirings": [wiring],
            "planes.west roof.modules": modules * strings,
            "planes.west roof.drawing": [],
            "planes.west roof.cable_exit": None,
            "inverter.mppts.MPPT 1.connectors": strings,
            **changes,
        },
    )


def with_cable(cable):
    """Return the small site with a cable on its first string, unchecked."""
    string = {"groups": [{"plane": "west", "modules": 12}], "cable": cable}
    return with_changes(wirings__plain__trackers__0__strings__0=string)


def found(site, name):
    """Return the first finding of a name."""
    return next(each for each in check(site) if each.check == name)


@pytest.mark.parametrize("cable", [THIN, THIN | STATED], ids=["assumed", "stated"])
def test_five_strings_on_thin_cable_with_fuses_are_not_permitted(cable):
    # 30 A x 0.92 (70 degC) x 0.57 (six circuits) = 15.7 A, against 1.25 x 13.95 = 17.4 A and the
    # 25 A fuse; drop 13.19 A x 2 x 80 m x 13.7 mohm/m x 1.157 over 20 x 32.6 V; by hand.
    site = site_of(5, cable, fuse=25.0)
    carried = found(site, AMPACITY)
    assert carried.verdict == NOT_PERMITTED
    assert carried.essential
    assert carried.value == pytest.approx(30.0 * 0.92 * 0.57, abs=1e-9)
    assert carried.value == pytest.approx(15.7, abs=0.04)
    assert carried.limit == 25.0
    assert carried.advice.startswith("1.5 mm2 carries 15.7 A, needed is the 25 A fuse: a thicker")
    assert ("70 degC around it (assumed), 6 bunched (assumed)" in carried.rule) == (cable is THIN)
    assert "free in air" in carried.rule
    drop = found(site, DROP)
    assert drop.verdict == COSTS_YIELD
    assert drop.value == pytest.approx(5.1, abs=0.05)
    assert drop.advice.startswith("33.5 V at rated current: a thicker or shorter cable")


@pytest.mark.parametrize(
    ("strings", "fuse", "needed", "why"),
    [
        (1, None, 17.4375, "1.25 x Isc 13.95 A"),
        (2, None, 17.4375, "1.25 x Isc 13.95 A"),  # 13.95 A from the other string
        (4, None, 41.85, "3 x 1 x Isc of the other strings"),
        (4, 15.0, 17.4375, "1.25 x Isc 13.95 A"),
        (4, 25.0, 25.0, "the 25 A fuse"),
        (1, 32.0, 32.0, "the 32 A fuse"),
    ],
)
def test_what_a_cable_has_to_carry(strings, fuse, needed, why):
    amperes, words = needed_ampacity("iec-62548-2016", 13.95, (13.95,) * (strings - 1), fuse)
    assert amperes == pytest.approx(needed)
    assert words == why


def test_profiles_and_backfeed_count_in_what_others_feed_back():
    amperes, words = needed_ampacity("iec-62548-1-2023", 10.0, (10.0, 10.0), None, 7.0)
    assert amperes == pytest.approx(2 * 1.25 * 10.0 + 7.0)
    assert words == "2 x 1.25 x Isc of the other strings and 7 A of backfeed"


def test_unfused_strings_on_a_thin_cable_are_not_permitted_and_not_proposed():
    site = site_of(4, {"length_m": 20, "cross_section_mm2": 4}, modules=10)
    carried = found(site, AMPACITY)
    assert carried.verdict == NOT_PERMITTED
    assert carried.limit == pytest.approx(41.85)
    assert carried.value == pytest.approx(55.0 * 0.92 * 0.57)
    tracker = site.wirings[0].trackers[0]
    roomy = site.variant(
        {
            "inverter.mppts.MPPT 1.short_circuit_rating_a": 100,
            "module_types.0.max_ocpr_a": 60,
            "inverter.dc_isolator.rated_current_a": 100,
        },
    )
    reason, _ = forbidding_check(roomy, roomy.inverter.mppts[0], tracker.strings, site_facts(roomy))
    assert reason == AMPACITY


def test_the_demonstration_passes_and_says_what_is_assumed():
    for wiring in load_site().wirings:
        for each in check(load_site(), wiring):
            if each.check in (AMPACITY, DROP):
                assert each.verdict == PASSES, each


def test_a_cable_that_is_not_described_is_not_checked():
    for name in (AMPACITY, DROP):
        each = found(SITE, name)
        assert each.verdict == NOT_CHECKED
        assert each.essential == (name == AMPACITY)
        assert each.advice == "The string's cable is not known."


def test_what_no_table_says_is_not_checked():
    crowded = site_of(1, {**THIN, **STATED, "circuits_bunched": 40})
    each = found(crowded, AMPACITY)
    assert each.verdict == NOT_CHECKED
    assert each.advice == (
        "The ampacity of this section, laying, ambient and bunching is not known."
    )
    assert found(site_of(1, THIN | {"temp_ambient_c": 95.0}), AMPACITY).verdict == NOT_CHECKED


def test_more_strings_on_an_input_are_assumed_to_run_together():
    cable = Cable(length_m=10.0, cross_section_mm2=4.0)
    carried = [string_cable_ampacity(cable, number) for number in (1, 6, 8, 10, 60)]
    assert [round(each.factor / 0.92, 6) for each in carried] == [0.57, 0.57, 0.52, 0.45, 0.38]
    assert "10 bunched (assumed)" in carried[3].words


def test_nec_looks_at_the_cable_before_correction_too():
    # 1.5625 x 13.95 = 21.8 A before correction; cool and alone the factor is 1.
    cool = {"temp_ambient_c": 30.0, "circuits_bunched": 1}
    site = site_of(1, THIN | cool, **{"standards.strings": "nec-690"})
    assert found(site, AMPACITY).limit == pytest.approx(1.5625 * 13.95)
    hot = site_of(1, THIN, **{"standards.strings": "nec-690"})
    assert found(hot, AMPACITY).limit == pytest.approx(1.25 * 13.95)


def test_layings_of_pv_cable_carry_less_and_less():
    for section in SECTIONS["copper", "class-5-tinned"][:-1]:
        air, surface, two = (
            ampacity_base("pv-cable", 2, way, section)
            for way in ("free-in-air", "on-surface", "two-touching")
        )
        assert air > surface > two
        assert two / air == pytest.approx(0.81, abs=0.02)


def _whole(material, insulation, loaded, method):
    sections = SECTIONS[material, "class-2"]
    return [ampacity_base(insulation, loaded, method, each, material) for each in sections]


@pytest.mark.parametrize("material", ["copper", "aluminium"])
@pytest.mark.parametrize("insulation", ["pvc", "xlpe"])
@pytest.mark.parametrize("loaded", [2, 3])
@pytest.mark.parametrize("method", ["A1", "B1", "B2", "C", "D1", "D2", "E"])
def test_ampacities_are_plausible(material, insulation, loaded, method):
    values = np.array(_whole(material, insulation, loaded, method))
    known = values[~np.isnan(values)]
    assert known.size >= 11
    assert not np.isnan(values[-11:]).any()
    assert (np.diff(known) > 0).all()
    # Ampacity grows as a power of the section, in steps that fit their neighbours.
    sections = np.array(SECTIONS[material, "class-2"])[-known.size :]
    slope = np.diff(np.log(known)) / np.diff(np.log(sections))
    assert ((slope > 0.25) & (slope < 0.77)).all(), slope
    if loaded == 2:
        three = np.array(_whole(material, insulation, 3, method))[-known.size :]
        assert ((three / known > 0.79) & (three / known < 0.95)).all()
    if material == "aluminium":
        copper = np.array(_whole("copper", insulation, loaded, method))[-known.size :]
        ratio = known / copper
        assert ((ratio > 0.71) & (ratio < 0.84)).all(), ratio
    if insulation == "xlpe":
        pvc = np.array(_whole(material, "pvc", loaded, method))[-known.size :]
        assert ((known / pvc > 1.1) & (known / pvc < 1.5)).all()


@pytest.mark.parametrize(("material", "kind"), list(SECTIONS))
def test_resistances_are_plausible_up_to_300_mm2(material, kind):
    assert SECTIONS[material, kind] == cross_sections(material, kind)
    assert SECTIONS[material, kind][-1] == 300.0
    per_m = [resistance_per_m(each, material, kind, 20.0) for each in SECTIONS[material, kind]]
    assert (np.diff(per_m) < 0).all()
    products = np.array(per_m) * np.array(SECTIONS[material, kind])
    usual = {"copper": 0.0193, "aluminium": 0.0305}[material]
    assert products == pytest.approx(usual, rel=0.08)


# IEC 60364-5-52 table B.52.4, copper, method B2 at 95 and 120 mm2: 179 and 206 A; read.
# The others from memory: 300 mm2 copper C 464 A, aluminium B1 240 mm2 XLPE three loaded 351 A.
def test_sections_above_70():
    assert ampacity_base("pvc", 3, "B2", 95.0) == 179.0
    assert ampacity_base("pvc", 3, "B2", 120.0) == 206.0
    assert ampacity_base("pvc", 3, "C", 300.0) == 464.0
    assert ampacity_base("xlpe", 3, "B1", 240.0, "aluminium") == 351.0
    assert resistance_per_m(240.0, "aluminium", "class-2", 20.0) == pytest.approx(0.125e-3)
    marks = set(standard_table("ampacity")["status"]) | set(standard_table("conductors")["status"])
    assert marks == {"read", "from memory"}


def test_conductors_in_parallel_share_current_and_resistance():
    one = AcLead(length_m=60.0, cross_section_mm2=150.0, material="aluminium")
    two = one.model_copy(update={"conductors_in_parallel": 2})
    assert lead_ampacity(two, 3) == pytest.approx(2.0 * lead_ampacity(one, 3))
    assert lead_ampacity(one, 3) == 176.0
    halved = np.array(ac_lead_impedance(one, 3)) / 2.0
    assert ac_lead_impedance(two, 3) == pytest.approx(tuple(halved))
    cable = Cable(length_m=60.0, cross_section_mm2=6.0)
    pair = cable.model_copy(update={"conductors_in_parallel": 2})
    assert string_resistance(pair) == pytest.approx(string_resistance(cable) / 2.0)
    assert string_cable_ampacity(pair, 1).amperes == pytest.approx(
        2.0 * string_cable_ampacity(cable, 1).amperes
    )


def test_buried_leads_are_rated_in_warm_ground_and_beside_others():
    lead = AcLead(
        length_m=60.0,
        cross_section_mm2=16.0,
        insulation="xlpe",
        installation_method="D2",
        circuits_bunched=2,
    )
    # 84 A in ground of 20 degC; 0.93 at 30 degC, 0.75 beside another; from memory.
    assert lead_ampacity(lead, 3) == pytest.approx(84.0 * 0.93 * 0.75)
    assert bunching_factor(2, "D1") == 0.85
    assert np.isnan(bunching_factor(7, "D2"))


@pytest.mark.parametrize(("section", "meant"), [(3.0, "4"), (8.0, "10"), (400.0, "300")])
def test_sections_that_nobody_makes_are_refused_at_loading(section, meant):
    cable = {"length_m": 20.0, "cross_section_mm2": section}
    said = sentence(with_cable(cable))
    assert f"{section:g} mm2" in said
    assert "nominal cross-section of copper, class-5-tinned: 1.5, 2.5, 4" in said
    assert f"Is it {meant}" in said
    assert ("for more use conductors_in_parallel" in said) == (section > 300)
    lead = sentence(mapping() | {"grid": {"lead": cable}})
    assert "nominal cross-section of copper, class-2: 1.5, 2.5, 4" in lead


def test_aluminium_has_its_own_sections_and_class():
    cable = {"length_m": 20.0, "cross_section_mm2": 16.0, "material": "aluminium"}
    content = with_cable(cable)
    assert "Write conductor_class: class-2" in sentence(content)
    thin = mapping() | {"grid": {"lead": cable | {"cross_section_mm2": 6.0}}}
    assert "nominal cross-section of aluminium, class-2: 10, 16" in sentence(thin)
    site_from_mapping(mapping() | {"grid": {"lead": cable | {"cross_section_mm2": 240.0}}})
    assert len(refusal(mapping() | {"grid": {"lead": cable | {"material": "gold"}}}).problems) == 1
