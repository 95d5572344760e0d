"""The aged plant is run, not scaled: behind a limit energy falls slower than power."""

import numpy as np
import pytest

from tests.study.estimate.plants import at_ratio, drawn
from yieldkit.base.progress import silent
from yieldkit.study.estimate.drawing import each_run
from yieldkit.study.estimate.old_age import aged_from_runs, middle_row

pytestmark = pytest.mark.slow

AGES = (0.0, 10.0, 12.5, 25.0)


@pytest.fixture(scope="module", params=[1.6, 0.8])
def plant(request):
    """Return the ratio of DC to AC, whole runs at some ages, and what is foretold for them."""
    drawing = drawn(at_ratio(request.param))
    row, rate = middle_row(drawing)
    assert rate == 0.5
    runs = np.array([drawing.in_usual_year(row, age).sum() for age in AGES])
    begin = drawing.in_usual_year(row)
    aged = aged_from_runs(drawing, each_run(drawing.run, range(4), silent, ""), AGES[2:], silent)
    lost = 0.005 * np.array(AGES)
    foretold = (np.exp(aged.usual(lost)) * begin).sum(axis=1)
    return request.param, 100.0 * (1.0 - runs / runs[0]), 100.0 * (1.0 - foretold / runs[0]), aged


def test_energy_falls_as_whole_runs_say(plant):
    _, run, foretold, _ = plant
    assert foretold == pytest.approx(run, abs=0.05)


def test_behind_a_limit_energy_falls_slower_than_power(plant):
    ratio, run, foretold, _ = plant
    ten_years = foretold[1]
    if ratio > 1.0:
        assert run[1] < 4.5
        assert ten_years < 4.5
    else:
        assert run[1] == pytest.approx(5.0, abs=0.1)
        assert ten_years == pytest.approx(5.0, abs=0.1)


def test_a_draw_that_ages_faster_has_less(plant):
    *_, aged = plant
    names = aged.features.unsure.names
    numbers = np.zeros((3, len(names)))
    numbers[:, names.index("yearly loss of module power")] = (-2.0, 0.0, 2.0)
    left = aged.left(numbers, np.ones(3), 20.0)
    assert (np.diff(left, axis=0) < 0.0).all()
    # Of 20 years' 0, 10 and 20 % nothing is gained by a plant that doesn't age.
    assert left[0] == pytest.approx(np.ones(12), abs=0.005)
