"""Cold open-circuit voltage: the tolerance that counts, and what is known without a temperature."""

import pytest

from tests.study.sites import string, variant, wiring
from yieldkit.design.checks.findings import NOT_CHECKED, NOT_PERMITTED, PASSES
from yieldkit.design.checks.limits import check

pytestmark = pytest.mark.slow

PARTS = ("the input", "module", "cable", "connector", "DC isolator", "surge protective device")
UNKNOWN = {"site.design_temperatures.lowest_ambient_c": None}
NO_TOLERANCE = {"module_types.0.v_oc_tolerance_percent": None}


def cold(modules, changes, part="the input"):
    """Return the finding of a string of so many modules of 38.9 V and -0.26 %/K."""
    wired = string(("west roof", modules), length_m=20.0)
    wired["cable"]["rated_voltage_v"] = 1000.0
    site = variant({"planes.0.modules": modules} | changes, [wiring("w", MPPT_1=[wired])])
    name = f"cold open-circuit voltage against {part}"
    return next(each for each in check(site, "w") if each.check == name)


@pytest.mark.parametrize("part", PARTS)
def test_40_modules_are_forbidden_on_every_rating_without_a_temperature(part):
    rated = {"inverter.connector_rated_voltage_v": 1000.0}
    found = cold(40, UNKNOWN | NO_TOLERANCE | rated, part)
    assert found.verdict == NOT_PERMITTED
    assert found.value == pytest.approx(40 * 38.9)  # 1,556 V.
    assert found.limit == 1000.0
    assert found.advice.startswith(
        "So much already at 25 degC, where at most 25 modules stay below"
    )
    assert "The lowest expected ambient (site.design_temperatures.lowest_ambient_c)" in found.advice


@pytest.mark.parametrize("part", PARTS)
def test_below_the_limit_at_25_degc_it_is_not_checked_without_a_temperature(part):
    found = cold(25, UNKNOWN | NO_TOLERANCE, part)
    assert found.verdict == NOT_CHECKED
    assert found.essential
    assert "lowest_ambient_c) is not known." in found.advice


def test_27_modules_are_1050_volts_at_25_degc():
    found = cold(27, UNKNOWN | NO_TOLERANCE)
    assert found.verdict == NOT_PERMITTED
    assert found.value == pytest.approx(1050.3)


@pytest.mark.parametrize(
    ("lowest", "modules", "verdict"),
    [(20.0, 27, NOT_PERMITTED), (20.0, 25, NOT_CHECKED), (26.0, 27, NOT_CHECKED)],
)
def test_without_a_coefficient_the_bound_holds_below_25_degc_only(lowest, modules, verdict):
    known = {"site.design_temperatures.lowest_ambient_c": lowest, "module_types.0.beta_voc": None}
    found = cold(modules, known | NO_TOLERANCE)
    assert found.verdict == verdict
    assert "The Voc coefficient (beta_voc) is not known." in found.advice


@pytest.mark.parametrize("profile", ["iec-62548-2016", "iec-62548-1-2023", "nec-690"])
@pytest.mark.parametrize(
    ("tolerance", "volts", "verdict", "words"),
    [
        # 22 x 38.9 V x (1 + 0.0026 x 55) at -30 degC, by hand.
        (None, 978.2, PASSES, "Voc tolerance 0 % (none stated)"),
        (0.0, 978.2, PASSES, "Voc tolerance 0 %"),
        (3.0, 1007.5, NOT_PERMITTED, "Voc tolerance 3 %"),
    ],
)
def test_a_tolerance_counts_where_it_is_stated_and_is_always_told(
    profile, tolerance, volts, verdict, words
):
    changes = {
        "site.design_temperatures.lowest_ambient_c": -30.0,
        "module_types.0.v_oc_tolerance_percent": tolerance,
        "standards.strings": profile,
    }
    found = cold(22, changes)
    assert found.verdict == verdict
    assert found.value == pytest.approx(volts, abs=0.1)
    assert found.rule.endswith(words)
    assert "lowest ambient -30 degC" in found.rule


def test_the_codes_factor_table_takes_the_stated_tolerance_too():
    changes = {
        "site.design_temperatures.lowest_ambient_c": -30.0,
        "module_types.0.beta_voc": None,
        "standards.strings": "nec-690",
    }
    # Table 690.7(A): 1.21 at -30 degC.
    assert cold(20, changes | NO_TOLERANCE).value == pytest.approx(20 * 38.9 * 1.21)
    assert cold(20, changes).value == pytest.approx(20 * 38.9 * 1.21 * 1.03)
    assert cold(20, changes).rule.endswith("Voc tolerance 3 %")


def test_tolerances_of_several_types_are_told_apart():
    types = [dict(variant().module_types[0].model_dump())]
    types.append(types[0] | {"name": "other", "v_oc_tolerance_percent": None})
    mixed = string(("west roof", 5), ("east roof", 5))
    changes = {"module_types": types, "planes.1.module_type": "other"}
    site = variant(changes, [wiring("w", MPPT_1=[mixed])])
    found = check(site, "w")[0]
    assert found.rule.endswith("Voc tolerance M430 (invented) 3 %, other 0 % (none stated)")
