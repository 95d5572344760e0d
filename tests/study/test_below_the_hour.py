"""What hourly means hide: booked apart, zero where nothing is hidden, and true to minutes.

The figures that minutes must keep stand in `tests/weather/test_within_hour.py`.
"""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
import xarray as xr
from pvlib.clearsky import ineichen, lookup_linke_turbidity
from scipy.stats import norm

import yieldkit
from tests.design.shaded import CHIMNEY, shaded_site
from tests.study.several import twice
from tests.study.sites import NO_LOSSES_BEHIND, ac_held_at, string, variant, weather, wiring
from tests.weather.minutes import as_file, by_minute, cloudy, hourly
from yieldkit.base.errors import InputError
from yieldkit.design.checks.limits import check, named_wiring
from yieldkit.design.roof.scene import without_obstacles
from yieldkit.physics.irradiance.sun import sun_position
from yieldkit.report.tables.html import verdict_box
from yieldkit.report.tables.terminal import result_text
from yieldkit.report.tables.terminal_comparison import comparison_text
from yieldkit.study.batch.shared import SharedWork
from yieldkit.study.estimate.choice import Choice
from yieldkit.study.estimate.nominal import with_nominal
from yieldkit.study.simulation import fluctuation, minute_rows
from yieldkit.study.simulation.connection_point import connection_point
from yieldkit.study.simulation.offer import Offer
from yieldkit.study.simulation.prepare import prepare
from yieldkit.study.simulation.within_step import why_not_within
from yieldkit.study.uncertainty.draws import draw_energies
from yieldkit.weather import shipped_minutes
from yieldkit.weather.readers.canonical import Sampling, Station, from_frame

TRANSPOSITION = "fluctuation within the step: transposition of means"
CLIPPING = "fluctuation within the step: clipping"
ASKED = {"weather.within_hour": {}}
HERE = {"site.latitude": 47.0, "site.longitude": 8.0, "site.altitude_m": 450.0}


def booked(result, step):
    """Return what a step of the budget takes [kWh]."""
    return float(result["loss_budget"].sel(loss_step=step))


def means(first=0, days=365):
    """Return the demonstration's weather taken as hourly means."""
    own = weather().isel(time=slice(24 * first, 24 * (first + days)))
    return own.assign_attrs(sampling="mean", label="start", sun_offset_s=0.0)


def held(watts, **changes):
    """Return the site with an AC limit, asking what the steps hide."""
    return variant(ac_held_at(watts) | ASKED | changes)


@pytest.fixture(scope="module")
def june():
    """Return a site held at little power, and its results with and without minutes."""
    site = held(6000.0)
    days = means(160, 10)
    before = variant(ac_held_at(6000.0))
    return (
        site,
        days,
        yieldkit.simulate(before, weather=days),
        yieldkit.simulate(site, weather=days),
    )


def test_the_budget_closes_and_names_both_parts(june):
    _, _, before, after = june
    hidden = booked(after, TRANSPOSITION) + booked(after, CLIPPING)
    assert before.energy_kwh - after.energy_kwh == pytest.approx(hidden, rel=1e-9)
    assert hidden > 0.01 * before.energy_kwh
    assert booked(after, CLIPPING) > 0.5 * hidden
    assert after.budget_closure < 1e-12
    assert after.even_light_kwh == before.energy_kwh
    others = [step for step in before["loss_step"].values if not step.startswith("fluctuation")]
    np.testing.assert_array_equal(
        before["loss_budget"].sel(loss_step=others), after["loss_budget"].sel(loss_step=others)
    )
    delivered = after["p_delivered"].to_numpy().sum() / 1000.0
    assert delivered == pytest.approx(after.energy_kwh, rel=1e-12)


def test_the_sun_all_or_nothing_is_below_even_light(june):
    after = june[3]
    assert after.all_or_nothing_kwh < after.energy_kwh < after.even_light_kwh


def test_an_estimate_carries_what_lies_on_both_sides_of_its_nominal_year(june):
    site, days, before, after = june
    for own, result in ((site, after), (variant(ac_held_at(6000.0)), before)):
        wiring = named_wiring(own, result.wiring)
        choice = Choice(wiring, "", check(own, wiring))
        attrs = with_nominal(xr.Dataset(), prepare(own, days), choice).attrs
        both = {key: attrs[key] for key in ("even_light_kwh", "all_or_nothing_kwh") if key in attrs}
        assert both == {key: result.attrs[key] for key in both}
        assert len(both) == (2 if result is after else 0)


