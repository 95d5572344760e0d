"""The ranking's kernel against the connection point's own solver, for one inverter."""

import numpy as np
import pytest

from tests.physics.ac.connection_cases import COS_PHI_90, Q_OF_U_B, TANGENT_95, converters
from tests.physics.ac.drawn_connections import draw
from yieldkit.physics.ac import many_wirings
from yieldkit.physics.ac.connection import connection, most_power
from yieldkit.physics.ac.connection_state import Branches, ExportLimit
from yieldkit.physics.ac.network import Network
from yieldkit.physics.ac.voltage_rules import Rules, cycle_losses, spread_nodes

pytestmark = pytest.mark.slow

HOURS = 300
BRANCHES = Branches(0.34 + 0.2j, 0.06 + 0.01j, np.array([0.1 + 0.01j]), 3)
CASES = {
    "unity": ({}, np.inf, 0.0),
    "absorbing": ({"tangent": -TANGENT_95}, np.inf, 0.0),
    "with a load": ({"tangent": -TANGENT_95}, np.inf, 1500.0),
    "export": ({}, 5000.0, 1500.0),
    "export of nothing": ({"tangent": 0.1}, 0.0, 0.0),
    "amperes": ({"max_current": 11.0}, np.inf, 0.0),
    "apparent power": ({"tangent": 0.3, "max_apparent": 9000.0}, np.inf, 0.0),
    "active power first": (
        {"tangent": -0.3, "max_apparent": 9000.0, "reactive_first": 0},
        np.inf,
        0.0,
    ),
    "power by the voltage": ({"watt_start_v": 240.0, "watt_end_v": 250.0}, np.inf, 0.0),
    "a jump": (
        {"nominal_power": 7e3, "watt_start_v": 237.0, "watt_end_v": 250.0},
        np.inf,
        0.0,
    ),
    "Q(U)": (Q_OF_U_B, np.inf, 800.0),
    "Q(U) and all limits": (
        Q_OF_U_B
        | {
            "max_apparent": 9500.0,
            "max_current": 13.0,
            "watt_start_v": 243.8,
            "watt_end_v": 253.0,
        },
        7000.0,
        800.0,
    ),
    "cos phi by the power": (COS_PHI_90 | {"max_apparent": 9000.0}, np.inf, 0.0),
}


def ranked(power, drawn, stiff_v, load, branches, rules, limit):
    """Return the summed power of one wiring on one input behind a conversion without losses."""
    night = Rules()
    network = branches.network, branches.common_lead + branches.own_leads.sum()
    cap = most_power(
        np.full(stiff_v.size, 1.0 + power.max()), drawn, stiff_v, load, branches, rules, limit
    )
    ohms = np.array([[each.real, each.imag] for each in network])
    path = many_wirings.AcPath(
        kind=many_wirings.LOSSES,
        curve_nominal=10e3,
        least_dc=0.0,
        paco=0.0,
        dc_limit=np.inf,
        cap=cap,
        auxiliary=drawn,
        night=0.0,
        stiff_v=stiff_v,
        v_without=stiff_v,
        load=load,
        network=Network(*ohms[1], *ohms[0], branches.phases, float(rules.tangent[0])).numbers,
        ohms=ohms,
        converter=rules.numbers,
        rules=night.numbers,
        cycles=cycle_losses(night),
        spread=spread_nodes(0.0),
        availability=1.0,
    )
    found = np.zeros((1, 4))
    solved = many_wirings.Arrangements(power[None, :], np.zeros((1, 3, power.size)))
    many_wirings.fill_delivered(0, 1, np.array([[0]]), solved, path, found)
    return found[0]


@pytest.mark.parametrize("name", CASES)
def test_the_rankings_kernel_delivers_what_the_connection_point_does(name):
    given, limit, load = CASES[name]
    rng = np.random.default_rng(5)
    power = rng.uniform(0.0, 11e3, HOURS) * (rng.random(HOURS) < 0.9)
    stiff = rng.normal(233.0, 4.0, HOURS)
    rules, export = converters(1, **given), ExportLimit(limit)
    drawn = 12.0
    state = connection(
        power[:, None], np.full((HOURS, 1), drawn), stiff, load, BRANCHES, rules, export
    )
    found = ranked(power, drawn, stiff, load, BRANCHES, rules, export)
    assert found[many_wirings.DELIVERED] == pytest.approx(
        (state.p_export + load).sum(), rel=1e-9, abs=1e-3
    )
    held = state.p[:, 0] < power
    assert found[many_wirings.CAPPED] == held.sum()
    assert found[many_wirings.LIMITED] == pytest.approx((power - state.p[:, 0]).sum(), rel=1e-8)
    # What the case is named after does hold somewhere.
    assert held.any() == (name not in ("unity", "absorbing", "with a load", "Q(U)"))


@pytest.mark.parametrize("seed", range(40))
def test_the_rankings_kernel_agrees_where_rules_are_drawn(seed):
    case = draw(np.random.default_rng(7000 + seed), 40).of([0])
    load, drawn = float(case.load[0]), float(case.drawn[0, 0])
    limit = case.limit._replace(in_order=False)
    offer, branches = case.offer, case.branches
    state = connection(
        offer, np.full(offer.shape, drawn), case.stiff_v, load, branches, case.rules, limit
    )
    found = ranked(offer[:, 0], drawn, case.stiff_v, load, branches, case.rules, limit)
    wanted = (state.p_export + load).sum()
    assert found[many_wirings.DELIVERED] == pytest.approx(wanted, rel=1e-9, abs=1e-4)
