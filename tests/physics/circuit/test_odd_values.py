"""Dark, faint, negative and missing light, and currents and voltages beyond a curve's ends."""

import numpy as np
import pytest

from tests.physics.circuit.drawn import repeated
from tests.physics.circuit.reference import conditions_at
from yieldkit.physics.circuit.api import (
    BINDING,
    CellConditions,
    Run,
    StringCircuit,
    TrackerLimits,
    default_bypass,
    group_maxima,
    operating_point,
    string_current,
    string_voltage,
    tracker_current,
    tracker_maxima,
)

pytestmark = pytest.mark.slow

TRACKERS = {
    "one": (StringCircuit((Run(0, 30),)),),
    "parallel": (StringCircuit((Run(0, 30),)), StringCircuit((Run(1, 27),))),
    "mixed": (StringCircuit((Run(0, 15), Run(1, 15))),),
    "general": (StringCircuit((Run(0, 9), Run(1, 6))), StringCircuit((Run(1, 15),))),
    "halves": (StringCircuit((Run(0, 15, 1),)),),
}


def six_hours():
    """Return six hours in two lights with a sound one at both ends."""
    light = [[800.0, 500.0], [0.0, 0.0], [1e-9, 1e-9], [-3.0, -3.0], [700.0, 0.0], [800.0, 500.0]]
    sound = conditions_at(np.abs(light), np.full((6, 2), 40.0))
    amps = sound.photocurrent.copy()
    amps[3] = -0.03
    return sound._replace(photocurrent=amps)


@pytest.mark.parametrize("tracker", TRACKERS)
def test_odd_light_disturbs_no_neighbour(tracker):
    strings = TRACKERS[tracker]
    odd = six_hours()
    for part in odd:
        part.flags.writeable = True
    missing = odd._replace(photocurrent=odd.photocurrent.copy())
    missing.photocurrent[1] = np.nan
    for search in (True, False):
        found = operating_point(missing, strings, TrackerLimits(global_search=search))
        alone = operating_point(
            CellConditions(*(part[:1] for part in odd)),
            strings,
            TrackerLimits(global_search=search),
        )
        assert np.isnan(found.p_dc[1])
        assert np.isnan(found.i_string[1]).all()
        assert found.p_dc[2] == found.p_dc[3] == 0.0
        assert (found.binding[2:4] == BINDING["off: dark"]).all()
        assert found.p_dc[0] == alone.p_dc[0]
        if search:
            assert found.p_dc[5] == alone.p_dc[0]
        assert np.isfinite(np.delete(found.p_dc, 1)).all()
        assert np.isfinite(np.delete(found.v_dc, 1)).all()
        assert (found.status == 0).all()


@pytest.mark.parametrize("column", range(5))
def test_any_missing_parameter_makes_its_own_step_missing(column):
    odd = six_hours()
    parts = [part.copy() for part in odd]
    parts[column][0, 1] = np.nan
    found = operating_point(CellConditions(*parts), TRACKERS["parallel"])
    assert np.isnan(found.p_dc[0])
    assert found.p_dc[5] > 0.0
    assert np.isnan(group_maxima(CellConditions(*parts))[0, 1])


@pytest.mark.parametrize("tracker", TRACKERS)
@pytest.mark.parametrize("faint", [1e-7, 1e-4, 0.01, 0.5])
def test_faint_light_gives_little_and_converges(tracker, faint):
    light = conditions_at([faint, 0.6 * faint], [10.0, 12.0])
    found = operating_point(light, TRACKERS[tracker])
    assert found.status[0] == 0
    assert 0.0 <= found.p_dc[0] <= 0.4 * faint * 60


def test_current_above_a_groups_short_circuit_gives_the_bypass_voltage():
    # T25: never -154 V. 15 A through groups of 9.4 A and of 4.7 A.
    lights = conditions_at([1000.0, 500.0], [25.0, 25.0])
    for condition, carried in ((0, 15.0 - 9.43), (1, 15.0 - 4.715)):
        volts = string_voltage(lights, StringCircuit((Run(condition, 1),)), np.array([15.0]))[0]
        drop = default_bypass().n_vth * np.log(carried / default_bypass().saturation_current)
        assert volts == pytest.approx(-drop, abs=0.01)