def test_nothing_is_booked_where_nothing_is_asked_for(june):
    before = june[2]
    assert booked(before, TRANSPOSITION) == 0.0
    assert booked(before, CLIPPING) == 0.0
    assert "even_light_kwh" not in before.attrs
    assert "fluctuation within the step" in before.left_out
    assert "fluctuation within the step" not in june[3].left_out


def test_snapshots_stay_exactly_as_they_are_and_have_their_bracket(june):
    site = june[0]
    days = weather().isel(time=slice(24 * 160, 24 * 170))
    bare = yieldkit.simulate(variant(ac_held_at(6000.0)), weather=days)
    asked = yieldkit.simulate(site, weather=days)
    assert asked.energy_kwh == bare.energy_kwh
    assert booked(asked, TRANSPOSITION) == booked(asked, CLIPPING) == 0.0
    np.testing.assert_array_equal(asked["p_delivered"], bare["p_delivered"])
    assert asked.all_or_nothing_kwh < asked.energy_kwh == asked.even_light_kwh
    said = " ".join(prepare(site, days).assumptions)
    assert "none for snapshots, which are no means" in said


def test_without_the_shipped_minutes_the_step_is_not_modelled_and_named(tmp_path, monkeypatch):
    monkeypatch.setattr(shipped_minutes, "_FILE", tmp_path / "taken-away.csv")
    days = means(160, 10)
    result = yieldkit.simulate(held(6000.0), weather=days)
    bare = yieldkit.simulate(variant(ac_held_at(6000.0)), weather=days)
    assert result.energy_kwh == bare.energy_kwh
    assert "fluctuation within the step" in result.left_out
    said = " ".join(prepare(held(6000.0), days).assumptions)
    assert "NOT MODELLED: no measured minutes come with this package" in said


def test_snapshots_that_are_means_after_all_are_refined():
    days = weather().isel(time=slice(24 * 160, 24 * 170))
    smoothed = held(6000.0, **{"weather.within_hour": {"smoothed_over_min": 20}})
    result = yieldkit.simulate(smoothed, weather=days)
    assert booked(result, CLIPPING) > 0.0
    less = held(6000.0, **{"weather.within_hour": {"smoothed_over_min": 2}})
    assert booked(yieldkit.simulate(less, weather=days), CLIPPING) < booked(result, CLIPPING)


def test_smoothing_of_means_is_refused():
    site = held(6000.0, **{"weather.within_hour": {"smoothed_over_min": 5}})
    with pytest.raises(InputError, match=r"5 minutes on weather of means over 3600 s"):
        yieldkit.simulate(site, weather=means(160, 3))


def test_other_steps_than_hours_are_not_modelled_and_named():
    frame = cloudy().resample("30min").mean()
    half_hours = from_frame(frame, STATION, Sampling("mean", "start"))
    result = yieldkit.simulate(variant(HERE | ASKED), weather=half_hours)
    assert booked(result, CLIPPING) == booked(result, TRANSPOSITION) == 0.0
    assert "fluctuation within the step" in result.left_out
    said = "NOT MODELLED: it is for hourly means, and the weather has steps of 1800 s"
    assert said in result.weather_remarks


STATION = Station(47.0, 8.0, 450.0, 3600, 2.0)


def cloudless(more):
    """Return a year of hourly means without a cloud, its beam so many times the usual."""
    begins = pd.date_range("2018-12-31T23:00", periods=365 * 1440, freq="1min", tz="UTC")
    middle = begins + pd.Timedelta(seconds=30)
    sun = sun_position(middle, STATION.latitude, STATION.longitude, STATION.altitude_m)
    months = pd.date_range("2019-01-15", periods=12, freq="MS", tz="UTC")
    table = lookup_linke_turbidity(months, 47.0, 8.0, interp_turbidity=False).to_numpy()
    up = sun.apparent_zenith < 90.0
    sky = ineichen(
        sun.apparent_zenith[up],
        sun.airmass[up],
        table[middle.month[up] - 2],
        STATION.altitude_m,
        sun.dni_extra[up],
    )
    frame = pd.DataFrame(0.0, index=begins, columns=["dni", "dhi"])
    frame.loc[up, "dni"], frame.loc[up, "dhi"] = sky["dni"] * more, sky["dhi"]
    level = np.maximum(np.cos(np.radians(sun.zenith)), 0.0)
    frame["ghi"] = frame["dni"] * level + frame["dhi"]
    return hourly(frame.assign(temp_air=15.0, wind_speed=2.0), STATION)


