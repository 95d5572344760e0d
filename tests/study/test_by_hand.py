"""Small parts of a study against values worked out by hand or printed on a datasheet."""

import math
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
import xarray as xr

from tests.study.sites import demo, variant
from tests.weather.clear_sky import PLACE, minutes
from yieldkit.design.equipment.modules import fit_module_type
from yieldkit.physics.circuit import api as circuit
from yieldkit.physics.circuit.components import Run, StringCircuit
from yieldkit.study.comparison.compare import compare
from yieldkit.study.comparison.curves import telling_days, telling_moments
from yieldkit.study.comparison.mounting_spread import mounting_spread
from yieldkit.study.simulation import planes, prepare
from yieldkit.study.simulation.network_voltage import within_step_spread
from yieldkit.study.simulation.simulate import simulate_prepared
from yieldkit.study.simulation.trackers import Solutions
from yieldkit.weather.readers.canonical import Sampling, from_frame

pytestmark = pytest.mark.slow


def group_at_stc():
    """Return one of three cell groups of a module of 430 W and 38.9 V at test conditions."""
    fit = fit_module_type(demo().module_types[0])
    return planes.group_conditions(fit, np.array([1000.0]), np.array([25.0]), 3)


def test_three_cell_groups_make_the_module_of_the_datasheet():
    group = group_at_stc()
    most = circuit.group_maxima(group)[0, 0]
    assert 3.0 * most == pytest.approx(430.0, rel=1e-4)
    module = StringCircuit((Run(0, 3),))
    assert circuit.string_voltage(group, module, np.zeros(1))[0] == pytest.approx(38.9, rel=1e-4)


def test_a_module_of_nine_tenths_of_the_current_has_nine_tenths_of_the_power():
    scaled = planes.scale_current(group_at_stc(), 0.9)
    assert 3.0 * circuit.group_maxima(scaled)[0, 0] == pytest.approx(387.0, rel=1e-4)


def test_only_a_modelled_network_spreads_within_a_step():
    constant = {"grid.network_voltage": {"kind": "constant", "voltage_v": 233.0}}
    assert within_step_spread(variant(constant).grid) == 0.0
    noisy = {"kind": "modelled", "voltage_v": 233.0, "noise_v": 2.0, "correlation_time_min": 10.0}
    # The mean over T = tau of such noise: variance 2 sigma2 (1 - (1 - 1/e)) = 2 sigma2 / e.
    by_hand = 2.0 * math.sqrt(2.0 / math.e)
    assert by_hand == pytest.approx(1.7155, abs=1e-4)
    found = within_step_spread(variant({"grid.network_voltage": noisy}).grid)
    assert found == pytest.approx(by_hand)


def year(days):
    """Return hourly weather of 2019, local time UTC+01:00: 100 W/m2 all day but on named days."""
    local = pd.date_range("2019-01-01", "2019-12-31 23:00", freq="h")
    ghi = pd.Series(100.0, index=local)
    for day, light in days.items():
        ghi.loc[f"2019-{day}"] = light
    return xr.Dataset(
        {"ghi": ("time", ghi.to_numpy())},
        coords={"time": (local - pd.Timedelta("1h")).to_numpy()},
        attrs={"utc_offset_s": 3600},
    )


def told(days):
    """Return the dates of the telling days, as month-day, by name."""
    weather = year(days)
    local = weather["time"].to_index() + pd.Timedelta("1h")
    found = {}
    for name, steps in telling_days(weather).items():
        dates = local[steps].strftime("%m-%d")
        assert len(steps) == 24
        assert dates.nunique() == 1
        found[name] = dates[0]
    return found


# Of 1000 W/m2 on the brightest summer day a cloudy day has 350; April and September don't count.
@pytest.mark.parametrize("cloudy", ["05-01", "05-20", "06-09", "07-12", "08-31"])
def test_the_cloudy_day_lies_between_may_and_august(cloudy):
    days = {"04-30": 350.0, "09-01": 350.0, "06-21": 1000.0, "04-20": 2000.0, "10-20": 2000.0}
    assert told(days | {cloudy: 351.0})["cloudy summer day"] == cloudy


# Day 80 is 21 March and day 265 is 22 September; 12 days to each side count.
@pytest.mark.parametrize("equinox", ["03-09", "04-02", "09-10", "10-04"])
def test_clear_days_are_the_brightest_of_their_time_of_year(equinox):
    outside = {"03-08": 900.0, "04-03": 900.0, "09-09": 900.0, "10-05": 900.0}
    others = {"05-31": 950.0, "07-01": 950.0, "11-30": 950.0, "01-01": 950.0}
    found = told(outside | others | {equinox: 800.0, "06-30": 700.0, "12-01": 300.0})
    assert found["clear day near an equinox"] == equinox
    assert found["clear June day"] == "06-30"
    assert found["clear December day"] == "12-01"


def test_weather_of_another_time_of_year_has_its_brightest_and_its_dullest_day():
    weather = year({"10-20": 300.0, "10-22": 20.0}).isel(time=slice(24 * 290, 24 * 300))
    local = weather["time"].to_index() + pd.Timedelta("1h")
    found = {
        name: local[steps].strftime("%m-%d")[0] for name, steps in telling_days(weather).items()
    }
    assert found == {"brightest day": "10-20", "dullest day": "10-22"}


def moments(light, heat):
    """Return the telling moments of two planes' light and cell temperatures, step by step."""
    planes = xr.Dataset(
        {
            "effective_irradiance": (("time", "plane"), np.array(light)),
            "temp_cell": (("time", "plane"), np.array(heat)),
        }
    )
    return telling_moments(SimpleNamespace(planes=planes))


def test_telling_moments_by_hand():
    # By steps: dark and coldest of all, cold, unequal, hot, brightest, and one that is missing.
    light = [[0, 0], [160, 170], [100, 900], [300, 200], [700, 600], [np.nan, np.nan]]
    heat = [[-9, -9], [5, 5], [20, 70], [60, 50], [40, 40], [np.nan, np.nan]]
    assert moments(light, heat) == {
        "brightest": 4,
        "most unequal light": 2,
        "coldest in good light": 1,
        "hottest in good light": 3,
    }
    # Nowhere are both planes above 150 W/m2.
    assert moments(light[:1] + light[2:3], heat[:2]) == {"brightest": 1, "most unequal light": 1}


@pytest.fixture(scope="module")
def two_days():
    """Return two clear days of hourly means in June."""
    table = minutes().resample("60min").mean().iloc[23 : 23 + 48]
    return from_frame(table, PLACE, Sampling("mean", "start"))


def test_a_cooler_mounting_yields_more_and_a_warmer_one_less(two_days):
    # Near a roof the heat loss is 19.3 W/(m2 K) in still air; on a rack 25, integrated 16.6.
    site = demo()
    own = simulate_prepared(prepare.prepare(site, two_days), site.wirings[0], Solutions())
    found = {
        each.instead: each.energy_kwh
        for each in mounting_spread(site, two_days, site.wirings[0].name)
    }
    assert list(found) == ["flat-roof-rack", "integrated"]
    assert found["flat-roof-rack"] > own.attrs["energy_kwh"] > found["integrated"] > 0.0


def test_differences_are_percents_of_the_best(two_days):
    table = compare(demo(), two_days).table
    energy, told = table["energy_kwh"].to_numpy(), table["difference_percent"].to_numpy()
    assert told.max() == 0.0
    assert told.min() < -0.1
    assert energy == pytest.approx(energy.max() * (1.0 + told / 100.0))
