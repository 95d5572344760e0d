"""Dirt by month and from rain, and what modules lose at first: through the whole chain."""

import numpy as np
import pandas as pd
import pytest

from tests.study.checks import budget
from tests.study.sites import demo, variant, weather
from tests.study.test_modules_in_shadow import POLE, small
from yieldkit.base.errors import InputError
from yieldkit.study.simulation.prepare import prepare
from yieldkit.study.simulation.simulate import simulate
from yieldkit.study.simulation.soiling import soiling_share

MONTHS = [1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0, 9.0, 10.0, 11.0, 12.0]


@pytest.fixture(scope="module")
def days():
    """Return some days of June with rain on the third of them."""
    own = weather().isel(time=slice(24 * 155, 24 * 161))
    rain = np.zeros(own.sizes["time"])
    rain[60:64] = 3.0
    return own.assign(rain=("time", rain, {"units": "mm"}))


@pytest.fixture(scope="module")
def plain(days):
    return simulate(variant(), weather=days)


def test_dirt_by_month_is_the_months_dirt(days):
    by_month = simulate(variant({"planes.0.soiling_by_month_percent": MONTHS}), weather=days)
    stated = simulate(variant({"planes.0.soiling_loss_percent": 6.0}), weather=days)
    assert by_month.attrs["energy_kwh"] == stated.attrs["energy_kwh"]
    assert budget(by_month) == budget(stated)
    assert budget(by_month)["soiling"] > 0.0


def test_each_month_has_its_own_dirt_by_local_standard_time():
    own = weather()
    plane = variant({"planes.0.soiling_by_month_percent": MONTHS}).planes[0]
    share = soiling_share(plane, own)
    local = pd.DatetimeIndex(own.indexes["time"]) + pd.Timedelta(hours=1)
    np.testing.assert_array_equal(share, np.asarray(local.month) / 100.0)
    june_by_utc = own.indexes["time"].month == 6
    assert set(np.unique(share[june_by_utc])) == {0.06, 0.07}


def test_dirt_from_rain_is_booked_once_and_washed_off(days, plain):
    said = {"model": "kimber", "loss_percent_per_day": 2.0, "damp_days": 1}
    site = variant({"planes.0.soiling_from_rain": said})
    result = simulate(site, weather=days)
    steps, before = budget(result), budget(plain)
    assert result.attrs["budget_closure"] <= 1e-12
    clean = prepare(variant(), days).module_stages[2, 0] * 27
    share = soiling_share(site.planes[0], days)
    assert share[59] == pytest.approx(0.02 * 59 / 24, rel=1e-12)
    assert (share[62:84] == 0.0).all()
    kept = plain["effective_irradiance"].to_numpy()[:, 0]
    lost = float((kept * share).sum() / kept.sum()) * clean
    assert steps["soiling"] == pytest.approx(lost, rel=1e-9)
    np.testing.assert_allclose(
        result["effective_irradiance"].to_numpy()[:, 0], kept * (1.0 - share), rtol=1e-12
    )
    assert before["soiling"] == 0.0


def test_dust_from_the_air_depends_on_the_planes_tilt(days):
    said = {"model": "hsu", "pm2_5_ug_m3": 200.0, "pm10_ug_m3": 600.0, "cleaning_rain_mm": 2.0}
    site = variant({f"planes.{at}.soiling_from_rain": said for at in (0, 2)})
    steep, flat = (soiling_share(site.planes[at], days)[59] for at in (0, 2))
    assert site.planes[0].tilt_deg != site.planes[2].tilt_deg
    assert (steep < flat) == (site.planes[0].tilt_deg > site.planes[2].tilt_deg)
    assert 0.0 < min(steep, flat) < max(steep, flat) < 0.03


def test_initial_loss_and_tolerance_are_steps_of_their_own(days, plain):
    changed = {f"planes.{at}.initial_loss_percent": 2.0 for at in range(3)}
    changed |= {f"planes.{at}.power_deviation_percent": 3.0 for at in range(3)}
    steps, before = budget(simulate(variant(changed), weather=days)), budget(plain)
    assert before["module tolerance"] == before["initial loss"] == 0.0
    stages = prepare(variant(), days).module_stages[-1] @ [27, 14, 7]
    assert steps["module tolerance"] == pytest.approx(-0.03 * stages, rel=1e-6)
    assert steps["initial loss"] == pytest.approx(0.02 * 1.03 * stages, rel=1e-6)


def test_weather_without_rain_is_refused_with_what_to_do():
    site = variant({"planes.0.soiling_from_rain": {"model": "kimber"}})
    with pytest.raises(
        InputError,
        match=r"plane 'west roof', soiling_from_rain: got weather without rain; expected a column "
        r"of rain in mm for each step, as rain in weather\.columns\. Take weather that has it, or "
        r"write soiling_by_month_percent",
    ):
        simulate(site, weather=weather())


def test_what_is_assumed_of_dirt_is_said_with_its_source(days):
    site = variant(
        {
            "planes.0.soiling_by_month_percent": MONTHS,
            "planes.1.soiling_from_rain": {"model": "kimber"},
            "planes.2.initial_loss_percent": 1.5,
        }
    )
    gap = days["rain"].copy()
    gap[3] = np.nan
    said = prepare(site, days.assign(rain=gap)).assumptions
    assert (
        "Dirt on west roof takes 1 to 12 % of the light, by month, as the site file states." in said
    )
    assert any(
        text.startswith("Dirt on east roof from the weather's rain: 0.15 % more each day, washed")
        and "Kimber et al. (2006)" in text
        and text.endswith("0.0 to 0.4 % of the light, 0.1 % in the mean.")
        for text in said
    ), said
    assert (
        "No dirt on dormer: the site file states none (2 % is common practice, no source)." in said
    )
    assert (
        "Modules on dormer lose 1.5 % of their power in their first hours of light, as the site "
        "file states." in said
    )
    assert "1 steps without rain in the weather count as dry." in said
    site = variant(
        {
            "planes.0.soiling_loss_percent": 2.0,
            "planes.1.soiling_from_rain": {"model": "hsu", "pm2_5_ug_m3": 9.0, "pm10_ug_m3": 20.0},
        }
    )
    said = prepare(site, days).assumptions
    assert "Dirt on west roof takes 2 % of the light, as the site file states." in said
    assert any("dust of 9 and 20 ug/m3" in text and "Coello and Boyle" in text for text in said)
    said = prepare(demo(), days).assumptions
    assert "Read and not used: rain." in said
    assert any(text.startswith("No initial loss of power by light") for text in said)


@pytest.mark.parametrize(
    "dirt",
    [
        {"soiling_loss_percent": 8.0},
        {"soiling_by_month_percent": MONTHS},
        {"soiling_from_rain": {"model": "kimber", "loss_percent_per_day": 3.0}},
    ],
)
def test_modules_one_by_one_are_as_dirty_as_their_plane(days, dirt):
    # What lets nearly all light through has every module followed by itself.
    clear = POLE | {"transmittance": 0.9999}
    alone, together = (simulate(small(*shade, **dirt), weather=days) for shade in ((clear,), ()))
    for step, lost in budget(alone).items():
        near = 1e-4 * together.attrs["energy_kwh"]
        assert lost == pytest.approx(budget(together)[step], abs=near), step
    assert alone.attrs["energy_kwh"] == pytest.approx(together.attrs["energy_kwh"], rel=1e-4)
    assert budget(alone)["soiling"] > 20.0 * near
