"""Rankings against one simulation after the other, and cases with a known answer."""

import numpy as np
import pytest

from tests.study.sites import NO_LOSSES_BEHIND, ac_held_at, demo_mapping, variant, weather
from yieldkit.design.permitted.constraints import Constraints
from yieldkit.design.permitted.wirings import possible_wirings
from yieldkit.study.ranking.proposal import weigh
from yieldkit.study.ranking.propose import rank
from yieldkit.study.simulation.prepare import prepare
from yieldkit.study.simulation.simulate import simulate_prepared
from yieldkit.study.simulation.trackers import Solutions

pytestmark = pytest.mark.slow

VARIANTS = {
    "as drawn": {},
    "clipped and derated": ac_held_at(7000.0)
    | {
        "inverter.derating": (
            {"temp_inlet_c": 30.0, "max_power_w": 7000.0},
            {"temp_inlet_c": 45.0, "max_power_w": 4500.0},
        )
    },
    "thin air without a temperature curve": {
        "inverter.derating": (),
        "inverter.altitude_derating": {"above_m": 0.0, "percent_per_100_m": 10.0},
    },
    "weak network": {
        "grid.lead.length_m": 60.0,
        "grid.network_voltage": {"kind": "constant", "voltage_v": 249.5},
        "grid.load_w": 700.0,
    },
    "volt-watt": {
        "grid.profile": "as-nzs-4777-2-a",
        "grid.network_voltage": {
            "kind": "modelled",
            "voltage_v": 250.0,
            "noise_v": 2.0,
            "neighbours_rise_v": 3.0,
        },
    },
    "held at an input": {"inverter.mppts.MPPT 1.max_power_w": 4000.0},
    "held by all inputs": {"inverter.max_dc_power_w": 9000.0},
    "weighted efficiency": {
        "inverter.efficiency": {
            "kind": "weighted",
            "european": 0.972,
            "maximum": 0.98,
            "voltage_v": 580.0,
        }
    },
}


@pytest.mark.parametrize("name", VARIANTS)
def test_ranking_is_what_simulations_say(name):
    site = variant(VARIANTS[name])
    prepared = prepare(site, weather())
    # Few wirings where every one needs a solution of its own.
    few = Constraints(shortest=7, longest=14)
    possible = possible_wirings(site, few if "held" in name else Constraints(leave_at_most=1))
    ranking = rank(possible, prepared)
    chosen = np.random.default_rng(4).choice(
        len(possible.candidates), min(10, len(possible.candidates)), replace=False
    )
    solutions = Solutions()
    for place in chosen:
        wiring = possible.wiring(possible.candidates[place], "x")
        result = simulate_prepared(prepared, wiring, solutions)
        assert ranking.energy_kwh[place] == pytest.approx(result.attrs["energy_kwh"], rel=1e-9)
    assert (np.diff(ranking.energy_kwh[ranking.order]) <= 0.0).all()


def opposite_planes():
    """Return two equal opposite planes on an inverter with two alike inputs."""
    base = demo_mapping()
    planes = [
        dict(
            base["planes"][0],
            name=name,
            azimuth_deg=azimuth,
            modules=12,
            mounting="open-rack",
        )
        for name, azimuth in (("east", 90.0), ("west", 270.0))
    ]
    inputs = [dict(base["inverter"]["mppts"][0], name=name) for name in ("A", "B")]
    own = [
        {
            "name": "w",
            "trackers": [
                {"mppt": "A", "strings": [{"groups": [{"plane": "east", "modules": 12}]}]}
            ],
        }
    ]
    return variant(NO_LOSSES_BEHIND | {"inverter.mppts": inputs}, own, planes)


