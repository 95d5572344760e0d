"""Wirings proposed over several inverters: what is told, wished, saved and refused."""

from functools import cache
from pathlib import Path

import numpy as np
import pytest

from yieldkit import load, report, save
from yieldkit.base.errors import InputError, NothingPermitted
from yieldkit.base.progress import silent
from yieldkit.config.site.files import load_site
from yieldkit.design.permitted.constraints import constraints_from
from yieldkit.study.ranking.proposal import weigh
from yieldkit.study.ranking.propose import propose
from yieldkit.study.several_inverters.plane_splits import planes_on, split_sentence
from yieldkit.study.simulation.load import load_power
from yieldkit.study.simulation.prepare import prepare
from yieldkit.study.simulation.simulate import simulate_wirings
from yieldkit.study.simulation.weather import site_weather
from yieldkit.study.uncertainty.draws import draw_energies

pytestmark = pytest.mark.slow

DEMO = Path(__file__).parents[3] / "site_configs" / "two_inverters.yaml"
FREE = {"keep_free": ["annex / MPPT 2"], "shortest": 14}


@cache
def site():
    """Return the site of two unlike inverters."""
    return load_site(DEMO)


@cache
def june():
    """Return some days of its weather."""
    whole = site_weather(site())
    return whole.isel(time=slice(24 * 160, 24 * 166)).assign_attrs(whole.attrs)


@cache
def found():
    """Return the best wirings that leave the annex's second input free."""
    return propose(site(), constraints_from(site(), FREE), june())


def test_energies_are_what_simulate_gives():
    for rank in (0, len(found().wirings) - 1):
        _, results = simulate_wirings(found().prepared, (found().wiring(rank),), silent)
        energy = results[0].attrs["energy_kwh"]
        assert found().energy_kwh[rank] == pytest.approx(energy, rel=1e-9)


def test_each_is_of_another_way_to_share_the_planes_out():
    splits = [str(planes_on(site(), wiring)) for wiring in found().wirings]
    assert len(set(splits)) == len(splits) > 3
    assert (np.diff(found().energy_kwh) <= 0.0).all()


def test_wishes_by_inverter_are_kept():
    for wiring in found().wirings:
        used = {tracker.input_name for tracker in wiring.trackers}
        assert "annex / MPPT 2" not in used
        assert "hall / MPPT 2" in used
        lengths = [g.modules for t in wiring.trackers for s in t.strings for g in s.groups]
        assert min(lengths) >= 14


def test_what_is_laid_stays():
    own = site().wirings[0]
    asked = constraints_from(site(), {"laid": ["hall / MPPT 2"]})
    best = propose(site(), asked, june()).wiring(0)
    kept = next(each for each in own.trackers if each.input_name == "hall / MPPT 2")
    assert kept in best.trackers


@pytest.mark.parametrize(
    ("asked", "told"),
    [
        ({"keep_free": ["annex / MPPT 7"]}, "Did you mean 'annex / MPPT"),
        ({"keep_free": ["MPPT 1"]}, "expected one of 'hall / MPPT 1', 'hall / MPPT 2', 'annex"),
        ({"keep_free": ["hal / MPPT 1"]}, "Did you mean 'hall / MPPT 1'?"),
    ],
)
def test_an_input_that_is_not_there_is_refused_with_the_nearest(asked, told):
    with pytest.raises(InputError, match="inputs to keep free: got") as refused:
        propose(site(), constraints_from(site(), asked), june())
    assert told in str(refused.value)


def test_some_days_only_are_refused():
    with pytest.raises(InputError, match="every_days: got 7, on a site of several inverters"):
        propose(site(), weather=june(), every_days=7)


def test_no_bound_is_refused():
    with pytest.raises(InputError, match="bound on the wirings: got 0; expected at least 1"):
        propose(site(), weather=june(), most=0)


def test_what_no_wiring_can_do_is_said_with_the_smallest_change():
    asked = constraints_from(site(), {"shortest": 20, "longest": 20})
    with pytest.raises(NothingPermitted, match="at most 0 of 94 modules left out") as refused:
        propose(site(), asked, june())
    assert "Allow 34 modules to stay unwired: then there is one." in str(refused.value)


