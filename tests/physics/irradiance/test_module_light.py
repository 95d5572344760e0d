"""Light cell by cell: where cells lie, the darkest of each half group, and what mustn't matter."""

import numpy as np
import pytest

from benchmarks.obstacles import box_mesh, is_hit
from tests.design.shaded import CHIMNEY, PORCH, SUNS, TREE, light_of, shaded_site, suns
from yieldkit.design.roof.scene import plane_scenes
from yieldkit.physics.irradiance import bodies as physical
from yieldkit.physics.irradiance.module_light import Components, directions, module_light
from yieldkit.physics.irradiance.module_points import cell_grid, plane_modules
from yieldkit.physics.irradiance.sky_seen import sky_views

SIDES = (1.134, 1.722)
FRAME = physical.frame((0.0, 0.0, 3.0), 25.0, 190.0)
POST = (0.7, -1.4, 2.0), (0.3, 0.2, 2.9), 15.0


def module(upright=True, halves=2, cells=54):
    """Return two modules side by side."""
    grid = cell_grid(cells, 3, SIDES, halves=halves, upright=upright, strips=False)
    size = SIDES if upright else SIDES[::-1]
    return plane_modules(FRAME, np.array([[0, 0], [0, 1]]), size, grid)


def test_cells_lie_in_two_columns_a_group_and_halves_above_one_another():
    whole = cell_grid(54, 3, SIDES, halves=1, upright=True, strips=False)
    assert whole.size == pytest.approx([1.134 / 6, 1.722 / 9])
    half = cell_grid(54, 3, SIDES, halves=2, upright=True, strips=False)
    assert half.size == pytest.approx([1.134 / 6, 1.722 / 18])
    assert len(half.middles) == 108
    for (x, y), part in zip(half.middles, half.part, strict=True):
        assert part == 2 * int(x // (1.134 / 3)) + int(y > 1.722 / 2)
    across = cell_grid(54, 3, SIDES, halves=2, upright=False, strips=False)
    for (x, y), part in zip(across.middles, across.part, strict=True):
        assert part == 2 * int(y // (1.134 / 3)) + int(x > 1.722 / 2)
    strips = cell_grid(120, 1, (0.6, 1.2), halves=1, upright=True, strips=True)
    assert strips.size == pytest.approx([0.6 / 120, 1.2])
    assert module().points == 2 * 108 * 4
    long = plane_modules(FRAME, np.array([[0, 0]]), (0.6, 1.2), strips)
    assert len(long.offsets) == 20
    assert len(long.sky_offsets) == 5


@pytest.mark.parametrize(("upright", "halves"), [(True, 2), (False, 2), (True, 1)])
def test_a_half_group_has_its_darkest_cells_light(upright, halves):
    own = module(upright, halves)
    some = physical.bodies([physical.box(*POST)], [[0.1] * 12])
    sun = suns((40.0, 170.0), (25.0, 200.0), (60.0, 185.0))
    views = sky_views(own, some)
    parts = np.array([[700.0, 600.0, 0.0], [120.0, 200.0, 300.0], [10.0, 20.0, 30.0]])
    found = module_light(own, some, views, sun, np.zeros(3, dtype=int), Components(*parts))
    mesh = box_mesh(*POST)
    size = np.array(SIDES if upright else SIDES[::-1])
    count = np.array([6, 9 * halves] if upright else [9 * halves, 6])
    cell = size / count
    for step, way in enumerate(directions(sun)):
        for number in range(2):
            shaded = np.zeros(count)
            for x in range(count[0]):
                for y in range(count[1]):
                    corner = (np.array([x, y]) + number * np.array([count[0], 0])) * cell
                    quarters = [corner + cell * [a, b] for a in (0.25, 0.75) for b in (0.25, 0.75)]
                    flat = np.array(quarters) @ np.stack([FRAME.right, FRAME.up])
                    hit = is_hit(FRAME.corner + flat, np.tile(way, (4, 1)), mesh)
                    shaded[x, y] = np.mean(np.where(hit, 0.1, 1.0))
            # The halves of cells along the module, and thirds of it across, in the order of parts.
            order = views.cells[0, number].reshape(6, 9 * halves)
            sky = order if upright else order.T
            light = parts[0, step] * shaded + parts[1, step] * sky + parts[2, step]
            along = light if upright else light.T
            blocks = along.reshape(3, 2, halves, 9)
            assert found.darkest[step, number] == pytest.approx(blocks.min(axis=(1, 3)), rel=1e-12)
            assert found.mean[step, number] == pytest.approx(light.mean(), rel=1e-12)
    darkest = found.darkest[:2].min(axis=(2, 3))
    assert np.any(darkest < 0.6 * found.mean[:2])
    assert np.ptp(found.darkest[:2], axis=(2, 3)).max() > 100.0


def test_missing_light_is_missing_and_threads_change_nothing():
    own, some = module(), physical.bodies([physical.box(*POST)], [[0.0] * 12])
    views, steps = sky_views(own, some), SUNS.azimuth.size
    light = Components(*(np.full(steps, each) for each in (500.0, 100.0, 10.0)))
    light.direct[3] = np.nan
    months = np.arange(steps) % 12
    one, two = (
        module_light(own, some, views, SUNS, months, light, workers=each) for each in (1, 2)
    )
    assert np.isnan(one.mean[3]).all()
    assert np.isnan(one.darkest[3]).all()
    assert np.isfinite(np.delete(one.darkest, 3, axis=0)).all()
    np.testing.assert_array_equal(one.darkest, two.darkest)
    np.testing.assert_array_equal(one.mean, two.mean)


def turned(site):
    """Return a site turned by half a turn about the middle of its metres."""
    changes = {}
    for number, plane in enumerate(site.planes):
        east, north, up = plane.corner_m
        changes[f"planes.{number}.corner_m"] = [-east, -north, up]
        changes[f"planes.{number}.azimuth_deg"] = (plane.azimuth_deg + 180.0) % 360.0
    for number, each in enumerate(site.obstacles):
        key = "corner_m" if each.shape == "roof" else "foot_m"
        east, north, up = getattr(each, key)
        changes[f"obstacles.{number}.{key}"] = [-east, -north, up]
        if each.shape != "cylinder":
            changes[f"obstacles.{number}.azimuth_deg"] = (each.azimuth_deg + 180.0) % 360.0
    return site.variant(changes)


def moved(site, by):
    """Return a site with everything moved by one vector."""
    changes = {}
    for number, plane in enumerate(site.planes):
        changes[f"planes.{number}.corner_m"] = [
            a + b for a, b in zip(plane.corner_m, by, strict=True)
        ]
    for number, each in enumerate(site.obstacles):
        key = "corner_m" if each.shape == "roof" else "foot_m"
        place = [a + b for a, b in zip(getattr(each, key), by, strict=True)]
        changes[f"obstacles.{number}.{key}"] = place
    return site.variant(changes)


@pytest.fixture(scope="module")
def site():
    return shaded_site(CHIMNEY, TREE, PORCH)


@pytest.fixture(scope="module")
def light(site):
    return light_of(site)


def assert_same(one, other):
    for left, right in zip(one, other, strict=True):
        assert left.darkest == pytest.approx(right.darkest, rel=1e-9)
        assert left.mean == pytest.approx(right.mean, rel=1e-9)


def test_every_plane_is_shaded_and_not_all_of_it(light):
    for each in light:
        assert np.ptp(each.darkest) > 300.0
        assert 0.01 < np.mean(each.darkest < 0.5 * each.darkest.max()) < 0.9


def test_a_turned_scene_under_a_turned_sun_has_the_same_light(site, light):
    sun = SUNS._replace(azimuth=(SUNS.azimuth + 180.0) % 360.0)
    assert_same(light_of(turned(site), sun), light)


def test_a_moved_scene_has_the_same_light(site, light):
    assert_same(light_of(moved(site, (31.25, -17.5, 4.75))), light)


def test_the_order_of_obstacles_and_one_below_do_not_matter(site, light):
    assert_same(light_of(shaded_site(PORCH, CHIMNEY, TREE)), light)
    shed = CHIMNEY | {"name": "shed", "foot_m": [0.0, -20.0, -3.0], "height_m": 2.0}
    assert_same(light_of(shaded_site(CHIMNEY, shed, TREE, PORCH)), light)


def test_glass_that_lets_all_through_shades_nothing():
    clear = [each | {"transmittance": 1.0} for each in (CHIMNEY, PORCH)]
    bare = [each and each.names for each in plane_scenes(shaded_site())]
    assert [each and each.names for each in plane_scenes(shaded_site(*clear))] == bare
    assert bare[2] is None
    leafy = TREE | {"transmittance_by_month": [1.0] * 6 + [0.3] * 6}
    winter, summer = (light_of(shaded_site(leafy), month=month)[0] for month in (0, 7))
    assert winter.mean == pytest.approx(light_of(shaded_site())[0].mean, rel=1e-9)
    assert np.min(summer.mean / winter.mean) < 0.8
