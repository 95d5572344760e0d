"""Bifacial modules: what light from behind adds to currents, against hand examples."""

import pytest

from tests.config.small import sentence, with_changes
from yieldkit.config.site.files import load_site
from yieldkit.design.checks.findings import NOT_APPLICABLE, NOT_CHECKED, NOT_PERMITTED, PASSES
from yieldkit.design.checks.limits import check, site_facts
from yieldkit.design.checks.rear_irradiance import rear_factor
from yieldkit.design.checks.string_cables import AMPACITY
from yieldkit.design.checks.wired import string_facts

pytestmark = pytest.mark.slow

# Isc 18.4 A: 1.25 x 18.4 = 23.0 A; 80 % bifacial and 135 W/m2: 25.5 A; 300 W/m2: 28.5 A.
BRIGHT = {
    "module_types.0.i_sc_a": 18.4,
    "module_types.0.i_mp_a": 17.3,
    "module_types.0.p_max_w": 564,
}
BIFACIAL = BRIGHT | {"module_types.0.bifaciality": 0.8}
SHORT = "short-circuit current against the input's rating"
STRONG = "short-circuit current in strong light from behind"


def found(changes, name, subject="MPPT 3", wiring="one plane per tracker"):
    """Return a finding of the changed demonstration."""
    site = load_site().variant(changes)
    return next(
        each
        for each in check(site, wiring)
        if each.check == name and each.subject.startswith(subject)
    )


def test_light_from_behind_counts_in_the_short_circuit_current():
    assert found(BRIGHT, SHORT).value == pytest.approx(23.0)
    each = found(BIFACIAL, SHORT)
    assert each.value == pytest.approx(25.484)
    assert each.value == pytest.approx(25.5, abs=0.02)
    assert each.verdict == NOT_PERMITTED
    assert each.rule.endswith("135 W/m2 from behind (assumed), 1.108 x Isc of the front")


def test_much_light_from_behind_is_a_caution():
    each = found(BIFACIAL | {"inverter.mppts.MPPT 3.short_circuit_rating_a": 26}, STRONG)
    assert each.verdict == NOT_CHECKED
    assert not each.essential
    assert each.value == pytest.approx(28.52)
    assert each.advice == (
        "Caution: 300 W/m2 from behind (snow, bright ground) make 28.5 A against a rating of 26 A: "
        "ask the maker whether the input bears it."
    )
    roomy = found(BIFACIAL | {"inverter.mppts.MPPT 3.short_circuit_rating_a": 30}, STRONG)
    assert roomy.verdict == PASSES
    unknown = found(BIFACIAL | {"inverter.mppts.MPPT 3.short_circuit_rating_a": None}, STRONG)
    assert "28.5 A against a rating that isn't known" in unknown.advice
    one_face = found(BRIGHT, STRONG)
    assert one_face.verdict == NOT_APPLICABLE
    assert one_face.advice == "No module on this input is bifacial."


@pytest.mark.parametrize("profile", ["iec-62548-2016", "iec-62548-1-2023", "nec-690"])
def test_every_profile_applies_it_once(profile):
    each = found(BIFACIAL | {"standards.strings": profile}, SHORT)
    assert each.value == pytest.approx(1.25 * 18.4 * 1.108)


def test_connectors_fuses_isolator_and_cables_take_it_too():
    for name, subject in (
        ("current of a connector", "MPPT 3"),
        ("DC isolator current", "DC isolator"),
        ("string overcurrent protection", "MPPT 1"),
    ):
        before, after = found(BRIGHT, name, subject), found(BIFACIAL, name, subject)
        assert after.value == pytest.approx(1.108 * before.value), name
    before, after = found(BRIGHT, AMPACITY), found(BIFACIAL, AMPACITY)
    assert after.limit == pytest.approx(1.108 * before.limit)


def test_the_operating_current_takes_the_rear_gain_only():
    name = "operating current against the maximum input current"
    assert found(BIFACIAL, name).value == pytest.approx(17.3)
    gained = BIFACIAL | {"planes.dormer.rear_gain_percent": 6.0}
    assert found(gained, name).value == pytest.approx(1.06 * 17.3)
    assert found(gained, SHORT).value == pytest.approx(25.484)


def test_it_is_never_below_the_rear_gain_and_planes_have_their_own():
    gained = BIFACIAL | {"planes.dormer.rear_gain_percent": 15.0}
    assert found(gained, SHORT).value == pytest.approx(1.15 * 23.0)
    dark = BIFACIAL | {"planes.dormer.rear_irradiance_w_m2": 0.0}
    assert found(dark, SHORT).value == pytest.approx(23.0)
    bright = found(BIFACIAL | {"planes.dormer.rear_irradiance_w_m2": 250.0}, SHORT)
    assert bright.value == pytest.approx(1.2 * 23.0)
    assert bright.rule.endswith("250 W/m2 from behind, 1.200 x Isc of the front")


def test_the_sheets_own_current_decides():
    site = load_site().variant(BIFACIAL | {"module_types.0.i_sc_bnpi_a": 20.2})
    module, plane = site.module_types[0], site.planes[0]
    assert rear_factor(module, plane) == pytest.approx(20.2 / 18.4)
    assert rear_factor(module, plane, 270.0) == pytest.approx(1.0 + 2.0 * (20.2 / 18.4 - 1.0))
    strings = string_facts(site, site.wirings[0], site_facts(site))
    assert strings[0].i_sc == pytest.approx(20.2)


@pytest.mark.parametrize("amperes", [13.0, 16.5])
def test_a_current_that_no_light_from_behind_makes_is_refused(amperes):
    said = sentence(with_changes(module_types__M540=_with_sheet(amperes)))
    assert f"{amperes:g} A with light from behind, 13.85 A without" in said
    assert "13.85 to 15.72 A: 135 W/m2 from behind add at most 13.5 %" in said


def _with_sheet(amperes):
    module = load_site().module_types[0].model_dump(exclude_defaults=True)
    return module | {
        "name": "M540",
        "p_max_w": 540,
        "v_oc_v": 49.5,
        "i_sc_a": 13.85,
        "v_mp_v": 41.65,
        "i_mp_a": 12.97,
        "cells_in_series": 72,
        "length_m": 2.28,
        "i_sc_bnpi_a": amperes,
    }
