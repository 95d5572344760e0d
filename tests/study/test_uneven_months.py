"""Months that are there less often count more a step: by every road to an energy, and in hours."""

import numpy as np
import pytest

from tests.design.shaded import CHIMNEY, shaded_site
from tests.study import several
from tests.study.several_inverters.wide_roofs import WITHIN, kind, roofs, side_of, space_over
from tests.study.sites import ac_held_at, variant, weather
from yieldkit.base.progress import silent
from yieldkit.base.shipped import shipped
from yieldkit.config.site.files import load_site
from yieldkit.design.permitted.constraints import constraints_from
from yieldkit.report.figures.limited_hours import _month_by_hour
from yieldkit.study.batch.rows import row_of
from yieldkit.study.estimate.yields import yields_of
from yieldkit.study.ranking.propose import propose
from yieldkit.study.several_inverters.references import reference_of
from yieldkit.study.several_inverters.search import search
from yieldkit.study.several_inverters.solved_wirings import Wanted, each_wiring, every_wiring
from yieldkit.study.simulation import under_sky
from yieldkit.study.simulation.limited_hours import limit_hours, limited_time
from yieldkit.study.simulation.module_shadows import shadows_of
from yieldkit.study.simulation.month_weights import (
    result_weights,
    times_by_month,
    uneven,
    weights_at,
)
from yieldkit.study.simulation.period import MONTHS, Period
from yieldkit.study.simulation.prepare import prepare
from yieldkit.study.simulation.simulate import as_dataset, simulate_wirings, solved_wirings
from yieldkit.study.wiring_energies.energies import wiring_yields

pytestmark = pytest.mark.slow

TIMES = (2, 2, 1, 2, 2, 2, 2, 1, 2, 2, 2, 2)
HALF_AS_OFTEN = (3, 8)


@pytest.fixture(scope="module")
def days():
    """Return the fifth day of each month, and the fifteenth of those that are there twice."""
    whole = weather()
    local = whole.indexes["time"] + np.timedelta64(3600, "s")
    chosen = local.day == 5
    chosen |= (local.day == 15) & ~np.isin(local.month, HALF_AS_OFTEN)
    return whole.isel(time=np.flatnonzero(chosen)).assign_attrs(whole.attrs)


@pytest.fixture(scope="module")
def period():
    return Period(2, 730.0, 1.0, (1.0,) * 12, month_times=TIMES)


def weights_of(result):
    local = result.indexes["time"] + np.timedelta64(3600, "s")
    return np.where(np.isin(local.month, HALF_AS_OFTEN), 2.0, 1.0)


def simulated(site, days, period, number=0):
    _, (found,) = simulate_wirings(prepare(site, days, period), (site.wirings[number],), silent)
    return found


def sums_up(found):
    """Check a result's energy against its own steps and against its budget."""
    steps = found["p_delivered"].to_numpy() * weights_of(found)
    assert found.attrs["energy_kwh"] == pytest.approx(steps.sum() / 2.0 / 1000.0, rel=1e-9)
    left = float(found["potential"][0]) - float(found["loss_budget"].sum())
    assert left == pytest.approx(found.attrs["energy_kwh"], rel=1e-9)
    assert abs(found.attrs["budget_closure"]) < 1e-9


def test_a_simulation_sums_steps_by_what_they_count(days, period):
    found = simulated(variant(ac_held_at(6000.0)), days, period)
    sums_up(found)
    assert np.array_equal(result_weights(found), weights_of(found))
    weights = weights_of(found)
    held = (found["ac_limit"].to_numpy() == 1).any(axis=1)
    assert found.attrs["clipped_hours"] == pytest.approx((held * weights).sum() / 2.0)
    told = {each.cause: each for each in limited_time(found)}
    longest = max(told.values(), key=lambda each: each.hours)
    assert longest.hours == pytest.approx((held * weights).sum() / 2.0)
    lost = (found["p_held_back"].to_numpy() * weights[:, None]).sum() / 2000.0
    assert longest.kwh == pytest.approx(lost, rel=1e-9)
    table, _ = _month_by_hour(found)
    assert table.sum() == pytest.approx(longest.hours)
    own = found.sel(tracker=found["tracker"][0])
    steps = limit_hours(own) * 2.0
    assert steps >= 0.0


def test_shadow_is_booked_by_what_steps_count(days, period):
    site = shaded_site(CHIMNEY)
    prepared = prepare(site, days, period)
    _, (found,) = simulate_wirings(prepared, (site.wirings[0],), silent)
    sums_up(found)
    told = shadows_of(prepared, site.wirings[:1])
    lost = sum(sum(each.lost_kwh) for each in told.planes)
    assert lost == pytest.approx(sum(told.hours_kwh), rel=1e-6)


