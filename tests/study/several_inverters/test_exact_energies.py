"""What the search calls exact is what `simulate` gives, whatever inverters share."""

import numpy as np
import pytest

from tests.study.several_inverters.drawn_sites import SUBJECTS, drawn_side, drawn_wiring
from tests.study.several_inverters.wide_roofs import LEAD, WITHIN, days, kind, roofs, side_of
from yieldkit.base.progress import silent
from yieldkit.study.simulation.simulate import simulate_wirings

pytestmark = pytest.mark.slow

WALL = {"surroundings": "indoors-tight", "inlet_offset_k": 15.0}
HOT = [{"temp_inlet_c": 20.0, "max_power_w": 4000.0}, {"temp_inlet_c": 60.0, "max_power_w": 500.0}]


def simulated(side, wired):
    """Return what `simulate` gives for rows on inverters: energy and held back [kWh]."""
    wiring = side.wiring(wired, "drawn")
    _, (result,) = simulate_wirings(side.prepared, (wiring,), silent)
    held = float(result["p_held_back"].sum()) * side.prepared.step_hours / 1000.0
    return result.attrs["energy_kwh"], held


@pytest.mark.parametrize("subject", SUBJECTS)
@pytest.mark.parametrize("seed", range(4))
def test_a_drawn_site_delivers_what_it_does_when_simulated(subject, seed):
    rng = np.random.default_rng([7, SUBJECTS.index(subject), seed])
    side = drawn_side(rng, subject)
    checked = 0
    for _ in range(4):
        wired = drawn_wiring(rng, side)
        if not any(wired):
            continue
        energy, held = simulated(side, wired)
        found = side.delivered(wired)
        assert found.energy_kwh == pytest.approx(energy, rel=1e-9, abs=1e-9)
        assert found.held_back_kwh == pytest.approx(held, rel=1e-7, abs=1e-7)
        checked += 1
    assert checked


def limited(**keys):
    """Return two inverters of which the first has some limit, each with all modules of a plane."""
    hot = kind("hot (invented)", 4e3, 2, **keys)
    plain = kind("plain (invented)", 5e3, 2)
    grid = {"lead": LEAD, "network_resistance_ohm": 0.1, "network_reactance_ohm": 0.1}
    site = roofs((24, 20), [(hot, {"place": WALL, "lead": LEAD}), (plain, {})], grid)
    side = side_of(site, days(170, 2), WITHIN)
    return side, tuple(
        (int(np.flatnonzero((side.solved(place).usage == wanted).all(axis=1))[0]),)
        for place, wanted in enumerate(([24, 0], [0, 20]))
    )


@pytest.mark.parametrize(
    ("keys", "simulates"),
    [({"derating": HOT}, False), ({"max_dc_power_w": 3000.0}, True)],
)
def test_heat_and_a_largest_dc_power_hold_it_back_as_simulated(keys, simulates):
    side, wired = limited(**keys)
    energy, held = simulated(side, wired)
    free, _ = limited()
    assert energy < 0.98 * free.delivered(wired).energy_kwh
    assert side.delivered(wired).energy_kwh == pytest.approx(energy, rel=1e-9)
    powers = [side.powers(place, rows) for place, rows in enumerate(wired)]
    dc, ac = (np.column_stack(each) for each in zip(*powers, strict=True))
    assert side.limits.bind(dc, ac) == simulates
    assert held >= 0.0
