"""A thousand invented years with a published spread against one estimate of each site."""

from typing import NamedTuple

import numpy as np
import pytest

from tests.amounts import amount
from tests.study.estimate.plants import SITES, STATED, known_plant
from yieldkit.study.estimate.bands import exceeded, means_of_years
from yieldkit.study.estimate.drawing import Drawing
from yieldkit.study.estimate.plant import Plant
from yieldkit.study.estimate.runs import drawn_months

pytestmark = pytest.mark.slow

INVENTED, WHOLE = 1000, amount(12, 60)


class Truth(NamedTuple):
    """Plants as they turn out, each in its own years."""

    drawing: Drawing
    plant: Plant
    energy: np.ndarray
    """(plant, year)."""


def ten_years(plant, numbers, years):
    """Return ten years of plants that don't age [kWh] (plant, year)."""
    each = [plant.year(numbers, years.pick(at), 0.0).sum(axis=1) for at in range(10)]
    return np.column_stack(each)


def invented(name):
    """Return a thousand plants of a site as they turn out, drawn without the estimate's points."""
    drawing, plant = known_plant(name)
    rng = np.random.default_rng(2024)
    columns = drawing.unsure.columns
    places = rng.uniform(1e-9, 1.0 - 1e-9, (INVENTED, len(columns)))
    numbers = np.column_stack(
        [column.drawn(own) for column, own in zip(columns, places.T, strict=True)]
    )
    picks = drawing.weather.picks(INVENTED, 10, 2024)
    years = drawing.weather.drawn(picks, rng.standard_normal((INVENTED, 10)))
    truth = drawing._replace(numbers=numbers, picks=picks, years=years)
    return Truth(truth, plant, ten_years(plant, numbers, years))


@pytest.fixture(scope="module", params=SITES)
def case(request):
    """Return a site's bands of one year and of ten, and its plants as they turn out."""
    drawing, plant = known_plant(request.param)
    one = exceeded(plant.one_year(drawing.numbers, drawing.years, 1).sum(axis=2).ravel())
    spans, means = means_of_years(ten_years(plant, drawing.numbers, drawing.years))
    assert spans == (1, 5, 10)
    return one, exceeded(means)[2], invented(request.param)


def share_above(values, energy):
    """Return in how many of a hundred cases an energy is exceeded."""
    return 100.0 * float(np.mean(values > energy))


def test_bands_hold_what_they_promise(case):
    one, ten, truth = case
    first, mean = truth.energy[:, 0], truth.energy.mean(axis=1)
    for bands, found in ((one, first), (ten, mean)):
        median, cautious = bands[0], bands[2]
        assert 46.0 <= share_above(found, median) <= 54.0
        assert 88.0 <= share_above(found, cautious) <= 92.0
        # A band that is 15 % too narrow or too wide isn't taken for good.
        for factor in (0.85, 1.15):
            wrong = median - factor * (median - cautious)
            assert not 88.0 <= share_above(found, wrong) <= 92.0


def test_the_whole_chain_agrees_with_the_invented_years(case):
    one, _, truth = case
    drawing = truth.drawing
    whole = np.array([drawing.run(draw).sum() for draw in range(WHOLE)])
    apart = 100.0 * np.sqrt(np.mean(np.square(truth.energy[:WHOLE, 0] / whole - 1.0)))
    assert apart < 1.5 * truth.plant.residual_percent
    above = [whole > bound for bound in one]
    assert all((np.diff(np.array(above).astype(int), axis=0) >= 0).ravel())


def test_weather_differs_by_year_as_published(case):
    *_, truth = case
    drawing = truth.drawing
    light = [
        float(np.nansum(year.drawn(row)["ghi"]))
        for year, row in (
            (
                drawing.weather.year(drawing.picks, drawing.years, draw),
                drawing.unsure.base_row(),
            )
            for draw in range(100)
        )
    ]
    spread = 100.0 * np.std(light) / np.mean(light)
    assert spread == pytest.approx(STATED["spread_percent"], rel=0.2)
    # The same plant in the same light gives the same: nothing else is drawn on the way.
    year = drawing.weather.year(drawing.picks, drawing.years, 0)
    row = drawing.unsure.row(drawing.numbers[0])
    assert (drawn_months(drawing.subject, row, year) == drawing.run(0)).all()
