"""What draws share, in which threads they are made: nothing of it changes an energy."""

import time

import numpy as np
import pandas as pd
import pytest

from tests.study.sites import demo, variant, weather
from yieldkit.study.simulation.daylit_months import present_steps
from yieldkit.study.simulation.prepare import prepare, prepare_cells, weather_sun
from yieldkit.study.uncertainty import draws
from yieldkit.study.uncertainty.drawn_site import drawn_site
from yieldkit.study.uncertainty.drawn_weather import drawable
from yieldkit.study.uncertainty.draws import draw_energies
from yieldkit.study.wiring_energies.energies import wiring_energies

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def june():
    """Return a site on the days of June."""
    return prepare(demo(), weather().isel(time=slice(151 * 24, 181 * 24)))


def test_any_number_of_threads_gives_the_same(june):
    wirings = demo().wirings[:2]
    one = draw_energies(june, wirings, 8, workers=1)
    for workers in (2, 3):
        several = draw_energies(june, wirings, 8, workers=workers)
        assert (several.energy_kwh == one.energy_kwh).all()
        assert several.inputs.equals(one.inputs)


def test_stopping_keeps_the_draws_made_so_far(june):
    told = []

    def third(word, done, total):
        told.append((word, done, total))
        return done == 3

    wirings = demo().wirings[:1]
    stopped = draw_energies(june, wirings, 8, progress=third)
    assert told == [("draws", 1, 8), ("draws", 2, 8), ("draws", 3, 8)]
    whole = draw_energies(june, wirings, 8)
    assert (stopped.energy_kwh == whole.energy_kwh[:3]).all()
    assert len(stopped.inputs) == 3


@pytest.fixture
def begun(monkeypatch):
    """Make every draw end after a moment, without an energy; return those that began."""
    found = []

    def ends(site, *given):
        found.append(site)
        time.sleep(0.02)
        raise ValueError("no sky")

    monkeypatch.setattr(draws, "prepare_cells", ends)
    return found


def test_a_draw_that_fails_ends_the_others(june, begun):
    with pytest.raises(ValueError, match="no sky"):
        draw_energies(june, demo().wirings[:1], 64)
    assert 0 < len(begun) < 32


def test_an_interruption_ends_the_others(june, monkeypatch):
    def interrupts(word, done, total):
        raise KeyboardInterrupt("by hand")

    right, made = draws.prepare_cells, []
    monkeypatch.setattr(
        draws, "prepare_cells", lambda site, *given: made.append(site) or right(site, *given)
    )
    with pytest.raises(KeyboardInterrupt, match="by hand"):
        draw_energies(june, demo().wirings[:1], 64, progress=interrupts)
    assert 0 < len(made) < 32


def test_cells_alone_give_the_energies_of_the_whole_preparation(june):
    alone = prepare_cells(june.site, june.weather, june.period)
    for own, whole in zip(alone.conditions, june.conditions, strict=True):
        assert (own == whole).all()
    assert np.isnan(alone.module_stages).all()
    expected = wiring_energies(june, demo().wirings)
    assert (wiring_energies(alone, demo().wirings) == expected).all()


def test_a_sun_that_is_known_is_not_looked_for_again(june, monkeypatch):
    sun = weather_sun(june.site, june.weather)
    expected = prepare_cells(june.site, june.weather, june.period)

    def no_sun(*given):
        raise AssertionError("the sun is looked for again")

    monkeypatch.setattr("yieldkit.study.simulation.under_sky.sun_position", no_sun)
    found = prepare_cells(june.site, june.weather, june.period, sun)
    assert (found.conditions.photocurrent == expected.conditions.photocurrent).all()


def by_hand(dataset, seed):
    """Return the order of blocks as it is defined: local days of a month, five whole ones each."""
    times = pd.DatetimeIndex(dataset.indexes["time"])
    local = times + pd.Timedelta(seconds=int(dataset.attrs["utc_offset_s"]))
    there = present_steps(dataset)
    whole = pd.Series(np.arange(times.size)).groupby(local.normalize()).apply(np.array)
    longest = whole.map(len).max()
    rng, order = np.random.default_rng(seed), np.arange(times.size)
    dates = pd.DatetimeIndex(whole.index)
    for _, own in whole.groupby([dates.year, dates.month]):
        full = [rows for rows in own if len(rows) == longest and there[rows].all()]
        blocks = [full[at : at + 5] for at in range(0, len(full) - 4, 5)]
        for block in blocks:
            chosen = blocks[int(rng.integers(len(blocks)))]
            for into, taken in zip(block, chosen, strict=True):
                order[into] = taken
    return order


def test_blocks_of_days_change_places_within_their_month():
    # A year by local clock one hour off UTC: its first day is short, and one day has a gap.
    year = weather()
    ghi = year["ghi"].to_numpy().copy()
    ghi[24 * 70 + 12] = np.nan
    holed = year.assign(ghi=("time", ghi, year["ghi"].attrs))
    # Of the last one a month has no block of its own.
    for dataset in (year, holed, year.isel(time=slice(24 * 155, 24 * 184))):
        for seed in (1, 7):
            assert (drawable(dataset, True).order(seed) == by_hand(dataset, seed)).all()


def test_the_clock_of_a_measured_voltage_stays():
    row = {"irradiance level": 0.0, "diffuse light": 0.0, "weather's clock": 7.5}
    times = weather()["time"].to_numpy()
    moved = drawable(weather(), True).drawn(row, 1)["time"].to_numpy()
    assert (moved - times == np.timedelta64(450, "s")).all()
    assert (drawable(weather(), False).drawn(row, 1)["time"].to_numpy() == times).all()


def test_a_horizon_is_raised_where_it_is_and_a_flat_one_all_round():
    planes = [plane.model_dump() for plane in demo().planes]
    points = [
        {"azimuth_deg": 200.0, "elevation_deg": 12.0},
        {"azimuth_deg": 300.0, "elevation_deg": 9.0},
    ]
    planes[0]["horizon"] = points
    site = variant(planes=planes)
    row = {name: each.middle for name, each in draws._columns(site)}
    row |= {f"horizon of {plane.name}": 1.5 for plane in site.planes}
    row |= {"sky model": 0.5}
    hidden, free = drawn_site(site, row).planes[:2]
    raised = [(point.azimuth_deg, point.elevation_deg) for point in hidden.horizon]
    assert raised == [(200.0, 13.5), (300.0, 10.5)]
    assert free.horizon
    assert {point.elevation_deg for point in free.horizon} == {1.5}


def test_a_drawn_site_is_one_that_a_file_may_hold():
    # The least and the most of every draw, on a site at the edge of what files may hold.
    planes = [{**plane.model_dump(), "tilt_deg": 0.0} for plane in demo().planes]
    site = variant(planes=planes)
    for place in (1e-9, 0.5, 1.0 - 1e-9):
        row = {}
        for name, each in draws._columns(site):
            reach = 4.0 * each.spread if each.shape == "normal" else each.spread
            row[name] = each.middle + reach * (2.0 * place - 1.0)
            if each.shape in ("choice", "unsorted to sorted"):
                row[name] = place
        drawn = drawn_site(site, row)
        again = drawn.variant({})  # read like a file, every rule of it
        assert again == drawn
