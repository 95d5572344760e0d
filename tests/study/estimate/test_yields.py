"""Yields and ratios of IEC 61724-1, against worked figures and the plant's own sums."""

import numpy as np
import pytest

from tests.study.every_key_sites import bases
from yieldkit.base.errors import InputError
from yieldkit.config.models.modules import ListedModule
from yieldkit.config.site.files import load_site
from yieldkit.study.estimate.yields import corrected_ratio, power_coefficient, yields, yields_of
from yieldkit.study.simulation.simulate import simulate
from yieldkit.study.simulation.weather import site_weather

# Three hours of a plant of 10 kW at -0.4 %/K (computed).
LIGHT = np.array([[200.0], [600.0], [1000.0]])
HEAT = np.array([[25.0], [40.0], [55.0]])
POWER = np.array([1700.0, 4900.0, 7400.0])
RATED, GAMMA = np.array([10_000.0]), np.array([-0.004])


def test_a_year_of_a_plant():
    found = yields(9500.0, 10_000.0, 1200.0, 10.0)
    assert found.final == 950.0
    assert found.reference == 1200.0
    assert found.ratio == pytest.approx(0.79167, abs=5e-6)
    assert (found.capture_loss, found.system_loss) == (200.0, 50.0)
    assert found.reference - found.capture_loss - found.system_loss == found.final


def test_three_hours_by_their_temperature():
    assert POWER.sum() / (LIGHT.sum() / 1000.0 * 10_000.0) == pytest.approx(0.777778, abs=5e-7)
    assert corrected_ratio(POWER, LIGHT, HEAT, RATED, GAMMA) == pytest.approx(0.851582, abs=5e-7)
    mean = corrected_ratio(POWER, LIGHT, HEAT, RATED, GAMMA, 45.0)
    assert mean == pytest.approx(0.782998, abs=5e-7)


def test_planes_count_by_their_power():
    light = np.hstack([LIGHT, np.zeros((3, 1))])
    heat = np.hstack([HEAT, HEAT])
    halves = np.array([5000.0, 5000.0])
    found = corrected_ratio(POWER, light, heat, halves, np.array([-0.004, -0.003]))
    assert found == pytest.approx(2.0 * 0.851582, abs=2e-6)


def test_no_light_is_no_ratio():
    assert np.isnan(corrected_ratio(POWER, 0.0 * LIGHT, HEAT, RATED, GAMMA))
    assert np.isnan(yields(0.0, 0.0, 0.0, 10.0).ratio)


@pytest.mark.parametrize("rated", [0.0, -5.0, float("nan")])
def test_a_rated_power_of_nothing_is_refused(rated):
    with pytest.raises(InputError, match=r"rated power P0: got .* kW; expected more than nothing"):
        yields(0.0, 0.0, 100.0, rated)


def test_the_coefficient_is_the_datasheet_s_or_the_diode_s():
    module = load_site().module_types[0]
    assert power_coefficient(module) == module.gamma_pmp_per_k
    silent = module.model_copy(update={"gamma_pmp": None})
    assert -0.006 < power_coefficient(silent) < -0.002
    row = bases()[0]["listed module"]["module_types"][0]["row"]
    listed = ListedModule(name="listed", source="cec-list", row=row)
    assert -0.006 < power_coefficient(listed) < -0.002


@pytest.fixture(scope="module")
def some_days():
    """Return the demonstration site with a result of four days in June, one hour missing."""
    site = load_site()
    weather = site_weather(site)
    days = weather.isel(time=slice(24 * 160, 24 * 164)).copy(deep=True)
    days["ghi"][60] = np.nan
    return site, simulate(site, weather=days.assign_attrs(weather.attrs))


def test_yields_are_those_of_the_results(some_days):
    site, result = some_days
    found = yields_of(site, result)
    rated = np.array([27, 14, 7]) * np.array(
        [next(m for m in site.module_types if m.name == p.module_type).p_max_w for p in site.planes]
    )
    light = np.nansum(result["poa_global"].to_numpy(), axis=0) / 1000.0
    assert found.reference == pytest.approx(light @ rated / rated.sum(), rel=1e-12)
    assert found.final == pytest.approx(result.attrs["kwh_per_kwp"], rel=1e-12)
    assert found.array == pytest.approx(float(np.nansum(result["p_dc"])) / rated.sum(), rel=1e-9)
    assert found.ratio < found.corrected_ratio < 1.0
    assert min(found.capture_loss, found.system_loss) > 0.0
