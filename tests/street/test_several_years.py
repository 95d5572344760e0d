"""A house that has logged for three years, one of them with a hole: what it may promise."""

import re
from dataclasses import replace
from functools import cache
from pathlib import Path

import pandas as pd
import pytest
import yaml

from tests.street import oracle
from tests.street.house_checks import KWH
from tests.street.invented_weather import Climate, invented
from tests.street.walk import run
from tests.street.weather_files import own_columns

pytestmark = pytest.mark.slow

YEARS = {2015: 0.42, 2016: 0.33, 2017: 0.36}
HOLE = ("2017-03-04", "2017-03-29")
"""Three weeks and a half of March in which the logger stood still."""
READ_BY = {
    "file": "logger/20*.csv",
    "format": "csv",
    "zone": "UTC+01:00",
    "sampling": "mean",
    "label": "end",
    "wind_height_m": 10.0,
    "columns": {
        "time": "End of interval",
        "ghi": "Global W/m2",
        "dni": "Direct W/m2",
        "dhi": "Diffuse W/m2",
        "temp_air": "Air degC",
        "wind_speed": "Wind m/s",
    },
}


@cache
def table_of(year):
    """Return an invented year at the house."""
    place = site()["site"]
    days = 366 if year == 2016 else 365
    climate = Climate(f"{year}-01-01", days, 60, seed=year, cloudiness=YEARS[year])
    found = invented(place, climate, 1.0)
    found.attrs = {"offset_h": 1.0, "wind_height_m": 10.0, "station": place}
    return found


@cache
def site():
    found = oracle.read_site(Path(__file__).parent / "house_east_west" / "site.yaml")
    return {**found, "wirings": found["wirings"][:2]}


@pytest.fixture(scope="module")
def place(tmp_path_factory):
    """Return a working folder beside the house's, whose logger has kept three years."""
    folder = tmp_path_factory.mktemp("years")
    (folder / "house" / "logger").mkdir(parents=True)
    (folder / "desk").mkdir()
    for year in YEARS:
        kept = table_of(year)
        if year == 2017:
            begin, end = (pd.Timestamp(each, tz="UTC") for each in HOLE)
            kept = kept[(kept.index < begin) | (kept.index >= end)]
        own_columns(kept, folder / "house" / "logger" / f"{year}.csv", site()["site"], 1.0)
    content = {**site(), "weather": READ_BY}
    text = yaml.safe_dump(content, sort_keys=False, allow_unicode=True)
    (folder / "house" / "site.yaml").write_text(text, encoding="utf-8")
    return folder / "desk"


def _mean_year(shared, wiring):
    """Return the mean of three years, but of two in March."""
    found = 0.0
    for year, own in shared.items():
        march = (own.table.index + pd.Timedelta(hours=1)).month == 3
        rest = replace(own, present=~march)
        found += oracle.year(rest, wiring).delivered_kwh / 3.0
        if year != 2017:
            found += oracle.year(replace(own, present=march), wiring).delivered_kwh / 2.0
    return found


@pytest.fixture(scope="module")
def mean_kwh():
    """Return what a second opinion finds for each wiring: means of the months that are whole."""
    shared = {year: oracle.roofs(site(), table_of(year)) for year in YEARS}
    return {wiring["name"]: _mean_year(shared, wiring) for wiring in site()["wirings"]}


def kwh(text):
    return float(re.search(r"([\d,]+) kWh", " ".join(text.split()))[1].replace(",", ""))


def test_a_simulation_is_the_mean_month_by_month(place, mean_kwh):
    for name, expected in mean_kwh.items():
        said = run(["simulate", "../house/site.yaml", "--wiring", name], place)
        assert said.code == 0, said.err
        told = " ".join(said.out.split())
        assert "delivered a year (mean of 3)" in told
        assert "The weather holds 3 years, of some months fewer (Mar 2): energies" in told
        assert kwh(said.out) == pytest.approx(expected, rel=KWH)


def test_the_hole_is_told(place):
    said = run(["check", "../house/site.yaml"], place)
    told = " ".join(said.err.split())
    assert "Caution: Steps missing in weather files: '2017.csv' 600." in told
    assert "a month must have 95 % of its daylight: 2017-03 (" in told


def test_an_estimate_is_made_of_them(place, mean_kwh):
    said = run(["estimate", "../house/site.yaml", "--draws", "64", "--out", "promise"], place)
    assert said.code == 0, said.err
    told = " ".join(said.out.split())
    best = max(mean_kwh, key=mean_kwh.get)
    assert told.startswith(f"Wiring: '{best}', which yields most of the ")
    nominal = float(re.search(r"with nothing drawn, is ([\d,]+) kWh", told)[1].replace(",", ""))
    assert nominal == pytest.approx(mean_kwh[best], rel=KWH)
    likely, cautious = (
        float(re.search(pattern, told)[1].replace(",", ""))
        for pattern in (r"([\d,]+) kWh in the likely first", r"([\d,]+) kWh in the cautious one")
    )
    assert cautious < likely < nominal
    assert "Caution: Years differ by" in told
    page = (place / "promise" / "estimate.html").read_text(encoding="utf-8")
    assert "What does it yield? House with a wing (invented)" in page
    assert f"{likely:,.0f} kWh in the likely first year" in page
    assert "Left out of every figure" in page
    assert page.count("<img ") >= 4
    assert "2015.csv, 2016.csv, 2017.csv" in page
