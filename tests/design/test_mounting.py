"""The place on the wall: clearances, how many fit, and what the place does to the inlet air.

Clearances are common practice, no source: 50 cm beside, 70 cm above, 50 cm to obstacles, 100 cm
in front; the maker's manual prevails.
"""

import pytest

from tests.study.sites import run, variant
from yieldkit.base.errors import InputError
from yieldkit.design.checks.mounting import (
    Clearances,
    inlet_offset_k,
    place_on_wall,
    usual_clearances,
    wall_drawing,
)
from yieldkit.report.figures.wall import wall_pictures


def test_usual_clearances():
    gap = usual_clearances()
    assert (gap.beside, gap.above, gap.to_obstacles, gap.in_front) == (0.5, 0.7, 0.5, 1.0)


# Cases of 0.5 x 0.6 m: one needs 1.5 m of wall, two side by side 2.5 m, three 3.5 m.
@pytest.mark.parametrize(
    ("width", "height", "fitting"),
    [(1.49, 2.0, 0), (1.5, 1.6, 1), (2.5, 1.6, 2), (3.49, 1.6, 2), (3.5, 1.6, 3), (2.5, 2.9, 4)],
)
def test_how_many_fit(width, height, fitting):
    placed = place_on_wall(width, height, 0.5, 0.6, 9)
    assert len(placed.centre_lines) == fitting


def test_centre_lines_keep_their_distances():
    placed = place_on_wall(4.0, 3.0, 0.5, 0.6, 4)
    assert placed.centre_lines[0] == pytest.approx((0.75, 0.8))
    assert placed.centre_lines[1] == pytest.approx((1.75, 0.8))
    assert placed.centre_lines[3] == pytest.approx((0.75, 2.1))
    drawing = wall_drawing(placed, 4.0, 3.0, 0.5, 0.6)
    for box in drawing.inverters:
        assert box.left >= 0.5 - 1e-9
        assert box.left + box.width <= 3.5 + 1e-9
    assert len(drawing.distances) >= 4


def test_every_dimension_line_by_hand():
    # Three cases of 0.5 x 0.6 m in the lower row, 0.5 m apart and from the sides, and one 0.7 m
    # above the first.
    drawing = wall_drawing(place_on_wall(4.0, 3.0, 0.5, 0.6, 4), 4.0, 3.0, 0.5, 0.6)
    lines = [
        ((0.0, 0.0), (4.0, 0.0), 4.0),
        ((0.0, 0.0), (0.0, 3.0), 3.0),
        ((0.0, 0.8), (0.75, 0.8), 0.75),
        ((0.0, 0.8), (1.75, 0.8), 1.75),
        ((0.0, 0.8), (2.75, 0.8), 2.75),
        ((0.75, 0.0), (0.75, 0.8), 0.8),
        ((0.75, 0.0), (0.75, 2.1), 2.1),
        ((1.0, 0.8), (1.5, 0.8), 0.5),
        ((2.0, 0.8), (2.5, 0.8), 0.5),
        ((0.75, 1.1), (0.75, 1.8), 0.7),
    ]
    assert len(drawing.distances) == len(lines)
    for found, (start, end, length) in zip(drawing.distances, lines, strict=True):
        assert found.start == pytest.approx(start)
        assert found.end == pytest.approx(end)
        assert found.length == pytest.approx(length)
    corners = [(0.5, 0.5), (1.5, 0.5), (2.5, 0.5), (0.5, 1.8)]
    for box, corner in zip(drawing.inverters, corners, strict=True):
        assert tuple(box) == pytest.approx((*corner, 0.5, 0.6))
    assert tuple(drawing.wall) == (0.0, 0.0, 4.0, 3.0)
    assert drawing.in_front == 1.0


def test_the_makers_clearances_prevail():
    tight = Clearances(beside=0.1, above=0.1, to_obstacles=0.1, in_front=0.5)
    assert len(place_on_wall(1.3, 0.8, 0.5, 0.6, 9, tight).centre_lines) == 2


@pytest.mark.parametrize("sizes", [(0.0, 2.0, 0.5, 0.6), (2.0, 2.0, -0.5, 0.6)])
def test_impossible_sizes_are_refused(sizes):
    with pytest.raises(InputError, match="expected"):
        place_on_wall(*sizes, 1)


@pytest.mark.slow
def test_a_warmer_place_is_a_named_assumption_and_costs_yield():
    offsets = {}
    energies = {}
    for place in ("outdoors-shaded", "indoors-ventilated", "indoors-tight"):
        site = variant(
            {
                "inverter_place": {"surroundings": place},
                "inverter.derating": (
                    {"temp_inlet_c": 30.0, "max_power_w": 12_000.0},
                    {"temp_inlet_c": 55.0, "max_power_w": 3000.0},
                ),
            }
        )
        offsets[place], said = inlet_offset_k(site)
        assert "assumed" in said
        energies[place] = run(site).attrs["energy_kwh"]
    assert list(offsets.values()) == sorted(offsets.values())
    assert energies["indoors-tight"] < energies["outdoors-shaded"]
    own = variant({"inverter_place": {"surroundings": "indoors-tight", "inlet_offset_k": 2.5}})
    assert inlet_offset_k(own)[0] == 2.5


def test_the_report_draws_the_wall_or_has_none():
    wall = {"width_m": 2.4, "height_m": 2.2, "case_width_m": 0.55, "case_height_m": 0.6}
    place = {"surroundings": "indoors-tight", "wall": wall | {"inverters": 3}}
    (picture,) = wall_pictures(variant({"inverter_place": place}))
    assert "1 of 3 inverters fit" in picture.caption
    assert "centre 0.78 m from the left" in picture.alt
    assert "maker's manual prevails" in picture.caption
    assert wall_pictures(variant({"inverter_place": {"surroundings": "indoors-tight"}})) == ()
