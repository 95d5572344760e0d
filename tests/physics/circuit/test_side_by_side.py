"""Strings in uneven light solved side by side: what is found alone is found there, bit by bit."""

import math

import numpy as np
import pvlib
import pytest

from tests.physics.circuit.drawn import _GROUPS, repeated
from tests.physics.circuit.reference import conditions_at
from yieldkit.physics.circuit.api import (
    Bypass,
    CellConditions,
    Run,
    StringCircuit,
    default_bypass,
    operating_point,
)
from yieldkit.physics.circuit.diode import diode_at
from yieldkit.physics.circuit.found_maxima import new_maxima
from yieldkit.physics.circuit.group import pair_at_current
from yieldkit.physics.circuit.group_maxima import fill_group_maxima
from yieldkit.physics.circuit.interval_bounds import most_voltage
from yieldkit.physics.circuit.intervals import new_interval_search
from yieldkit.physics.circuit.layout import lay_out, pack
from yieldkit.physics.circuit.tracker import string_of
from yieldkit.physics.circuit.tracker_circuit import new_free_maxima
from yieldkit.physics.circuit.unevenly_lit import string_maxima
from yieldkit.physics.circuit.unevenly_lit_series import uneven_maxima

pytestmark = pytest.mark.slow

STEPS = 100


def drawn_lights(rng, number, steps=STEPS):
    """Return steps of a number of lights on one module: far apart or alike, some dark or equal."""
    il, i0, rs, rsh, a = _GROUPS[int(rng.integers(len(_GROUPS)))]
    light = rng.uniform(20.0, 1150.0, (steps, number))
    alike = rng.random(steps) < 0.4
    spread = rng.choice([1e-4, 1e-2, 0.1], (steps, 1))
    base = rng.uniform(20.0, 1100.0, (steps, 1))
    light[alike] = (base * (1.0 - spread * rng.random((steps, number))))[alike]
    light[rng.random((steps, number)) < 0.05] = 0.0
    light[:, 0] = np.maximum(light[:, 0], 5.0)
    kelvin = rng.uniform(263.0, 348.0, (steps, number))
    equal = rng.random(steps) < 0.1
    light[equal, -1], kelvin[equal, -1] = light[equal, 0], kelvin[equal, 0]
    ratio = kelvin / 298.15
    with np.errstate(divide="ignore"):
        shunt = rsh * 1000.0 / light
    saturation = i0 * ratio**3 * np.exp(1.121 / 8.617333e-5 * (1.0 / 298.15 - 1.0 / kelvin))
    warm = 1.0 + 0.0005 * (kelvin - 298.15)
    return CellConditions(
        il * light / 1000.0 * warm, saturation, np.full(light.shape, rs), shunt, a * ratio
    )


def drawn_string(rng, number, halves):
    """Return a string of a number of lights, one run each or halves of two."""
    runs = tuple(
        Run(
            each,
            int(rng.choice([1, 3, 20])),
            int(rng.integers(number)) if halves and rng.random() < 0.7 else None,
        )
        for each in range(number)
    )
    return StringCircuit(runs, float(rng.choice([0.0, 0.4])))


def both_ways(conditions, string, bypass=None):
    """Return the powers found side by side, one by one, and the greatest of all maxima."""
    packed = pack(conditions)
    circuit = lay_out(range(packed.shape[1]), (string,), bypass, None).circuit
    steps, runs = packed.shape[0], circuit.runs.shape[0]
    own = np.empty((steps, runs, 2))
    fill_group_maxima(packed, circuit.runs, circuit.reverse, own)
    free = new_free_maxima(steps)
    uneven_maxima(packed, circuit, own, free, np.empty((steps, 1)))
    alone, every = np.empty(steps), np.empty(steps)
    search, found = new_interval_search(runs), new_maxima(runs)
    for t in range(steps):
        for powers, all_of_them in ((alone, False), (every, True)):
            count, status = string_maxima(
                string_of(circuit, 0, packed[t]), own[t], all_of_them, found, search
            )
            assert status == 0
            powers[t] = found.power[:count].max()
    return np.where(free.settled, free.power, np.nan), alone, every


@pytest.mark.parametrize("halves", [False, True])
@pytest.mark.parametrize("number", [2, 3, 5, 8, 16, 42])
def test_side_by_side_finds_what_is_found_alone(number, halves):
    rng = np.random.default_rng((number, halves))
    for _ in range(6 if number < 16 else 1):
        string = drawn_string(rng, number, halves)
        steps = STEPS if number < 16 or not halves else 10
        found, alone, every = both_ways(drawn_lights(rng, number, steps), string)
        assert found == pytest.approx(alone, rel=1e-9)
        assert found == pytest.approx(every, rel=1e-9)


def test_exponents_out_of_reach_are_left_to_the_sure_way():
    # A bypass diode that leaks next to nothing has exponents near 70.
    rng = np.random.default_rng(5)
    string = StringCircuit((Run(0, 3), Run(1, 3), Run(2, 3, 0)))
    lights, bypass = drawn_lights(rng, 3, 40), Bypass(1e-30, 0.0287)
    found, alone, _every = both_ways(lights, string, bypass)
    settled = ~np.isnan(found)
    assert 0 < settled.sum() < settled.size
    assert found[settled] == pytest.approx(alone[settled], rel=1e-9)
    whole = operating_point(lights, (string,), bypass=bypass)
    assert whole.p_dc == pytest.approx(alone, rel=1e-9)
    assert (whole.status == 0).all()


