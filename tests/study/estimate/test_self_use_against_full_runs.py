"""Self-use and export of draws against the whole chain at the same points."""

from functools import partial

import numpy as np
import pandas as pd
import pytest

from tests.amounts import amount
from tests.study.estimate.housed import ZONE, housed, housed_site
from yieldkit.base.progress import silent
from yieldkit.study.estimate.drawing import each_run
from yieldkit.study.estimate.house import booked_year, chosen_in
from yieldkit.study.simulation.simulate import simulate_prepared
from yieldkit.study.simulation.trackers import Solutions

pytestmark = pytest.mark.slow

POINTS = amount(80, 256)
"""First points of the sequence that go through the whole chain; 64 of them did already."""
OLD = amount(8, 64)
CLOSE = 0.005


@pytest.fixture(scope="module")
def household(tmp_path_factory):
    """Return a household's draws, its plant and its house."""
    return housed(housed_site(tmp_path_factory.mktemp("household")))


def foretold(household, draws, age_years=0.0):
    """Return self-use and export of the first draws as they follow (draw, period)."""
    drawing, plant, house = household
    numbers, first = drawing.numbers[:draws], drawing.first_years(draws)
    months = plant.year(numbers, first, age_years)
    sums = house.foretold(months, np.ones((draws, 12)), chosen_in(drawing, 0, draws))
    features = plant.model.features.of(numbers, first.level)
    return house.booked(months.sum(axis=1), sums, features)


def test_fast_self_use_has_the_bands_of_whole_runs(household):
    drawing, plant, house = household
    assert plant.runs == 64
    more = each_run(drawing.booked_run, range(plant.runs, POINTS), silent, "whole runs")
    books = np.concatenate([plant.run_books, more[:, 12:]])
    months = np.concatenate([plant.run_months, more[:, :12]])
    used, fed = foretold(household, POINTS)
    assert books.shape[1] == used.shape[1] + fed.shape[1] == 4
    full_used, full_fed = books[:, :2].sum(axis=1), books[:, 2:].sum(axis=1)
    for fast, full in ((used.sum(axis=1), full_used), (fed.sum(axis=1), full_fed)):
        for share in (0.5, 0.1):
            assert np.quantile(fast, share) == pytest.approx(np.quantile(full, share), rel=CLOSE)
        apart = np.sqrt(np.mean(np.square(fast / full - 1.0)[plant.runs :]))
        assert 100.0 * apart < max(2.0 * house.residual_percent, 0.6)
    # Whole runs close by themselves, but for what the plant takes at night.
    taken = house.taken.sum()
    assert full_used + full_fed - months.sum(axis=1) == pytest.approx(taken, abs=1.0)
    # Each period alone: few points, so the middle and the whole spread.
    for fast, full in zip(np.concatenate([used, fed], axis=1).T, books.T, strict=True):
        assert np.median(fast) == pytest.approx(np.median(full), rel=CLOSE)


def test_an_old_plant_s_house_uses_what_whole_runs_of_it_say(household):
    drawing, _, _ = household
    old = each_run(partial(drawing.booked_run, age_years=25.0), range(OLD), silent, "aged runs")
    used, fed = foretold(household, OLD, 25.0)
    assert used.sum(axis=1) == pytest.approx(old[:, 12:14].sum(axis=1), rel=2.0 * CLOSE)
    assert used.sum() == pytest.approx(old[:, 12:14].sum(), rel=CLOSE)
    assert fed.sum() == pytest.approx(old[:, 14:].sum(), rel=CLOSE)
    new, _ = foretold(household, OLD)
    # An eighth of the energy is gone, of what the house uses hardly anything.
    assert 0.95 < used.sum() / new.sum() < 0.99


def test_a_plant_that_is_down_at_times_gives_its_house_as_much_less(household):
    drawing, plant, house = household
    down = plant._replace(model=plant.model._replace(kept=np.full(12, 0.9)))
    always, at_times = (
        booked_year(drawing, own, house, own.one_year(drawing.numbers, drawing.years, 3), 3)
        for own in (plant, down)
    )
    assert at_times.self_use == pytest.approx(0.9 * always.self_use, rel=1e-9)


def test_self_use_does_not_scale_with_energy(household):
    drawing, plant, _ = household
    used, fed = (own.sum(axis=1) for own in foretold(household, len(drawing.numbers)))
    energy = plant.year(drawing.numbers, drawing.years.pick(0), 0.0).sum(axis=1)
    # By how many percent each grows where energy grows by one.
    slope = [np.polyfit(np.log(energy), np.log(own), 1)[0] for own in (used, fed)]
    assert 0.05 < slope[0] < 0.6
    assert slope[1] > 1.02


def test_a_quarter_hour_s_load_is_not_its_hour_s(household):
    _, _, house = household
    (year,) = house.years
    used = year.self_use.sum()
    # What whole runs of the base case book is what the overlaps say of it.
    at_base = sum(
        float(each.at(np.ones(1), np.arange(len(each.arriving))[None])[0, :2].sum())
        for each in year.overlaps
    )
    assert at_base == pytest.approx(used, rel=1e-3)


def test_periods_are_those_of_a_simulation_by_the_clock_on_the_wall(household):
    drawing, _, house = household
    (year,) = house.years
    subject = drawing.subject
    result = simulate_prepared(subject.prepared, subject.wiring, Solutions())
    wall = pd.DatetimeIndex(result.indexes["time"]).tz_localize("UTC").tz_convert(ZONE)
    used, out = (result[name].to_numpy() / 1000.0 for name in ("p_self_use", "p_export"))
    day, noon = (wall.hour >= 6) & (wall.hour < 18), (wall.hour >= 12) & (wall.hour < 15)
    assert year.self_use.sum(axis=0) == pytest.approx([used[day].sum(), used[~day].sum()], rel=1e-9)
    fed = np.zeros(2)
    for each in year.overlaps:
        chosen = np.arange(len(each.arriving))[None]
        fed += each.given(chosen)[0] - each.at(np.ones(1), chosen)[0, 2:]
    assert fed == pytest.approx([out[noon].sum(), out[~noon].sum()], rel=2e-3)


def test_every_draw_closes_and_stays_within_its_bounds(household):
    drawing, plant, house = household
    used, fed = foretold(household, len(drawing.numbers))
    energy = plant.year(drawing.numbers, drawing.years.pick(0), 0.0).sum(axis=1)
    both = used.sum(axis=1) + fed.sum(axis=1)
    assert both - energy == pytest.approx(house.taken.sum(), abs=1e-6)
    assert (used <= house.load + 1e-9).all()
    assert min(used.min(), fed.min()) > 0.0
