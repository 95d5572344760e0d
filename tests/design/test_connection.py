"""The AC lead and the voltage at full power, against hand examples."""

import numpy as np
import pytest
from scipy import optimize

from tests.study.several import twice
from yieldkit.config.site.files import load_site
from yieldkit.design.checks.connection import NETWORK_RISE, TERMINAL_VOLTAGE, full_power
from yieldkit.design.checks.findings import (
    COSTS_YIELD,
    NOT_APPLICABLE,
    NOT_CHECKED,
    NOT_PERMITTED,
    PASSES,
)
from yieldkit.design.checks.grid_profiles import profile_rule
from yieldkit.design.checks.leads import LEAD_AMPACITY, LEAD_CHANGE
from yieldkit.design.checks.limits import check

pytestmark = pytest.mark.slow

DEMO = load_site()
LEAD = {"length_m": 10, "cross_section_mm2": 6, "installation_method": "B2"}


def found(changes, name):
    """Return a finding of the changed demonstration by its name."""
    return next(each for each in check(DEMO.variant(changes)) if each.check == name)


# IEC 60364-5-52, PVC, method B2, three loaded: 15 A on 1.5 mm2, 34 A on 6 mm2.
@pytest.mark.parametrize("device", [None, 25])
@pytest.mark.parametrize(("amperes", "section", "carries"), [(24.0, 1.5, 15.0), (80.0, 6.0, 34.0)])
def test_more_current_than_the_lead_carries_is_not_permitted_by_itself(
    amperes, section, carries, device
):
    lead = LEAD | {"cross_section_mm2": section, "overcurrent_device_a": device}
    changes = {"grid.lead": lead, "inverter.ac.max_current_a": amperes}
    each = found(changes, LEAD_AMPACITY)
    assert each.verdict == NOT_PERMITTED
    assert each.essential
    assert (each.value, each.limit) == (amperes, carries)
    assert each.advice == f"{section:g} mm2 laid like this carries {carries:.1f} A: a thicker lead."
    guarded = found(changes, "AC overcurrent device against the lead")
    if device is None:
        assert guarded.verdict == NOT_CHECKED
        assert guarded.advice == "The overcurrent device's rating is not known."
    else:
        assert guarded.verdict == (NOT_PERMITTED if device > carries else PASSES)


def test_a_lead_that_is_not_described_or_in_no_table_is_not_checked():
    each = found({"grid.lead": None}, LEAD_AMPACITY)
    assert each.verdict == NOT_CHECKED
    assert each.essential
    assert each.advice == "The AC lead (grid.lead) is not known."
    hot = found({"grid.lead": LEAD | {"temp_ambient_c": 80.0}}, LEAD_AMPACITY)
    assert hot.verdict == NOT_CHECKED
    assert hot.advice == "The ampacity for this section, method and temperature is not known."


def by_hand(power, outside, impedance):
    """Return the voltage that solves U = U0 + Z conj(S / U), by root finding [V]."""

    def gap(parts):
        volts = complex(*parts)
        left = volts - outside - impedance * np.conj(power / volts)
        return left.real, left.imag

    return abs(complex(*optimize.fsolve(gap, (outside, 0.0), xtol=1e-13)))


def test_a_voltage_above_the_trip_limit_costs_yield():
    # 5 kW a phase at 240 V behind 0.87 + j0.30 ohm and 18 m of 6 mm2: about 258 V against 253 V.
    changes = {
        "grid.network_voltage.voltage_v": 240.0,
        "grid.network_resistance_ohm": 0.87,
        "grid.network_reactance_ohm": 0.30,
    }
    each = found(changes, TERMINAL_VOLTAGE)
    assert each.verdict == COSTS_YIELD
    assert each.limit == pytest.approx(253.0)
    per_m = 3.08e-3 * (1.0 + 0.00393 * 50.0)
    expected = by_hand(5000.0, 240.0, 0.87 + 18 * per_m + 1j * (0.30 + 18 * 0.08e-3))
    assert each.value == pytest.approx(expected, abs=0.01)
    assert 257.0 < each.value < 259.0
    assert "The inverter will switch off in bright hours" in each.advice
    assert "network at 240.0 V without this plant" in each.rule


