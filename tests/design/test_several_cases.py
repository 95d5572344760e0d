"""Cases of several sizes on one wall: inside, clear of one another, told where there is no room."""

import numpy as np
import pytest

from tests.study.several import twice
from yieldkit.design.checks.mounting import Box, Clearances, usual_clearances
from yieldkit.design.checks.several_cases import (
    SharedWall,
    cases_drawing,
    place_cases,
    shared_walls,
)

TOUCH_M = 1e-6


def drawn_wall(seed):
    """Return a wall and cases of one to six sizes, some of them larger than the wall."""
    rng = np.random.default_rng(seed)
    count = int(rng.integers(1, 7))
    cases = tuple((float(w), float(h)) for w, h in rng.uniform(0.2, 1.2, size=(count, 2)).round(2))
    width, height = rng.uniform([0.8, 0.8], [6.0, 3.5]).round(2)
    return SharedWall(float(width), float(height), tuple("abcdef"[:count]), cases)


def far_enough(one, two, gap):
    """Whether two cases keep the clearance beside or above one another."""
    beside = max(one.left, two.left) - min(one.left + one.width, two.left + two.width)
    above = max(one.bottom, two.bottom) - min(one.bottom + one.height, two.bottom + two.height)
    return beside >= gap.beside - TOUCH_M or above >= gap.above - TOUCH_M


@pytest.mark.parametrize(
    "gap", [usual_clearances(), Clearances(beside=0.1, above=0.3, to_obstacles=0.2, in_front=0.6)]
)
def test_cases_hang_inside_the_wall_and_clear_of_one_another(gap):
    fits = lacks = 0
    for seed in range(400):
        wall = drawn_wall(seed)
        places = place_cases(wall, gap)
        assert len(places) == len(wall.cases)
        hung = [box for box in places if box is not None]
        for box, size in zip(places, wall.cases, strict=True):
            if box is None:
                lacks += 1
                continue
            fits += 1
            assert (box.width, box.height) == size, (
                "a case keeps its size, and its place in the list"
            )
            assert box.left >= gap.to_obstacles - TOUCH_M
            assert box.bottom >= gap.to_obstacles - TOUCH_M
            assert box.left + box.width <= wall.width - gap.to_obstacles + TOUCH_M
            assert box.bottom + box.height <= wall.height - gap.to_obstacles + TOUCH_M
        for number, one in enumerate(hung):
            assert all(far_enough(one, two, gap) for two in hung[number + 1 :]), seed
    assert min(fits, lacks) > 100, "both ends of the draws are met"


def test_a_case_hangs_wherever_the_empty_wall_has_room_for_it():
    gap = usual_clearances()
    for seed in range(300):
        wall = drawn_wall(seed)
        alone = [
            w + 2 * gap.to_obstacles <= wall.width and h + 2 * gap.to_obstacles <= wall.height
            for w, h in wall.cases
        ]
        places = place_cases(wall)
        if len(places) == 1:
            assert (places[0] is not None) == alone[0], seed
        assert any(box is not None for box in places) == any(alone), seed
        assert all(box is None for box, fits in zip(places, alone, strict=True) if not fits), seed


def test_three_sizes_hang_in_two_rows_by_their_height():
    wall = SharedWall(2.7, 3.2, ("low", "high", "wide"), ((0.4, 0.5), (0.6, 0.8), (1.2, 0.6)))
    low, high, wide = place_cases(wall)
    # The highest first; the wide one does not go beside it, and the low one follows it above.
    assert high == pytest.approx((0.5, 0.5, 0.6, 0.8))
    assert wide == pytest.approx((0.5, 2.0, 1.2, 0.6))
    assert low is None
    assert place_cases(wall._replace(width=3.1))[0] == pytest.approx((2.2, 2.0, 0.4, 0.5))


def test_the_sketch_has_a_dimension_to_every_case_and_between_neighbours():
    wall = SharedWall(3.0, 2.4, ("a", "b"), ((0.6, 0.8), (0.4, 0.5)))
    drawing = cases_drawing(wall, place_cases(wall))
    lines = {(tuple(each.start), tuple(each.end)) for each in drawing.distances}
    rounded = {tuple(np.round(np.ravel(line), 6)) for line in lines}
    assert rounded == {
        (0.0, 0.0, 3.0, 0.0),
        (0.0, 0.0, 0.0, 2.4),
        (0.0, 0.9, 0.8, 0.9),
        (0.8, 0.0, 0.8, 0.9),
        (0.0, 0.75, 1.8, 0.75),
        (1.8, 0.0, 1.8, 0.75),
        (1.1, 0.75, 1.6, 0.75),
    }
    assert drawing.inverters == (Box(0.5, 0.5, 0.6, 0.8), Box(1.6, 0.5, 0.4, 0.5))


def test_walls_of_one_size_are_one_wall_and_others_their_own():
    def place(width, case):
        wall = {"width_m": width, "height_m": 2.2, "case_width_m": case, "case_height_m": 0.6}
        return {"place": {"surroundings": "outdoors-shaded", "wall": wall}}

    (shared,) = shared_walls(twice(north=place(3.0, 0.5), south=place(3.0, 0.4)))
    assert shared == SharedWall(3.0, 2.2, ("north", "south"), ((0.5, 0.6), (0.4, 0.6)))
    apart = shared_walls(twice(north=place(3.0, 0.5), south=place(2.5, 0.4)))
    assert [wall.names for wall in apart] == [("north",), ("south",)]
    (only,) = shared_walls(twice(south=place(2.5, 0.4)))
    assert only.names == ("south",)
