"""Shadows: lengths by hand, every ray against a mesh of triangles, and what mustn't matter."""

import numpy as np
import pytest

from benchmarks.obstacles import is_hit
from tests.amounts import amount
from tests.design.shaded import suns
from tests.physics.irradiance.scenes import drawn_scene, drawn_suns, single_points
from yieldkit.physics.irradiance import bodies as physical
from yieldkit.physics.irradiance.module_light import Components, directions, module_light
from yieldkit.physics.irradiance.shadow import hides
from yieldkit.physics.irradiance.sky_seen import sky_views

POINTS, SUNS = 40, 25


def ends_at(body, frame, sun, low, high):
    """Return how far up a plane from its corner a body's shadow goes [m], by bisection."""
    way = directions(sun)[0]
    for _ in range(60):
        middle = 0.5 * (low + high)
        spot = frame.corner + middle * frame.up
        inside = hides(body[0], body[1], *spot, *way)
        low, high = (middle, high) if inside else (low, middle)
    return low


# By hand: 2 / tan 30, and 2 / (sin 20 + cos 20 tan 30); a round pole's own half is in front of it.
@pytest.mark.parametrize(("tilt", "length"), [(0.0, 3.464101615), (20.0, 2.261031750)])
def test_a_pole_of_two_metres_throws_its_shadow_so_far(tilt, length):
    frame, sun = physical.frame((0.0, 0.0, 0.0), tilt, 180.0), suns((30.0, 180.0))
    pole = physical.frame((-0.05, 0.0, 0.0), 90.0, 180.0)
    assert ends_at(physical.sheet(pole, (0, 0), (0.1, 2.0)), frame, sun, 0.1, 9.0) == pytest.approx(
        length, abs=1e-9
    )
    box = physical.box((0.0, -0.5, -1.0), (1.0, 1.0, 3.0), 180.0)
    assert ends_at(box, frame, sun, 0.1, 9.0) == pytest.approx(length, abs=1e-9)
    if tilt == 0.0:
        round_pole = physical.cylinder((0.0, 0.0, 0.0), 0.1, 2.0)
        assert ends_at(round_pole, frame, sun, 0.1, 9.0) == pytest.approx(length + 0.05, abs=1e-9)


def sunlit(scene, spots, sun):
    """Return which points of a scene's plane the suns' beams reach (sun, point)."""
    modules = single_points(scene.frame, spots)
    views = sky_views(modules, scene.bodies)
    steps = sun.azimuth.size
    light = Components(np.ones(steps), np.zeros(steps), np.zeros(steps))
    months = np.zeros(steps, dtype=int)
    found = module_light(modules, scene.bodies, views, sun, months, light)
    assert found.mean[:, 0] == pytest.approx(found.darkest[:, 0, :, 0].mean(axis=1), rel=1e-12)
    return found.darkest[:, 0, :, 0]


def test_every_ray_ends_where_it_meets_a_mesh_of_triangles():
    right, shaded, strange = 0, 0, 0
    for seed in range(amount(24, 260)):
        rng = np.random.default_rng(1000 + seed)
        scene = drawn_scene(seed)
        spots, sun = rng.uniform(-3, 3, (POINTS, 2)), drawn_suns(seed, SUNS)
        way = directions(sun)
        faces = way @ scene.frame.normal > 0.0
        lit = sunlit(scene, spots, sun)[faces] > 0.5
        way = np.repeat(way[faces], POINTS, axis=0)
        flat = np.tile(spots, (int(faces.sum()), 1))
        start = scene.frame.corner + flat @ np.stack([scene.frame.right, scene.frame.up])
        triangles = np.concatenate(scene.meshes)
        hit = is_hit(start, way, triangles)
        shaded += int(hit.sum())
        right += hit.size
        for ray in np.flatnonzero(hit == lit.ravel()):
            strange += 1
            assert near_an_edge(start[ray], way[ray], triangles), (seed, ray)
    assert right >= amount(20_000, 200_000)
    assert 0.4 < shaded / right < 0.6
    assert strange < right / 1000


def near_an_edge(start, way, triangles):
    """Return whether moving a ray by a millimetre changes what it meets."""
    aside = np.cross(way, [0.3, 0.5, 0.8])
    aside /= np.linalg.norm(aside)
    over = np.cross(way, aside)
    turn = np.arange(0, 2 * np.pi, 0.2)[:, None]
    moved = start + 1e-3 * (np.cos(turn) * aside + np.sin(turn) * over)
    return len(set(is_hit(moved, np.tile(way, (len(moved), 1)), triangles))) == 2


def test_light_passes_several_bodies_by_the_product_of_their_shares():
    scene = drawn_scene(3, opaque=False)
    rng = np.random.default_rng(3)
    spots, sun = rng.uniform(-3, 3, (POINTS, 2)), drawn_suns(3, 200)
    faces = directions(sun) @ scene.frame.normal > 0.0
    way = np.repeat(directions(sun)[faces], POINTS, axis=0)
    flat = np.tile(spots, (int(faces.sum()), 1))
    start = scene.frame.corner + flat @ np.stack([scene.frame.right, scene.frame.up])
    through = np.ones(len(way))
    for mesh, share in zip(scene.meshes, scene.bodies.transmittance[:, 0], strict=True):
        through *= np.where(is_hit(start, way, mesh), share, 1.0)
    found = sunlit(scene, spots, sun)[faces].ravel()
    assert np.mean(np.abs(found - through) > 1e-12) < 1e-3
    alone = {1.0, *scene.bodies.transmittance[:, 0].round(9)}
    assert len(set(through.round(9)) - alone) >= 3


def test_a_plane_s_back_gets_what_it_is_told():
    scene = drawn_scene(1)
    behind = suns((20.0, 0.0))
    own = scene._replace(frame=physical.frame((0.0, 0.0, 0.0), 80.0, 180.0))
    assert np.all(sunlit(own, np.array([[0.0, 0.0], [1.0, 1.0]]), behind) == 1.0)


def test_bodies_that_lie_below_or_let_all_through_can_shade_nothing():
    frame = physical.frame((0.0, 0.0, 5.0), 30.0, 180.0)
    leafless = [1.0] * 11 + [0.9]
    # Three metres behind its corner the plane's surface is at 5 + 3 tan 30 = 6.732 m.
    cases = [
        (physical.box((0.0, 4.0, 0.0), (2.0, 2.0, 6.73), 180.0), [0.0] * 12, False),
        (physical.box((0.0, 4.0, 0.0), (2.0, 2.0, 6.74), 180.0), [0.0] * 12, True),
        (physical.cylinder((0.0, 4.0, 0.0), 2.0, 6.73), [0.0] * 12, False),
        (physical.cylinder((0.0, 4.0, 0.0), 2.0, 6.74), [0.0] * 12, True),
        (physical.cylinder((0.0, -4.0, 0.0), 2.0, 4.99), [0.0] * 12, False),
        (physical.cylinder((0.0, -4.0, 0.0), 2.0, 5.01), [0.0] * 12, True),
        (physical.box((0.0, -4.0, 0.0), (2.0, 2.0, 20.0), 20.0), [1.0] * 12, False),
        (physical.box((0.0, -4.0, 0.0), (2.0, 2.0, 20.0), 20.0), leafless, True),
    ]
    shapes, months, expected = zip(*cases, strict=True)
    assert physical.can_shade(frame, physical.bodies(shapes, months)).tolist() == list(expected)
