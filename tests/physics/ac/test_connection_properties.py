"""What must hold at every connection point, and with one inverter what always held."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.amounts import amount
from tests.physics.ac.connection_cases import TANGENT_95, K, converters
from tests.physics.ac.drawn_connections import draw
from yieldkit.physics.ac.connection import connection, connection_by_kernel
from yieldkit.physics.ac.connection_state import Branches, ExportLimit
from yieldkit.physics.ac.limits import AC_LIMIT
from yieldkit.physics.ac.network import Network, terminals
from yieldkit.physics.ac.reactive import REACTIVE_KIND

pytestmark = pytest.mark.slow

SEEDS = st.integers(10_000, 10**9)
EXAMPLES = settings(max_examples=amount(25, 400), deadline=None)


def cases(seed, hours=6):
    """Return a connection point of a seed."""
    return draw(np.random.default_rng(seed), hours)


@EXAMPLES
@given(SEEDS)
def test_no_more_than_on_offer_and_the_limit_is_met(seed):
    case = cases(seed)
    state = case.solved()
    assert (state.p <= case.offer).all()
    assert (state.p >= 0.0).all()
    assert (state.p_export <= case.limit.power + 1e-4).all()
    assert (state.p[state.limit == AC_LIMIT["none"]] == case.offer[state.limit == 0]).all()
    bound = np.minimum(
        case.rules.max_apparent, case.branches.phases * case.rules.max_current * state.v_ac
    )
    assert (np.hypot(state.p, state.q) <= bound * (1.0 + 1e-9)).all()
    assert (state.q[case.offer <= 0.0] == 0.0).all()
    heat = state.common_heat + state.own_heat.sum(axis=1)
    left = (state.p - case.drawn).sum(axis=1) - heat - case.load
    assert np.abs(left - state.p_export).max() < 1e-5


@EXAMPLES
@given(SEEDS, st.sampled_from(["network", "common_lead", "own_leads"]), st.floats(0.01, 0.5))
def test_more_resistance_never_lowers_a_voltage_at_unity(seed, branch, ohms):
    case = cases(seed)._replace(limit=ExportLimit())
    plain = converters(case.offer.shape[1])
    case = case._replace(rules=plain, drawn=0.0 * case.drawn, load=0.0 * case.load)
    longer = case.branches._replace(**{branch: getattr(case.branches, branch) + ohms})
    found = case._replace(branches=longer).solved()
    if found.solved.all():
        assert (found.v_ac - case.solved().v_ac >= -1e-9).all()


@EXAMPLES
@given(SEEDS, st.integers(0, 719))
def test_the_order_of_listing_does_not_matter(seed, turn):
    case = cases(seed)
    case = case._replace(limit=case.limit._replace(in_order=False))
    order = np.random.default_rng(turn).permutation(case.offer.shape[1]).tolist()
    here, there = case.solved(), case.of(order).solved()
    assert np.abs(here.v_ac[:, order] - there.v_ac).max() < 1e-7
    assert np.abs(here.p[:, order] - there.p).max() < 1e-3


@EXAMPLES
@given(SEEDS)
def test_uncoupled_inverters_are_each_as_if_alone(seed):
    case = cases(seed)._replace(limit=ExportLimit())
    case = case._replace(branches=case.branches._replace(network=0j, common_lead=0j))
    together = case.solved()
    for i in range(case.offer.shape[1]):
        alone = case.of([i]).solved()
        assert np.abs(together.v_ac[:, i] - alone.v_ac[:, 0]).max() < 1e-9
        scale = 1.0 + np.abs(together.p[:, i])
        assert (np.abs(together.p[:, i] - alone.p[:, 0]) / scale).max() < 1e-9


@EXAMPLES
@given(SEEDS)
def test_one_inverters_lead_may_be_its_own_or_the_common_one(seed):
    case = cases(seed).of([0])
    lead = complex(case.branches.own_leads[0])
    nothing = np.zeros(1, dtype=complex)
    own = case._replace(branches=case.branches._replace(common_lead=0j)).solved()
    common = case._replace(
        branches=case.branches._replace(common_lead=lead, own_leads=nothing)
    ).solved()
    assert np.abs(own.v_ac - common.v_ac).max() < 1e-9
    assert np.abs(own.p - common.p).max() < 1e-5
    assert np.abs(own.own_heat[:, 0] - common.common_heat).max() < 1e-6


@pytest.mark.parametrize("load", [0.0, 1500.0])
@pytest.mark.parametrize("tangent", [0.0, -TANGENT_95, 0.2])
def test_one_inverter_alone_is_what_its_terminals_always_were(load, tangent):
    power = np.linspace(0.0, 12e3, 25)
    stiff = np.linspace(225.0, 245.0, 25)
    lead, network = 0.06 + 0.01j, 0.3 + 0.2j
    branches = Branches(network, lead, np.zeros(1, dtype=complex), 3)
    rules = converters(1, tangent=tangent)
    state = connection(power[:, None], np.zeros((25, 1)), stiff, load, branches, rules)
    before = terminals(
        power,
        stiff,
        load,
        Network(lead.real, lead.imag, network.real, network.imag, 3, tangent),
    )
    assert state.v_ac[:, 0] == pytest.approx(before.voltage, rel=1e-12)
    assert state.v_meter == pytest.approx(before.connection_voltage, rel=1e-12)
    assert state.common_heat == pytest.approx(before.lead_loss, rel=1e-12)


def halved(power, stiff, load, network):
    """Return by halving what the voltage allows: 10 kW at 243.8 V, a fifth at 253 V."""

    def allowed(tried):
        volts = terminals(tried, stiff, load, network).voltage
        share = np.interp(volts, [243.8, 253.0], [1.0, 0.2])
        return (volts <= 243.8) | (tried <= 10e3 * share)

    low, high = np.zeros_like(power), power.copy()
    whole = allowed(power)
    for _ in range(60):
        middle = 0.5 * (low + high)
        good = allowed(middle)
        low, high = np.where(good, middle, low), np.where(good, high, middle)
    return np.where(whole, power, low)


@pytest.mark.parametrize("load", [0.0, 1500.0])
def test_one_inverters_power_by_the_voltage_is_what_halving_finds(load):
    power = np.linspace(0.0, 10e3, 41)
    stiff = np.linspace(235.0, 254.0, 41)
    network = Network(0.1, 0.02, 0.5, 0.3, 3, 0.0)
    branches = Branches(0.5 + 0.3j, 0.1 + 0.02j, np.zeros(1, dtype=complex), 3)
    falling = converters(1, watt_start_v=243.8, watt_end_v=253.0)
    state = connection(power[:, None], np.zeros((41, 1)), stiff, load, branches, falling)
    wanted = halved(power, stiff, load, network)
    assert (wanted < power).sum() > 5
    assert state.p[:, 0] == pytest.approx(wanted, rel=1e-12, abs=1e-9)
    held = state.limit[:, 0] == AC_LIMIT["voltage-dependent power"]
    assert held.tolist() == (wanted < power).tolist()


def test_what_an_inverter_held_by_its_own_limit_leaves_goes_to_the_others():
    # The second is held to 13 A; the others' common share rises until the export meets the limit.
    three = K._replace(own_leads=np.array([0.02 + 0.002j, 0.10 + 0.01j, 0.05 + 0.005j]))
    rules = converters(3, max_current=[np.inf, 5.0, np.inf])
    offer = np.array([[12e3, 12e3, 6e3]])
    state = connection(
        offer, np.zeros((1, 3)), np.array([240.0]), 0.0, three, rules, ExportLimit(16e3)
    )
    assert state.p_export[0] == pytest.approx(16e3, abs=1e-4)
    words = [AC_LIMIT["export"], AC_LIMIT["amperes"], AC_LIMIT["export"]]
    assert state.limit[0].tolist() == words
    assert state.p[0, 0] == pytest.approx(2.0 * state.p[0, 2], rel=1e-9)
    assert state.p[0, 1] == pytest.approx(15.0 * state.v_ac[0, 1], rel=1e-9)
    assert state.p[0, 1] < state.p[0, 0]


@pytest.mark.parametrize("network", [0.9 + 0.6j, 2.0 + 1.5j])
def test_one_inverter_is_the_same_with_and_without_the_search(network):
    # Up to the load under which the voltage collapses; beyond it both have no number.
    rng = np.random.default_rng(3)
    power, load = rng.uniform(0.0, 1e4, (2000, 1)), rng.uniform(0.0, 3e4, 2000)
    point = np.zeros((2000, 1)), rng.normal(235.0, 3.0, 2000), load
    branches = Branches(network, 0.06 + 0.01j, np.array([0.05 + 0j]), 3)
    rules = converters(1, tangent=-0.2)
    plain = connection(power, *point, branches, rules)
    searched = connection_by_kernel(
        power, np.full((2000, 1), np.nan), *point, branches, rules.numbers, ExportLimit(), None
    )
    assert (plain.solved == searched.solved).all()
    assert plain.solved.all() == (network.real < 1.0)
    some = plain.solved
    assert np.abs(plain.v_ac - searched.v_ac)[some].max() < 1e-9
    assert np.abs(plain.p_export - searched.p_export)[some].max() < 1e-7
    assert np.isnan(plain.v_ac[~some]).all()


def test_power_may_fall_at_one_voltage_all_at_once():
    # P(U) that ends where it starts: down to a fifth of nominal power at 243 V.
    branches = Branches(0.5 + 0.3j, 0j, np.array([0.1 + 0.02j]), 3)
    rules = converters(1, watt_start_v=243.0, watt_end_v=243.0)
    stiff = np.array([230.0, 239.0, 244.0])
    same = np.ones((3, 1))
    state = connection(10e3 * same, 0.0 * same, stiff, 0.0, branches, rules)
    assert state.p[0, 0] == 10e3
    assert state.v_ac[1, 0] == pytest.approx(243.0, abs=1e-9)
    assert 2e3 < state.p[1, 0] < 10e3
    assert state.p[2, 0] == pytest.approx(2e3, rel=1e-12)
    words = [AC_LIMIT[word] for word in ("none", *["voltage-dependent power"] * 2)]
    assert state.limit[:, 0].tolist() == words
    assert state.solved.all()


def test_two_states_can_both_be_right_and_the_nearer_one_is_told():
    # Less power absorbs less, the voltage rises, and P(U) allows still less. Begun elsewhere the
    # search may end elsewhere; it begins at the stiff network's voltage.
    branches = Branches(1.1 + 1.5j, 0j, np.array([0.5 + 0.1j]), 1)
    rules = converters(
        1,
        nominal_power=1250.0,
        watt_start_v=245.4,
        watt_end_v=253.2,
        watt_end_share=0.3,
        reactive_kind=REACTIVE_KIND["cos-phi-of-p"],
        reactive_x=[0.5, 0.55],
        reactive_y=[0.0, -0.05],
    )
    starts = np.linspace(240.0, 262.0, 45)
    same = np.ones((45, 1))
    state = connection(
        1200.0 * same, 0.0 * same, 247.3 * same[:, 0], 0.0, branches, rules, start_v=starts
    )
    assert state.residual.max() < 1e-9
    ends = sorted(set(state.v_ac[:, 0].round(6)))
    assert ends == pytest.approx([250.254911, 251.134891], abs=2e-6)
    one = np.ones((1, 1))
    told = connection(1200.0 * one, 0.0 * one, 247.3 * one[0], 0.0, branches, rules)
    assert told.v_ac[0, 0] == pytest.approx(250.254911, abs=2e-6)
