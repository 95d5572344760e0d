"""Plausible but wrong connection points: each is put in place of the right one and must fail."""

import numpy as np
import pytest

from tests.physics.ac import connection_cases, test_connection
from tests.physics.ac.bisected_connection import given
from tests.physics.ac.connection_cases import K, at_once, converters
from tests.physics.ac.drawn_connections import Drawn
from yieldkit.physics.ac.connection import connection
from yieldkit.physics.ac.connection_state import ExportLimit

pytestmark = pytest.mark.slow


def plain_substitution(*point):
    """Put power into the voltages and voltages into the power, turn by turn."""
    case = Drawn(*point)
    ohms = np.full((case.offer.shape[1],) * 2, case.branches.network + case.branches.common_lead)
    ohms += np.diag(case.branches.own_leads)
    found = np.repeat(case.stiff_v[:, None], case.offer.shape[1], axis=1).astype(complex)
    for _ in range(501):
        volts = np.abs(found)
        both = [given(case, i, volts[:, i]) for i in range(volts.shape[1])]
        p, q = (np.column_stack(part) for part in zip(*both, strict=True))
        current = np.conj((p + 1j * q) / found) / case.branches.phases
        before, found = found, case.stiff_v[:, None] + current @ ohms.T
    left = np.abs(found - before).max(axis=1)
    return connection(*point)._replace(p=p, q=q, v_ac=np.abs(found), residual=left)


def each_alone_on_the_lead(offer, drawn, stiff_v, load, branches, rules, limit=None):
    """Let none of them see the others' current."""
    right = connection(offer, drawn, stiff_v, load, branches, rules, limit)
    volts = np.empty(offer.shape)
    for i in range(offer.shape[1]):
        own = branches._replace(own_leads=branches.own_leads[i : i + 1])
        only = type(rules)(*(part[i : i + 1] for part in rules))
        part = slice(i, i + 1)
        alone = connection(offer[:, part], drawn[:, part], stiff_v, load, own, only)
        volts[:, i] = alone.v_ac[:, 0]
    return right._replace(v_ac=volts)


def limit_at_the_terminals(offer, drawn, stiff_v, load, branches, rules, limit):
    """Hold the terminals to the export limit and the load, not the meter."""
    free = connection(offer, drawn, stiff_v, load, branches, rules)
    share = np.minimum((limit.power + load) / free.p.sum(axis=1), 1.0)
    return connection(offer * np.atleast_1d(share)[:, None], drawn, stiff_v, load, branches, rules)


def mean_load(offer, drawn, stiff_v, load, branches, rules, limit=None):
    """Take the mean of the load for every part of the hour."""
    return connection(offer, drawn, stiff_v, float(np.mean(load)), branches, rules, limit)


def shares_of_the_nameplate(offer, drawn, stiff_v, load, branches, rules, limit):
    """Share an export limit in proportion to nominal power."""
    if not np.isfinite(limit.power) or limit.in_order:
        return connection(offer, drawn, stiff_v, load, branches, rules, limit)
    low, high = 0.0, 10.0
    for _ in range(60):
        half = 0.5 * (low + high)
        some = np.minimum(offer, half * rules.nominal_power)
        state = connection(some, drawn, stiff_v, load, branches, rules)
        low, high = (half, high) if state.p_export.max() < limit.power else (low, half)
    return state


def power_by_the_meters_voltage(offer, drawn, stiff_v, load, branches, rules, limit=None):
    """Let the voltage at the meter allow the power."""
    free = rules._replace(watt_start_v=np.full(offer.shape[1], np.nan))
    low, high = np.zeros(offer.shape), offer.copy()
    for _ in range(60):
        half = 0.5 * (low + high)
        state = connection(half, drawn, stiff_v, load, branches, free, limit)
        falling = (state.v_meter[:, None] - rules.watt_start_v) / (
            rules.watt_end_v - rules.watt_start_v
        )
        left = 1.0 + np.clip(falling, 0.0, 1.0) * (rules.watt_end_share - 1.0)
        allowed = np.where(falling > 0.0, left * rules.nominal_power, np.inf)
        fits = ~(half > allowed)
        low, high = np.where(fits, half, low), np.where(fits, high, half)
    return connection(low, drawn, stiff_v, load, branches, free, limit)


