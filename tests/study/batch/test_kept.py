"""What may be kept for every step, and how much that is."""

import pytest

import yieldkit
from tests.study import sites
from tests.study.batch.plans import runs_in
from yieldkit.study.batch import kept
from yieldkit.study.batch.kept import HOURLY, hourly_bytes

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def result():
    """Return the demonstration's first wiring, simulated through two weeks."""
    return yieldkit.simulate(sites.demo(), weather=sites.weather().isel(time=slice(0, 336)))


def test_what_may_be_kept_is_every_variable_over_time(result):
    over_time = [str(name) for name in result.data_vars if "time" in result[name].dims]
    assert sorted(HOURLY) == sorted(over_time)


def test_the_size_of_what_is_kept_is_that_of_its_numbers(tmp_path, result, monkeypatch):
    monkeypatch.setattr(kept, "site_weather", lambda _site: sites.weather())
    text = "wirings: [one plane per tracker, lopsided]\nkeep: {hourly: [%s]}\n"
    for name in HOURLY:
        runs = runs_in(tmp_path, text % name)
        steps = sites.weather().sizes["time"]
        per_step = result[name].size // result.sizes["time"]
        assert hourly_bytes(runs) == 2 * steps * per_step * 8, name


def test_nothing_kept_takes_nothing(tmp_path):
    assert hourly_bytes(runs_in(tmp_path, "wirings: [lopsided]\n")) == 0
