"""Two ways of searching, and what starting and stopping make of a day."""

import numpy as np
import pvlib
import pytest

from tests.physics.circuit.drawn import drawn_tracker
from tests.physics.circuit.reference import conditions_at
from yieldkit.physics.circuit.api import (
    BINDING,
    CellConditions,
    Run,
    StringCircuit,
    TrackerLimits,
    currents_at_open_circuit,
    operating_point,
    string_voltage,
    tracker_maxima,
)

pytestmark = pytest.mark.slow

GROUPS = 3
HALVES = StringCircuit((Run(0, 5 * GROUPS), Run(1, 5 * GROUPS)))
LOCAL = TrackerLimits(global_search=False)
# The 540 W module of practice.md, fitted there.
MODULE = pvlib.ivtools.sdm.fit_desoto_batzelis(41.65, 12.965, 49.5, 13.847, 0.00526, -0.13959)


def modern(irradiance, temp_cell):
    """Return groups of the 540 W module (time, condition)."""
    light = np.atleast_2d(np.asarray(irradiance, dtype=float))
    names = ("alpha_sc", "a_ref", "I_L_ref", "I_o_ref", "R_sh_ref", "R_s")
    values = pvlib.pvsystem.calcparams_desoto(
        light, np.full(light.shape, temp_cell), **{name: MODULE[name] for name in names}
    )
    il, i0, rs, rsh, a = (np.broadcast_to(np.asarray(each), light.shape) for each in values)
    return CellConditions(il.copy(), i0.copy(), rs / GROUPS, rsh / GROUPS, a / GROUPS)


def test_two_peaks_of_a_half_lit_string():
    # 5 modules at 900 and 5 at 450 W/m2: 187 V / 2181 W and 413 V / 2478 W (issue's figures,
    # cells near 45 degC).
    low, high = tracker_maxima(modern([900.0, 450.0], 45.0), (HALVES,))[0]
    assert low == pytest.approx([187.0, 2181.0], rel=0.015)
    assert high == pytest.approx([413.0, 2478.0], rel=0.02)


def test_climbing_from_open_circuit_finds_the_peak_at_high_voltage():
    lights = modern([[900.0, 450.0], [900.0, 300.0]], 45.0)
    best = operating_point(lights, (HALVES,))
    climbed = operating_point(lights, (HALVES,), LOCAL)
    assert climbed.p_dc[0] == pytest.approx(best.p_dc[0], rel=1e-12)
    # With less light on the second half the low voltage would be better; the climber stays.
    assert best.v_dc[1] < 200.0 < 400.0 < climbed.v_dc[1]
    assert climbed.p_dc[1] < 0.85 * best.p_dc[1]


def test_yesterdays_point_holds_the_climber_down_until_the_dark():
    # Below the window's end it comes to rest on the low peak and stays there when the other side
    # is lit; after a dark hour it starts from open circuit again, at the window's end.
    narrow = LOCAL._replace(v_mpp_max=250.0)
    lights = modern([[900.0, 450.0], [0.0, 0.0], [900.0, 450.0]], 45.0)
    climbed = operating_point(lights, (HALVES,), narrow)
    assert (climbed.v_dc[[0, 2]] == 250.0).all()
    assert climbed.p_dc[1] == 0.0
    held = operating_point(modern([[900.0, 0.0], [900.0, 450.0]], 45.0), (HALVES,), narrow)
    assert held.v_dc[1] < 210.0


@pytest.mark.parametrize("share", np.linspace(0.3, 0.5, 41))
def test_the_global_point_jumps_once(share):
    lights = modern([1000.0, 1000.0 * share], 45.0)
    found = tracker_maxima(lights, (HALVES,))[0]
    point = operating_point(lights, (HALVES,))
    assert point.p_dc[0] == pytest.approx(found[:, 1].max(), rel=1e-12)
    climbed = operating_point(lights, (HALVES,), LOCAL)
    assert climbed.p_dc[0] <= point.p_dc[0] * (1.0 + 1e-11)


@pytest.mark.parametrize("block", range(5))
def test_passing_over_what_cannot_win_misses_no_maximum(block):
    # Where the best is enough, most of the curve isn't looked at; all maxima are found by
    # looking everywhere. Six thousand such trackers were compared once.
    for seed in range(100 * block, 100 * block + 100):
        drawn = drawn_tracker(seed, half_cut=seed % 2 == 1)
        point = operating_point(drawn.conditions, drawn.strings, breakdown=drawn.breakdown)
        every = tracker_maxima(drawn.conditions, drawn.strings, breakdown=drawn.breakdown)[0]
        assert point.p_dc[0] == pytest.approx(every[:, 1].max(), rel=1e-9), seed
        assert point.status[0] == 0


def test_power_is_continuous_where_its_voltage_jumps():
    shares = np.linspace(0.30, 0.50, 201)
    lights = modern(np.column_stack([np.full(201, 1000.0), 1000.0 * shares]), 45.0)
    found = operating_point(lights, (HALVES,))
    assert np.abs(np.diff(found.p_dc) / found.p_dc[1:]).max() < 0.005
    assert (np.abs(np.diff(found.v_dc)) > 100.0).sum() == 1


def hours(*irradiance, temp_cell=25.0):
    """Return hours of light on one condition."""
    return conditions_at(
        np.array(irradiance)[:, None], np.broadcast_to(temp_cell, (len(irradiance),))[:, None]
    )


