"""Draws that follow from 64 whole runs against the whole chain at the same points."""

import numpy as np
import pytest

from tests.amounts import LONG, amount
from tests.study.estimate.plants import SITES, known_plant
from yieldkit.base.progress import silent
from yieldkit.study.estimate.drawing import each_run
from yieldkit.study.estimate.weather_years import Years

pytestmark = pytest.mark.slow

POINTS = amount(80, 256)
"""First points of the sequence that go through the whole chain; 64 of them did already."""
CLOSE = 0.0025 if LONG else 0.005
"""Nearness of the bands: the tenth of few points hangs on one or two of them."""


@pytest.mark.parametrize("name", SITES)
def test_fast_draws_give_the_bands_of_whole_runs(name):
    drawing, plant = known_plant(name)
    assert plant.runs == 64
    more = each_run(drawing.run, range(plant.runs, POINTS), silent, "whole runs")
    full = np.concatenate([plant.run_months, more]).sum(axis=1)
    numbers, first = drawing.numbers[:POINTS], drawing.first_years(POINTS)
    fast = plant.year(numbers, first, 0.0).sum(axis=1)
    for share in (0.5, 0.1):
        assert np.quantile(fast, share) == pytest.approx(np.quantile(full, share), rel=CLOSE)
    apart = np.sqrt(np.mean(np.square(fast / full - 1.0)[plant.runs :]))
    assert 100.0 * apart < 1.5 * plant.residual_percent
    # Without the year's own factor nothing of that holds.
    blind = plant.year(numbers, Years(np.ones_like(first.factor), first.level), 0.0).sum(axis=1)
    assert np.sqrt(np.mean(np.square(blind / full - 1.0))) > max(0.02, 4.0 * apart)
