"""Snow by month and from snowfall, through strings and the loss budget."""

import numpy as np
import pytest

from tests.study.checks import budget
from tests.study.sites import ac_held_at, demo, variant, weather
from tests.study.test_modules_in_shadow import POLE, small
from yieldkit.base.errors import InputError
from yieldkit.study.batch.shared import SharedWork
from yieldkit.study.simulation.budget_steps import left_out
from yieldkit.study.simulation.prepare import prepare, prepare_cells
from yieldkit.study.simulation.simulate import simulate
from yieldkit.study.simulation.snow import plane_snow
from yieldkit.study.uncertainty.draws import draw_energies

pytestmark = pytest.mark.slow

BY_MONTH = {
    "kind": "by-month",
    "snow_cm": [60.0, 50.0, 20.0, 5.0, 0, 0, 0, 0, 0, 0, 10.0, 40.0],
    "snow_days": [6.0, 5.0, 3.0, 1.0, 0, 0, 0, 0, 0, 0, 2.0, 5.0],
    "relative_humidity_percent": [85.0] * 12,
}
HEIGHTS = {f"planes.{at}.slant_height_m": 4.0 for at in range(3)}
FALLS = {"kind": "from-snowfall"}


def snowy(days, *hours, cm=3.0):
    """Return weather with snow falling in some hours."""
    fallen = np.zeros(days.sizes["time"])
    fallen[list(hours)] = cm
    return days.assign(snowfall=("time", fallen, {"units": "cm"}))


@pytest.fixture(scope="module")
def winter():
    """Return four days of January, cold through and through."""
    days = weather().isel(time=slice(24 * 10, 24 * 14))
    air = days["temp_air"].to_numpy() * 0.0 - 4.0
    return days.assign(temp_air=("time", air, days["temp_air"].attrs))


def test_snow_by_month_takes_its_share_of_every_modules_light(winter):
    site = variant(HEIGHTS | {"site.snow": BY_MONTH})
    bare, result = simulate(variant(), weather=winter), simulate(site, weather=winter)
    share = result["effective_irradiance"] / bare["effective_irradiance"]
    share = share.where(bare["effective_irradiance"] > 1.0)
    for plane in share.plane.values:
        own = share.sel(plane=plane).to_numpy()
        assert np.nanmax(own) - np.nanmin(own) < 1e-12
        assert 0.5 < np.nanmin(own) < 1.0
    steps, before = budget(result), budget(bare)
    assert before["snow"] == 0.0
    assert steps["snow"] > 0.03 * bare.attrs["energy_kwh"]
    assert result.attrs["budget_closure"] <= 1e-12
    for step in ("soiling", "temperature", "module tolerance", "low-light efficiency"):
        assert steps[step] == before[step], step
    assert "snow" in left_out(variant())
    assert "snow" not in left_out(site)


def test_snow_by_month_follows_the_whole_months_weather():
    year = weather()
    site = variant(HEIGHTS | {"site.snow": BY_MONTH, "planes.0.lower_edge_height_m": 0.5})
    result = simulate(site, weather=year)
    bare = simulate(variant(), weather=year)
    month = year.indexes["time"].month
    for at, lost in ((1, True), (7, False)):
        own = (month == at) & (bare["effective_irradiance"].to_numpy()[:, 0] > 1.0)
        left = (result["effective_irradiance"] / bare["effective_irradiance"]).to_numpy()[own]
        assert (left[:, 1].max() < 0.99) == lost
    # With its edge near the ground snow piles up there and stays.
    january = np.flatnonzero((month == 1) & (bare["effective_irradiance"].to_numpy()[:, 0] > 1))
    kept = (result["effective_irradiance"] / bare["effective_irradiance"]).to_numpy()[january[20]]
    site = variant(HEIGHTS | {"site.snow": BY_MONTH})
    high = simulate(site, weather=year.isel(time=slice(0, 24 * 31)))
    again = (high["effective_irradiance"] / bare["effective_irradiance"]).to_numpy()[january[20]]
    assert kept[0] < again[0]


def test_humidity_is_the_weathers_where_none_is_stated(winter):
    said = {**BY_MONTH, "relative_humidity_percent": None}
    site = variant(HEIGHTS | {"site.snow": said})
    humid = np.full(winter.sizes["time"], 85.0)
    given = simulate(site, weather=winter.assign(relative_humidity=("time", humid)))
    stated = simulate(variant(HEIGHTS | {"site.snow": BY_MONTH}), weather=winter)
    assert given.attrs["energy_kwh"] == pytest.approx(stated.attrs["energy_kwh"], rel=1e-12)
    dry = winter.drop_vars("relative_humidity", errors="ignore")
    with pytest.raises(
        InputError,
        match=r"site\.snow: got no relative_humidity_percent, and weather without relative "
        r"humidity; expected one of the two: the wetter the air, the longer snow stays",
    ):
        simulate(site, weather=dry)


