"""Obstacles that are refused: each with its place in the file, what was found and what to do."""

import math

import pytest

from tests.config.small import mapping, sentence
from yieldkit.config.relations.solids import overlap_m, rectangle, solid
from yieldkit.config.site.files import site_from_mapping

CHIMNEY = {
    "name": "chimney",
    "shape": "box",
    "foot_m": [6.0, 4.0, 2.0],
    "width_m": 0.8,
    "depth_m": 0.6,
    "height_m": 3.0,
}
SIDES = {"length_m": 2.0, "width_m": 1.0}


def site(obstacles=(), planes=(), sides=SIDES, **west):
    """Return the small site laid out in space, with obstacles."""
    content = mapping()
    first, second = (dict(each) for each in content["planes"])
    first |= {"corner_m": [0.0, 12.0, 3.0], "layout": "portrait", "drawing": ["M" * 12] * 2} | west
    second |= {"corner_m": [9.0, 0.0, 3.0], "layout": "portrait", "drawing": ["M" * 12]}
    second |= dict(planes)
    content["planes"] = [
        {k: v for k, v in each.items() if v is not None} for each in (first, second)
    ]
    content["module_types"] = [dict(content["module_types"][0]) | sides]
    content["obstacles"] = list(obstacles)
    return content


def test_a_site_in_space_is_read():
    read = site_from_mapping(site([CHIMNEY]))
    assert read.obstacles[0].months == (0.0,) * 12
    assert read.obstacles[0].azimuth_deg == 180.0
    assert read.planes[0].corner_m == (0.0, 12.0, 3.0)


@pytest.mark.parametrize(
    ("content", "said"),
    [
        # The roof rises from 3.0 m to 5.0 m over 3.46 m; the shaft stands across two columns.
        (
            site([CHIMNEY | {"foot_m": [1.2, 6.0, 2.0]}]),
            "obstacles.0: got 'chimney' cutting 2 modules of plane 'west' by up to 0.30 m; "
            "expected an obstacle beside, above or under the modules. Correct its place or size, "
            "the plane's corner_m, or take the modules that aren't there out of the plane.",
        ),
        (
            site([CHIMNEY | {"height_m": 1500.0}]),
            "obstacles.0.height_m: got 1500 m; expected 0.02 to 150 m. In millimetres? Write 1.5.",
        ),
        (
            site([CHIMNEY], corner_m=None),
            "planes.0: got no corner_m of plane 'west' beside that of 'east'; expected corner_m of "
            "every plane or of none: planes shade one another. Write corner_m: [east, north, up] "
            "of its lower left corner.",
        ),
        (
            site([CHIMNEY], {"corner_m": None}, corner_m=None),
            "obstacles: got obstacles, but no plane with its corner; expected corner_m of every "
            "plane, in the same metres as the obstacles. Write corner_m: [east, north, up] of each "
            "plane's lower left corner.",
        ),
        (
            site([CHIMNEY], drawing=None),
            "planes.0.corner_m: got a corner of a plane without its modules' places; expected a "
            "drawing or positions of the modules: what shades what follows from them",
        ),
        (
            site([CHIMNEY], layout=None),
            "planes.0.corner_m: got a corner of a plane without layout; expected layout: portrait "
            "or landscape: what shades what follows from them",
        ),
        (
            site([CHIMNEY | {"transmittance": 15}]),
            "obstacles.0.transmittance: got 15; expected a number of at most 1. Written in "
            "percent? As a share it is 0.15.",
        ),
        (
            site([CHIMNEY | {"transmittance_by_month": [0.5] * 11}]),
            "obstacles.0.transmittance_by_month: got a list of 11; expected 12 shares, one for "
            "each month from January on",
        ),
        (
            site([CHIMNEY | {"transmittance": 0.2, "transmittance_by_month": [0.5] * 12}]),
            "obstacles.0.transmittance: got a transmittance beside transmittance_by_month; "
            "expected one of the two. Leave one of them out.",
        ),
        (
            site([CHIMNEY, CHIMNEY | {"foot_m": [6.0, 8.0, 2.0]}]),
            "obstacles.1.name: got the name 'chimney' again; expected a name of its own for each. "
            "Rename one of the two.",
        ),
        (
            site([CHIMNEY | {"foot_m": [6.0, 4.0]}]),
            "obstacles.0.foot_m: got a list of 2; expected three numbers: metres east, north and "
            "up. foot_m: Middle of its foot [m]: east, north, up.",
        ),
        (
            site([CHIMNEY | {"shape": "cone"}]),
            "obstacles.0.shape: got 'cone'; expected one of 'box', 'cylinder', 'roof'",
        ),
    ],
)
def test_what_is_wrong_is_told_with_its_place(content, said):
    assert sentence(content).startswith(f"site, {said}")


def test_modules_without_sides_are_told_for_every_plane():
    content = site([CHIMNEY], sides={"length_m": 2.0})
    with pytest.raises(Exception, match="no width_m of module type 'M540'") as refused:
        site_from_mapping(content)
    assert len(refused.value.problems) == 2


LEVEL = rectangle((0.0, 0.0, 1.0), 0.0, 180.0, (0.0, 0.0), (1.0, 2.0))


@pytest.mark.parametrize(
    ("body", "overlap"),
    [
        (solid("box", (0.0, 0.0, 0.0), (0.6, 0.4, 2.0), 180.0), 0.2),
        (solid("box", (0.0, 0.0, 0.0), (0.6, 0.4, 0.9), 180.0), 0.0),
        (solid("box", (-0.3, 1.0, 0.0), (0.6, 0.4, 2.0), 180.0), 0.0),
        (solid("box", (0.5, 1.0, 0.0), (9.0, 9.0, 2.0), 30.0), 1.0),
        (solid("box", (0.0, 0.0, 0.0), (0.4, 0.6, 2.0), 90.0), 0.2),
        (solid("cylinder", (0.5, 1.0, 0.0), (0.5, 0.5, 2.0), 0.0), 0.5),
        (solid("cylinder", (-0.25, 1.0, 0.0), (0.5, 0.5, 2.0), 0.0), 0.0),
        (solid("cylinder", (-0.2, 1.0, 0.0), (0.5, 0.5, 2.0), 0.0), 0.05),
        # A roof of 45 deg through the middle of a module of two metres' depth.
        (solid("roof", (-1.0, 0.0, 0.0), (3.0, 4.0, 45.0), 180.0), 1.0 / math.sqrt(2.0)),
        (solid("roof", (-1.0, 0.0, 0.99), (3.0, 4.0, 0.0), 180.0), 0.0),
        (solid("roof", (5.0, 0.0, 0.0), (3.0, 4.0, 45.0), 180.0), 0.0),
    ],
)
def test_how_far_a_body_reaches_into_a_module(body, overlap):
    assert overlap_m(body, LEVEL) == pytest.approx(overlap, abs=2e-3)