def test_voltage_above_open_circuit_is_fed_backwards_unless_blocked():
    light = conditions_at(1000.0, 25.0)
    string = StringCircuit((Run(0, 30),))
    highest = string_voltage(light, string, np.zeros(1))[0]
    above = repeated(light, 3)
    volts = highest * np.array([1.0, 1.1, 1.5])
    amps = string_current(above, string, volts)
    assert amps[0] == pytest.approx(0.0, abs=1e-9)
    assert amps[2] < amps[1] < -5.0
    assert np.isfinite(amps).all()
    blocked = string_current(above, string._replace(blocking_diode=True), volts)
    assert (blocked[1:] == 0.0).all()


def test_bypass_leakage_is_in_the_equations():
    # A leakier diode takes its leakage from every group at forward voltage.
    from yieldkit.physics.circuit.api import Bypass

    light = conditions_at(30.0, 10.0)
    n_vth = default_bypass().n_vth
    leaky, tight = (
        string_current(
            light, StringCircuit((Run(0, 3),)), np.array([25.0]), bypass=Bypass(i, n_vth)
        )
        for i in (1e-5, 1e-9)
    )
    assert tight[0] - leaky[0] == pytest.approx(1e-5 - 1e-9, rel=0.02)


def test_curves_agree_with_one_another():
    lights = conditions_at([900.0, 600.0], [45.0, 50.0])
    string = StringCircuit((Run(0, 20), Run(1, 10)), 0.5)
    amps = np.linspace(0.0, 9.0, 30)
    many = repeated(lights, amps.size)
    volts = string_voltage(many, string, amps)
    assert string_current(many, string, volts) == pytest.approx(amps, abs=1e-9)
    twice = tracker_current(many, (string, string), volts)
    assert twice == pytest.approx(2.0 * amps, abs=1e-9)


def test_all_maxima_are_maxima():
    lights = conditions_at([1000.0, 700.0, 400.0], [45.0, 45.0, 45.0])
    string = StringCircuit((Run(0, 12), Run(1, 9), Run(2, 9)))
    found = tracker_maxima(lights, (string,))[0]
    assert found.shape[0] == 3
    for volts, power in found:
        near = volts + np.array([-0.5, 0.0, 0.5])
        around = near * string_current(repeated(lights, 3), string, near)
        assert around[1] == pytest.approx(power, rel=1e-9)
        assert around.argmax() == 1
    dark = conditions_at([0.0, 0.0, 0.0], [5.0, 5.0, 5.0])
    assert tracker_maxima(dark, (string,))[0].shape == (0, 2)


@pytest.mark.parametrize("levels", ["close", "random"])
def test_no_maximum_of_eight_light_levels_is_missed(levels):
    rng = np.random.default_rng(8)
    steps = 200
    shares = (
        0.97 ** np.arange(8) * np.ones((steps, 1))
        if levels == "close"
        else rng.uniform(0.05, 1.0, (steps, 8))
    )
    light = conditions_at(
        rng.uniform(100.0, 1100.0, (steps, 1)) * shares, np.full((steps, 8), 40.0)
    )
    string = StringCircuit(tuple(Run(k, 3) for k in range(8)))
    found = operating_point(light, (string,))
    top = 1.01 * light.photocurrent.max(axis=1)
    grid = np.linspace(0.001, 1.0, 4000)
    best = np.zeros(steps)
    for share in grid:
        best = np.maximum(best, share * top * string_voltage(light, string, share * top))
    assert (found.status == 0).all()
    assert (found.p_dc >= best * (1.0 - 1e-10)).all()
    assert (found.p_dc <= best * (1.0 + 1e-4)).all()
