"""Strings laid on the roof as connected runs of neighbours, and the cable that follows."""

import math
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.study.sites import demo, demo_mapping, string, variant, weather, wiring
from yieldkit.design.permitted.constraints import constraints_from
from yieldkit.design.roof.layout import laid_wiring, string_layout
from yieldkit.design.roof.runs import Roof, runs
from yieldkit.report.tables.ranking import counts_list
from yieldkit.study.ranking.proposal import weigh
from yieldkit.study.ranking.propose import propose

WIDTH, HEIGHT = 1.134, 1.722


def roof(columns, rows, missing=(), **changes):
    """Return the site with one plane whose modules have places, and two strings on it."""
    drawing = [
        "".join("." if (row, column) in missing else "M" for column in range(columns))
        for row in reversed(range(rows))
    ]
    count = columns * rows - len(missing)
    plane = dict(demo_mapping()["planes"][0], drawing=drawing, modules=count) | changes
    half = count // 2
    own = [
        wiring(
            "two",
            MPPT_1=[
                string(("west roof", half), length_m=30.0),
                string(("west roof", count - half), length_m=30.0),
            ],
        )
    ]
    return variant(None, own, [plane])


def test_every_module_is_in_one_run_and_neighbours_follow_one_another():
    site = roof(6, 4)
    found = string_layout(site, site.wirings[0])
    assert sorted(place for run in found for place in run.modules) == list(range(24))
    assert all(run.connected for run in found)
    assert [len(run.modules) for run in found] == [12, 12]
    assert all(run.conductor_m is None for run in found)


def test_a_drawing_is_read_as_seen_from_outside():
    places = [(place.row, place.column) for place in demo().planes[2].places]
    assert places == [(0, 0), (0, 1), (0, 2), (0, 3), (1, 1), (1, 2), (1, 3)]


def row_of(count, reach):
    """Return modules side by side, the cables leaving one width left of the first."""
    return Roof(tuple((0, place) for place in range(count)), (WIDTH, HEIGHT), (0.0, -1.0), reach)


def test_over_every_other_module_and_back_brings_both_ends_to_the_exit():
    # Worked by hand: out over 0, 2, 4, 6, back over 5, 3, 1. The first is one width from the
    # exit, the last two; a plain row would end seven widths away.
    (run,) = runs(row_of(7, 2.0 * WIDTH), [7])
    assert run.path == (0, 2, 4, 6, 5, 3, 1)
    assert run.skips
    assert run.ends == pytest.approx(3.0 * WIDTH)
    assert run.longest_step == pytest.approx(2.0 * WIDTH)


@pytest.mark.parametrize("reach", [None, 1.9 * WIDTH])
def test_no_module_is_left_out_where_leads_are_short_or_not_known(reach):
    (run,) = runs(row_of(7, reach), [7])
    assert not run.skips
    assert run.ends == pytest.approx(8.0 * WIDTH)


def test_a_way_there_and_back_ends_where_it_began():
    cells = tuple((row, column) for row in range(2) for column in range(7))
    (run,) = runs(Roof(cells, (WIDTH, HEIGHT), (0.0, -1.0)), [14])
    assert run.ends == pytest.approx(2.0 * WIDTH + HEIGHT)


def test_conductors_are_the_ways_to_both_ends_and_the_route_onward():
    site = demo()
    found = string_layout(site, site.wirings[0])
    planes = {plane.name: plane for plane in site.planes}
    for run in found:
        plane = planes[run.plane]
        places, out = plane.places, plane.cable_exit
        across, up = (WIDTH, HEIGHT) if plane.layout == "portrait" else (HEIGHT, WIDTH)
        ways = sum(
            abs(places[end].column - out.column) * across + abs(places[end].row - out.row) * up
            for end in (run.modules[0], run.modules[-1])
        )
        assert run.conductor_m == pytest.approx(ways + 2.0 * out.onward_m)
        assert run.leads_reach
    laid = laid_wiring(site.wirings[0], found)
    lengths = [each.cable.length_m for tracker in laid.trackers for each in tracker.strings]
    assert lengths == pytest.approx([run.conductor_m / 2.0 for run in found], abs=0.05)


def test_leads_that_do_not_reach_the_next_row_are_told():
    site = roof(6, 4, cable_exit={"row": 0, "column": 0, "onward_m": 5.0})
    content = site.model_dump(exclude={"folder"})
    short = dict(content["module_types"][0], lead_length_m=0.6)
    shorter = variant({"module_types": (short,)}, content["wirings"], content["planes"])
    found = string_layout(shorter, shorter.wirings[0])
    assert not any(run.leads_reach for run in found)
    unknown = variant(
        {"module_types": (dict(short, lead_length_m=None),)},
        content["wirings"],
        content["planes"],
    )
    assert all(run.leads_reach is None for run in string_layout(unknown, unknown.wirings[0]))


