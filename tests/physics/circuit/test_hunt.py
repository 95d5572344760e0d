"""Best points that a search may miss: circuits that were missed once, and drawn trackers."""

import numpy as np
import pytest

from tests.physics.circuit import dense, hunt
from tests.physics.circuit.drawn import Drawn, repeated
from tests.physics.circuit.hunt import failures, misses
from tests.physics.circuit.reference import conditions_at
from yieldkit.physics.circuit.api import (
    BINDING,
    CellConditions,
    Run,
    StringCircuit,
    TrackerLimits,
    currents_at_open_circuit,
    operating_point,
    tracker_maxima,
)

pytestmark = pytest.mark.slow


def lights(*rows):
    """Return one moment's conditions from rows of light, I_0, R_s, R_sh and n Ns Vth."""
    return CellConditions(*(np.array([part]) for part in zip(*rows, strict=True)))


def string(*runs, cable=0.0):
    """Return a string of (condition, count) pairs."""
    return StringCircuit(tuple(Run(*run) for run in runs), cable)


# Two maxima 7 V apart, the lower one found first.
CLOSE = (
    lights(
        (1.2182, 8.6122e-8, 0.093541, 114.48, 0.72164),
        (2.9072, 7.0093e-8, 0.093541, 47.937, 0.71848),
        (2.2669, 3.5196e-8, 0.093541, 61.337, 0.70812),
        (2.8979, 2.6608e-8, 0.093541, 47.937, 0.70399),
    ),
    (
        string((2, 23), (1, 23), (0, 23), cable=0.05),
        string((2, 5), (1, 6), (3, 10), cable=0.5),
        string((1, 22), (3, 9), (2, 14), (0, 12), cable=0.5),
    ),
)
# Newton's steps go to and fro between two voltages.
TO_AND_FRO = (
    lights(
        (18.733, 6.9947e-13, 0.05195, 28.434, 0.69994),
        (18.564, 1.6259e-14, 0.05195, 28.434, 0.65443),
        (18.532, 7.4822e-15, 0.05195, 28.434, 0.64574),
    ),
    (
        string((1, 28), cable=0.05),
        string((0, 4), (1, 2)),
        string((2, 4), (0, 4)),
        string((0, 10), (1, 8), (2, 12)),
        string((2, 2), (1, 4), cable=0.05),
    ),
)


def test_the_higher_of_two_maxima_close_together_is_found():
    point = operating_point(*CLOSE)
    assert point.p_dc[0] == pytest.approx(1659.93, abs=0.005)
    assert point.v_dc[0] == pytest.approx(233.12, abs=0.005)
    assert point.status[0] == 0
    volts, power = tracker_maxima(*CLOSE)[0].T
    assert volts == pytest.approx([233.12, 239.98], abs=0.005)
    assert power == pytest.approx([1659.93, 1658.42], abs=0.005)


def test_steps_that_go_to_and_fro_end_at_the_maximum():
    point = operating_point(*TO_AND_FRO)
    assert point.status[0] == 0
    expected = dense.maxima(*TO_AND_FRO)
    assert expected.shape[0] == 1
    assert point.p_dc[0] == pytest.approx(expected[0, 1], rel=1e-7)
    assert tracker_maxima(*TO_AND_FRO)[0][:, 1] == pytest.approx(expected[:, 1], rel=1e-7)


@pytest.mark.parametrize("block", range(4))
def test_three_ways_find_the_same_best_point(block):
    # 100,000 were hunted once; see the hunt beside this file.
    assert failures(range(500 * block, 500 * block + 500)) == []


def test_the_hunt_tells_a_miss(monkeypatch):
    circuit = Drawn(*CLOSE, None)
    assert misses(circuit) == []
    point = operating_point(*CLOSE, TrackerLimits(v_mpp_min=238.5))
    monkeypatch.setattr(hunt, "operating_point", lambda *_: point)
    every = tracker_maxima(*CLOSE)
    monkeypatch.setattr(hunt, "tracker_maxima", lambda *_: [every[0][1:]])
    assert misses(circuit) == [
        "operating point 1658.422889 W, brute force 1659.928631 W",
        "best of all maxima 1658.422889 W, brute force 1659.928631 W",
        "no maximum of 1659.928631 W at 233.12 V among all maxima",
    ]


