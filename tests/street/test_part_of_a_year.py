"""A shed that has logged since April, and a house on a far station's weather with gaps."""

import re

import numpy as np
import pytest

from tests.street import oracle
from tests.street.house_checks import CHECKS
from tests.street.page_checks import PAGE_CHECKS

pytestmark = pytest.mark.slow

FOLDERS = ("shed_since_april", "borrowed_weather")
SPAN = {"shed_since_april": "120 days", "borrowed_weather": "88 days"}
_OF_YEARS = re.compile(
    r"Not a year: |A year needs 95 % of the daylight of each month; lacking in [A-Z][a-z, A-Z]*\."
)
"""The two sentences that say that it is no year."""


@pytest.mark.parametrize("folder", FOLDERS)
@pytest.mark.parametrize("check", CHECKS + PAGE_CHECKS, ids=lambda check: check.__name__)
def test_house(street, folder, check):
    check(street(folder))


def everything_said(walk):
    """Return the words of all commands and pages, by where they stand."""
    found = {"compare": walk.compared.out, "propose": walk.proposed.out}
    found |= {f"simulate {name}": said.out for name, said in walk.simulated.items()}
    pages = walk.elsewhere.glob("*/*.html")
    found |= {
        page.name: re.sub(r"<style>.*?</style>|<[^>]*>", " ", page.read_text("utf-8"), flags=re.S)
        for page in pages
    }
    return {name: " ".join(text.split()) for name, text in found.items()}


@pytest.mark.parametrize("folder", FOLDERS)
def test_nothing_is_called_a_year_that_is_none(street, folder):
    walk = street(folder)
    told = everything_said(walk)
    assert {"compare_wirings.html", "propose_wirings.html"} <= set(told)
    for name, text in told.items():
        assert f"in the {SPAN[folder]} of this file" in text, name
        rest = _OF_YEARS.sub("", text)
        assert len(rest) < len(text), f"{name} does not say that it is no year"
        found = re.search(r".{40}\b(a|per|each|every) year\b.{40}", rest)
        assert found is None, f"{name}: {found}"


def test_gaps_are_bridged_only_where_light_is_known_on_both_sides(street):
    walk = street("borrowed_weather")
    # Two days stood still, and a midnight: its light is not between daylit steps.
    assert np.count_nonzero(~walk.roofs.present) == 48 + 1
    for name, said in walk.simulated.items():
        result = walk.results[name]
        assert result.attrs["missing_steps"] == 49
        assert result.attrs["filled_steps"] == 4
        assert "49 steps missing (26 h of daylight), 4 filled" in " ".join(said.out.split())


def test_the_sun_is_the_stations_and_the_planes_are_the_sites(street):
    walk = street("borrowed_weather")
    told = " ".join(walk.compared.out.split())
    assert "weather moved on purpose (weather.moved)" in told
    assert "The whole sun and the clock are the station's" in told
    # Under the house's own sun another energy would come out: the check above can tell.
    table = walk.table.copy()
    table.attrs = {**walk.table.attrs, "station": walk.site["site"]}
    under_own = oracle.roofs(walk.site, table)
    for roof in walk.site["planes"]:
        name = roof["name"]
        right = walk.roofs.kwh(walk.roofs.light[name]["poa"])
        assert under_own.kwh(under_own.light[name]["poa"]) != pytest.approx(right, rel=0.002), name


def test_the_ramp_after_a_switch_off_costs_energy(street):
    walk = street("shed_since_april")
    for name, result in walk.results.items():
        assert walk.years[name].lost.max() > 0.3, name
        lost = float(result["loss_budget"].sel(loss_step="network voltage"))
        assert lost > 0.005 * result.attrs["energy_kwh"], name
