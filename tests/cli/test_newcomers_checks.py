"""What `check` answers newcomers: figures by hand for what burns, and for what is forbidden."""

import math

import pytest

from tests.cli.newcomer import asked, checked, finding, string_of, written

pytestmark = pytest.mark.slow

COLD = "cold open-circuit voltage against the input"
SHORT = "short-circuit current against the input's rating"
FORBIDDEN, PASSES = "not permitted", "passes"
COSTS, OPEN = "costs yield", "NOT CHECKED"


@pytest.fixture
def at(tmp_path):
    """Return the site file of a test."""
    return tmp_path / "my.yaml"


def test_forty_modules_on_1000_volts_are_forbidden_without_a_design_temperature(at, capsys):
    # 40 x 38.9 V = 1,556 V at 25 degC.
    written(at, modules=40, cold_known=False)
    code, found = checked(capsys, at)
    assert code == 1
    assert found[COLD]["verdict"] == FORBIDDEN
    assert found[COLD]["value"] == pytest.approx(1556.0)


def test_nothing_is_permitted_while_essential_limits_are_open(at, capsys):
    written(at, modules=20, cold_known=False)
    code, said = asked(capsys, "check", at)
    assert code == 4
    assert "nothing forbidden found; " in said
    assert "limits not checked, among them cold open-circuit voltage" in said


# 30 A x 0.92 (70 degC) x 0.57 (six bunched) = 15.7 A; 1.25 x 13.95 A = 17.4 A; fuse 25 A.
def test_five_strings_on_thin_cable_are_forbidden(at, capsys):
    thin = {"length_m": 80, "cross_section_mm2": 1.5}
    written(at, strings=5, cable=thin, fuse_a=25)
    carried = finding(capsys, at, "string cable's ampacity")
    assert carried["verdict"] == FORBIDDEN
    assert carried["value"] == pytest.approx(30 * 0.92 * 0.57)
    assert carried["limit"] == 25.0
    drop = finding(capsys, at, "voltage drop of the string cable")
    assert drop["verdict"] == COSTS
    assert drop["value"] == pytest.approx(5.1, abs=0.05)
    one = written(at, cable=thin)
    assert finding(capsys, one, "string cable's ampacity")["limit"] == pytest.approx(17.4, abs=0.05)


@pytest.mark.parametrize(("amperes", "section", "carries"), [(24, 1.5, 15), (80, 6, 34)])
def test_more_alternating_current_than_the_lead_carries_is_forbidden(
    amperes, section, carries, at, capsys
):
    lead = {"length_m": 10, "cross_section_mm2": section, "installation_method": "B2"}
    side = {"nominal_power_w": 15000, "phases": 3, "nominal_voltage_v": 230}
    written(at, grid={"lead": lead}, inverter={"ac": side | {"max_current_a": amperes}})
    carried = finding(capsys, at, "AC current against the lead's ampacity")
    assert carried["verdict"] == FORBIDDEN
    assert (carried["value"], carried["limit"]) == (amperes, carries)


def test_258_volts_at_the_terminals_are_told_against_253(at, capsys):
    # 5 kW a phase at 240 V: 20.8 A through 0.87 ohm add about 18 V.
    grid = {
        "lead": {"length_m": 18, "cross_section_mm2": 6, "installation_method": "B2"},
        "network_resistance_ohm": 0.87,
        "network_reactance_ohm": 0.30,
        "network_voltage": {"kind": "constant", "voltage_v": 240},
        "profile": "en-50549-1",
    }
    told = finding(capsys, written(at, grid=grid), "voltage at the terminals at full power")
    assert told["verdict"] == COSTS
    assert told["value"] == pytest.approx(258.0, abs=0.5)
    assert told["limit"] == pytest.approx(253.0)


