"""Draws that follow from 64 whole runs against the whole chain at the same points."""

import numpy as np
import pytest

from tests.amounts import amount
from tests.study.estimate.plants import at_ratio, drawn, in_the_shade, stated
from tests.study.sites import demo
from yieldkit.base.progress import silent
from yieldkit.study.estimate.drawing import each_run
from yieldkit.study.estimate.plant import plant_from_runs
from yieldkit.study.estimate.weather_years import Years

pytestmark = pytest.mark.slow

POINTS = amount(80, 256)
"""First points of the sequence that go through the whole chain; 64 of them did already."""


def both_ways(site, days):
    """Return energies of the first points: as they follow, and by the whole chain [kWh]."""
    drawing = drawn(site, 256, days=days)
    plant = plant_from_runs(drawing, np.ones(12), np.zeros(12), (), silent)
    more = each_run(drawing.run, range(plant.runs, POINTS), silent, "whole runs")
    full = np.concatenate([plant.run_months, more])[:POINTS].sum(axis=1)
    first = drawing.first_years(POINTS)
    fast = plant.year(drawing.numbers[:POINTS], first, 0.0).sum(axis=1)
    blind = plant.year(drawing.numbers[:POINTS], Years(first.factor**0.0, first.level), 0.0)
    return plant, fast, full, blind.sum(axis=1)


@pytest.mark.parametrize(
    ("site", "days"),
    [
        pytest.param(demo, None, id="demonstration"),
        pytest.param(lambda: stated(at_ratio(1.5)), None, id="ratio 1.5"),
        pytest.param(in_the_shade, amount(60, 365), id="shade"),
    ],
)
def test_fast_draws_give_the_bands_of_whole_runs(site, days):
    plant, fast, full, blind = both_ways(site(), days)
    assert plant.runs == 64
    for share in (0.5, 0.1):
        assert np.quantile(fast, share) == pytest.approx(np.quantile(full, share), rel=0.0025)
    others = slice(plant.runs, None)
    apart = np.sqrt(np.mean(np.square(fast[others] / full[others] - 1.0)))
    assert 100.0 * apart < 1.5 * plant.residual_percent
    # Without the year's own factor nothing of that holds.
    assert np.sqrt(np.mean(np.square(blind / full - 1.0))) > max(0.02, 2.0 * apart)
