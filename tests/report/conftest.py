"""The demonstration site on three days of June, shared by the tests of the report."""

import pytest

from yieldkit.config.site.files import load_site
from yieldkit.study.comparison.compare import compare
from yieldkit.study.simulation.weather import site_weather


@pytest.fixture(scope="session")
def site():
    return load_site(None)


@pytest.fixture(scope="session")
def june(site):
    """Return three days of weather in June, the 9th among the clearest of the year."""
    return site_weather(site).sel(time=slice("2018-05-31T23", "2018-06-03T22"))


@pytest.fixture(scope="session")
def comparison(site, june):
    return compare(site, june)
