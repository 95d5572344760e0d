"""The AC resistance from volts and power, over a network whose own voltage wanders."""

from dataclasses import replace

import numpy as np
import pytest

from tests.study.review.plants import plants
from tests.study.review.year_logs import Drawn, log_of
from yieldkit.design.equipment.cables import ac_lead_impedance
from yieldkit.study.review.resistance import resistances


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_drawn_resistance_is_found(seed):
    site, wiring = plants()["demo"]
    log = log_of(site, wiring, Drawn(resistance=0.30), seed)
    (found,) = resistances(site, log)
    assert found.found.value == pytest.approx(0.30, rel=0.05)
    assert 0.002 < found.found.high - found.found.low < 0.06
    lead = ac_lead_impedance(site.grid.lead, 3)[0]
    assert found.lead == pytest.approx(lead)
    assert found.expected == pytest.approx(lead + site.grid.network_resistance_ohm)
    assert f"The site lets expect {found.expected:.3f} ohm" in found.words


def test_the_span_holds_the_truth_as_often_as_it_says():
    site, wiring = plants()["demo"]
    log = log_of(site, wiring, Drawn(resistance=0.0), every=12)
    power = log.data["p_ac"] / 3.0
    rng = np.random.default_rng(1)
    held = 0
    for _ in range(60):
        wander = np.zeros(log.data.sizes["time"])
        draws = 0.4 * rng.standard_normal(wander.size)
        for at in range(1, wander.size):
            wander[at] = 0.9 * wander[at - 1] + draws[at]
        stiff = 230.0 + wander[:, None]
        volts = 0.5 * (stiff + np.sqrt(stiff**2 + 4.0 * 0.25 * power))
        own = replace(log, data=log.data.assign(v_ac=volts.transpose("time", "inverter")))
        (found,) = resistances(site, own)
        held += found.found.low < 0.25 < found.found.high
    assert 50 <= held <= 60  # nine of ten, within two standard deviations


def test_each_of_two_inverters_by_its_own_current():
    site, wiring = plants()["two inverters"]
    log = log_of(site, wiring, Drawn(resistance=0.30))
    for each in resistances(site, log):
        assert each.found.value == pytest.approx(0.30, rel=0.10)


def test_nothing_is_told_where_nothing_moves():
    site, wiring = plants()["demo"]
    log = log_of(site, wiring, every=60)
    still = log.data.assign(
        p_ac=0.0 * log.data["p_ac"] + 5000.0, v_ac=0.0 * log.data["v_ac"] + 231.0
    )
    (found,) = resistances(site, replace(log, data=still))
    assert np.isnan(found.found.value)
    assert "don't tell" in found.words
    assert resistances(site, replace(log, data=log.data.drop_vars("v_ac"))) == ()
