"""Simulations of time with gaps: masked and never zero, totals of the time that is covered."""

from functools import cache

import numpy as np
import pandas as pd
import pytest
import xarray as xr

from tests.study.sites import demo, variant, weather
from yieldkit.report.figures.budget import monthly_table
from yieldkit.report.tables.terminal import result_text
from yieldkit.report.tables.terminal_comparison import comparison_text
from yieldkit.study.comparison.compare import compare
from yieldkit.study.comparison.lead_sizes import lead_options
from yieldkit.study.ranking.propose import propose
from yieldkit.study.simulation.limited_hours import limited_time
from yieldkit.study.simulation.prepare import prepare
from yieldkit.study.simulation.simulate import simulate_prepared
from yieldkit.study.simulation.trackers import Solutions
from yieldkit.study.uncertainty.draws import draw_energies
from yieldkit.study.wiring_energies.energies import wiring_energies

pytestmark = pytest.mark.slow

GAPS = np.r_[36:38, 60, 100:130, 200:202, 300]
"""Positions of the missing steps: by day, by night, at dawn, a whole day."""


def june():
    """Return 16 days of June."""
    return weather().sel(time=slice("2018-05-31T23", "2018-06-16T22"))


def holed(dataset, gaps=GAPS, names=("temp_air",)):
    """Return weather that lacks some columns at some steps."""
    gone = np.zeros(dataset.sizes["time"], dtype=bool)
    gone[gaps] = True
    changes = {
        name: ("time", np.where(gone, np.nan, dataset[name].to_numpy()), dataset[name].attrs)
        for name in names
    }
    return dataset.assign(changes)


@cache
def both():
    """Return the demonstration site on whole weather and on weather with gaps."""
    return prepare(demo(), june()), prepare(demo(), holed(june()))


@cache
def results():
    """Return its first wiring's results on both."""
    return tuple(simulate_prepared(each, demo().wirings[0], Solutions()) for each in both())


def test_missing_steps_are_missing_in_every_series_and_the_others_as_they_were():
    whole, found = results()
    there = np.ones(whole.sizes["time"], dtype=bool)
    there[GAPS] = False
    for name, variable in found.data_vars.items():
        if "time" not in variable.dims or variable.dtype.kind != "f":
            continue
        assert np.isnan(variable.to_numpy()[GAPS]).all(), name
        # To the last bit on most processors; on some a sum is made in another order.
        np.testing.assert_allclose(
            variable.to_numpy()[there], whole[name].to_numpy()[there], rtol=1e-14, err_msg=name
        )
    assert found["weather_state"].to_numpy()[GAPS].tolist() == [2] * GAPS.size
    assert int(found["weather_state"].sum()) == 2 * GAPS.size


def test_totals_are_of_the_covered_time_and_budgets_close():
    whole, found = results()
    kept = np.delete(whole["p_delivered"].to_numpy(), GAPS)
    assert found.attrs["energy_kwh"] == pytest.approx(kept.sum() / 1000.0, rel=1e-12)
    assert found.attrs["energy_kwh"] < 0.95 * whole.attrs["energy_kwh"]
    assert found.attrs["budget_closure"] < 1e-9
    assert found.attrs["period"] == "in the 14 days of this file"
    assert found.attrs["missing_steps"] == GAPS.size
    assert 0.85 < found.attrs["data_coverage"] < 0.95
    poa = np.delete(whole["poa_global"].to_numpy(), GAPS, axis=0).sum(axis=0) / 1000.0
    assert found["plane_irradiation"].to_numpy() == pytest.approx(poa, rel=1e-12)


def test_a_step_that_lacks_one_value_lacks_all():
    found = prepare(demo(), holed(june(), names=("dhi",)))
    other = prepare(demo(), holed(june(), names=("ghi", "wind_speed")))
    np.testing.assert_array_equal(found.present, other.present)
    assert found.module_stages == pytest.approx(both()[1].module_stages, rel=1e-12)