@pytest.mark.parametrize("blocked", ["longest", "shortest", "all"])
def test_open_circuit_of_blocked_and_free_strings_carries_nothing(blocked):
    light = conditions_at([1000.0, 800.0], [25.0, 60.0])
    lengths = (30, 24, 12)
    chosen = {"longest": (True, False, False), "shortest": (False, False, True)}
    strings = tuple(
        StringCircuit((Run(place % 2, length),), 0.1, blocking)
        for place, (length, blocking) in enumerate(
            zip(lengths, chosen.get(blocked, (True,) * 3), strict=True)
        )
    )
    amps = currents_at_open_circuit(light, strings)[0]
    assert amps.sum() == pytest.approx(0.0, abs=1e-9)
    if blocked == "longest":
        # It feeds the others, which take back what it gives.
        assert amps[0] > 1.0
        assert amps[2] < -1.0
    if blocked == "all":
        assert (amps == 0.0).all()


def test_open_circuit_of_blocked_and_free_strings_decides_about_the_start():
    # The free string draws the blocked one's voltage down, so that the inverter never starts.
    light = conditions_at([[1000.0]], [[25.0]])
    strings = (
        StringCircuit((Run(0, 30),), 0.0, True),
        StringCircuit((Run(0, 12),)),
    )
    alone = operating_point(light, strings[:1], TrackerLimits(v_start=350.0))
    assert alone.p_dc[0] > 0.0
    both = operating_point(light, strings, TrackerLimits(v_start=350.0))
    assert both.p_dc[0] == 0.0
    assert both.status[0] == 0


TRACKERS = {
    "one": (string((0, 20)),),
    "mixed": (string((0, 12), (1, 8)),),
    "parallel": (string((0, 20)), string((1, 18))),
    "general": (string((0, 9), (1, 6)), string((1, 15))),
}


@pytest.mark.parametrize("tracker", TRACKERS)
@pytest.mark.parametrize("search", [True, False])
def test_resistances_that_no_diode_has_never_count_as_solved(tracker, search):
    limits = TrackerLimits(global_search=search)
    sound = repeated(conditions_at([900.0, 500.0], [40.0, 45.0]), 3)
    expected = operating_point(sound, TRACKERS[tracker], limits)
    assert (expected.status == 0).all()
    wrong = {
        "resistance_series": (-0.1, -50.0, np.inf, -np.inf),
        "resistance_shunt": (-1.0, -50.0, 0.0, -np.inf),
        "saturation_current": (-1e-9, 0.0, np.inf),
        "n_ns_vth": (-0.5, 0.0, np.inf),
        "photocurrent": (np.inf,),
    }
    for name, values in wrong.items():
        for value in values:
            part = getattr(sound, name).copy()
            part[1, 0] = value
            found = operating_point(sound._replace(**{name: part}), TRACKERS[tracker], limits)
            assert list(found.status) == [0, 1, 0], (name, value)
            assert np.isnan(found.p_dc[1]), (name, value)
            assert np.isnan(found.i_string[1]).all(), (name, value)
            assert found.p_dc[[0, 2]] == pytest.approx(expected.p_dc[[0, 2]], rel=1e-12)


def test_no_shunt_at_all_is_sound():
    light = conditions_at([900.0, 500.0], [40.0, 45.0])
    bare = light._replace(resistance_shunt=np.full((1, 2), np.inf))
    huge = light._replace(resistance_shunt=np.full((1, 2), 1e12))
    for tracker in TRACKERS.values():
        found, nearly = operating_point(bare, tracker), operating_point(huge, tracker)
        assert found.status[0] == 0
        assert found.p_dc[0] == pytest.approx(nearly.p_dc[0], rel=1e-9)


def test_a_local_search_that_rests_at_the_windows_top_says_so():
    light = conditions_at([[1000.0]], [[25.0]])
    tracker = (string((0, 30)),)
    best = operating_point(light, tracker).v_dc[0]
    local = TrackerLimits(global_search=False)
    held = operating_point(light, tracker, local._replace(v_mpp_max=best - 20.0))
    assert held.v_dc[0] == best - 20.0
    assert held.binding[0] == BINDING["window high"]
    held = operating_point(light, tracker, local._replace(v_max=best - 20.0))
    assert held.v_dc[0] == best - 20.0
    assert held.binding[0] == BINDING["maximum voltage"]
    held = operating_point(light, tracker, local._replace(v_mpp_min=best + 20.0))
    assert held.v_dc[0] == best + 20.0
    assert held.binding[0] == BINDING["window low"]


def test_a_lower_peak_below_the_maximum_voltage_is_held_by_that():
    light = conditions_at([1000.0, 600.0], [45.0, 45.0])
    tracker = (string((0, 15), (1, 15)),)
    low, high = tracker_maxima(light, tracker)[0]
    assert high[1] > low[1]
    between = 0.6 * low[0] + 0.4 * high[0]
    for name, word in (("v_max", "maximum voltage"), ("v_mpp_max", "window high")):
        point = operating_point(light, tracker, TrackerLimits()._replace(**{name: between}))
        assert point.v_dc[0] == pytest.approx(low[0], rel=1e-6)
        assert point.binding[0] == BINDING[word]
