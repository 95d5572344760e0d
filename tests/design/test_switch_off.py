"""Switch-off by the ten-minute mean, against one second after the other and an energy balance."""

from collections import deque

import numpy as np
import pytest

from tests.study.sites import NO_LOSSES_BEHIND, variant, weather
from yieldkit.design.checks.grid_profiles import site_rules
from yieldkit.physics.ac.voltage_rules import Rules, off_fraction
from yieldkit.study.simulation.prepare import prepare
from yieldkit.study.simulation.simulate import simulate_prepared
from yieldkit.study.simulation.trackers import Solutions

pytestmark = pytest.mark.slow

EN = Rules(mean_limit_v=253.0, stage_limit_v=264.5, reconnect_below_v=253.0)
SLOW = EN._replace(stage_limit_v=287.5, ramp_s=600.0)


def second_by_second(without, rise, rules, hours=16, cleared=False):
    """Return the share of energy lost in the second half of some hours, and the highest mean."""
    seconds = deque([without] * 600, maxlen=600)
    total, on, since, fed, highest = 600.0 * without, True, 0, 0.0, 0.0
    for second in range(3600 * hours):
        since += 1
        power = (min(since / rules.ramp_s, 1.0) if rules.ramp_s else 1.0) if on else 0.0
        volts = without + rise * power
        total += volts - seconds[0]
        seconds.append(volts)
        if second >= 1800 * hours:
            fed += power
            highest = max(highest, total / 600.0)
        # The mean must exceed its limit; a stage is exceeded at once.
        if on and (total / 600.0 > rules.mean_limit_v + 1e-7 or volts > rules.stage_limit_v):
            on, since = False, 0
        elif not on and without < rules.reconnect_below_v and since >= rules.reconnect_delay_s:
            on, since = True, 0
            if cleared:
                seconds, total = deque([without] * 600, maxlen=600), 600.0 * without
    return 1.0 - fed / (1800 * hours), highest


def lost(without, rise, rules):
    """Return the share lost at one voltage."""
    return float(off_fraction(np.array([without]), np.array([rise]), 0.0, rules)[0])


def test_what_is_left_keeps_the_mean_at_its_limit():
    # 240 V and 20 V of own rise under a mean of 253 V: at most 13 / 20 of the energy can go out.
    rules = EN._replace(stage_limit_v=np.nan)
    share = lost(240.0, 20.0, rules)
    assert share >= 0.35
    # Off for 60 s four times in every ten minutes: 4 x 60 / (4 x 60 + 390).
    assert share == pytest.approx(240.0 / 630.0, abs=0.005)
    # A ramp of 600 s after each: one cycle of 698 + 60 s that feeds 398, by hand.
    assert lost(240.0, 20.0, SLOW) == pytest.approx(0.475, abs=0.005)


@pytest.mark.parametrize("rise", [8.0, 20.0, 31.0])
@pytest.mark.parametrize("height", [0.21, 0.48, 0.65, 0.93])
@pytest.mark.parametrize(("delay", "ramp"), [(60.0, 0.0), (60.0, 600.0), (300.0, 300.0)])
def test_shares_are_those_of_a_simulation_by_seconds(rise, height, delay, ramp):
    rules = Rules(253.0, 300.0, 253.0, delay, ramp)
    without = 253.0 - height * rise
    # The mean of a settled cycle lies at its limit, a second's power above it at most.
    simulated, highest = second_by_second(without, rise, rules)
    assert highest == pytest.approx(253.0, abs=0.06)
    assert lost(without, rise, rules) == pytest.approx(simulated, abs=0.01)
    assert lost(without, rise, rules) >= 1.0 - height - 0.005


@pytest.mark.parametrize(("without", "rise"), [(250.0, 40.0), (252.0, 40.0), (240.0, 60.0)])
def test_an_instantaneous_stage_trips_on_the_way_up(without, rise):
    simulated, _ = second_by_second(without, rise, SLOW)
    assert lost(without, rise, SLOW) == pytest.approx(simulated, abs=0.02)
    assert lost(without, rise, SLOW._replace(ramp_s=0.0)) == 1.0


@pytest.mark.parametrize("ramp", [0.0, 600.0])
def test_a_mean_cleared_on_reconnection_loses_less_or_as_much(ramp):
    rules = SLOW._replace(ramp_s=ramp)
    cleared = rules._replace(mean_cleared=True)
    simulated, _ = second_by_second(240.0, 20.0, rules, cleared=True)
    assert lost(240.0, 20.0, cleared) == pytest.approx(simulated, abs=0.01)
    assert lost(240.0, 20.0, cleared) <= lost(240.0, 20.0, rules) + 0.005
    # Each time 390 s on, 60 s off.
    if ramp == 0.0:
        assert lost(240.0, 20.0, cleared) == pytest.approx(60.0 / 450.0, abs=0.003)


def test_it_comes_back_by_the_voltage_without_its_own_rise():
    rules = EN._replace(reconnect_below_v=245.0)
    assert lost(246.0, 10.0, rules) == 1.0
    assert lost(244.0, 10.0, rules) == pytest.approx(lost(244.0, 10.0, EN), abs=1e-12)


def test_a_missing_voltage_stays_missing():
    shares = off_fraction(np.array([np.nan, 240.0]), np.array([5.0, 20.0]), 2.0, EN)
    assert np.isnan(shares[0])
    assert shares[1] > 0.0


WEAK = NO_LOSSES_BEHIND | {
    "grid.profile": "vde-ar-n-4105-2018",
    "grid.network_voltage": {"kind": "constant", "voltage_v": 248.0},
    "grid.network_resistance_ohm": 0.7,
}


def switched_off(**changes):
    """Return the loss to network voltage [kWh] and the site's sentence about it."""
    prepared = prepare(variant(WEAK | changes), weather())
    result = simulate_prepared(prepared, prepared.site.wirings[0], Solutions())
    told = next(each for each in prepared.assumptions if each.startswith("Switch-off"))
    return float(result["loss_budget"].sel(loss_step="network voltage")), told


def test_the_firmwares_way_can_be_told_and_is_said():
    sliding, told = switched_off()
    assert told == (
        "Switch-off above 253.0 V in the ten-minute mean, which slides on while it is off (the "
        "firmware's way is assumed; see grid.ten_minute_mean); the inverter reconnects 60 s after "
        "the voltage allows it and ramps up in 600 s, and keeps doing so within a step."
    )
    cleared, told = switched_off(**{"grid.ten_minute_mean": "cleared"})
    assert "which is cleared on every reconnection; the inverter" in told
    assert cleared < sliding
    _, told = switched_off(**{"grid.profile": "g98-g99"})
    assert told == (
        "Switch-off above 262.2 V at once; the inverter reconnects 20 s after the voltage allows "
        "it. No rule about a ten-minute mean: grid.ten_minute_mean is not used."
    )


def test_the_sites_rules_carry_the_makers_word():
    assert not site_rules(variant(WEAK)).mean_cleared
    assert site_rules(variant(WEAK | {"grid.ten_minute_mean": "cleared"})).mean_cleared