@pytest.mark.parametrize("place", [0, 5, 16, 37])
def test_no_neighbour_changes_a_bit(place):
    rng = np.random.default_rng(place)
    string = StringCircuit((Run(0, 9), Run(1, 6, 2), Run(3, 3, 4), Run(4, 12)), 0.2)
    lights = drawn_lights(rng, 5, 50)
    one = CellConditions(*(part[place : place + 1] for part in lights))
    alone = operating_point(one, (string,))
    among = operating_point(lights, (string,))
    equal = operating_point(repeated(one, 33), (string,))
    assert among.p_dc[place] == alone.p_dc[0] == equal.p_dc[7] == equal.p_dc[32]
    assert among.v_dc[place] == alone.v_dc[0] == equal.v_dc[7] == equal.v_dc[32]


@pytest.mark.parametrize("share", [0.0, 0.02, 0.5, 0.97])
def test_no_pair_exceeds_the_voltage_that_bounds_it(share):
    lights = pack(conditions_at([900.0, 900.0 * share], [30.0, 55.0]))[0]
    reverse = lay_out(range(2), (StringCircuit((Run(0, 1, 1),)),), None, None).circuit.reverse
    photo = 0.5 * (lights[0, 0] + lights[1, 0])
    for current in np.linspace(0.0, 1.05 * photo, 60):
        volts = pair_at_current(current, diode_at(lights, 0), diode_at(lights, 1), reverse)[0]
        bound = most_voltage(current, lights, 0, 1)
        assert volts <= bound + 1e-12
    assert not math.isnan(volts)
    assert most_voltage(0.9 * photo, lights, 0, 1) < most_voltage(0.1 * photo, lights, 0, 1) - 0.5


def pair_amps(volts, lit, shaded):
    """Current of two halves and their bypass diode at voltages, by Lambert's function."""
    halves = 0.0
    for cells in (lit, shaded):
        il, i0, rs, rsh, a = (each[:, None] for each in cells)
        halves = halves + pvlib.pvsystem.i_from_v(
            volts, 0.5 * il, 0.5 * i0, 2.0 * rs, 2.0 * rsh, a, method="lambertw"
        )
    bypass = default_bypass()
    return halves + bypass.saturation_current * np.expm1(np.minimum(-volts / bypass.n_vth, 60.0))


def pair_volts(amps, lit, shaded):
    """Voltages of pairs (pair, place) at string currents (place,), by bisection."""
    low = np.full((lit[0].size, amps.size), -0.6)
    high = np.full(low.shape, 20.0)
    for _ in range(48):
        middle = 0.5 * (low + high)
        above = pair_amps(middle, lit, shaded) > amps
        low, high = np.where(above, middle, low), np.where(above, high, middle)
    return 0.5 * (low + high)


def best_of_pairs(lit, shaded):
    """Greatest power of pairs in series: a table of their curves, refined round its best places."""
    top = float((0.5 * (lit[0] + shaded[0])).max())
    amps = np.linspace(0.0, 1.02 * top, 3000)
    volts = np.broadcast_to(np.linspace(-0.5, 16.0, 2000), (lit[0].size, 2000))
    curves = pair_amps(volts, lit, shaded)
    table = sum(np.interp(amps, own[::-1], at[::-1]) for own, at in zip(curves, volts, strict=True))
    power = amps * table
    peaks = [k for k in range(1, 2999) if power[k] >= power[k - 1] and power[k] > power[k + 1]]
    best = 0.0
    for peak in sorted(peaks, key=lambda k: -power[k])[:2]:
        low, high = amps[peak - 1], amps[peak + 1]
        for _ in range(3):
            near = np.linspace(low, high, 13)
            found = near * pair_volts(near, lit, shaded).sum(axis=0)
            at = int(np.clip(found.argmax(), 1, 11))
            low, high = near[at - 1], near[at + 1]
            best = max(best, float(found.max()))
    return best


def test_forty_two_unlike_halves_against_tables_of_their_curves():
    rng = np.random.default_rng(42)
    hours, pairs = 12, 42
    light = rng.uniform(150.0, 1000.0, (hours, 1)) * rng.uniform(0.1, 1.0, (hours, 2 * pairs))
    lights = conditions_at(light, np.full(light.shape, 45.0))
    string = StringCircuit(tuple(Run(2 * k, 1, 2 * k + 1) for k in range(pairs)))
    found = operating_point(lights, (string,))
    assert (found.status == 0).all()
    for hour in range(hours):
        lit, shaded = ([part[hour, k::2] for part in lights] for k in (0, 1))
        assert found.p_dc[hour] == pytest.approx(best_of_pairs(lit, shaded), rel=1e-6)


def test_groups_find_together_what_each_finds_by_itself():
    packed = pack(drawn_lights(np.random.default_rng(8), 5, 60))
    runs = np.array([(0, -1, 9), (1, 2, 6), (3, -1, 3), (3, 4, 3), (2, -1, 1)])
    reverse = lay_out(range(1), (StringCircuit((Run(0, 1),)),), None, None).circuit.reverse
    together = np.empty((60, 5, 2))
    fill_group_maxima(packed, runs, reverse, together)
    for place in range(5):
        alone = np.empty((60, 1, 2))
        fill_group_maxima(packed, runs[place : place + 1], reverse, alone)
        assert np.array_equal(together[:, place], alone[:, 0])
    assert (together[:, 0, 0] > 0.0).sum() == 60


def test_a_tracker_is_laid_out_once_for_all_its_light():
    strings = (StringCircuit((Run(0, 9), Run(1, 6))), StringCircuit((Run(1, 15),)))
    once = lay_out([0, 1], strings, None, None)
    assert lay_out((0, 1), list(strings), None, None) is once
    assert lay_out((0, 0), strings, None, None).circuit.runs.tolist() == [[0, -1, 15]]
    assert lay_out((0, 1), strings, Bypass(1e-30, 0.0287), None) is not once
