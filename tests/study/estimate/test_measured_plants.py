"""Estimates against measured plants: bias and hourly error from measured light, nothing tuned.

The plants' files come from a package that carries them; nobody knows all of their equipment, so
that rated power and direction are assumed where that is said. What is judged is what a band without
weather promises: that a plant lies within it when its own light was measured.
"""

import sys

import numpy as np
import pandas as pd
import pytest
import yaml

from tests.archives import archive
from tests.config.small import TEXT
from tests.study.test_measured_files import SERF, serf
from tests.weather.years import highland
from yieldkit.config.site.files import load_site
from yieldkit.study.estimate.estimate import estimate
from yieldkit.study.simulation.simulate import simulate

pytestmark = pytest.mark.slow

Z_95 = 1.64485
"""A normal quantity exceeds its mean by so many standard deviations in 5 of 100 cases."""
NOT_LIGHT = ("weather year", "irradiance level", "diffuse light", "sky model")


def golden(weather):
    """Return a plant of 5.94 kW (6 kW of rated power, assumed) at 45 degrees, 158 from north."""
    content = yaml.safe_load(TEXT)
    content["site"] |= {"latitude": 39.742, "longitude": -105.173, "altitude_m": 1800}
    content["site"]["time_zone"] = "UTC-07:00"
    content["weather"] = {"format": "csv", "zone": "UTC-07:00", **weather}
    plane = content["planes"][0] | {"tilt_deg": 45, "azimuth_deg": 158, "modules": 11}
    content["planes"] = [plane]
    string = {"groups": [{"plane": "west", "modules": 11}]}
    content["wirings"] = [{"name": "own", "trackers": [{"mppt": "A", "strings": [string]}]}]
    content["inverter"]["ac"]["nominal_power_w"] = 6000
    return content


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """Return a folder with the plant on its measured days, and on three years of its place."""
    place = tmp_path_factory.mktemp("golden")
    serf(place)
    for year, table in highland().tables.items():
        local = table.index.tz_convert("Etc/GMT+7").strftime("%Y-%m-%d %H:%M")
        table.assign(when=local).to_csv(place / f"year-{year}.csv", index=False)
    columns = {"time": "when", **{name: name for name in ("ghi", "temp_air", "wind_speed")}}
    years = {"file": "year-*.csv", "columns": columns, **highland().source}
    for name, weather in (("days", SERF), ("years", years)):
        (place / f"{name}.yaml").write_text(yaml.safe_dump(golden(weather)), encoding="utf-8")
    return place


@pytest.fixture(scope="module")
def found(folder):
    return estimate(load_site(folder / "years.yaml"), "own", draws=64)


def spread_without(found, causes):
    """Return what is left of the first year's standard deviation when causes are known [%]."""
    shares = found.contributions["total_order"]
    left = 1.0 - sum(max(shares[name], 0.0) for name in causes if name in shares.index)
    energy = found.data["first_year"].to_numpy()
    return 100.0 * float(energy.std() / energy.mean()) * np.sqrt(max(left, 0.0))


def hours_of(folder):
    """Return measured and modelled AC power of a plant's days by the hour [W]."""
    name = "serf_west_15min.csv"
    raw = pd.read_csv(
        archive("pvanalytics==0.2.2") / "pvanalytics" / "data" / name,
        index_col=0,
        parse_dates=True,
    ).loc["2022-01-04":"2022-01-05"]
    result = simulate(load_site(folder / "days.yaml"))
    own = pd.Series(result["p_delivered"].to_numpy(), raw.index)
    return pd.DataFrame({"measured": raw["ac_power__773"], "ours": own}).resample("1h").mean()


def test_a_plant_lies_in_its_band_without_weather(folder, found):
    hours = hours_of(folder)
    run = hours[hours["measured"] > 300.0]
    bias = 100.0 * (run["ours"].sum() / run["measured"].sum() - 1.0)
    error = run["ours"] - run["measured"]
    hourly = 100.0 * float(np.sqrt((error**2).mean()) / run["measured"].mean())
    band = Z_95 * spread_without(found, ("weather year",))
    strict = Z_95 * spread_without(found, NOT_LIGHT)
    sys.stdout.write(
        f"measured plant, 2 days, {len(run)} hours: bias {bias:+.2f} %, hourly error "
        f"{hourly:.2f} % of the mean; 90 % band without weather +-{band:.2f} %, without light "
        f"+-{strict:.2f} %\n"
    )
    assert abs(bias) < band
    assert hourly < 10.0  # 8 to 10 % of the mean of producing hours is normal
    # A band that were as wide as anything would prove nothing.
    assert 1.0 < strict < band < 10.0


def test_a_plant_of_another_size_would_not(folder, found):
    """A string of one module more or less than the plant has is told apart."""
    hours = hours_of(folder)
    run = hours[hours["measured"] > 300.0]
    ratio = run["ours"].sum() / run["measured"].sum()
    band = Z_95 * spread_without(found, ("weather year",))
    for modules in (10, 12):
        assert abs(100.0 * (ratio * modules / 11.0 - 1.0)) > band


def test_three_years_of_one_place_tell_how_much_years_differ(found):
    attrs = found.data.attrs
    assert attrs["years_averaged"] == 3
    assert attrs["weather_source"] == "year-2011.csv, year-2012.csv, year-2013.csv"
    assert attrs["year_to_year"] == "measured years"
    light = np.array([table["ghi"].sum() for table in highland().tables.values()])
    expected = 100.0 * float(light.std(ddof=1) / light.mean())
    assert attrs["year_to_year_percent"] == pytest.approx(expected, rel=0.02)
    assert any(text.startswith("Caution: Years differ by") for text in found.sentences)


def test_the_other_plant_s_light_is_not_that_of_its_power():
    """Its array would give far more than its rated power: it is told of and not judged."""
    source = archive("pvanalytics==0.2.2") / "pvanalytics" / "data" / "nrel_RSF_II.csv"
    raw = pd.read_csv(source, index_col=0, parse_dates=True)
    run = raw[raw["ac_power_kw_1137"] > 10.0]
    ratio = run["ac_power_kw_1137"].sum() / (204.12 * run["poa_irradiance__1055"].sum() / 1000.0)
    sys.stdout.write(f"second plant: performance ratio {ratio:.2f} by its own light, not judged\n")
    assert ratio > 1.2