STRING = StringCircuit((Run(0, 30),))


def open_volts(lights):
    """Return the string's open-circuit voltages [V]."""
    return string_voltage(lights, STRING, np.zeros(lights.photocurrent.shape[0]))


def test_hot_open_circuit_below_start_up_runs_on_but_does_not_start():
    lights = hours(300.0, 1000.0, 0.0, 1000.0, temp_cell=np.array([15.0, 70.0, 15.0, 70.0]))
    highest = open_volts(lights)
    limits = TrackerLimits(v_start=0.5 * (highest[0] + highest[1]), v_stop=150.0)
    assert highest[1] < limits.v_start < highest[0]
    found = operating_point(lights, (STRING,), limits)
    assert (found.p_dc[:2] > 0.0).all()
    assert found.p_dc[3] == 0.0
    assert found.binding[3] == BINDING["start-up or stop"]
    free = operating_point(lights, (STRING,))
    assert found.p_lost_to_limit[3] == free.p_dc[3]


def test_start_up_delay_takes_its_share_of_the_first_hour():
    lights = hours(0.0, 500.0, 500.0)
    found = operating_point(lights, (STRING,), TrackerLimits(start_delay_s=900.0))
    free = operating_point(lights, (STRING,))
    assert found.p_dc[1] == pytest.approx(0.75 * free.p_dc[1], rel=1e-14)
    assert found.p_dc[2] == free.p_dc[2]
    assert found.v_dc[1] == free.v_dc[1]


def test_a_delay_longer_than_a_step_waits_through_it():
    lights = hours(500.0, 500.0, 500.0)
    found = operating_point(lights, (STRING,), TrackerLimits(start_delay_s=5400.0))
    free = operating_point(lights, (STRING,)).p_dc
    assert found.p_dc / free == pytest.approx([0.0, 0.5, 1.0], abs=1e-14)


def test_stopping_for_low_power_waits_for_the_restart_delay():
    limits = TrackerLimits(p_start=300.0, p_stop=100.0, restart_delay_s=1800.0)
    lights = hours(600.0, 150.0, 20.0, 150.0, 600.0, 600.0, 0.0, 600.0)
    free = operating_point(lights, (STRING,)).p_dc
    found = operating_point(lights, (STRING,), limits).p_dc
    shares = np.divide(found, free, out=np.zeros_like(found), where=free > 0.0)
    # 150 W/m2 gives less than the 300 W to start again, but more than the 100 W to go on... once
    # stopped at 20 W/m2 it waits for a start; the next morning has no restart delay.
    expected = [1.0, 1.0, 0.0, 1.0 if free[3] >= 300.0 else 0.0, 0.5, 1.0, 0.0, 1.0]
    if free[3] >= 300.0:
        expected[3], expected[4] = 0.5, 1.0
    assert shares == pytest.approx(expected, abs=1e-14)


def test_what_holds_the_tracker_is_named():
    lights = hours(1000.0)
    free = operating_point(lights, (STRING,))
    volts, power = free.v_dc[0], free.p_dc[0]
    words = {
        "window low": TrackerLimits(v_mpp_min=volts + 10.0),
        "window high": TrackerLimits(v_mpp_max=volts - 10.0),
        "maximum voltage": TrackerLimits(v_max=volts - 10.0),
        "input current": TrackerLimits(i_max=0.9 * power / volts),
        "input power": TrackerLimits(p_max=0.9 * power),
        "start-up or stop": TrackerLimits(p_start=2.0 * power),
    }
    for word, limits in words.items():
        found = operating_point(lights, (STRING,), limits)
        assert found.binding[0] == BINDING[word], word
        assert found.p_lost_to_limit[0] == pytest.approx(power - found.p_dc[0], rel=1e-12)
    bounded = operating_point(lights, (STRING,), power_bound=np.array([0.5 * power]))
    assert bounded.binding[0] == BINDING["power bound"]


def test_a_string_above_the_window_still_works_at_its_upper_end():
    lights = hours(1000.0)
    volts = operating_point(lights, (STRING,)).v_dc[0]
    found = operating_point(lights, (STRING,), TrackerLimits(v_mpp_max=volts - 40.0))
    assert found.v_dc[0] == volts - 40.0
    assert found.p_dc[0] > 0.0


def test_a_bound_beyond_the_maximum_voltage_switches_off_and_says_so():
    # Close to open circuit the power would be small enough, but that voltage isn't allowed.
    lights = hours(1000.0)
    top = 0.9 * open_volts(lights)[0]
    found = operating_point(
        lights, (STRING,), TrackerLimits(v_max=top), power_bound=np.array([10.0])
    )
    assert found.p_dc[0] == 0.0
    assert found.binding[0] == BINDING["power bound"]


def test_unequal_cables_in_parallel_share_the_current_unequally():
    lights = hours(1000.0)
    pair = (STRING._replace(resistance=0.1), STRING._replace(resistance=2.0))
    found = operating_point(lights, pair)
    assert found.i_string[0, 0] > found.i_string[0, 1] > 0.0
    own = sum(operating_point(lights, (each,)).p_dc[0] for each in pair)
    assert 0.0 < own - found.p_dc[0] < 0.01 * own
    assert currents_at_open_circuit(lights, pair)[0] == pytest.approx([0.0, 0.0], abs=1e-9)