@pytest.mark.parametrize(("more", "percent"), [(1.0, 0.05), (1.15, 0.25)])
def test_a_year_without_a_cloud_hides_next_to_nothing(more, percent):
    result = yieldkit.simulate(variant(HERE | ASKED), weather=cloudless(more))
    hidden = booked(result, TRANSPOSITION) + booked(result, CLIPPING)
    assert abs(hidden) < percent / 100.0 * result.energy_kwh
    assert result.all_or_nothing_kwh == pytest.approx(result.even_light_kwh, rel=0.05)


@pytest.mark.parametrize(
    ("kilowatts", "lost"),
    [
        # Half the hour 1.2, half 0.6, limit 1: the mean 0.9 is not clipped, 0.8 is delivered.
        (np.repeat([1.2, 0.6], 30), 0.1),
        (np.repeat([1.2, 1.1], 30), 0.0),
        (np.repeat([0.9, 0.2], 30), 0.0),
        # Normal power, mean 0.95 and spread 0.15 (computed: s phi(z) - (L - m)(1 - Phi(z))).
        (norm.ppf((np.arange(2000) + 0.5) / 2000.0, 0.95, 0.15), 0.038135),
    ],
)
def test_clipping_is_the_mean_of_what_is_clipped_less_the_mean_clipped(kilowatts, lost):
    """Whole machinery from offer to meter, with the offers written down."""
    limit = 1000.0
    site = variant(NO_LOSSES_BEHIND | ac_held_at(limit) | ASKED)
    found = clipped_of(site, 1000.0 * kilowatts)
    assert found == pytest.approx(1000.0 * lost, abs=0.05)


def clipped_of(site, watts):
    """Return what is clipped within one step whose minutes offer so much [W]."""
    prepared = prepare(site, means(160, 1))
    point = connection_point(prepared).at(np.array([12]))
    size = watts.size
    rows = minute_rows.Rows(
        np.zeros(size, dtype=np.int64), np.array([float(size)]), np.arange(size), size, None
    )
    even = np.full((1, 1), watts.mean())

    def offer(converted):
        rated = np.full(converted.shape, np.inf)
        nothing = np.zeros(converted.shape)
        return Offer(converted[:, 0], converted, np.array([1000.0]), rated, nothing, nothing, None)

    off = np.zeros((1, 1))
    there = np.array([True])
    mean = fluctuation.mean_offer(rows, offer(watts[:, None]), offer(even), there)
    both = [
        fluctuation.given(prepared, at, off, own, step).delivered
        for at, own, step in (
            (point, mean, np.zeros(1, dtype=np.int64)),
            (fluctuation.point_at(point, rows), offer(watts[:, None]), rows.step),
        )
    ]
    return float(both[0][0] - both[1].mean())


def test_cells_warm_with_their_mass(june):
    """No minute is more than 8 K from the one before, where steady cells jump by over 20 K."""
    site, days = june[:2]
    prepared = prepare(site, days)
    rows = prepared.within.minutes
    # The thermal voltage is in proportion to the cell's temperature.
    here = prepared.conditions.n_ns_vth[:, 0]
    kelvin = prepared.planes["temp_cell"].to_numpy()[:, 0] + 273.15
    scale = float(np.median(kelvin / here))
    warm = rows.conditions.n_ns_vth[:, 0] * scale
    first = rows.step == np.roll(rows.step, 1)
    same_draw = first & (rows.part == np.roll(rows.part, 1) + 1)
    jumps = np.abs(warm - np.roll(warm, 1))[same_draw]
    assert jumps.max() < 8.0
    light = rows.conditions.photocurrent[:, 0]
    leaps = np.abs(light - np.roll(light, 1))[same_draw]
    assert leaps.max() > 0.4 * light.max()


def test_every_plane_has_its_own_part(tmp_path):
    """Under invented clouds each plane's error goes, from 7 to 10 %, by a part of its own."""
    path = as_file(cloudy(16, seed=11), tmp_path / "minutes.csv")
    asked = {"weather.within_hour": {"minutes": {"file": str(path), "format": "canonical"}}}
    frame, parts = cloudy(12), []
    for plane in ("east roof", "west roof", "dormer"):
        hung = [wiring("one", MPPT_1=[string((plane, 7))])]
        site = variant(HERE | ac_held_at(2000.0) | asked, wirings=hung)
        plain = site.variant({"weather.within_hour": None})
        truth = yieldkit.simulate(plain, weather=by_minute(frame)).energy_kwh
        result = yieldkit.simulate(site, weather=hourly(frame))
        parts.append(result.even_light_kwh / result.energy_kwh - 1.0)
        assert result.even_light_kwh > 1.06 * truth
        assert abs(result.energy_kwh / truth - 1.0) < 0.008, plane
    assert max(parts) - min(parts) > 0.02


