"""Several inverters behind one connection point: cases with numbers computed elsewhere.

Voltages of case K and heat of its leads at these powers: computed with a public load-flow library
too, to all digits told. Powers under rules: computed by nested bisections.
"""

import numpy as np
import pytest

from tests.physics.ac.connection_cases import (
    COS_PHI_90,
    NOMINAL_V,
    Q_OF_U_B,
    TANGENT_95,
    K,
    at_once,
    converters,
)
from yieldkit.physics.ac.connection import connection, voltages_without
from yieldkit.physics.ac.connection_state import Branches, ExportLimit
from yieldkit.physics.ac.limits import AC_LIMIT

pytestmark = pytest.mark.slow

VOLTS, WATTS = 2e-6, 0.01


def near(found, wanted, within):
    """Tell that numbers are those wanted."""
    assert np.asarray(found) == pytest.approx(np.asarray(wanted), abs=within, rel=0.0)


@pytest.mark.parametrize(
    ("tangent", "load", "meter", "terminals"),
    [
        (0.0, 0.0, 247.927941, (249.991877, 250.920276)),
        (-TANGENT_95, 0.0, 246.231963, (248.185005, 249.088945)),
        (0.0, 4000.0, 246.685189, (248.759324, 249.692273)),
    ],
)
def test_two_inverters_lift_each_others_voltage(tangent, load, meter, terminals):
    state = at_once([15e3, 10e3], 240.0, converters(2, tangent=tangent), load=load)
    near(state.v_meter[0], meter, VOLTS)
    near(state.v_ac[0], terminals, VOLTS)
    near(state.p[0], (15e3, 10e3), 1e-9)
    assert state.solved.all()


def test_what_leaves_through_the_meter_is_power_less_heat_and_load():
    state = at_once([15e3, 10e3], 240.0, converters(2), load=4000.0)
    near(state.p_export[0], 20754.46, WATTS)
    heat = state.common_heat[0] + state.own_heat[0].sum()
    near(state.p_export[0], 25e3 - heat - 4000.0, 1e-7)


def test_q_of_u_and_apparent_power_bind_together():
    # IEEE 1547 B, apparent power kept at the rating: reactive power first.
    rating = [15e3, 10e3]
    rules = converters(
        2,
        nominal_power=rating,
        apparent_rating=rating,
        max_apparent=rating,
        watt_start_v=253.0,
        watt_end_v=260.0,
        **Q_OF_U_B,
    )
    state = at_once([15e3, 10e3], 240.0, rules)
    near(state.p[0], (13790.04, 9078.80), WATTS)
    near(state.q[0], (-5902.10, -4192.31), WATTS)
    assert (state.limit[0] == AC_LIMIT["apparent power"]).all()


def test_an_export_limit_is_shared_in_proportion_to_what_is_on_offer():
    state = at_once([15e3, 5e3], 240.0, converters(2), load=4e3, limit=ExportLimit(12e3))
    near(state.p[0], (12072.61, 4024.20), WATTS)
    near(state.common_heat[0] + state.own_heat[0].sum(), 96.81, WATTS)
    near(state.p_export[0], 12e3, 1e-4)
    assert (state.limit[0] == AC_LIMIT["export"]).all()


def test_an_export_limit_in_order_lets_the_first_listed_keep_its_power():
    limit = ExportLimit(12e3, in_order=True)
    state = at_once([15e3, 5e3], 240.0, converters(2), load=4e3, limit=limit)
    near(state.p[0], (15000.0, 1097.28), WATTS)
    assert state.limit[0].tolist() == [AC_LIMIT["none"], AC_LIMIT["export"]]
    turned = K._replace(own_leads=K.own_leads[::-1])
    state = at_once([5e3, 15e3], 240.0, converters(2), turned, load=4e3, limit=limit)
    near(state.p[0], (5000.0, 11099.17), WATTS)


def test_amperes_hold_the_power_at_the_voltage_of_the_own_terminals():
    state = at_once([15e3, 10e3], 240.0, converters(2, max_current=[np.inf, 13.0]))
    near(state.p[0, 1], 9781.68, WATTS)
    near(state.v_ac[0, 1], 250.812226, VOLTS)
    # The stiff network's voltage would hold it to 3 x 13 A x 240 V.
    assert state.p[0, 1] > 3.0 * 13.0 * 240.0 + 400.0
    assert state.limit[0].tolist() == [AC_LIMIT["none"], AC_LIMIT["amperes"]]


def test_steep_rules_at_two_terminals_settle():
    branches = Branches(K.network, 0.05 + 0.008j, np.array([0.02 + 0.002j, 0.05 + 0.004j]), 3)
    rules = converters(
        2,
        nominal_power=15e3,
        apparent_rating=15e3,
        max_apparent=15e3,
        watt_start_v=1.06 * NOMINAL_V,
        watt_end_v=1.10 * NOMINAL_V,
        **Q_OF_U_B,
    )
    state = at_once([15e3, 15e3], 244.0, rules, branches)
    near(state.v_ac[0], (248.256214, 248.579003), VOLTS)
    near(state.p[0], (9187.55, 8766.52), WATTS)
    near(state.q[0], (-6531.23, -6600.00), WATTS)
    assert (state.limit[0] == AC_LIMIT["voltage-dependent power"]).all()