def test_light_from_behind_counts(at, capsys):
    # 1.25 x 18.4 A = 23.0 A; x (1 + 0.8 x 135 / 1000) = 25.5 A; at 300 W/m2 28.5 A.
    strong = {"i_sc_a": 18.4, "i_mp_a": 17.3, "p_max_w": 564}
    front = finding(capsys, written(at, module=strong), SHORT)
    assert front["value"] == pytest.approx(23.0)
    narrow = {"max_input_current_a": 20, "short_circuit_rating_a": 25}
    written(at, module=strong | {"bifaciality": 0.8}, mppt=narrow)
    both = finding(capsys, at, SHORT)
    assert both["verdict"] == FORBIDDEN
    assert both["value"] == pytest.approx(25.5, abs=0.05)
    snow = finding(capsys, at, "short-circuit current in strong light from behind")
    assert snow["value"] == pytest.approx(28.5, abs=0.05)


SURGE = {"dc_type": "type-2", "dc_max_continuous_voltage_v": 1500}


@pytest.mark.parametrize(
    ("before", "after"),
    [
        ({}, {"module": {"bifaciality": 0.8}}),
        ({}, {"module": {"noct_c": 52}}),
        ({}, {"inverter": {"residual_current_monitor": True}}),
        (
            {"inverter": {"surge_protection": SURGE | {"ac_type": "none"}}},
            {"inverter": {"surge_protection": SURGE | {"ac_type": "type-2"}}},
        ),
    ],
    ids=["bifaciality", "noct_c", "monitor", "ac_type"],
)
def test_no_key_is_dead(before, after, at, capsys):
    _, plain = checked(capsys, written(at, **before))
    _, changed = checked(capsys, written(at, **after))
    assert plain != changed


@pytest.mark.parametrize(
    ("category", "verdict"),
    [
        ("DC-PV1", PASSES),
        ("DC-PV2", PASSES),
        ("DC-21A", PASSES),
        ("DC-22B", PASSES),
        ("DC-23A", PASSES),
        ("DC-PV0", FORBIDDEN),
        ("DC-20A", FORBIDDEN),
        ("DC-PV7", FORBIDDEN),
    ],
)
def test_only_isolators_that_switch_under_load_pass(category, verdict, at, capsys):
    own = {"category": category, "rated_voltage_v": 1500, "rated_current_a": 150}
    written(at, inverter={"dc_isolator": own})
    assert finding(capsys, at, "DC isolator category")["verdict"] == verdict


def unequal(at, fuse_a=None, built_in=None):
    """Write a site of three strings, whose longer two feed 2 x 13.6 A into the shortest.

    Modules bear 25 A backwards.
    """
    strings = [
        string_of(modules) | ({"fuse_a": fuse_a} if fuse_a else {}) for modules in (14, 14, 7)
    ]
    strong = {"i_sc_a": 13.6, "i_mp_a": 12.9, "p_max_w": 421}
    fuses = {"string_fuses_built_in_a": built_in}
    return written(at, wirings={"own": strings}, module=strong, mppt=fuses)


def test_a_built_in_fuse_above_the_modules_rating_lifts_nothing(at, capsys):
    unequal(at, built_in=40)
    reverse = finding(capsys, at, "reverse current of unloaded strings")
    assert reverse["verdict"] == FORBIDDEN
    assert reverse["limit"] == 25.0
    assert reverse["value"] == pytest.approx(27.2, rel=0.01)


def test_who_has_drawn_fuses_is_not_told_to_fit_some(at, capsys):
    reverse = finding(capsys, unequal(at, fuse_a=25), "reverse current of unloaded strings")
    assert reverse["verdict"] == FORBIDDEN
    assert "Fit string fuses" not in reverse["advice"]
    assert "fit string fuses" not in reverse["advice"]


def test_a_fuse_at_the_codes_lower_bound_is_allowed(at, capsys):
    # 1.5625 x 12.8 A = 20.0 A.
    written(
        at,
        strings=3,
        fuse_a=20,
        module={"i_sc_a": 12.8, "i_mp_a": 12.1, "p_max_w": 394},
        standards={"strings": "nec-690"},
    )
    assert finding(capsys, at, "string fuse rating")["verdict"] == PASSES