def test_draws_and_batches_have_the_months_snow(winter):
    site = variant(HEIGHTS | {"site.snow": BY_MONTH})
    prepared = prepare(site, winter)
    cells = prepare_cells(site, winter, prepared.period)
    for ours, theirs in zip(cells.conditions, prepared.conditions, strict=True):
        np.testing.assert_array_equal(ours, theirs)
    shared = SharedWork()
    shared.weather = lambda site: (winter, "winter")
    for own in (variant(), site, variant(HEIGHTS), site.variant({"site.snow.snow_cm": [30] * 12})):
        found = shared.simulated(own, own.wirings[0]).budget.delivered_kwh
        assert found == simulate(own, weather=winter).attrs["energy_kwh"]


@pytest.fixture(scope="module")
def roof():
    """Return a roof of two rows of modules, two strings side by side."""
    return small(**{"corner_m": None})


def test_snow_from_snowfall_leaves_the_upper_row_first(winter, roof):
    site = roof.variant({"site.snow": FALLS})
    days = snowy(winter, 30)
    bare, result = simulate(roof, weather=days), simulate(site, weather=days)
    prepared = prepare(site, days)
    (shaded,) = prepared.shaded
    light = prepared.planes["poa_global"].to_numpy()[:, 0]
    covered = plane_snow(site, site.planes[0], days, light).covered[shaded.steps]
    at = np.flatnonzero((covered > 0.1) & (covered < 0.45))[0]
    levels = shaded.levels
    light = levels.light[levels.first[at] + levels.level_of[at]].reshape(12, -1)
    rows = np.array([place.row for place in site.planes[0].places])
    # As it slides, the lower row still has groups without light, the upper ones are free.
    assert light[rows == 0].min() == 0.0
    assert light[rows == 1].min() > 0.0
    steps, before = budget(result), budget(bare)
    assert result.attrs["budget_closure"] <= 1e-12
    assert steps["snow"] > 0.02 * bare.attrs["energy_kwh"]
    assert steps["obstacles: light missing"] == pytest.approx(0.0, abs=1e-9)
    assert before["snow"] == 0.0
    assert result.attrs["energy_kwh"] < bare.attrs["energy_kwh"]
    assert result.attrs["unsolved_steps"] == 0
    # Before it snows nothing is changed.
    np.testing.assert_allclose(result["p_dc"][:30], bare["p_dc"][:30], rtol=1e-6, atol=1e-6)


def test_a_plane_under_snow_gives_nothing(winter, roof):
    dark = winter.assign(temp_air=("time", np.full(winter.sizes["time"], -40.0)))
    result = simulate(roof.variant({"site.snow": FALLS}), weather=snowy(dark, 0))
    assert result["p_dc"].to_numpy().max() == 0.0
    assert budget(result)["snow"] > 1.0
    assert result.attrs["unsolved_steps"] == 0
    assert result.attrs["budget_closure"] <= 1e-12


def test_without_a_flake_nothing_is_lost(winter, roof):
    bare = simulate(roof, weather=winter)
    result = simulate(roof.variant({"site.snow": FALLS}), weather=snowy(winter))
    assert budget(result)["snow"] == pytest.approx(0.0, abs=1e-9)
    assert result.attrs["energy_kwh"] == pytest.approx(bare.attrs["energy_kwh"], rel=1e-6)


def by_rows(site):
    """Return the site wired along its rows in place of across them."""

    def string(row):
        places = [{"row": row, "column": column} for column in range(6)]
        return {"groups": [{"plane": "roof", "modules": 6, "places": places}]}

    trackers = [{"mppt": f"MPPT {row + 1}", "strings": [string(row)]} for row in (0, 1)]
    return site.variant({"wirings": [{"name": "rows", "trackers": trackers}]})


def test_strings_along_rows_lose_less_to_uneven_snow(winter, roof):
    site, days = roof.variant({"site.snow": FALLS}), snowy(winter, 30)
    across, along = simulate(site, weather=days), simulate(by_rows(site), weather=days)
    assert budget(along)["snow"] == pytest.approx(budget(across)["snow"], rel=1e-9)
    lost = budget(across)["series mismatch"] - budget(along)["series mismatch"]
    assert lost > 0.005 * across.attrs["energy_kwh"]