def test_tables_of_arrangements_agree_with_simulations(days, period):
    site = variant()
    prepared = prepare(site, days, period)
    found = wiring_yields(prepared, site.wirings)
    told = [simulated(site, days, period, at).attrs for at in range(len(site.wirings))]
    assert found.energy_kwh == pytest.approx([each["energy_kwh"] for each in told], rel=1e-9)
    even = prepare(site, days, period._replace(month_times=()))
    assert (wiring_yields(even, site.wirings).energy_kwh < found.energy_kwh).all()


def test_several_inverters_agree_with_simulations(days, period):
    site = several.twice()
    prepared = prepare(site, days, period)
    found = wiring_yields(prepared, site.wirings[:1])
    alone = simulated(site, days, period)
    sums_up(alone)
    assert found.energy_kwh[0] == pytest.approx(alone.attrs["energy_kwh"], rel=1e-9)


def test_what_is_told_beside_is_of_the_same_weights(days, period):
    site = variant()
    prepared = prepare(site, days, period)
    _, (one,) = solved_wirings(prepared, site.wirings[:1], silent)
    row, result = row_of(one), as_dataset(one)
    months = [row[f"month: {name}"] for name in MONTHS]
    assert sum(months) == pytest.approx(result.attrs["energy_kwh"], rel=1e-9)
    weights = weights_of(result)
    light = (days["ghi"].to_numpy() * weights).sum() / 2000.0
    told = next(text for text in prepared.assumptions if "global irradiation" in text)
    assert f"global irradiation {light:.0f} kWh/m2" in told
    assert round(light) != round(days["ghi"].to_numpy().sum() / 2000.0)
    found = yields_of(site, result)
    rated = result["modules"].to_numpy() * prepared.module_power
    in_planes = (result["poa_global"].to_numpy() * weights[:, None]).sum(axis=0) / 2000.0
    assert found.reference == pytest.approx(float(in_planes @ rated / rated.sum()), rel=1e-9)
    assert found.final == pytest.approx(result.attrs["kwh_per_kwp"], rel=1e-12)


def test_months_count_by_how_often_they_are_whole():
    calendar = np.arange(24) % 12
    whole = np.full(24, 300.0)
    assert times_by_month(calendar, whole, whole, whole) == (2,) * 12
    got = whole.copy()
    got[14] = 0.0
    gone = np.where(np.arange(24) == 14, 0.0, whole)
    assert times_by_month(calendar, whole, gone, got) == (2, 2, 1, *(2,) * 9)
    assert times_by_month(calendar, whole, whole, got) == ()  # a month in part
    scrap = np.where(np.arange(24) == 14, 9.0, whole)
    assert times_by_month(calendar, whole, scrap, got) == (2, 2, 1, *(2,) * 9)
    never = np.where(calendar == 2, 0.0, whole)
    assert times_by_month(calendar, whole, never, never) == ()
    assert uneven((2,) * 12) == ()
    assert uneven(TIMES) == TIMES


def test_where_all_count_alike_nothing_is_weighed(days):
    assert weights_at((), days.indexes["time"], 3600.0) is None
    site = variant()
    plain = prepare(site, days)
    assert plain.weights is None
    assert "month_times" not in plain.period.attributes()


def test_the_best_over_several_inverters_is_proven_by_the_same_weights(days, period, monkeypatch):
    monkeypatch.setattr(under_sky, "covered_period", lambda *given: period)
    site = load_site(shipped("site_configs", "two_inverters.yaml"))
    asked = constraints_from(site, {"keep_free": ["annex / MPPT 2"], "shortest": 14})
    found = propose(site, asked, days)
    assert found.prepared.period is period
    best = [found.wiring(rank) for rank in (0, len(found.wirings) - 1)]
    _, results = simulate_wirings(found.prepared, best, silent)
    told = [each.attrs["energy_kwh"] for each in results]
    assert [found.energy_kwh[0], found.energy_kwh[-1]] == pytest.approx(told, rel=1e-9)
    plain = prepare(site, days, period._replace(month_times=()))
    _, (even,) = simulate_wirings(plain, best[:1], silent)
    assert even.attrs["energy_kwh"] < told[0]


def test_bounds_over_inverters_touch_what_they_are_made_from(days, period, monkeypatch):
    monkeypatch.setattr(under_sky, "covered_period", lambda *given: period)
    own = kind("two inputs (invented)", 10e3, 2)
    site = roofs((13, 11), [(own, {})] * 2, {"export_limit_w": 6e3})
    side = side_of(site, days, WITHIN)
    assert side.prepared.weights is not None
    space = space_over(side, 0)
    found = search(space, Wanted(5, each_wiring, every_wiring), silent)
    for wired, delivered in found.best:
        one = reference_of(side, wired, space.caps)
        bound = one.constant_kwh + float((one.weight * np.minimum(one.ac, space.caps)).sum())
        assert delivered.energy_kwh * (1.0 - 1e-9) <= bound
        # What inverters draw by day without any power is not taken off a bound.
        assert bound == pytest.approx(delivered.energy_kwh, rel=2e-3)
