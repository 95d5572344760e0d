"""Likely and cautious years of the demonstration site: bands, months, the way and what they say."""

import numpy as np
import pytest

from tests.study.sites import demo, weather
from yieldkit.base.errors import InputError
from yieldkit.study.estimate.estimate import estimate
from yieldkit.study.simulation.simulate import simulate

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def found():
    """Return the estimate of the demonstration site's first wiring."""
    return estimate(demo(), weather=weather(), draws=512)


def test_the_headline_is_the_median_and_not_the_nominal_figure(found):
    nominal = simulate(demo(), found.data.attrs["wiring"], weather()).attrs["energy_kwh"]
    assert found.nominal_kwh == pytest.approx(nominal, rel=1e-9)
    assert found.likely_kwh == np.median(found.data["first_year"])
    assert found.likely_kwh < 0.985 * nominal
    assert f"{found.likely_kwh:,.0f} kWh" in repr(found)


def test_more_certain_years_are_lower_ones(found):
    for table in (found.bands, found.by_year):
        assert list(table) == ["P50", "P75", "P90", "P95", "P99"]
        assert (np.diff(table.to_numpy(), axis=1) < 0.0).all()
    # What years differ by averages out, the rest stays; ageing lowers all of it.
    width = 1.0 - found.bands["P90"] / found.bands["P50"]
    assert width["mean of 10 years"] < width["first year"]


def test_months_add_up_to_the_likely_and_to_the_cautious_year(found):
    months = found.months
    assert months["likely"].sum() == pytest.approx(found.likely_kwh, rel=1e-12)
    assert months["cautious"].sum() == pytest.approx(found.cautious_kwh, rel=1e-12)
    assert (months["low"] < months["likely"]).all()
    assert (months["likely"] < months["high"]).all()


def test_the_way_leads_from_nominal_to_likely(found):
    way = found.way
    assert way.index[0] == "nominal"
    assert way["energy_kwh"].iloc[0] == pytest.approx(found.nominal_kwh, rel=1e-9)
    assert way["sum_kwh"].iloc[-1] == pytest.approx(found.likely_kwh, rel=1e-12)
    # The site states neither dirt nor a horizon.
    assert way.loc["soiling where none is stated", "energy_kwh"] < -200.0
    assert way.loc["horizon where none is stated", "energy_kwh"] < 0.0


def test_the_residual_is_told_and_small_enough(found):
    assert 0.1 < found.residual_percent < 0.8
    assert found.data.attrs["whole_runs"] == 64
    assert f"to {found.residual_percent:.2f} %" in found.sentences[0]


def test_one_year_of_weather_is_said_to_make_bands_too_narrow(found):
    (caution,) = [text for text in found.sentences if text.startswith("Caution")]
    assert "the bands are too narrow" in caution
    assert "state estimate.year_to_year with its source" in caution


@pytest.mark.parametrize("draws", [0, 48, 500, 32, 64.0, True, 32768])
def test_draws_are_a_power_of_two(draws):
    with pytest.raises(InputError, match="expected a power of two from 64 to 16,384"):
        estimate(demo(), weather=weather(), draws=draws)


def test_a_month_of_weather_gives_no_annual_figure():
    june = weather().isel(time=slice(151 * 24, 181 * 24))
    with pytest.raises(InputError, match=r"got 30 days of it; expected one year .*Jul 0 %"):
        estimate(demo(), weather=june)