def test_snow_and_shadow_are_booked_apart(winter):
    site = small(POLE)
    days = snowy(winter, 30)
    shade = simulate(site, weather=days)
    both = simulate(site.variant({"site.snow": FALLS}), weather=days)
    monthly = simulate(site.variant({"site.snow": BY_MONTH}), weather=days)
    for result in (both, monthly):
        for step in ("obstacles: light missing", "obstacles: darkest cell"):
            assert budget(result)[step] == budget(shade)[step]
        assert budget(result)["snow"] > 0.0
        assert result.attrs["budget_closure"] <= 1e-12


def test_draws_have_snow_from_snowfall_as_a_share(winter, roof):
    days = snowy(winter, 30)
    site = roof.variant({"site.snow": FALLS})
    bare = draw_energies(prepare(roof, days), roof.wirings, draws=4)
    snowed = draw_energies(prepare(site, days), site.wirings, draws=4)
    left = simulate(site, weather=days).attrs["energy_kwh"]
    left /= simulate(roof, weather=days).attrs["energy_kwh"]
    np.testing.assert_allclose(snowed.energy_kwh / bare.energy_kwh, left, rtol=2e-3)


def test_weather_without_snowfall_is_refused(winter, roof):
    site = roof.variant({"site.snow": FALLS})
    with pytest.raises(
        InputError,
        match=r"site\.snow: got snow from-snowfall, and weather without it; expected snowfall in "
        r"cm for each step, as snowfall in weather\.columns",
    ):
        simulate(site, weather=winter)


def test_what_is_assumed_of_snow_is_said(winter, roof):
    said = prepare(variant(HEIGHTS | {"site.snow": BY_MONTH}), winter).assumptions
    assert any(
        text.startswith("Snow by month, 185 cm on 22 days a year: it takes a share")
        and "west roof 4.00 m along the slope, 3 m above the ground" in text
        for text in said
    )
    gap = snowy(winter, 30)
    gap["snowfall"][5] = np.nan
    said = prepare(roof.variant({"site.snow": FALLS}), gap).assumptions
    assert any(
        text.startswith("Snow from the weather's snowfall: more than 1 cm/h") for text in said
    )
    assert any(text.endswith("evenly lit where no snow lies.") for text in said)
    assert any(text.endswith("cells; used where modules lie in snow.") for text in said)
    assert "1 steps without snowfall in the weather count as none fallen." in said
    assert "Read and not used: snowfall." in prepare(demo(), gap).assumptions


def test_a_batch_tells_snow_from_snowfall_apart(winter, roof):
    days = snowy(winter, 30)
    shared = SharedWork()
    shared.weather = lambda site: (days, "snowy")
    rows = [["MMMMMM", "MMMMMM"], ["MMMM", "MMMM", "MMMM"]]
    for drawing in rows:
        plane = {**roof.planes[0].model_dump(), "drawing": drawing}
        laid = roof.variant({"planes": [plane], "wirings.0.trackers": plain_trackers()})
        for slides in (0.197, 0.05):
            site = laid.variant({"site.snow": FALLS | {"slides_per_h": slides}})
            found = shared.simulated(site, site.wirings[0]).budget.delivered_kwh
            assert found == simulate(site, weather=days).attrs["energy_kwh"]


def plain_trackers():
    """Return two strings of six modules whose places are left to be found."""
    string = {"groups": [{"plane": "roof", "modules": 6}]}
    return [{"mppt": f"MPPT {at}", "strings": [string]} for at in (1, 2)]


def test_minutes_within_the_hour_lie_under_the_months_snow():
    june = weather().isel(time=slice(24 * 160, 24 * 163))
    june = june.assign_attrs(sampling="mean", label="start", sun_offset_s=0.0)
    asked = ac_held_at(6000.0) | {"weather.within_hour": {}}
    snow = BY_MONTH | {"snow_cm": [60.0] * 12, "snow_days": [6.0] * 12}
    site = variant(asked | HEIGHTS | {"site.snow": snow})
    snowed = simulate(site, weather=june)
    light = snowed["poa_global"].to_numpy()
    dirt = {}
    for at, plane in enumerate(site.planes):
        lost = plane_snow(site, plane, june, light[:, at]).lost
        assert lost.min() == lost.max() > 0.02
        dirt[f"planes.{at}.soiling_loss_percent"] = 100.0 * float(lost[0])
    soiled = simulate(variant(asked | dirt), weather=june)
    assert snowed.attrs["energy_kwh"] == pytest.approx(soiled.attrs["energy_kwh"], rel=1e-9)
    for part in ("transposition of means", "clipping"):
        step = f"fluctuation within the step: {part}"
        near = 1e-9 * soiled.attrs["energy_kwh"]
        assert budget(snowed)[step] == pytest.approx(budget(soiled)[step], abs=near), step
        assert budget(soiled)[step] != 0.0
