"""Snow against published examples and by hand; the lowest rows stay covered longest."""

import numpy as np
import pandas as pd
import pytest
from pvlib import snow

from yieldkit.physics.irradiance.bodies import frame
from yieldkit.physics.irradiance.module_points import cell_grid, plane_modules
from yieldkit.physics.irradiance.snow import (
    MonthsOfSnow,
    Sliding,
    covered_share,
    loss_by_month,
    snow_on_modules,
)


def test_a_months_snow_takes_what_was_calculated_by_hand():
    # pvlib's test of the monthly model, read: "hand-calculated solution".
    even = np.ones(12)
    months = MonthsOfSnow(
        np.array([25.4, 25.4, 12.7, 2.54, 0, 0, 0, 0, 0, 0, 12.7, 25.4]),
        np.array([2, 2, 1, 0, 0, 0, 0, 0, 0, 0, 2, 3]),
        80.0 * even,
        0.0 * even,
        350_000.0 * even,
    )
    found = loss_by_month(months, 20.0, 2.54, 0.254)
    expected = [0.07696253, 0.07992262, 0.06216201, 0.01715392]
    np.testing.assert_allclose(found[:4], expected, rtol=1e-5)
    np.testing.assert_array_equal(found[4:10], 0.0)
    np.testing.assert_allclose(found[10:], [0.02643821, 0.06068194], rtol=1e-5)


def covered(hours, falls, light=0.0, air=-5.0, tilt=30.0, depth=None, step_s=3600.0, **sliding):
    """Return how far a plane is covered, with snow falling in some steps [cm]."""
    fallen = np.zeros(hours)
    for at, cm in falls.items():
        fallen[at] = cm
    weather = (np.full(hours, float(each)) for each in (light, air))
    return covered_share(fallen, *weather, tilt, step_s, Sliding(**sliding), depth)


def test_fast_snow_covers_all_and_slides_by_tilt_where_it_is_warm_enough():
    cold = covered(10, {2: 3.0})
    np.testing.assert_array_equal(cold, [0, 0, 1, 1, 1, 1, 1, 1, 1, 1])
    # By hand: above -600 / 80 = -7.5 degC it slides by 0.197 sin(30 deg) an hour.
    warm = covered(10, {2: 3.0}, light=600.0)
    np.testing.assert_allclose(warm[2:], np.maximum(1.0 - 0.0985 * np.arange(8), 0.0), atol=1e-12)
    steeper = covered(10, {2: 3.0}, light=600.0, tilt=90.0)
    np.testing.assert_allclose(steeper[2:], np.maximum(1.0 - 0.197 * np.arange(8), 0.0), atol=1e-12)
    np.testing.assert_array_equal(covered(10, {2: 3.0}, light=600.0, tilt=0.0)[2:], 1.0)
    np.testing.assert_array_equal(covered(10, {2: 0.9}), 0.0)
    np.testing.assert_array_equal(covered(10, {2: 0.9}, covering_cm_per_h=0.8)[2:], 1.0)


def test_quarter_hours_cover_and_slide_by_the_hour():
    # 0.3 cm in a quarter are 1.2 cm/h.
    found = covered(20, {4: 0.3}, light=600.0, step_s=900.0)
    np.testing.assert_allclose(found[4:], 1.0 - 0.0985 / 4.0 * np.arange(16), atol=1e-12)


def test_missing_values_have_their_rule():
    fallen = np.array([0.0, 2.0, np.nan, np.nan])
    light = np.array([0.0, 0.0, np.nan, 900.0])
    air = np.array([0.0, 0.0, 0.0, np.nan])
    found = covered_share(fallen, light, air, 30.0, 3600.0, Sliding())
    # Dark at 0 degC nothing slides: the air must be warmer than 0; nor does it unknown how warm.
    np.testing.assert_array_equal(found, [0, 1, 1, 1])


def test_bare_ground_means_bare_modules():
    depth = np.array([5.0, 5.0, 5.0, 0.5, 0.5])
    np.testing.assert_array_equal(covered(5, {1: 2.0}, tilt=0.0, depth=depth), [0, 1, 1, 0, 0])


@pytest.mark.filterwarnings("ignore::Warning")  # of the library, about a later pandas
@pytest.mark.parametrize("with_depth", [False, True])
def test_covered_shares_are_the_librarys(with_depth):
    random = np.random.default_rng(4)
    size = 400
    fallen = np.where(random.random(size) < 0.06, 4.0 * random.random(size), 0.0)
    light, air = 900.0 * random.random(size), random.normal(-5.0, 6.0, size)
    depth = 12.0 * random.random(size) if with_depth else None
    index = pd.date_range("2021-01-01", periods=size, freq="30min")
    series = [pd.Series(each, index=index) for each in (fallen, light, air)]
    given = {"snow_depth": pd.Series(depth, index=index)} if with_depth else {}
    theirs = snow.coverage_nrel(*series, 25.0, **given)
    ours = covered_share(fallen, light, air, 25.0, 1800.0, Sliding(), depth)
    np.testing.assert_allclose(ours, theirs, atol=1e-12)
    assert 0.1 < ours.mean() < 0.9


ROWS = [(row, column) for row in (0, 1) for column in (0, 1)]


def modules(upright, halves=1):
    """Return four modules of 1 m by 2 m in two rows, of three groups of 6 by 3 cells."""
    cells = cell_grid(54, 3, (1.0, 2.0), halves=halves, upright=upright, strips=False)
    size = (1.0, 2.0) if upright else (2.0, 1.0)
    return plane_modules(frame((0.0, 0.0, 0.0), 30.0, 180.0), np.array(ROWS), size, cells)


def test_the_upper_row_is_free_first():
    # A quarter of the height: half of the lower row, the upper one free.
    left = snow_on_modules(modules(upright=True), np.array([0.0, 0.25, 0.5, 0.75, 1.0]))
    np.testing.assert_allclose(left.mean[:, :2].T, [[1, 0.5, 0, 0, 0]] * 2, atol=1e-12)
    np.testing.assert_allclose(left.mean[:, 2:].T, [[1, 1, 1, 0.5, 0]] * 2, atol=1e-12)
    # Standing modules have their groups side by side: all are covered at the lower edge.
    np.testing.assert_allclose(left.darkest[1, :2], 0.0, atol=1e-12)
    np.testing.assert_allclose(left.darkest[1, 2:], 1.0, atol=1e-12)


def test_lying_modules_lose_their_lower_group_first():
    left = snow_on_modules(modules(upright=False), np.array([1.0 / 6.0]))
    np.testing.assert_allclose(left.darkest[0, 0, :, 0], [0, 1, 1], atol=1e-12)
    assert left.mean[0, 0] == pytest.approx(2.0 / 3.0, rel=1e-12)
    assert left.darkest.shape == (1, 4, 3, 1)


def test_half_cut_modules_keep_their_upper_halves():
    left = snow_on_modules(modules(upright=True, halves=2), np.array([0.25]))
    np.testing.assert_allclose(left.darkest[0, 0], [[0, 1]] * 3, atol=1e-12)


def test_a_cell_covered_in_part_has_the_rest():
    # Cells of an upright module of 54 are 2 m / 9 = 0.222 m high; half of the lowest row.
    one = modules(upright=True)
    high = float(one.cells.size[1])
    left = snow_on_modules(one, np.array([0.5 * high / 4.0]))
    np.testing.assert_allclose(left.darkest[0, 0], 0.5, atol=1e-12)
