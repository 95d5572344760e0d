"""The same seed gives the same bytes, and more draws hardly anything else."""

import numpy as np
import pytest

from tests.amounts import LONG
from tests.study.estimate.plants import known_plant, stated
from tests.study.sites import demo, variant, weather
from yieldkit.base.files import write_dataset
from yieldkit.study.estimate import drawing as drawings
from yieldkit.study.estimate import plant as plants
from yieldkit.study.estimate.bands import exceeded
from yieldkit.study.estimate.estimate import drawn_from, estimate

pytestmark = pytest.mark.slow

STILL = {
    "estimate.ageing": {
        "power_loss_percent_per_year": 0.0,
        "spread_percent_per_year": 0.0,
        "source": "for a trial",
    },
    "estimate.years": 2,
}


def few(seed=1):
    """Return an estimate of few draws of a plant that doesn't age."""
    site = variant(STILL, demo().model_dump()["wirings"][:1])
    return estimate(site, weather=weather(), draws=64, seed=seed)


def test_the_same_seed_gives_the_same_bytes_in_any_number_of_threads(tmp_path, monkeypatch):
    written = []
    if not LONG:  # threads are the same whatever follows from the runs
        monkeypatch.setattr(plants, "RUNS", 16)
        monkeypatch.setattr(plants, "MOST_RESIDUAL_PERCENT", np.inf)
    for threads in (2, 1):
        monkeypatch.setattr(drawings, "WORKERS", threads)
        found = few()
        write_dataset(tmp_path / f"{threads}.nc", found.data)
        written.append((tmp_path / f"{threads}.nc").read_bytes())
    assert written[0] == written[1]
    # A plant that doesn't age is as good in its second year, but for the weather drawn.
    assert found.data.attrs["ages_run"] == "[0.0]"
    assert list(found.bands.index) == ["first year"]
    assert found.by_year.loc[2, "P50"] == pytest.approx(found.by_year.loc[1, "P50"], rel=0.02)


def band(draws, seed):
    """Return what is exceeded in nine of ten first years."""
    if LONG:
        return estimate(stated(demo()), weather=weather(), draws=draws, seed=seed).cautious_kwh
    known, plant = known_plant("demonstration")
    drawing = drawn_from(known.subject, known.unsure, known.weather, draws, seed)
    sums = plant.one_year(drawing.numbers, drawing.years, 1).sum(axis=2).ravel()
    return float(exceeded(sums)[2])


def test_twice_as_many_draws_hardly_move_the_cautious_year():
    apart = [abs(band(1024, seed) / band(512, seed) - 1.0) for seed in range(1, 11)]
    assert 0.0 < np.median(apart) <= 0.003