@pytest.mark.parametrize("sharing", ["in-order", "proportional"])
@pytest.mark.parametrize("limit_w", [15_000.0, 18_000.0])
def test_an_inverter_that_gives_way_to_another_is_judged_with_its_own_power_too(sharing, limit_w):
    # Either may stand in the sun while the other's roof lies in shade: then its lead carries all
    # of its 15 kW, and the network what the limit lets through.
    site = twice(grid={"export_limit_w": limit_w, "export_sharing": sharing})
    told = {each.subject: each.value for each in check(site) if each.check == TERMINAL_VOLTAGE}
    per_m = 3.08e-3 * (1.0 + 0.00393 * 50.0)
    own, network = 18 * (per_m + 0.08e-3j), 0.12 + 0.08j

    def gap(parts):
        meter, volts = complex(*parts[:2]), complex(*parts[2:])
        current = np.conj(5000.0 / volts)
        rest = np.conj((limit_w - 15_000.0) / 3.0 / meter)
        two = (meter - 233.0 - network * (current + rest), volts - meter - own * current)
        return [part for each in two for part in (each.real, each.imag)]

    found = optimize.fsolve(gap, (233.0, 0.0, 233.0, 0.0), xtol=1e-13)
    assert told["south"] == pytest.approx(abs(complex(*found[2:])), abs=0.05)
    assert told["north"] == pytest.approx(told["south"], abs=0.05)


def test_the_recommended_rise_of_the_profile_is_told():
    changes = {"grid.profile": "vde-ar-n-4105-2018", "grid.network_resistance_ohm": 0.40}
    each = found(changes, NETWORK_RISE)
    assert each.verdict == COSTS_YIELD
    assert each.limit == pytest.approx(3.0)
    lead = 18 * 3.08e-3 * 1.1965 + 1j * 18 * 0.08e-3
    total = 0.40 + 0.08j + lead
    volts = by_hand(5000.0, 233.0, total)
    current = 5000.0 / volts
    assert each.value == pytest.approx(100.0 * 0.40 * current / 230.0, rel=0.01)
    assert each.advice.endswith("ask the network operator.")
    weak = found(changes | {"grid.network_resistance_ohm": 0.1}, NETWORK_RISE)
    assert weak.verdict == PASSES
    none = found({}, NETWORK_RISE)
    assert none.verdict == NOT_APPLICABLE
    assert none.advice == "The chosen network rules recommend no largest rise."


def test_the_lead_keeps_the_rise_of_its_profile():
    # AS/NZS 4777.1: 2 % from the point of supply to the inverter; elsewhere 3 %.
    long = {"grid.lead.length_m": 70, "grid.profile": "as-nzs-4777-2-a"}
    each = found(long, LEAD_CHANGE)
    assert each.limit == pytest.approx(2.0)
    assert each.verdict == COSTS_YIELD
    assert found(long | {"grid.profile": "en-50549-1"}, LEAD_CHANGE).verdict == PASSES
    assert profile_rule(None, "lead_rise") is None


def test_an_unknown_network_is_never_a_pass():
    stiff = {"grid.network_resistance_ohm": 0.0, "grid.network_reactance_ohm": 0.0}
    each = found(stiff, TERMINAL_VOLTAGE)
    assert each.verdict == NOT_CHECKED
    assert each.advice == "The network's impedance is not known."
    rise = found(stiff | {"grid.profile": "vde-ar-n-4105-2018"}, NETWORK_RISE)
    assert rise.verdict == NOT_CHECKED
    high = found(stiff | {"grid.network_voltage.voltage_v": 252.5}, TERMINAL_VOLTAGE)
    assert high.verdict == COSTS_YIELD
    for name in (NETWORK_RISE, TERMINAL_VOLTAGE):
        none = found({"grid.profile": None}, name)
        assert none.verdict == NOT_APPLICABLE
        assert none.advice == "No network rules are chosen (grid.profile)."


def test_neighbours_count_at_noon_and_a_series_is_left_to_the_simulation(tmp_path):
    modelled = {"kind": "modelled", "voltage_v": 236.0, "neighbours_rise_v": 8.0}
    each = found({"grid.network_voltage": modelled}, TERMINAL_VOLTAGE)
    assert "network at 244.0 V without this plant" in each.rule
    table = tmp_path / "volts.csv"
    table.write_text("v\n230\n", encoding="utf-8")
    series = {"kind": "series", "file": str(table)}
    each = found({"grid.network_voltage": series}, TERMINAL_VOLTAGE)
    assert each.verdict == NOT_APPLICABLE
    assert each.advice.startswith("A measured series of voltages")


def test_full_power_is_the_least_of_all_limits():
    assert full_power(DEMO) == 15_000.0
    assert full_power(DEMO.variant({"inverter.ac.power_factor": 0.9})) == pytest.approx(13_500.0)
    assert full_power(DEMO.variant({"inverter.ac.max_current_a": 20.0})) == 13_800.0
    limited = DEMO.variant({"inverter.ac.export_limit_w": 6000.0, "grid.load_w": 500.0})
    assert full_power(limited) == 6500.0
    thin = {"above_m": 1000, "percent_per_100_m": 4.0}
    alpine = DEMO.variant({"site.altitude_m": 1900, "inverter.altitude_derating": thin})
    assert full_power(alpine) == pytest.approx(0.64 * 15_000.0)
