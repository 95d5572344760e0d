"""Strings in parallel in lanes: what settles is the greatest maximum, bit by bit as alone."""

import numpy as np
import pytest

from tests.physics.circuit.drawn import repeated
from tests.physics.circuit.reference import conditions_at
from tests.physics.circuit.test_side_by_side import drawn_lights
from yieldkit.physics.circuit.api import (
    Breakdown,
    CellConditions,
    Run,
    StringCircuit,
    operating_point,
)
from yieldkit.physics.circuit.found_maxima import new_maxima
from yieldkit.physics.circuit.layout import lay_out, pack
from yieldkit.physics.circuit.maxima import all_maxima
from yieldkit.physics.circuit.parallel_lit_series import parallel_maxima
from yieldkit.physics.circuit.tracker_circuit import new_free_maxima

pytestmark = pytest.mark.slow


def solved(lights, strings, breakdown=None):
    """Return the maxima that lanes settle, the strings' currents there, and the circuit."""
    packed = pack(lights)
    circuit = lay_out(range(packed.shape[1]), strings, None, breakdown).circuit
    free = new_free_maxima(packed.shape[0])
    currents = np.full((packed.shape[0], circuit.multiplicity.size), np.nan)
    parallel_maxima(packed, circuit, free, currents)
    return free, currents, circuit


def greatest(lights, circuit):
    """Return the greatest of all maxima that the general solver finds [W] (time,)."""
    packed = pack(lights)
    found = new_maxima(2 * circuit.runs.shape[0] + circuit.multiplicity.size + 2)
    best = np.empty(packed.shape[0])
    for t in range(packed.shape[0]):
        count, status = all_maxima(packed[t], circuit, found)
        assert status == 0
        best[t] = found.power[:count].max(initial=0.0)
    return best


def delivered(rng, steps, number, spread):
    """Return lights of modules of one plane that differ by a share, in any sun."""
    sun = rng.uniform(5.0, 1100.0, (steps, 1))
    return conditions_at(sun * (1.0 + spread * rng.uniform(-1.0, 1.0, (steps, number))), sun / 20.0)


@pytest.mark.parametrize("counts", [(18, 18, 18, 18), (3, 33, 21, 15), (18, 18, 15, 15)])
def test_modules_that_differ_a_little_all_settle(counts):
    one, two, three, four = counts
    strings = (
        StringCircuit((Run(0, one), Run(1, two)), 0.3),
        StringCircuit((Run(2, three), Run(3, four)), 0.5),
        StringCircuit((Run(0, one + two),), 0.1),
    )
    lights = delivered(np.random.default_rng(counts), 150, 4, 0.006)
    free, currents, circuit = solved(lights, strings)
    assert free.settled.mean() > 0.97
    told = free.settled
    assert free.power[told] == pytest.approx(greatest(lights, circuit)[told], rel=1e-9)
    total = currents[told] @ circuit.multiplicity
    assert free.volts[told] * total == pytest.approx(free.power[told], rel=1e-9)


@pytest.mark.parametrize("number", [2, 3, 5])
def test_what_settles_in_any_light_is_the_greatest_of_all_maxima(number):
    rng = np.random.default_rng(number)
    settled = missed = 0
    for _ in range(8):
        lights = drawn_lights(rng, number, 60)
        strings = tuple(
            StringCircuit(
                tuple(Run(each, int(rng.choice([1, 6, 20]))) for each in range(number)),
                float(rng.choice([0.0, 0.6])),
            )
            for _ in range(2)
        )
        free, _currents, circuit = solved(lights, strings)
        best = greatest(lights, circuit)
        told = free.settled
        settled, missed = settled + told.sum(), missed + (~told).sum()
        assert free.power[told] == pytest.approx(best[told], rel=1e-9)
        whole = operating_point(lights, strings)
        assert (whole.status == 0).all()
        assert whole.p_dc == pytest.approx(best, rel=1e-9)
    # The proof neither holds everywhere nor nowhere.
    assert settled > 50
    assert missed > 50


def test_no_neighbour_changes_a_bit():
    rng = np.random.default_rng(7)
    lights = delivered(rng, 50, 3, 0.2)
    strings = (StringCircuit((Run(0, 9), Run(1, 9)), 0.2), StringCircuit((Run(2, 17),), 0.1))
    among = operating_point(lights, strings)
    for place in (0, 5, 16, 37, 49):
        one = CellConditions(*(part[place : place + 1] for part in lights))
        alone = operating_point(one, strings)
        equal = operating_point(repeated(one, 19), strings)
        for name in ("p_dc", "v_dc", "i_string"):
            first = getattr(alone, name)[0]
            assert (getattr(among, name)[place] == first).all()
            assert (getattr(equal, name) == first).all()


@pytest.mark.parametrize(
    ("strings", "breakdown"),
    [
        ((StringCircuit((Run(0, 9, 1),)), StringCircuit((Run(0, 9),))), None),
        ((StringCircuit((Run(0, 9), Run(1, 9)), 0.1, True), StringCircuit((Run(0, 9),))), None),
        (
            (StringCircuit((Run(0, 9), Run(1, 9))), StringCircuit((Run(0, 9),))),
            Breakdown(0.002, -15.0, 3.0),
        ),
    ],
)
def test_halves_blocking_diodes_and_breakdown_are_left_to_the_general_solver(strings, breakdown):
    lights = delivered(np.random.default_rng(1), 20, 2, 0.01)
    assert not solved(lights, strings, breakdown)[0].settled.any()


def test_darkness_and_missing_light_settle_nothing():
    lights = delivered(np.random.default_rng(2), 40, 2, 0.01)
    lights.photocurrent[::4] = 0.0
    lights.photocurrent[1::4, 1] = np.nan
    strings = (StringCircuit((Run(0, 9), Run(1, 9))), StringCircuit((Run(0, 18),)))
    settled = solved(lights, strings)[0].settled
    assert not settled[::4].any()
    assert not settled[1::4].any()
    assert settled[2::4].all()
