"""What several wirings, trackers or steps of the budget share is computed once."""

from dataclasses import replace

import numpy as np
import pytest

from tests.study.sites import demo, variant, weather
from yieldkit.base.progress import silent
from yieldkit.design import standards
from yieldkit.design.checks import grid_profiles, mounting
from yieldkit.physics.circuit import api as circuit
from yieldkit.study.comparison.compare import Asked, compare
from yieldkit.study.simulation import threads, trackers, unsolved
from yieldkit.study.simulation.prepare import prepare
from yieldkit.study.simulation.simulate import simulate, simulate_prepared
from yieldkit.study.simulation.trackers import Solutions, solve_tracker

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def few_days():
    """Return eight days of June."""
    return weather().isel(time=slice(160 * 24, 168 * 24))


@pytest.fixture(scope="module")
def prepared(few_days):
    """Return the demonstration site in those days."""
    return prepare(demo(), few_days)


def solved(prepared, number):
    """Return the states of a tracker of the first wiring."""
    mppts = {mppt.name: mppt for mppt in prepared.site.inverter.mppts}
    wired = prepared.site.wirings[0].trackers[number]
    return solve_tracker(prepared, wired, mppts[wired.mppt], Solutions())


@pytest.mark.parametrize(("number", "solutions"), [(0, 2), (1, 1)])
def test_cable_and_window_are_one_search(prepared, monkeypatch, number, solutions):
    # Two strings side by side without cables, and all that is on the input; strings of one plane
    # alone have their groups' maxima.
    calls = []
    right = circuit.operating_point
    monkeypatch.setattr(
        trackers.circuit,
        "operating_point",
        lambda *given, **named: calls.append(given) or right(*given, **named),
    )
    states = solved(prepared, number)
    assert len(calls) == solutions
    mppt = prepared.site.inverter.mppts[number]
    strings = tuple(
        trackers.string_circuit(prepared, each, mppt)
        for each in prepared.site.wirings[0].trackers[number].strings
    )
    unlimited = right(prepared.conditions, strings, interval_s=3600.0)
    alone = [circuit.string_maximum(prepared.conditions, each).p_dc for each in strings]
    assert states.strings == pytest.approx(np.sum(alone, axis=0), rel=1e-9, abs=1e-9)
    assert states.cable == pytest.approx(unlimited.p_dc, rel=1e-9, abs=1e-9)


def test_what_was_asked_of_a_comparison_makes_it_no_other(few_days):
    found = compare(demo(), weather=few_days)
    assert found.prepared is found.asked.prepared
    assert replace(found, asked=Asked()) == found


def test_a_window_that_binds_takes_its_part_of_the_free_maximum(few_days):
    # From 400 V on no string of seven modules has its maximum in the window.
    mppts = [
        {**mppt.model_dump(), "mpp_voltage_min_v": 225.0, "full_power_voltage_min_v": 300.0}
        for mppt in demo().inverter.mppts
    ]
    prepared = prepare(variant({"inverter.mppts": mppts}), few_days)
    states = solved(prepared, 2)
    assert np.sum(states.cable - states.window) > 0.01 * np.sum(states.cable)
    strings = tuple(
        trackers.string_circuit(prepared, each, prepared.site.inverter.mppts[2])
        for each in prepared.site.wirings[0].trackers[2].strings
    )
    unlimited = circuit.operating_point(prepared.conditions, strings, interval_s=3600.0)
    assert states.cable == pytest.approx(unlimited.p_dc, rel=1e-9, abs=1e-9)


def test_group_maxima_are_found_once_for_all_trackers(prepared, monkeypatch):
    calls = []
    right = circuit.group_maxima
    monkeypatch.setattr(
        trackers.circuit, "group_maxima", lambda *given: calls.append(given) or right(*given)
    )
    solutions = Solutions()
    for wiring in prepared.site.wirings:
        simulate_prepared(prepared, wiring, solutions)
    assert len(calls) == len(prepared.site.planes)


def test_a_modules_last_stage_is_its_own_maximum(few_days):
    # With light from behind and modules weaker than rated.
    planes = [
        {**plane.model_dump(), "rear_gain_percent": 6.0, "power_deviation_percent": -4.0}
        for plane in demo().planes
    ]
    prepared = prepare(variant(planes=planes), few_days)
    groups = np.array(prepared.groups_per_module)
    expected = groups * circuit.group_maxima(prepared.conditions)
    found = prepared.planes["p_mp_module"].to_numpy()
    assert found == pytest.approx(expected, rel=1e-9, abs=1e-9)
    assert prepared.module_stages[-1] == pytest.approx(expected.sum(axis=0) / 1000.0, rel=1e-9)


def test_rule_tables_are_looked_through_once(prepared, monkeypatch):
    simulate_prepared(prepared, prepared.site.wirings[0], Solutions())

    def no_table(name):
        raise AssertionError(f"the table {name} is looked through again")

    for room in (standards, grid_profiles, mounting):
        monkeypatch.setattr(room, "standard_table", no_table)
    simulate_prepared(prepared, prepared.site.wirings[0], Solutions())


def test_threads_on_long_series_change_nothing(few_days, monkeypatch):
    alone = simulate(demo(), weather=few_days)
    monkeypatch.setattr(threads, "LONG_STEPS", 1)
    monkeypatch.setattr(unsolved, "_SHARED_STEPS", 1)
    shared = simulate(demo(), weather=few_days)
    for name in alone.data_vars:
        np.testing.assert_array_equal(shared[name].to_numpy(), alone[name].to_numpy())


def test_trackers_that_wirings_share_are_solved_once_in_threads_too(few_days, monkeypatch):
    monkeypatch.setattr(unsolved, "_SHARED_STEPS", 1)
    calls = []
    right = trackers._solve
    monkeypatch.setattr(
        trackers, "_solve", lambda *given: calls.append(given[1:3]) or right(*given)
    )
    prepared = prepare(demo(), few_days)
    unsolved.solvable(prepared, demo().wirings, Solutions(), silent)
    used = {each for wiring in demo().wirings for each in wiring.trackers}
    assert len(calls) == len(used) < sum(len(each.trackers) for each in demo().wirings)


def test_a_stop_ends_the_solving_of_wirings(prepared):
    def second(word, done, total):
        return done == 1

    with pytest.raises(KeyboardInterrupt, match="stopped: 1 wirings"):
        unsolved.solvable(prepared, demo().wirings, Solutions(), second)


def test_short_series_have_no_threads_and_keep_their_order(monkeypatch):
    assert threads.each_of(lambda each: each * 2, [3, 1, 2], 1) == [6, 2, 4]
    assert threads.each_of(lambda each: each * 2, [3, 1, 2], 10**6) == [6, 2, 4]

    def no_pool(workers):
        raise AssertionError("a thread for a short series")

    monkeypatch.setattr(threads, "ThreadPoolExecutor", no_pool)
    assert threads.each_of(lambda each: each * 2, [3, 1, 2], threads.LONG_STEPS - 1) == [6, 2, 4]
