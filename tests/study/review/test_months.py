"""Months, ratios and hours of a review, against worked figures and sums made another way."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from tests.study.review.plants import plants
from tests.study.review.year_logs import log_of
from yieldkit.base.measured_planes import MODULE, POA, measured_name
from yieldkit.study.estimate.yields import power_coefficient, yields
from yieldkit.study.logs.plant_log import (
    CLIPPED,
    COUNTED,
    FROZEN,
    MISSING,
    NIGHT,
    REASONS,
)
from yieldkit.study.review.beside import _without_nights_beyond, local_times
from yieldkit.study.review.ratios import performance
from yieldkit.study.review.review import review

# Three hours of a plant of 10 kW at -0.4 %/K (computed; see tests/study/estimate/test_yields.py).
LIGHT = np.array([[200.0], [600.0], [1000.0]])
HEAT = np.array([[25.0], [40.0], [55.0]])
POWER = np.array([1700.0, 4900.0, 7400.0])
RATED, GAMMA = np.array([10_000.0]), np.array([-0.004])


def test_the_ratios_of_three_hours():
    found = performance(POWER, LIGHT, HEAT, RATED, GAMMA, 1.0)
    assert found.ratio == pytest.approx(0.777778, abs=5e-7)
    assert found.corrected_ratio == pytest.approx(0.851582, abs=5e-7)
    assert (found.reference, found.final) == pytest.approx((1.8, 1.4))
    mean = performance(POWER, LIGHT, HEAT, RATED, GAMMA, 1.0, 45.0)
    assert mean.corrected_ratio == pytest.approx(0.782998, abs=5e-7)
    assert yields(9500.0, 10_000.0, 1200.0, 10.0).ratio == pytest.approx(0.791667, abs=5e-7)


def test_wrong_formulas_give_other_figures():
    factor = 1.0 + GAMMA[0] * (HEAT[:, 0] - 25.0)
    expected = LIGHT[:, 0] * 10.0
    divided = POWER.sum() / (expected / factor).sum()
    means = np.mean(POWER / (expected * factor))
    on_power = (POWER * factor).sum() / expected.sum()
    assert (divided, means, on_power) == pytest.approx((0.7090, 0.8532, 0.7121), abs=5e-5)
    found = performance(POWER, LIGHT, HEAT, RATED, GAMMA, 1.0).corrected_ratio
    assert min(abs(found - wrong) for wrong in (divided, means, on_power)) > 0.0015


@cache
def a_log():
    """Return a log of which some steps don't count, one of them without a value."""
    site, wiring = plants()["two inverters"]
    log = log_of(site, wiring, every=30)
    shape = log.data["left_out"].shape
    dark, frozen, clipped = (np.zeros(shape, dtype=bool) for _ in range(3))
    dark[log.data["p_dc"].to_numpy().sum(axis=1) == 0.0] = True
    frozen[60:90, 1] = True
    clipped[200:204] = True
    log = log.leaving_out({NIGHT: dark, FROZEN: frozen, CLIPPED: clipped}, "A remark.")
    log.data["p_dc"][70 + 144 * 3, 0] = np.nan
    log.data["v_dc"][70 + 144 * 3, 0] = np.nan
    return log


@cache
def found():
    site, wiring = plants()["two inverters"]
    return review(site, wiring, a_log())


def test_no_hour_is_without_account():
    log, hours = a_log(), found().data["hours"]
    every = log.data.sizes["time"] / 6.0
    assert hours.sum(["month", "reason"]).to_numpy() == pytest.approx([every] * 4)
    left = log.left_out_hours()
    for name in log.data["tracker"].to_numpy():
        for reason in (NIGHT, FROZEN, CLIPPED):
            told = float(hours.sel(tracker=name, reason=reason).sum())
            assert told == pytest.approx(left[name].get(reason, 0.0))
    assert float(hours.sel(tracker=log.data["tracker"][0], reason=MISSING).sum()) == (
        pytest.approx(1.0 / 6.0)
    )
    assert float(hours.sel(reason=COUNTED).sum()) > 0.0
    assert list(hours["reason"].to_numpy()) == list(REASONS)
    assert found().remarks == ("A remark.",)
    assert found().hours.to_numpy().sum() == pytest.approx(4.0 * every)