def no_apparent_power(offer, drawn, stiff_v, load, branches, rules, limit=None):
    """Forget the limit of apparent power."""
    free = rules._replace(max_apparent=np.full(offer.shape[1], np.inf))
    return connection(offer, drawn, stiff_v, load, branches, free, limit)


def injecting_for_absorbing(offer, drawn, stiff_v, load, branches, rules, limit=None):
    """Turn the sign of the reactive power."""
    turned = rules._replace(tangent=-rules.tangent, reactive_y=-rules.reactive_y)
    return connection(offer, drawn, stiff_v, load, branches, turned, limit)


def leads_without_heat(*point):
    """Forget the heat of the leads at the meter."""
    state = connection(*point)
    heat = state.common_heat + state.own_heat.sum(axis=1)
    return state._replace(p_export=state.p_export + heat)


def night_power_once(offer, drawn, stiff_v, load, branches, rules, limit=None):
    """Let the first inverter's own consumption stand for all."""
    once = np.where(np.arange(offer.shape[1]) == 0, drawn, 0.0)
    return connection(offer, once, stiff_v, load, branches, rules, limit)


STEEP = test_connection.test_steep_rules_at_two_terminals_settle
MET = test_connection.test_an_export_limit_is_shared_in_proportion_to_what_is_on_offer
Q_AND_S = test_connection.test_q_of_u_and_apparent_power_bind_together


def absorbing():
    """The published case with a cos phi that absorbs."""
    test_connection.test_two_inverters_lift_each_others_voltage(
        -connection_cases.TANGENT_95, 0.0, 246.231963, (248.185005, 249.088945)
    )


def together():
    """The published case at unity."""
    test_connection.test_two_inverters_lift_each_others_voltage(
        0.0, 0.0, 247.927941, (249.991877, 250.920276)
    )


MUTANTS = [
    (plain_substitution, STEEP),
    (each_alone_on_the_lead, together),
    (limit_at_the_terminals, MET),
    (mean_load, test_connection.test_a_load_that_changes_within_the_hour_is_not_its_mean),
    (shares_of_the_nameplate, MET),
    (power_by_the_meters_voltage, STEEP),
    (no_apparent_power, Q_AND_S),
    (injecting_for_absorbing, absorbing),
    (leads_without_heat, MET),
    (night_power_once, test_connection.test_own_consumption_is_drawn_at_every_terminal),
]


@pytest.mark.parametrize(("wrong", "check"), MUTANTS)
def test_a_wrong_connection_point_is_found_out(wrong, check, monkeypatch):
    check()
    monkeypatch.setattr(connection_cases, "connection", wrong)
    monkeypatch.setattr(test_connection, "connection", wrong)
    with pytest.raises(AssertionError, match=r"assert"):
        check()


def test_plain_substitution_never_settles_where_the_rules_are_steep(monkeypatch):
    found = []

    def watched(*point):
        found.append(plain_substitution(*point))
        return found[-1]

    monkeypatch.setattr(connection_cases, "connection", watched)
    with pytest.raises(AssertionError, match="assert"):
        STEEP()
    assert found[0].residual[0] == pytest.approx(11.0, abs=0.5)


def test_alone_on_the_lead_they_would_seem_far_lower():
    state = each_alone_on_the_lead(
        np.array([[15e3, 10e3]]),
        np.zeros((1, 2)),
        np.array([240.0]),
        0.0,
        K,
        converters(2),
        ExportLimit(),
    )
    assert state.v_ac[0, 0] == pytest.approx(246.27, abs=0.01)
    assert at_once([15e3, 10e3], 240.0, converters(2)).v_ac[0, 0] > 249.9