def test_two_opposite_planes():
    site = opposite_planes()
    possible = possible_wirings(
        site, Constraints(crossing=(("east", "west"),), shortest=12, longest=12)
    )
    ranking = rank(possible, prepare(site, weather()))
    kinds = {}
    for place in range(ranking.order.size):
        wiring = ranking.wiring(place)
        energy = ranking.energy_kwh[ranking.order[place]]
        strings = [
            tuple(sorted((g.plane, g.modules) for g in each.groups))
            for tracker in wiring.trackers
            for each in tracker.strings
        ]
        per_input = [len(tracker.strings) for tracker in wiring.trackers]
        if sorted(strings) == [(("east", 12),), (("west", 12),)]:
            kinds["own" if per_input == [1, 1] else "parallel"] = (place, energy)
        if sorted(strings) == [(("east", 6), ("west", 6))] * 2 and per_input == [1, 1]:
            kinds["series"] = (place, energy)
    # One plane on each input first; both in parallel at most 0.2 % behind; mixed series last of
    # the three by several percent.
    assert kinds["own"][0] == 0
    assert 0.0 < 1.0 - kinds["parallel"][1] / kinds["own"][1] < 0.002
    assert 1.0 - kinds["series"][1] / kinds["own"][1] > 0.04


def test_the_table_says_what_counts_beside_the_yield():
    site = opposite_planes()
    ranking = rank(possible_wirings(site, Constraints(leave_at_most=2)), prepare(site, weather()))
    proposal = weigh(ranking, 5, draws=0)
    table = proposal.table
    assert list(table["name"][:5]) == [f"proposed {place}" for place in range(1, 6)]
    assert table["difference_percent"].iloc[0] == 0.0
    assert (np.diff(table["energy_kwh"][:5]) < 0.0).all()
    assert (table["modules_left"][:5] <= 2).all()
    assert (table["voltage_margin_v"] > 0.0).all()
    assert table["worth_choosing"].iloc[0]
    assert table["words"].iloc[0] == ""
    assert "less energy" in table["words"].iloc[1]
    assert "wirings with nothing forbidden this yields most" in proposal.answer()
    # The site's own wirings stand below, with what they are worth.
    assert table["name"].iloc[-1] == "your w"


def test_a_second_proposal_keeps_apart_from_the_first():
    site = opposite_planes()
    content = site.model_dump(exclude={"folder"})
    content["wirings"][0]["name"] = "proposed 1"
    # A second wiring of one's own, with a quarter of the modules of the first left out.
    shorter = {"mppt": "A", "strings": [{"groups": [{"plane": "east", "modules": 9}]}]}
    wirings = [{"name": "shorter", "trackers": [shorter]}, *content["wirings"]]
    again = variant({"inverter": content["inverter"]}, wirings, content["planes"])
    proposal = weigh(rank(possible_wirings(again), prepare(again, weather())), 2, draws=2)
    names = ["proposed 1 (new)", "proposed 2", "your shorter", "your proposed 1"]
    assert list(proposal.table["name"]) == names
    # The best is judged against the next one and the better of one's own.
    judged = [(each.first, each.second) for each in proposal.judgements]
    assert judged == [("proposed 1 (new)", name) for name in names[1:2] + names[:1:-1]]


def test_nothing_that_is_beaten_is_called_worth_choosing():
    site = opposite_planes()
    ranking = rank(possible_wirings(site, Constraints(leave_at_most=2)), prepare(site, weather()))
    table = weigh(ranking, 12, draws=0).table
    for _, row in table[table["worth_choosing"]].iterrows():
        better = (
            (table["energy_kwh"] > row["energy_kwh"])
            & (table["strings"] <= row["strings"])
            & (table["cable_m"] <= row["cable_m"])
            & (table["modules_left"] <= row["modules_left"])
        )
        assert not better.any()


def test_what_is_asked_of_progress():
    said = []
    site = opposite_planes()
    rank(
        possible_wirings(site),
        prepare(site, weather()),
        lambda word, done, every: said.append((word, done, every)),
    )
    assert said[-1][1] == said[-1][2]
    assert {word for word, _, _ in said} == {"arrangements", "wirings"}