def test_a_string_over_two_planes_keeps_its_stated_length():
    site = demo()
    mixed = next(each for each in site.wirings if each.name == "dormer in series with east")
    found = string_layout(site, mixed)
    across = [run for run in found if run.mppt == "MPPT 2"]
    assert [(run.plane, run.conductor_m) for run in across] == [
        ("east roof", None),
        ("dormer", None),
    ]
    assert laid_wiring(mixed, found).trackers[1] == mixed.trackers[1]


@pytest.mark.slow
def test_strings_laid_already_keep_their_cables():
    site = demo()
    asked = constraints_from(site, {"laid": ["MPPT 2"]})
    proposal = weigh(propose(site, asked, weather()), 2, draws=0)
    laid = {tracker.mppt: tracker for tracker in site.wirings[0].trackers}["MPPT 2"]
    for found in proposal.best:
        trackers = {tracker.mppt: tracker for tracker in found.trackers}
        assert trackers["MPPT 2"] == laid
        assert trackers["MPPT 3"].strings[0].cable.length_m not in (16.0, 20.0, 24.0)
    said = counts_list(proposal)._repr_html_()
    assert "Strings laid already (MPPT 2) keep their cables" in said


def test_a_string_without_cable_stays_without():
    site = demo()
    content = site.model_dump(exclude={"folder"})
    for tracker in content["wirings"][0]["trackers"]:
        for each in tracker["strings"]:
            each["cable"] = None
    bare = variant(None, content["wirings"][:1], content["planes"]).wirings[0]
    assert laid_wiring(bare, string_layout(site, bare)) == bare


def test_runs_go_round_a_gap():
    # A chimney in the middle breaks every way along rows and columns.
    site = roof(5, 4, missing={(1, 2), (2, 2)})
    found = string_layout(site, site.wirings[0])
    assert all(run.connected for run in found)


def test_what_cannot_be_connected_is_told():
    site = roof(5, 2, missing={(0, 2), (1, 2)})
    own = [wiring("one", MPPT_1=[string(("west roof", 8))])]
    site = variant(None, own, site.model_dump()["planes"])
    assert [run.connected for run in string_layout(site, site.wirings[0])] == [False]


def test_without_places_there_is_no_layout():
    site = variant()
    assert string_layout(site, site.wirings[0]) is None


def touch(a, b):
    """Tell whether two places lie side by side."""
    return abs(a[0] - b[0]) + abs(a[1] - b[1]) == 1


def can_be_cut(free, lengths):
    """Tell by trying everything whether places can be cut into connected ways."""
    if not lengths:
        return True

    def grow(way, left):
        if len(way) == lengths[0]:
            return can_be_cut(left, lengths[1:])
        return any(grow((*way, each), left - {each}) for each in left if touch(way[-1], each))

    return any(grow((each,), free - {each}) for each in free)


@st.composite
def small_roofs(draw):
    """Draw a roof of a few modules with holes, and strings that fit on it."""
    grid = [(row, column) for row in range(3) for column in range(3)]
    cells = draw(st.lists(st.sampled_from(grid), min_size=3, max_size=9, unique=True))
    lengths, left = [], len(cells)
    while left > 0 and len(lengths) < 3:
        lengths.append(draw(st.integers(1, left)))
        left -= lengths[-1]
    way_out = draw(st.sampled_from([None, (0.0, -1.0), (-1.0, 2.0), (5.0, 1.0)]))
    reach = draw(st.sampled_from([None, 2.0, 4.0]))
    return Roof(tuple(cells), (1.0, 1.7), way_out, reach), lengths


@settings(max_examples=150)
@given(small_roofs())
def test_small_roofs_against_trying_everything(drawn):
    own, lengths = drawn
    found = runs(own, lengths)
    assert [len(run.path) for run in found] == lengths
    taken = [place for run in found for place in run.path]
    assert len(set(taken)) == len(taken)
    # Where any cut into ways of neighbours exists, it is found.
    assert all(run.connected for run in found) == can_be_cut(frozenset(own.cells), lengths)
    for run in found:
        places = [own.cells[number] for number in run.path]
        steps = [own.distance(a, b) for a, b in pairwise(places)]
        assert math.isclose(run.longest_step, max(steps, default=0.0))
        if run.skips:
            assert run.longest_step <= own.reach
        elif run.connected:
            assert all(touch(a, b) for a, b in pairwise(places))