def test_energies_are_of_the_same_steps():
    log, data = a_log(), found().data
    counted = log.counted & np.isfinite(log.data["p_dc"].to_numpy())
    measured = np.where(counted, log.data["p_dc"].to_numpy(), 0.0).sum(axis=0) / 6000.0
    assert data["dc_measured"].sum("month").to_numpy() == pytest.approx(measured, rel=1e-12)
    fewer = data["dc_expected"].sum("month").to_numpy()
    assert np.all(fewer < 1.15 * measured)
    assert np.all(fewer > 0.85 * measured)


def test_no_ratio_without_its_band():
    data = found().data
    for name in ("dc", "ac", "hour", "year", "between"):
        ratio = data["between" if name == "between" else f"{name}_ratio"]
        low, high = (data[f"{name}_band"].sel(bound=bound) for bound in ("low", "high"))
        known = np.isfinite(ratio.to_numpy())
        assert known.any()
        assert (low.to_numpy() < 1.0)[known].all()
        assert (high.to_numpy() > 1.0)[known].all()
        inside = (ratio > low) & (ratio < high)
        assert inside.to_numpy()[known].mean() > 0.98


def test_fewer_hours_widen_the_band():
    data = found().data
    width = (data["dc_band"].sel(bound="high") - data["dc_band"].sel(bound="low")).mean()
    year = (data["year_band"].sel(bound="high") - data["year_band"].sel(bound="low")).mean()
    assert float(width) > float(year)


def test_the_performance_ratio_is_of_the_light_on_the_planes():
    """PR and PR'STC by another way: sums of the log's own columns, plane by plane."""
    site, _ = plants()["two inverters"]
    log, data = a_log(), found().data
    counts = log.counted.all(axis=1)
    light, warm = 0.0, 0.0
    for plane in site.planes:
        module = next(each for each in site.module_types if each.name == plane.module_type)
        poa = log.weather[measured_name(POA, plane.name)].to_numpy()[counts]
        heat = log.weather[measured_name(MODULE, plane.name)].to_numpy()[counts]
        rated = plane.modules * module.p_max_w
        light += (rated * poa / 1000.0).sum() / 6000.0
        factor = 1.0 + power_coefficient(module) * (heat - 25.0)
        warm += (factor * rated * poa / 1000.0).sum() / 6000.0
    fed = log.data["p_ac"].to_numpy()[counts].sum() / 6000.0
    weight = data["pr_irradiation"].to_numpy()
    pr = np.nansum(data["pr"].to_numpy() * weight) / np.nansum(weight)
    assert pr == pytest.approx(fed / light, rel=1e-6)
    # PR'STC of months aren't weighed by irradiation alone: near, not the same.
    told = np.nansum(data["pr_stc"].to_numpy() * weight) / np.nansum(weight)
    assert told == pytest.approx(fed / warm, rel=5e-3)
    assert data.attrs["rated_kw"] == pytest.approx(94 * 0.43)


def test_tables_for_people():
    months = found().months
    assert list(months.index) == list(found().data["month"].to_numpy())
    assert months["measured_kwh"].sum() == pytest.approx(float(found().data["ac_measured"].sum()))
    assert found().by_hour.shape == (24, 4)
    assert "Ask it for" in repr(found())
    assert "<table>" in found()._repr_html_()
    last = found().losses[-1]
    assert last.subject == "all inputs"
    assert last.percent.low < last.percent.value < last.percent.high


def test_a_night_that_reaches_into_another_month_is_no_month():
    site, wiring = plants()["demo"]
    log = log_of(site, wiring, days=(0, 2))
    later = log.data.assign_coords(time=log.data["time"] + np.timedelta64(30, "D"))
    night = replace(log, data=later.isel(time=slice(0, 150)))
    assert list(local_times(night.data).month.unique()) == [1, 2]
    kept = _without_nights_beyond(night)
    assert list(local_times(kept.data).month.unique()) == [1]
    assert kept.data.sizes["time"] == 144
    # What gives anything stays, as does a whole day.
    lit = night.data.copy(deep=True)
    lit["p_ac"][149] = 10.0
    assert _without_nights_beyond(replace(night, data=lit)).data.sizes["time"] == 150
    whole = replace(log, data=later)
    assert _without_nights_beyond(whole).data.sizes["time"] == 288
