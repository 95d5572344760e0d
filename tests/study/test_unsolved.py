"""A step whose circuit can't be solved is left out like a gap, counted and told."""

from dataclasses import replace

import numpy as np
import pytest

from tests.study.sites import demo, weather
from yieldkit.base.errors import InputError
from yieldkit.design.permitted.constraints import Constraints
from yieldkit.design.permitted.wirings import possible_wirings
from yieldkit.physics.circuit import api as circuit
from yieldkit.study.comparison.compare import compare
from yieldkit.study.ranking.propose import rank
from yieldkit.study.simulation.dc_side import direct_side
from yieldkit.study.simulation.prepare import prepare
from yieldkit.study.simulation.simulate import simulate, simulate_prepared
from yieldkit.study.simulation.trackers import Solutions
from yieldkit.study.wiring_energies.energies import wiring_energies

pytestmark = pytest.mark.slow

NOON = 12
SAID = (
    "Caution: no solution was found for the circuits of 1 step: left out of every figure like "
    "steps without weather, for every wiring compared."
)


@pytest.fixture(scope="module")
def days():
    """Return two bright days."""
    return weather().isel(time=slice(24 * 155, 24 * 157))


@pytest.fixture
def failing(monkeypatch, days):
    """Make the solver give up at the first day's noon for inputs that begin on the west roof."""
    solve = circuit.operating_point
    lit = prepare(demo(), days).conditions.photocurrent[NOON, 0]

    def gives_up(conditions, strings, *rest, **options):
        point = solve(conditions, strings, *rest, **options)
        bad = np.flatnonzero(conditions.photocurrent[:, 0] == lit)
        if strings[0].runs[0].condition == 0 and bad.size:
            point.p_dc[bad] = 0.0
            point.status[bad] = 1
        return point

    monkeypatch.setattr(circuit, "operating_point", gives_up)


def gap(days):
    """Return the days without the first noon."""
    ghi = days["ghi"].to_numpy().copy()
    ghi[NOON] = np.nan
    return days.assign(ghi=("time", ghi, days["ghi"].attrs))


def test_a_step_without_solution_is_missing_and_not_zero(days, failing):
    result = simulate(demo(), weather=days)
    assert result.attrs["unsolved_steps"] == 1
    assert result.attrs["weather_remarks"].startswith(SAID)
    assert np.isnan(result["p_dc"].to_numpy()[NOON]).all()
    assert np.isnan(result["p_ac"].to_numpy()[NOON])
    same = simulate(demo(), weather=gap(days))
    assert result.attrs["energy_kwh"] == pytest.approx(same.attrs["energy_kwh"], rel=1e-12)
    assert same.attrs["unsolved_steps"] == 0
    assert "no solution" not in same.attrs["weather_remarks"]


def test_wirings_are_compared_without_the_steps_that_one_of_them_lacks(days, failing):
    found = compare(demo(), weather=days)
    for _, result in found.results:
        assert result.attrs["unsolved_steps"] == 1
        assert np.isnan(result["p_ac"].to_numpy()[NOON])
    assert found.prepared.remarks[0] == SAID
    assert found.prepared.assumptions[0] == SAID


def test_where_it_was_not_left_out_no_energy_is_given(days, failing):
    with pytest.raises(InputError, match="got nan kWh delivered; expected a finite") as refused:
        simulate_prepared(prepare(demo(), days), demo().wirings[0], Solutions())
    assert "Look for nan, inf and very large numbers in the weather." in str(refused.value)


def test_wirings_are_ranked_without_the_steps_that_one_arrangement_lacks(days, failing):
    possible = possible_wirings(demo(), Constraints(leave_at_most=0))
    found = rank(possible, prepare(demo(), days))
    assert found.prepared.unsolved_steps == 1
    assert found.prepared.remarks[0] == SAID
    same = rank(possible, prepare(demo(), gap(days)))
    np.testing.assert_allclose(found.energy_kwh, same.energy_kwh, rtol=1e-12)
    np.testing.assert_array_equal(found.order, same.order)
    assert same.prepared.unsolved_steps == 0


