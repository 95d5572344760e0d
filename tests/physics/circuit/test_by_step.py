"""Lights merged into levels step by step: the same points as with every group's light by itself."""

import numpy as np
import pytest

from tests.amounts import amount
from tests.oracles import require
from tests.physics.circuit.netlist import sweep
from tests.physics.circuit.reference import conditions_at, rows_of
from yieldkit.physics.circuit.api import (
    CellConditions,
    Run,
    StringCircuit,
    TrackerLimits,
    group_maxima,
    operating_point,
)
from yieldkit.physics.circuit.by_step import operating_point_by_step, run_maxima
from yieldkit.physics.circuit.levels import merged_levels
from yieldkit.physics.circuit.stepped_strings import SteppedString, counted_runs

pytestmark = pytest.mark.slow

STEPS, GROUPS = 60, 12


def drawn_lights(rng, groups, halves, *, spread=0.0, levels=3, steps=STEPS):
    """Return lights of groups of three levels a step, maybe spread a little [W/m2]."""
    level = rng.uniform(100.0, 1000.0, (steps, levels))
    pick = rng.integers(0, levels, (steps, groups * halves))
    light = np.take_along_axis(level, pick, axis=1)
    light = light * (1.0 + spread * rng.uniform(size=light.shape))
    return light.reshape(steps, groups, halves)


def plain(light):
    """Return every group's own conditions, each (time, group and half)."""
    flat = light.reshape(light.shape[0], -1)
    found = conditions_at(flat.reshape(-1), np.full(flat.size, 40.0))
    return CellConditions(*(part.reshape(flat.shape) for part in found))


def plain_string(first, groups, halves, **more):
    """Return a string of groups whose conditions begin at a column, each a run of its own."""
    runs = tuple(
        Run(first + place * halves, 1, None if halves == 1 else first + place * halves + 1)
        for place in range(groups)
    )
    return StringCircuit(runs, **more)


def stepped(light, cuts, *, tolerance=0.0, halves_tolerance=0.0, **more):
    """Return the same groups merged, cut into strings, and their lights."""
    steps, groups, _ = light.shape
    levels = merged_levels(light, np.ones((steps, groups)), tolerance, 1.0, halves_tolerance)
    halved = np.flatnonzero(levels.light < levels.other)
    partners = np.full(levels.light.size, -1)
    partners[halved] = levels.light.size + np.arange(halved.size)
    irradiance = np.concatenate([levels.light, levels.other[halved]])
    lights = conditions_at(irradiance, np.full(irradiance.size, 40.0))
    strings = []
    for begin, end in cuts:
        runs = counted_runs(levels, np.arange(begin, end), partners, 0)
        first = np.concatenate([[0], np.cumsum(runs.number)])
        strings.append(SteppedString(first, runs.runs, **more))
    return CellConditions(*(part.reshape(-1) for part in lights)), tuple(strings)


LIMITS = [
    TrackerLimits(),
    TrackerLimits(v_mpp_min=70.0, v_mpp_max=110.0, i_max=6.0),
    TrackerLimits(v_start=90.0, p_start=200.0, v_stop=60.0),
    TrackerLimits(global_search=False),
]


@pytest.mark.parametrize("limits", LIMITS)
@pytest.mark.parametrize(
    ("halves", "cuts"), [(1, [(0, 12)]), (2, [(0, 12)]), (1, [(0, 6), (6, 12)])]
)
def test_merged_strings_find_the_points_of_unmerged_ones(limits, halves, cuts):
    rng = np.random.default_rng([halves, len(cuts)])
    light = drawn_lights(rng, GROUPS, halves)
    light[3] = 0.0
    light[4] = 700.0
    light[9] = np.nan
    strings = [
        plain_string(begin * halves, end - begin, halves, resistance=0.4) for begin, end in cuts
    ]
    bound = np.where(np.arange(STEPS) % 7 == 0, 150.0, np.inf)
    expected = operating_point(plain(light), strings, limits, power_bound=bound)
    lights, merged = stepped(light, cuts, resistance=0.4)
    assert max(np.diff(string.first).max() for string in merged) < 12
    found = operating_point_by_step(lights, merged, limits, power_bound=bound)
    for name in ("p_dc", "v_dc", "i_dc", "i_string", "p_lost_to_limit"):
        assert getattr(found, name) == pytest.approx(
            getattr(expected, name), rel=1e-6, abs=1e-6, nan_ok=True
        ), name
    told = ~np.isnan(expected.p_dc)
    assert (found.binding[told] == expected.binding[told]).all()
    assert (found.status == expected.status).all()