def test_the_ranking_kernel_gives_what_simulate_gives():
    prepared = both()[1]
    names = [each.name for each in demo().wirings]
    energies = wiring_energies(prepared, demo().wirings)
    assert np.isfinite(energies).all()
    first = results()[1].attrs["energy_kwh"]
    assert energies[names.index(demo().wirings[0].name)] == pytest.approx(first, rel=1e-9)


def test_ranking_runs_on_gaps_and_sampling_passes_over_them():
    every = propose(demo(), weather=holed(june()), most=200_000)
    assert np.isfinite(every.energy_kwh).all()
    best = every.wiring(0)
    exact = simulate_prepared(every.prepared, best, Solutions()).attrs["energy_kwh"]
    assert every.energy_kwh[every.order[0]] == pytest.approx(exact, rel=1e-9)


def test_draws_cover_the_same_time_and_are_finite():
    prepared = both()[1]
    drawn = draw_energies(prepared, demo().wirings[:2], 4)
    assert np.isfinite(drawn.energy_kwh).all()
    assert drawn.per == "in the 14 days of this file"


def test_an_input_starts_after_a_gap_as_in_the_morning():
    # Ten minutes of waiting in steps of five: two steps after dawn, two after the gap.
    site = variant({f"inverter.mppts.{place}.start_delay_s": 600.0 for place in range(3)})
    times = pd.date_range("2018-06-05T00:00", periods=288, freq="5min")
    minutes = june().interp(time=times, kwargs={"fill_value": "extrapolate"})
    minutes = minutes.assign_attrs(june().attrs | {"interval_s": 300, "sun_offset_s": 150.0})
    found = simulate_prepared(
        prepare(site, holed(minutes, np.arange(130, 140))), site.wirings[0], Solutions()
    )
    power = found["p_dc"].isel(tracker=0).to_numpy()
    assert np.isnan(power[130:140]).all()
    assert power[140:142].tolist() == [0.0, 0.0]
    assert power[142] > 0.0
    # Cells are at their steady temperature at first, never missing for want of a past.
    assert np.isfinite(found["temp_cell"].to_numpy()[140:]).all()


def test_derating_by_voltage_stands_a_gap():
    points = tuple(
        {"temp_inlet_c": warm, "dc_voltage_v": volts, "max_power_w": watts}
        for volts in (300.0, 700.0)
        for warm, watts in ((25.0, 8000.0), (60.0, 3000.0))
    )
    site = variant({"inverter.derating": points})
    found = simulate_prepared(prepare(site, holed(june())), site.wirings[0], Solutions())
    assert np.isfinite(found.attrs["energy_kwh"])
    assert found.attrs["derated_hours"] > 0.0


def test_figures_and_tables_are_of_the_covered_time():
    comparison = compare(demo(), holed(june()))
    name = comparison.results[0][0]
    result = comparison.result(name)
    months = monthly_table(comparison)
    assert months.loc["Jun", name] == pytest.approx(result.attrs["energy_kwh"], rel=1e-9)
    assert all(np.isfinite(each.hours) for each in limited_time(result))
    options = lead_options(comparison.prepared, demo().wirings[0], Solutions())
    assert np.isfinite(options[["lead_kwh", "delivered_kwh"]].to_numpy()).all()
    said = " ".join(comparison_text(comparison).split())
    assert "kWh in the 14 days of this file" in said
    assert "a year;" not in said
    assert "36 steps missing" in said
    assert "Totals are of the time that is covered" in said
    assert "kWh delivered in the 14 days of this file" in " ".join(result_text(result).split())


def test_two_years_give_a_years_mean():
    year = weather()
    second = year.assign_coords(time=year["time"] + np.timedelta64(365, "D"))
    two = xr.concat([year, second], dim="time", combine_attrs="override")
    once, twice = prepare(demo(), year), prepare(demo(), two)
    assert twice.period.years == 2
    wirings = demo().wirings[:1]
    assert wiring_energies(twice, wirings) == pytest.approx(
        wiring_energies(once, wirings), rel=1e-3
    )
    assert twice.module_stages == pytest.approx(once.module_stages, rel=1e-3)
    assert "mean, a year's" in twice.remarks[0]
