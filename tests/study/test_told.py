"""What counts for nothing is said among the assumptions."""

import pytest

from tests.study.sites import variant, weather
from yieldkit.design.checks.limits import check
from yieldkit.design.equipment.modules import fit_module_type
from yieldkit.study.simulation.assumptions import site_assumptions
from yieldkit.study.simulation.period import Period

YEAR = Period(years=1, days=365.0, coverage=1.0, by_month=(1.0,) * 12)


def test_what_is_stated_and_not_used_is_said():
    site = variant(
        {"notes": "Seen on the roof.", "module_types.0.power_tolerance_percent": [0.0, 3.0]}
    )
    said = "\n".join(site_assumptions(site, weather(), {}, YEAR))
    for words in (
        "Remarks of the site file: Seen on the roof.",
        "the datasheet's power tolerance of +0 to +3 % is not used; modules have their rated power",
        "half-cut cells; not used, for all cells of a module are lit alike.",
        "Read and not used: air pressure and relative humidity.",
        "Inverter: Three-tracker inverter 15 kW (invented).",
    ):
        assert words in said
    silent = "\n".join(site_assumptions(variant(), weather(), {}, YEAR))
    assert "power tolerance" not in silent
    assert "Remarks" not in silent


def test_what_the_diode_makes_of_the_coefficients_is_said():
    for gamma in ("-0.32 %/K", "-0.33 %/K"):
        module = variant({"module_types.0.gamma_pmp": gamma}).module_types[0]
        fit = fit_module_type(module)
        off = next(gate.value for gate in fit.gates if gate.name.startswith("power coefficient"))
        said = "\n".join(site_assumptions(variant(), weather(), {module.name: fit}, YEAR))
        assert (
            f"; off by: Voc at -10 degC {100 * fit.gates[5].value:+.2f} %, power coefficient "
            in said
        )
        assert f"power coefficient {off:+.3f} %/K, relative efficiency at 200 W/m2 " in said


def test_the_voltage_of_weighted_efficiencies_is_said_and_not_used():
    weighted = {"kind": "weighted", "european": 0.97, "maximum": 0.98}
    for volts, words in ((600.0, "600 V"), (None, "no voltage")):
        site = variant({"inverter.efficiency": weighted | {"voltage_v": volts}})
        said = "\n".join(site_assumptions(site, weather(), {}, YEAR))
        assert f"they are stated for {words} and count at every voltage." in said


def test_surroundings_are_not_used_beside_a_stated_rise_of_the_inlet_air():
    site = variant({"inverter_place.inlet_offset_k": 8.0})
    said = "\n".join(site_assumptions(site, weather(), {}, YEAR))
    assert (
        "Inlet air 8 K over ambient, as the site file says; what is usual indoors-ventilated is "
        "not used."
    ) in said


@pytest.mark.slow
def test_a_cold_voltage_above_the_full_power_window_costs_yield():
    name = "cold operating voltage against the full-power window"
    for limit, verdict in ((800.0, "passes"), (400.0, "costs yield"), (None, "NOT CHECKED")):
        site = variant({"inverter.mppts.0.full_power_voltage_max_v": limit})
        found = next(each for each in check(site) if each.check == name)
        assert found.verdict == verdict
    assert found.advice == "The full-power window's upper end is not known."