def test_a_string_maximum_that_was_missed_is_left_out_too(days, monkeypatch):
    # Strings of one plane have their groups' maxima, which come without a status.
    right = circuit.group_maxima

    def misses(conditions):
        found = right(conditions)
        found[NOON] *= 0.9
        return found

    prepared = prepare(demo(), days)
    monkeypatch.setattr(circuit, "group_maxima", misses)
    states = direct_side(prepared, demo().wirings[0], Solutions()).states
    assert all(each.unsolved[NOON] for each in states)
    assert not any(np.delete(each.unsolved, NOON).any() for each in states)


def energy_held_back(**more):
    """Return the demonstration with an export limit that holds it back on a bright noon."""
    return demo().variant({"inverter.ac.export_limit_w": 5000.0, **more})


@pytest.fixture
def failing_when_held(monkeypatch, days):
    """Make the solver give up at the first day's noon where power is held back."""
    solve = circuit.operating_point
    lit = prepare(demo(), days).conditions.photocurrent[NOON, 0]

    def gives_up(conditions, strings, *rest, power_bound=None, **options):
        point = solve(conditions, strings, *rest, power_bound=power_bound, **options)
        bad = np.flatnonzero(conditions.photocurrent[:, 0] == lit)
        if power_bound is not None and bad.size:
            point.p_dc[bad] = 0.0
            point.status[bad] = 1
        return point

    monkeypatch.setattr(circuit, "operating_point", gives_up)


@pytest.mark.parametrize(
    "changes",
    [{}, {"inverter.max_dc_power_w": 6000.0}, {"inverter.mppts.0.max_power_w": 2000.0}],
    ids=["export limit", "all inputs", "one input"],
)
def test_a_held_back_point_without_solution_is_left_out_and_told(changes, days, failing_when_held):
    site = energy_held_back(**changes)
    result = simulate(site, weather=days)
    assert result.attrs["unsolved_steps"] == 1
    assert result.attrs["weather_remarks"].startswith(SAID)
    same = simulate(site, weather=gap(days))
    assert result.attrs["energy_kwh"] == pytest.approx(same.attrs["energy_kwh"], rel=1e-12)
    found = compare(site, weather=days)
    assert found.prepared.unsolved_steps == 1
    assert found.table["energy_kwh"].iloc[0] == pytest.approx(same.attrs["energy_kwh"], rel=1e-12)


def shared(**more):
    """Return the demonstration with two inputs that share a limit."""
    names = [mppt.name for mppt in demo().inverter.mppts[:2]]
    pair = {"mppts": names, "max_power_w": 3000.0}
    return demo().variant({"inverter.max_dc_power_pairs": [pair], **more})


def test_wirings_of_inputs_that_share_a_limit_are_ranked_without_it_and_told(
    days, failing_when_held
):
    site = shared()
    possible = possible_wirings(site, Constraints(leave_at_most=0))
    possible = replace(possible, candidates=possible.candidates[:4])
    found = rank(possible, prepare(site, days))
    assert found.prepared.unsolved_steps == 1
    assert found.prepared.remarks[0] == SAID
    assert np.isfinite(found.energy_kwh).all()
    same = rank(possible, prepare(site, gap(days)))
    np.testing.assert_allclose(found.energy_kwh, same.energy_kwh, rtol=1e-12)


@pytest.mark.parametrize("site", [demo(), shared()], ids=["apart", "shared"])
def test_yields_of_draws_leave_such_steps_out_for_all_wirings(
    site, days, failing, failing_when_held
):
    wirings = site.wirings[:2]
    found = wiring_energies(prepare(site, days), wirings)
    same = wiring_energies(prepare(site, gap(days)), wirings)
    np.testing.assert_allclose(found, same, rtol=1e-12)