def test_lengths_that_no_input_takes_are_said():
    asked = constraints_from(site(), {"shortest": 40})
    with pytest.raises(NothingPermitted, match="No string length fits every limit"):
        propose(site(), asked, june())


def test_the_answer_says_first_how_the_planes_are_shared_out():
    proposal = weigh(found(), 4, 8)
    said = proposal.answer()
    assert split_sentence(site(), proposal.best[0]) in said
    assert "this way to share the planes out yields most" in said
    assert said.startswith(f"Of {found().number_text()} with nothing forbidden")
    assert [each.first for each in proposal.judgements] == ["proposed 1"] * len(proposal.judgements)
    assert proposal.judgements[0].second == "proposed 2"
    counts = str(report.counts_list(proposal))
    assert "equal inputs and equal inverters exchanged" in counts
    assert "Each proposed wiring is the best of its way to share the planes out" in counts
    assert "The best wirings of each way" in report.ranking_picture(proposal).caption


def test_a_search_that_is_stopped_keeps_what_it_has_and_says_how_far_it_is_proven():
    calls = []

    def stop(word, done, every):
        calls.append(word)
        return word == "bounds" and done == 1

    some = propose(site(), constraints_from(site(), FREE), june(), progress=stop)
    assert "bounds" in calls
    assert some.energy_kwh[0] <= found().energy_kwh[0] * (1.0 + 1e-12)
    assert some.bound_kwh >= found().energy_kwh[0] * (1.0 - 1e-9) or some.proven


def test_less_room_proves_less_and_says_so():
    some = propose(site(), constraints_from(site(), FREE), june(), most=2)
    assert some.bound_kwh > found().energy_kwh[-1]
    assert "not all were looked at" in some.proof() or "the first is proven" in some.proof()


def test_more_equally_good_ones_than_there_is_room_for_end_the_search():
    some = propose(site(), weather=june(), most=1)
    assert some.energy_kwh.size
    assert "not all were looked at" in some.proof()


def test_weather_without_light_is_refused():
    night = june().isel(time=slice(0, 3)).assign_attrs(june().attrs)
    with pytest.raises(InputError, match="weather: got no light in any step; expected some light"):
        propose(site(), constraints_from(site(), FREE), night)


def test_a_saved_one_comes_back_the_same(tmp_path):
    save(found(), tmp_path)
    again = load(tmp_path, "ranking", site(), june())
    assert again.wirings == found().wirings
    assert again.number == found().number
    assert again.bound_kwh == found().bound_kwh
    assert again.constraints == found().constraints
    assert np.array_equal(again.energy_kwh, found().energy_kwh)
    assert "Best of" in repr(again)
    with pytest.raises(InputError, match="rank: got 99; expected a rank from 0, the best"):
        again.wiring(99)


def test_the_picture_has_every_plane_by_inverter():
    picture = report.roofs_by_inverter(site(), found().wiring(0))
    for number in range(1, 4):
        assert f"string {number}: " in picture.alt
    assert "modules of annex on " in picture.alt
    assert report.roofs_by_inverter(load_site(), load_site().wirings[0]) is None


def test_draws_give_what_simulating_each_would():
    # Without any draw of its own the energies are those of the year itself.
    wirings = [found().wiring(0, "one"), *site().wirings]
    drawn = draw_energies(found().prepared, wirings, 2)
    assert drawn.energy_kwh.shape == (2, 3)
    assert np.isfinite(drawn.energy_kwh).all()


def test_a_clock_off_by_odd_seconds_does_not_cut_the_load_to_pieces():
    shifted = june().assign_coords(time=june()["time"] + np.timedelta64(-253, "s"))
    parts = load_power(prepare(site(), shifted.assign_attrs(june().attrs)))
    assert parts.shape[1] <= 4
    exact = load_power(prepare(site(), june()))
    assert parts.mean() == pytest.approx(exact.mean(), rel=0.05)