def test_load_and_export_follow_the_minutes():
    site = held(6000.0, **{"grid.load": {"kind": "constant", "power_w": 3000.0}})
    days = means(160, 5)
    result = yieldkit.simulate(site, weather=days)
    bare = variant(ac_held_at(6000.0) | {"grid.load": {"kind": "constant", "power_w": 3000.0}})
    before = yieldkit.simulate(bare, weather=days)
    used = result["p_self_use"] + result["p_export"]
    lit = result["p_delivered"] > 0.0
    np.testing.assert_allclose(used.where(lit, 0.0), result["p_delivered"].where(lit, 0.0), atol=30)
    # Clouds take from self-use what the mean promises, and the network gives it.
    assert result.self_use_kwh < before.self_use_kwh
    assert result.import_kwh > before.import_kwh
    # What inverters take at night and at dusk is taken minute by minute too.
    for each in (result, before):
        taken = each.self_use_kwh + each.import_kwh - each.load_kwh
        given = each.self_use_kwh + each.export_kwh - each.energy_kwh
        assert taken == pytest.approx(given, rel=1e-9)


def test_runs_of_a_batch_are_what_simulate_gives(june, tmp_path):
    frame = cloudy(12)
    path = as_file(frame.resample("1h").mean(), tmp_path / "hours.csv")
    changes = {"weather": {"file": str(path), "format": "canonical", "within_hour": {}}}
    site = variant(HERE | changes)
    shared = SharedWork()
    both = [site, site.variant({"weather.within_hour.seed": 2})]
    for own in (*both, both[0]):
        run = shared.simulated(own, own.wirings[0])
        alone = yieldkit.simulate(own)
        assert run.budget.delivered_kwh == alone.energy_kwh
        assert run.budget.steps[CLIPPING] == booked(alone, CLIPPING)


def test_proposed_wirings_have_the_energies_of_their_minutes():
    site = variant(ac_held_at(6000.0) | ASKED)
    days = means(160, 4)
    ranking = yieldkit.propose(site, weather=days)
    proposal = yieldkit.weigh(ranking, top=2, draws=0)
    assert "reckoned minute by minute" in proposal.shadow
    best = proposal.best[0]
    added = site.model_copy(update={"wirings": (best,)})
    exact = yieldkit.simulate(added, weather=days)
    assert proposal.table["energy_kwh"].iloc[0] == pytest.approx(exact.energy_kwh, rel=1e-9)
    assert exact.energy_kwh < exact.even_light_kwh


def test_dirt_and_snow_of_the_hour_lie_on_its_minutes():
    """Half the light gone behind the glass takes half of the minutes' current as well."""
    days = means(160, 2)
    clean = prepare(variant(ASKED), days).within.minutes
    dirty = {f"planes.{at}.soiling_loss_percent": 50.0 for at in range(3)}
    soiled = prepare(variant(ASKED | dirty), days).within.minutes
    ratio = soiled.conditions.photocurrent.sum() / clean.conditions.photocurrent.sum()
    assert ratio == pytest.approx(0.5, abs=0.005)
    months = {f"planes.{at}.soiling_by_month_percent": [50.0] * 12 for at in range(3)}
    by_month = prepare(variant(ASKED | months), days).within.minutes
    np.testing.assert_allclose(
        by_month.conditions.photocurrent, soiled.conditions.photocurrent, rtol=1e-9, atol=1e-12
    )


def test_shadow_leaves_fluctuation_its_share():
    days = means(160, 3)
    site = shaded_site(CHIMNEY)
    asked = site.variant({"weather.within_hour": {}})
    assert prepare(asked, days).shaded
    result = yieldkit.simulate(asked, weather=days)
    assert result.budget_closure < 1e-12
    bare = yieldkit.simulate(without_obstacles(asked), weather=days)
    hidden = [
        (booked(each, TRANSPOSITION) + booked(each, CLIPPING)) / each.even_light_kwh
        for each in (result, bare)
    ]
    assert hidden[0] == pytest.approx(hidden[1], rel=0.1)
    assert result.energy_kwh < bare.energy_kwh


def test_several_inverters_are_reckoned_minute_by_minute():
    days = means(160, 3)
    site = twice(types=None).variant(ASKED)
    result = yieldkit.simulate(site, weather=days)
    one = yieldkit.simulate(variant(ASKED), weather=days)
    hidden = booked(result, TRANSPOSITION) + booked(result, CLIPPING)
    alone = booked(one, TRANSPOSITION) + booked(one, CLIPPING)
    assert result.budget_closure < 1e-12
    assert hidden == pytest.approx(2.0 * alone, rel=0.2)