def test_the_voltage_stays_where_the_allowed_power_jumps():
    rules = converters(2, watt_start_v=253.0, watt_end_v=260.0)
    state = at_once([12e3, 12e3], 243.0, rules)
    near(state.v_ac[0, 1], 253.0, 1e-9)
    near(state.p[0, 1], 10594.76, WATTS)
    near(state.p[0, 0], 12e3, 1e-9)
    assert state.limit[0].tolist() == [AC_LIMIT["none"], AC_LIMIT["voltage-dependent power"]]


def test_cos_phi_by_the_power_meets_the_apparent_power():
    branches = Branches(0.34 + 0.16j, 0j, np.zeros(1, dtype=complex), 3)
    rules = converters(1, max_apparent=10e3, **COS_PHI_90)
    state = at_once([10e3], 230.0, rules, branches)
    near(state.p[0, 0], 9166.67, WATTS)
    near(state.q[0, 0], -3996.53, WATTS)
    near(state.v_ac[0, 0], 233.500978, VOLTS)


def test_a_load_that_changes_within_the_hour_is_not_its_mean():
    stiff = Branches(0j, 0j, np.zeros(1, dtype=complex), 3)
    quarters = np.array([0.0, 0.0, 8e3, 8e3])
    offer = np.full((4, 1), 6e3)
    nothing = np.zeros((4, 1))
    state = connection(
        offer, nothing, np.full(4, 230.0), quarters, stiff, converters(1), ExportLimit(2e3)
    )
    near(state.p[:, 0].mean(), 4000.0, 1e-6)
    mean = at_once([6e3], 230.0, converters(1), stiff, load=4e3, limit=ExportLimit(2e3))
    near(mean.p[0, 0], 6000.0, 1e-6)


def test_a_missing_input_makes_its_own_step_missing():
    offer = np.array([[15e3, 10e3], [np.nan, 10e3], [15e3, 10e3], [15e3, 10e3]])
    stiff = np.array([240.0, 240.0, np.nan, 240.0])
    load = np.array([0.0, 0.0, 0.0, np.nan])
    state = connection(offer, np.zeros((4, 2)), stiff, load, K, converters(2))
    missing = [False, True, True, True]
    for part in (state.p, state.q, state.v_ac, state.own_heat):
        assert np.isnan(part).all(axis=1).tolist() == missing
    for part in (state.v_meter, state.p_export, state.common_heat, state.residual):
        assert np.isnan(part).tolist() == missing
    assert state.solved.all()
    assert (state.limit == 0).all()


def test_a_network_that_collapses_gives_no_number():
    weak = K._replace(network=3.0 + 3.0j)
    offer = np.array([[1e3, 1e3], [1e3, 1e3]])
    load = np.array([2e3, 40e3])
    state = connection(offer, np.zeros((2, 2)), np.full(2, 230.0), load, weak, converters(2))
    assert state.solved.tolist() == [True, False]
    assert np.isnan(state.p[1]).all()
    assert np.isnan(state.v_ac[1]).all()
    alone = Branches(weak.network, weak.common_lead, weak.own_leads[:1], 3)
    one = connection(offer[:, :1], np.zeros((2, 1)), np.full(2, 230.0), load, alone, converters(1))
    assert one.solved.tolist() == [True, False]
    assert np.isnan(one.v_ac[1]).all()


def test_own_consumption_is_drawn_at_every_terminal():
    offer, drawn = np.array([[0.0, 5e3]]), np.array([[30.0, 20.0]])
    state = connection(offer, drawn, np.array([240.0]), 0.0, K, converters(2, **Q_OF_U_B))
    near(state.q[0, 0], 0.0, 0.0)
    assert state.q[0, 1] < 0.0
    heat = state.common_heat[0] + state.own_heat[0].sum()
    near(state.p_export[0], 4950.0 - heat, 1e-7)


def test_the_rise_of_one_is_told_without_its_own_power():
    offer, drawn = np.array([[15e3, 10e3]]), np.array([[10.0, 20.0]])
    rules, stiff = converters(2, tangent=-TANGENT_95), np.array([240.0])
    state = connection(offer, drawn, stiff, 4e3, K, rules)
    without = voltages_without(state.p, state.q, drawn, stiff, 4e3, K, rules)
    for i in range(2):
        only = (i + 1) % 2
        alone = np.where(np.arange(2) == only, offer, 0.0)
        own = np.where(np.arange(2) == only, drawn, 0.0)
        other = connection(alone, own, stiff, 4e3, K, rules)
        near(without[0, i], other.v_ac[0, i], 1e-9)
        assert 240.0 < without[0, i] < state.v_ac[0, i]
    one = Branches(K.network, K.common_lead, K.own_leads[:1], 3)
    nothing = np.zeros((1, 1))
    near(
        voltages_without(state.p[:, :1], state.q[:, :1], nothing, stiff, 4e3, one, converters(1)),
        connection(nothing, nothing, stiff, 4e3, one, converters(1)).v_ac,
        1e-9,
    )