@pytest.mark.parametrize("rules", ["iec-62548-2016", "nec-690"])
@pytest.mark.parametrize(
    ("stated", "volts", "verdict"),
    [({}, 978.2, PASSES), ({"v_oc_tolerance_percent": 3}, 1007.5, FORBIDDEN)],
)
def test_a_voltage_tolerance_counts_where_it_is_stated_and_is_printed(
    rules, stated, volts, verdict, at, capsys
):
    # 22 x 38.9 V x (1 + 0.0026 x 55 K) = 978.2 V at -30 degC; 3 % more are 1,007.5 V.
    cold = {"design_temperatures": {"lowest_ambient_c": -30, "highest_ambient_c": 37}}
    written(at, modules=22, module=stated, site=cold, standards={"strings": rules})
    told = finding(capsys, at, COLD)
    assert told["verdict"] == verdict
    assert told["value"] == pytest.approx(volts, abs=0.1)
    assert f"Voc tolerance {3 if stated else 0} %" in told["rule"]


def test_leakage_is_estimated_from_capacitance(at, capsys):
    # 8.6 kWp x 150 nF/kWp at 115 V and 50 Hz: 46.6 mA, against max(300 mA, 10 mA/kVA).
    told = finding(capsys, written(at, modules=20), "leakage current by array size")
    assert told["value"] == pytest.approx(2e3 * math.pi * 50 * 8.6 * 150e-9 * 115)
    assert told["limit"] == 300.0
    large = {"nominal_power_w": 50000, "phases": 3, "nominal_voltage_v": 230}
    told = finding(capsys, written(at, inverter={"ac": large}), "leakage current by array size")
    assert told["limit"] == 500.0


def test_a_known_length_that_fails_is_no_unknown_one(at, capsys):
    strings = [string_of(20) | {"cable": {"length_m": 40, "cross_section_mm2": 4}}, string_of(20)]
    written(at, wirings={"own": strings}, inverter={"surge_protection": SURGE})
    assert finding(capsys, at, "second surge protective device")["verdict"] == FORBIDDEN


@pytest.mark.parametrize(("phases", "watts"), [(1, 5000), (3, 15000)])
def test_the_networks_impedance_is_the_loop_in_one_and_in_three_phases(phases, watts, at, capsys):
    # 5 kW in a phase at 230 V through a loop of 0.4 ohm: U (U - 230 V) = 5,000 W x 0.4 ohm.
    grid = {
        "lead": {"length_m": 0.001, "cross_section_mm2": 16},
        "network_resistance_ohm": 0.4,
        "network_reactance_ohm": 0.0,
        "network_voltage": {"kind": "constant", "voltage_v": 230},
        "profile": "en-50549-1",
    }
    ac = {"nominal_power_w": watts, "phases": phases, "nominal_voltage_v": 230}
    told = finding(
        capsys,
        written(at, grid=grid, inverter={"ac": ac}),
        "voltage at the terminals at full power",
    )
    assert told["value"] == pytest.approx(115 + math.sqrt(115**2 + 2000), abs=0.01)


def test_exit_codes_of_the_file_to_start_from(tmp_path, capsys):
    mine = tmp_path / "my.yaml"
    assert asked(capsys, "new", mine)[0] == 0
    code, said = asked(capsys, "check", mine, "--wiring", "one plane per tracker")
    assert code == 4
    assert "not checked, among them" in said


def test_what_only_costs_yield_is_no_failure(capsys):
    _, said = asked(capsys, "check", "--wiring", "lopsided")
    assert "costs yield" in said.lower()
    assert asked(capsys, "check", "--wiring", "lopsided")[0] == 0


def test_forbidden_wins_over_not_checked(at, capsys):
    written(at, modules=40)
    code, found = checked(capsys, at)
    assert code == 1
    assert OPEN in {each["verdict"] for each in found.values()}
