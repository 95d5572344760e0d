"""Runs cut into parts: as long as they shall take, and not through what they share."""

from itertools import product
from pathlib import Path

import pytest

from yieldkit.study.batch import parts
from yieldkit.study.batch.parts import TARGET_S, Pace, cut
from yieldkit.study.batch.run import Run

MADE = (("weather", "w"),)


def run(tilt, wiring, lead):
    """Return a run of a tilt, a wiring and a lead."""
    changes = (("grid.lead.length_m", lead), ("planes.west.tilt_deg", tilt))
    where = Path("site.yaml"), Path("days.csv")
    return Run(0, f"{tilt}-{wiring}-{lead}", (0,), (), changes, wiring, 0, 0, *where, MADE)


def every(tilts, wirings, leads):
    """Return runs in the order of what they share."""
    return [run(*each) for each in product(range(tilts), map(str, range(wirings)), range(leads))]


def paced(run_s):
    """Return a pace that knows how long a run takes."""
    pace = Pace()
    pace.learn(10, 10 * run_s)
    return pace


def test_every_run_is_in_one_part_in_its_order():
    runs = every(5, 4, 7)
    found = list(cut(runs, paced(0.06)))
    assert [each for part in found for each in part] == runs


@pytest.mark.parametrize("run_s", [0.004, 0.01, 0.03, 0.2, 0.9])
def test_a_part_takes_one_to_two_seconds(run_s):
    found = list(cut(every(20, 4, 24), paced(run_s)))
    assert all(len(part) * run_s <= 2.0 for part in found)
    assert all(len(part) * run_s >= 0.9 for part in found[:-2])


def test_a_run_that_takes_longer_is_a_part_of_its_own():
    assert [len(part) for part in cut(every(1, 2, 4), paced(5.0))] == [1] * 8


def test_parts_end_where_neighbours_share_least():
    # 24 runs of a tilt; 20 to 38 would take as long as a part shall.
    found = list(cut(every(6, 2, 12), paced(TARGET_S / 29.0)))
    assert [len(part) for part in found] == [24] * 6


def test_where_a_sky_is_too_much_for_a_part_it_ends_with_a_wiring():
    found = list(cut(every(3, 4, 12), paced(TARGET_S / 15.0)))
    assert {len(part) for part in found} == {12}


def test_parts_follow_what_was_learned_meanwhile():
    pace = Pace()
    given = cut(every(40, 4, 24), pace)
    first = len(next(given))
    for _ in range(12):
        pace.learn(first, first * 0.005)
    assert abs(pace.run_s - 0.005) < 1e-9
    next(given)
    assert len(next(given)) > 5 * first
    pace.learn(0, 3.0)
    assert abs(pace.run_s - 0.005) < 1e-9


def test_no_part_has_more_runs_than_allowed():
    assert max(len(part) for part in cut(every(4, 4, 24), paced(0.001), most=20)) <= 26


def test_runs_in_another_order_would_cut_through_what_they_share(monkeypatch):
    monkeypatch.setattr(parts, "_shared", lambda _before, _after: 0)
    found = list(cut(every(6, 2, 12), paced(TARGET_S / 29.0)))
    assert [len(part) for part in found] != [24] * 6