def test_draws_leave_what_fluctuation_leaves():
    days = means(160, 2)
    site = variant(ac_held_at(6000.0) | ASKED)
    prepared = prepare(site, days)
    drawn = draw_energies(prepared, site.wirings[:2], 2)
    bare = draw_energies(replace(prepared, within=None), site.wirings[:2], 2)
    left = drawn.energy_kwh / bare.energy_kwh
    for place, own in enumerate(site.wirings[:2]):
        result = yieldkit.simulate(site, own.name, days)
        expected = result.energy_kwh / result.even_light_kwh
        np.testing.assert_allclose(left[:, place], expected, rtol=1e-6)


def test_a_comparison_tells_the_same_and_the_bracket_in_words():
    days = means(160, 2)
    site = variant(ac_held_at(6000.0) | ASKED)
    comparison = yieldkit.compare(site, weather=days)
    best = comparison.table.index[0]
    exact = yieldkit.simulate(site, best, days)
    assert comparison.table["energy_kwh"].loc[best] == pytest.approx(exact.energy_kwh, rel=1e-12)
    said = " ".join(comparison_text(comparison).split())
    assert f"What the weather's steps hide, on '{best}': {exact.energy_kwh:,.0f} kWh with" in said
    assert f"{exact.even_light_kwh:,.0f} kWh with even light in every step" in said
    assert "What do the weather&#x27;s steps hide?" in verdict_box(comparison).text
    text = " ".join(result_text(exact).split())
    assert f"{exact.all_or_nothing_kwh:,.0f} kWh with the sun of the clearest hours or none" in text


@pytest.mark.parametrize("within", [{}, {"smoothed_over_min": 7}])
def test_loads_within_the_hour_meet_the_minutes(within):
    """An export limit over a load that is another every hour holds in its minutes as well."""
    hours = means(160, 2) if not within else weather().isel(time=slice(24 * 160, 24 * 162))
    watts = [500.0 * hour for hour in range(24)]
    grid = {"grid.load": {"kind": "day", "hours_w": watts}, "grid.export_limit_w": 2000.0}
    result = yieldkit.simulate(variant(grid | {"weather.within_hour": within}), weather=hours)
    assert result.budget_closure < 1e-12
    assert float(result["p_export"].max()) <= 2000.0 + 1e-6
    assert booked(result, CLIPPING) > 0.0


def test_minutes_see_the_load_of_their_quarter_and_lone_ones_all_of_it():
    prepared = prepare(variant(ASKED), means(160, 1))
    quarters = np.arange(96.0).reshape(24, 4)
    point = connection_point(prepared)._replace(load=quarters)
    step, part = np.array([12, 12, 12, 13]), np.array([0, 14, 15, 59])
    rows = minute_rows.Rows(step, np.ones(24), part, 60, None)
    np.testing.assert_array_equal(
        fluctuation.point_at(point, rows).load[:, 0], [48.0, 48.0, 49.0, 55.0]
    )
    lone = fluctuation.point_at(point, rows._replace(minutes=7))
    np.testing.assert_array_equal(lone.load, quarters[step])


def test_what_inputs_clip_is_clipping_and_no_matter_of_light():
    """Over an input's largest current minutes lose what the mean doesn't show."""
    days, hung = means(160, 4), [wiring("one", MPPT_1=[string(("west roof", 12))])]
    parts = []
    for amperes in (7.0, 30.0):
        held_there = {"inverter.mppts.0.max_input_current_a": amperes}
        result = yieldkit.simulate(variant(ASKED | held_there, wirings=hung), weather=days)
        assert result.budget_closure < 1e-12
        parts.append([booked(result, TRANSPOSITION), booked(result, CLIPPING)])
    (transposed, clipped), (free, nothing) = parts
    assert clipped > 0.5
    assert abs(nothing) < 0.1
    assert transposed == pytest.approx(free, rel=0.05)


def test_planes_whose_light_was_measured_have_no_minutes():
    days = means(160, 2)
    measured = days.assign({"poa_global of west roof": days["ghi"]})
    why = why_not_within(variant(ASKED), measured)
    assert why == "a plane's light or heat is measured, and its minutes aren't known"
    assert why_not_within(variant(ASKED), days) == ""
    assert why_not_within(variant(), days) == "not asked for"
