"""Years of weather that differ: what is measured of them, and what goes before what is stated."""

import numpy as np
import pytest

from tests.study.estimate.plants import STATED
from tests.study.sites import demo, weather
from tests.weather.several_years import put_year
from yieldkit.base.errors import InputError
from yieldkit.config.site.files import site_from_mapping
from yieldkit.study.estimate.estimate import estimate
from yieldkit.study.estimate.sentences import years_told
from yieldkit.study.estimate.spread import Spread, spread_of, years_at_hand
from yieldkit.study.simulation.prepare import prepare
from yieldkit.study.simulation.simulate import simulate
from yieldkit.study.simulation.weather import site_weather

pytestmark = pytest.mark.slow

BRIGHT = {2012: 1.07, 2013: 0.98, 2014: 0.93, 2016: 1.0, 2017: 1.05, 2019: 0.97}


@pytest.fixture(scope="module")
def several(tmp_path_factory):
    """Return the demonstration site on six years of which some follow one another."""
    folder = tmp_path_factory.mktemp("years")
    files = [put_year(folder, year, bright) for year, bright in BRIGHT.items()]
    content = demo().model_dump(exclude={"folder"})
    content["weather"] = {"file": files, "format": "canonical"}
    still = {"power_loss_percent_per_year": 0.0, "spread_percent_per_year": 0.0, "source": "none"}
    content["estimate"] = {"ageing": still}
    content["wirings"] = content["wirings"][:1]
    return site_from_mapping(content, folder=str(folder))


@pytest.fixture(scope="module")
def prepared(several):
    """Return it on its weather."""
    return prepare(several, site_weather(several))


@pytest.fixture(scope="module")
def found(several, prepared):
    """Return the estimate of its wiring."""
    return estimate(several, weather=prepared.weather, draws=64)


def test_years_are_told_apart(prepared):
    steps = years_at_hand(prepared)
    assert [len(own) for own in steps] == [8784, 8760, 8760, 8784, 8760, 8760]
    assert sum(map(len, steps)) == prepared.weather.sizes["time"]


def test_how_much_years_differ_is_measured(prepared):
    spread = spread_of(prepared, years_at_hand(prepared))
    bright = np.array(list(BRIGHT.values()))
    assert spread.kind == "measured years"
    # Leap years have a day more in February.
    assert spread.percent == pytest.approx(100.0 * bright.std(ddof=1) / bright.mean(), abs=0.1)
    assert spread.of_mean() == pytest.approx(spread.percent / np.sqrt(6.0))


def test_what_is_stated_goes_before_few_years_and_not_before_many(several, prepared):
    stated = several.variant({"estimate.year_to_year": STATED})
    few = spread_of(prepare(stated, prepared.weather), years_at_hand(prepared)[:3])
    assert (few.kind, few.percent, few.years) == ("stated", 3.9, 3)
    many = spread_of(prepare(stated, prepared.weather), years_at_hand(prepared))
    assert many.kind == "measured years"
    alone = prepare(demo(), weather())
    assert spread_of(alone, years_at_hand(alone)).kind == "blocks of days"


def test_the_nominal_year_is_the_mean_of_all(found, several, prepared):
    nominal = simulate(several, weather=prepared.weather).attrs["energy_kwh"]
    assert found.nominal_kwh == pytest.approx(nominal, rel=1e-9)
    assert found.likely_kwh < nominal
    assert found.residual_percent < 0.8
    assert found.data.attrs["whole_runs"] == 64


def test_bands_know_the_years(found):
    # 5.3 % from year to year alone are 6.8 % at nine of ten.
    assert 1.0 - found.cautious_kwh / found.likely_kwh > 0.068
    told = [text for text in found.sentences if text.startswith("Years differ by")]
    assert told == [
        "Years differ by 5.3 % in light (standard deviation): the 6 years of weather given."
    ]
    assert "long-term light" in found.contributions.index
    # Without ageing each year of life is like the first.
    assert found.by_year["P50"].to_numpy() == pytest.approx(found.likely_kwh, rel=0.01)


def test_years_of_which_none_is_whole_have_none_to_draw_from(tmp_path):
    gone = {2013: ("2013-03-01", "2013-04-01"), 2016: ("2016-09-01", "2016-10-01")}
    files = [put_year(tmp_path, year, gone=[hole]) for year, hole in gone.items()]
    content = demo().model_dump(exclude={"folder"})
    content["weather"] = {"file": files, "format": "canonical"}
    site = site_from_mapping(content, folder=str(tmp_path))
    with pytest.raises(InputError, match=r"none holds twelve months in a row; expected at least"):
        estimate(site, site.wirings[0].name)


def test_few_years_are_cautioned():
    said = years_told(Spread("measured years", 4.0, "the 3 years of weather given", 3), 0.0)
    assert said == (
        "Caution: Years differ by 4.0 % in light (standard deviation): the 3 years of weather "
        "given. So few years hardly tell how much years differ."
    )
    stated = years_told(Spread("stated", 3.9, "a study", 1), 0.0)
    assert stated == "Years differ by 3.9 % in light (standard deviation): a study."