def test_some_steps_alone_are_what_they_are_among_all():
    light = drawn_lights(np.random.default_rng(3), GROUPS, 1)
    lights, (string,) = stepped(light, [(0, 12)])
    every = operating_point_by_step(lights, (string,))
    steps = np.array([7, 3, 41])
    some = operating_point_by_step(lights, (string.at(steps),))
    assert (some.p_dc == every.p_dc[steps]).all()


def test_lights_that_nearly_agree_are_merged_at_little_cost():
    light = drawn_lights(np.random.default_rng(5), GROUPS, 2, spread=0.003)
    expected = operating_point(plain(light), (plain_string(0, GROUPS, 2),))
    lights, merged = stepped(light, [(0, GROUPS)], tolerance=0.004, halves_tolerance=0.1)
    found = operating_point_by_step(lights, merged)
    assert np.diff(merged[0].first).mean() < 10.0
    assert found.p_dc.sum() == pytest.approx(expected.p_dc.sum(), rel=2e-4)


def test_groups_of_levels_have_the_maxima_of_their_own_light():
    light = drawn_lights(np.random.default_rng(6), 4, 1)
    lights, (string,) = stepped(light, [(0, 4)])
    steps = np.repeat(np.arange(STEPS), np.diff(string.first))
    power = string.runs[:, 2] * run_maxima(lights, string.runs)
    own = group_maxima(plain(light)).sum(axis=1)
    assert np.bincount(steps, power, STEPS) == pytest.approx(own, rel=1e-9)


def test_levels_tell_groups_apart_by_light_and_by_warmth():
    light = np.array([[[500.0], [500.0], [501.0], [300.0]]])
    warmth = np.array([[1.0, 1.0, 1.0, 0.5]])
    merged = merged_levels(light, warmth, 0.004, 0.08, 0.1)
    assert merged.light == pytest.approx([300.0, 500.0 + 1.0 / 3.0])
    assert list(merged.level_of[0]) == [1, 1, 1, 0]
    exact = merged_levels(light, warmth, 0.0, 0.0, 0.0)
    assert list(exact.light) == [300.0, 500.0, 501.0]
    apart = merged_levels(light, np.array([[1.0, 0.5, 1.0, 0.5]]), 0.004, 0.08, 0.1)
    assert apart.light.size == 3
    halves = merged_levels(np.array([[[400.0, 430.0], [400.0, 800.0]]]), np.ones((1, 2)))
    assert list(halves.light) == [415.0, 400.0]
    assert list(halves.other) == [415.0, 800.0]


NGSPICE = amount(20, 200)


def test_shaded_half_cut_strings_agree_with_the_simulator(tmp_path):
    ngspice = require("ngspice")
    rng = np.random.default_rng(11)
    for number in range(NGSPICE):
        light = drawn_lights(rng, GROUPS, 2, steps=1, levels=4)
        strings = (plain_string(0, GROUPS, 2),)
        lights, merged = stepped(light, [(0, GROUPS)])
        found = float(operating_point_by_step(lights, merged).p_dc[0])
        circuit = (rows_of(plain(light)), strings, None)
        volts, amps = sweep(ngspice, *circuit, (0.0, 15.0 * GROUPS), 800, tmp_path)
        peak, step = volts[np.argmax(volts * amps)], volts[1]
        volts, amps = sweep(ngspice, *circuit, (peak - step, peak + step), 60, tmp_path)
        assert found == pytest.approx((volts * amps).max(), rel=1e-5), f"string {number}"
