"""The share of the sky that cells see: by hand, by drawing it, and against a mesh of triangles."""

import numpy as np
import pytest
from pvlib.shading import masking_angle, sky_diffuse_passias

from benchmarks.obstacles import is_hit
from tests.amounts import amount
from tests.physics.irradiance.scenes import drawn_scene, single_points
from yieldkit.physics.irradiance import bodies as physical
from yieldkit.physics.irradiance.sky_seen import sky_views

LEVEL = physical.frame((0.0, 0.0, 0.0), 0.0, 180.0)
NO_LIGHT = [[0.0] * 12]


def seen(frame, shapes, through=None, horizon=None, spots=((0.0, 0.0),)):
    """Return what points see of the sky (season, point)."""
    some = physical.bodies(shapes, through or NO_LIGHT * len(shapes))
    views = sky_views(single_points(frame, spots), some, horizon)
    return views.cells[:, 0, :]


def wall(width):
    """Return a wall of two metres, three metres to the north, as a sheet and as a box."""
    on = physical.frame((-width / 2, 3.0, 0.0), 90.0, 180.0)
    return physical.sheet(on, (0.0, 0.0), (width, 2.0)), physical.box(
        (0.0, 3.5, 0.0), (width, 1.0, 2.0), 180.0
    )


# 6 m wide: the view factor of a rectangle at right angles, integrated numerically (computed).
@pytest.mark.parametrize(("width", "hidden"), [(1e6, 0.08397), (6.0, 0.06620)])
def test_a_wall_hides_so_much_of_a_level_points_sky(width, hidden):
    for body in wall(width):
        assert 1.0 - seen(LEVEL, [body])[0, 0] == pytest.approx(hidden, abs=5e-5)
    if width > 100.0:
        angle = np.degrees(np.arctan(2.0 / 3.0))
        assert hidden == pytest.approx(sky_diffuse_passias(angle), abs=5e-6)


def test_rows_hide_what_the_library_says():
    # The back row of modules 4 m behind a row of 2 m at 30 deg, seen from its lower edge.
    angle = masking_angle(30.0, 0.5, 0.0)
    frame = physical.frame((0.0, 0.0, 0.0), 30.0, 180.0)
    on = physical.frame((-5e5, -4.0, 0.0), 30.0, 180.0)
    row = physical.sheet(on, (0.0, 0.0), (1e6, 2.0))
    low = np.degrees(
        np.arctan2(2.0 * np.sin(np.radians(30.0)), 4.0 - 2.0 * np.cos(np.radians(30.0)))
    )
    assert low == pytest.approx(angle, rel=1e-9)
    # Between the horizon's plane at a slope and that angle: half the difference of the cosines.
    hidden = 0.5 * (np.cos(np.radians(30.0)) - np.cos(np.radians(30.0 + low)))
    whole = 0.5 * (1.0 + np.cos(np.radians(30.0)))
    assert 1.0 - seen(frame, [row])[0, 0] == pytest.approx(hidden / whole, abs=1e-4)


@pytest.mark.parametrize("seed", range(amount(3, 30)))
def test_the_sky_is_hidden_where_a_mesh_of_triangles_stands(seed):
    scene = drawn_scene(seed, opaque=False)
    rng = np.random.default_rng(seed)
    spots = rng.uniform(-2, 2, (2, 2))
    found = sky_views(single_points(scene.frame, spots), scene.bodies).cells[0, 0]
    # Evenly over a disc: directions weighted with the cosine of incidence on the plane.
    count = 4000
    far, turn = np.sqrt((np.arange(count) + 0.5) / count), 2.399963 * np.arange(count)
    out = np.sqrt(1.0 - far**2)
    own = np.stack([far * np.cos(turn), far * np.sin(turn), out], axis=1)
    way = own @ np.stack([scene.frame.right, scene.frame.up, scene.frame.normal])
    above = way[:, 2] > 0.0
    for spot, share in zip(spots, found, strict=True):
        start = scene.frame.corner + spot[0] * scene.frame.right + spot[1] * scene.frame.up
        through = above.astype(float)
        for mesh, passed in zip(scene.meshes, scene.bodies.transmittance[:, 0], strict=True):
            hit = is_hit(np.tile(start, (count, 1)), way, mesh)
            through *= np.where(hit, passed, 1.0)
        assert share == pytest.approx(through.sum() / above.sum(), abs=4e-3)


def test_a_far_horizon_leaves_less_to_be_hidden():
    flat, low, high = (
        (np.array([0.0, 120.0, 240.0]), np.full(3, each)) for each in (0.0, 20.0, 60.0)
    )
    body = wall(6.0)[1]
    free, open_, some, none = (seen(LEVEL, [body], None, h)[0, 0] for h in (None, flat, low, high))
    assert open_ == pytest.approx(free, abs=1e-12)
    assert free < some < 1.0
    assert none == 1.0
    # Below 20 deg everything is hidden anyway: the sky above is cos2(20) of all.
    above = seen(LEVEL, [wall(1e6)[0]], None, low)[0, 0]
    hidden = 0.08397485 - _below(20.0, 2.0 / 3.0)
    assert 1.0 - above == pytest.approx(hidden / np.cos(np.radians(20.0)) ** 2, abs=2e-4)


def _below(elevation, slope):
    """Return the sky hidden by an endless wall below an elevation, by sums over the compass."""
    azimuth = np.linspace(-np.pi / 2, np.pi / 2, 200_001)
    top = np.minimum(np.arctan(slope * np.cos(azimuth)), np.radians(elevation))
    return float(np.trapezoid(0.5 * np.sin(top) ** 2, azimuth) / np.pi)


def test_leaves_hide_the_sky_by_month_and_several_bodies_together():
    months = [0.8] * 3 + [0.2] * 6 + [0.8] * 3
    near, far = wall(6.0)[1], physical.box((0.0, 7.0, 0.0), (1.0, 1.0, 2.0), 180.0)
    alone = 1.0 - seen(LEVEL, [near])[0, 0]
    views = sky_views(single_points(LEVEL, [(0.0, 0.0)]), physical.bodies([near], [months]))
    by_month = 1.0 - views.cells[views.season, 0, 0]
    assert by_month == pytest.approx((1.0 - np.array(months)) * alone, rel=1e-9)
    # What stands wholly behind a wall hides nothing more.
    assert 1.0 - seen(LEVEL, [far, near])[0, 0] == pytest.approx(alone, rel=1e-7)
    both = seen(LEVEL, [near, near], [[0.5] * 12] * 2)[0, 0]
    assert 1.0 - both == pytest.approx(0.75 * alone, rel=1e-9)


def test_a_roof_over_a_point_hides_the_zenith():
    over = physical.sheet(physical.frame((-5.0, -5.0, 3.0), 0.0, 180.0), (0.0, 0.0), (10.0, 10.0))
    # A quarter of the square four times, by the view factor from a point below a corner
    # (Howell's catalogue; from memory).
    x = 5.0 / 3.0
    root = np.sqrt(1.0 + x * x)
    quarter = 2.0 * x / root * np.arctan(x / root) / (2.0 * np.pi)
    assert 1.0 - seen(LEVEL, [over])[0, 0] == pytest.approx(4.0 * quarter, abs=1e-4)
