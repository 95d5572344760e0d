"""What is saved comes back as it was, nothing is computed again, and nothing else comes back."""

import numpy as np
import pandas as pd
import pytest
import xarray as xr

import yieldkit
from tests.study.sites import demo, variant, weather
from yieldkit import InputError
from yieldkit.report.tables.design import lead_table, mountings_table
from yieldkit.report.tables.html import verdict_box

pytestmark = pytest.mark.slow

FEW = yieldkit.Constraints(shortest=7, longest=14)


@pytest.fixture(scope="module")
def days():
    """Return three days of weather in June."""
    return weather().sel(time=slice("2018-05-31T23", "2018-06-03T22"))


@pytest.fixture(scope="module")
def comparison(days):
    """Return a comparison whose details were asked for."""
    found = yieldkit.compare(demo(), days)
    found.details()
    return found


@pytest.fixture(scope="module")
def folder(comparison, days, tmp_path_factory):
    """Return a folder with a comparison, a ranking and a simulated wiring."""
    place = tmp_path_factory.mktemp("saved")
    yieldkit.save(comparison, place)
    yieldkit.save(yieldkit.propose(demo(), FEW, days), place)
    yieldkit.save(yieldkit.simulate(demo(), "lopsided", days), place)
    return place


@pytest.fixture
def idle(monkeypatch):
    """Take away all that computes."""
    for name in (
        "comparison.compare.simulate_wirings",
        "comparison.compare.prepared_like",
        "comparison.compare.look_for_better",
        "comparison.compare.details_of",
        "comparison.compare.check",
        "simulation.prepare.prepare",
        "simulation.trackers.solve_tracker",
    ):
        monkeypatch.setattr(f"yieldkit.study.{name}", None)


@pytest.mark.usefixtures("idle")
def test_a_comparison_comes_back_with_its_details(comparison, folder, days):
    again = yieldkit.load(folder, "comparison", weather=days)
    assert again.site == comparison.site
    assert (again.answer, again.best) == (comparison.answer, comparison.best)
    assert again.period == comparison.period
    assert (again.remarks, again.assumptions) == (comparison.remarks, comparison.assumptions)
    assert repr(again.findings) == repr(comparison.findings)
    pd.testing.assert_frame_equal(again.table, comparison.table)
    xr.testing.assert_equal(again.budgets, comparison.budgets)
    one, other = again.details(), comparison.details()
    assert (one.wirings, one.mountings) == (other.wirings, other.mountings)
    assert repr(one.better) == repr(other.better)
    assert again.better() == one.better
    pd.testing.assert_frame_equal(one.leads, other.leads)
    for (name, curves), (known, expected) in zip(one.curves, other.curves, strict=True):
        assert name == known
        xr.testing.assert_identical(curves, expected)
    for (kind, steps), (known, expected) in zip(one.days, other.days, strict=True):
        assert kind == known
        np.testing.assert_array_equal(steps, expected)
    for table in (lead_table, mountings_table):
        assert table(again, one) == table(comparison, other)
    assert verdict_box(again, one.better) == verdict_box(comparison, other.better)


def test_details_are_computed_once_and_only_when_asked_for(days, tmp_path, monkeypatch):
    one = variant(wirings=[demo().model_dump()["wirings"][1]])
    found = yieldkit.compare(one, days)
    assert found.asked.details is None
    yieldkit.save(found, tmp_path)
    assert not (tmp_path / "details.json").exists()
    again = yieldkit.load(tmp_path, site=one, weather=days)
    details = again.details()
    assert repr(details.better) == repr(found.better())
    pd.testing.assert_frame_equal(details.leads, found.details().leads)
    monkeypatch.setattr("yieldkit.study.comparison.compare.details_of", None)
    assert again.details() is details


def test_what_is_told_of_unsolved_steps_comes_back(days, tmp_path):
    gap = days["ghi"].where(days["time"] != days["time"][36])
    gappy = days.assign(ghi=gap)
    one = variant(wirings=[demo().model_dump()["wirings"][0]])
    found = yieldkit.compare(one, gappy)
    yieldkit.save(found, tmp_path)
    again = yieldkit.load(tmp_path, weather=days)
    # The weather is whole here, so the steps that the results lack are left out like then.
    assert (again.prepared.present == found.prepared.present).all()
    assert again.remarks == found.remarks


@pytest.mark.usefixtures("idle")
def test_a_simulated_wiring_comes_back(folder, days):
    again = yieldkit.load(folder, "lopsided", demo(), days)
    assert again.attrs["wiring"] == "lopsided"
    assert again.attrs["run"]
    assert float(again["loss_budget"].sum()) > 0.0


def test_the_site_and_the_constraints_of_a_ranking_come_back(folder, days):
    again = yieldkit.load(folder, "ranking", weather=days)
    assert isinstance(again, yieldkit.Ranking)
    assert again.possible.constraints == FEW
    assert again.possible.site == demo()


@pytest.mark.parametrize(
    ("what", "said"),
    [
        (None, r"got results: 'comparison', 'ranking', 'lopsided'; expected one of them by"),
        ("comparsion", r"got no 'comparsion'; expected results: .*Did you mean 'comparison'\?"),
    ],
)
def test_several_results_in_a_folder_need_a_name(folder, what, said):
    with pytest.raises(InputError, match=said):
        yieldkit.load(folder, what)


def test_a_folder_without_results_is_told(tmp_path):
    with pytest.raises(InputError, match=r"got a folder without results; .*`yieldkit\.save`"):
        yieldkit.load(tmp_path, "comparison")
    with pytest.raises(InputError, match="got no such folder; expected a folder that yieldkit"):
        yieldkit.load(tmp_path / "none")


def test_files_of_several_runs_are_not_loaded(folder, days, tmp_path):
    yieldkit.save(yieldkit.load(folder, "lopsided", weather=days), tmp_path)
    (tmp_path / "UNFINISHED-compare.txt").write_text("stopped")
    with pytest.raises(InputError, match=r"a run that was stopped.*Run it again into this folder"):
        yieldkit.load(tmp_path)


@pytest.mark.parametrize("what", ["comparison", "ranking", "lopsided"])
def test_results_of_something_else_are_refused(folder, days, what, monkeypatch):
    other = variant({"site.albedo": 0.3})
    with pytest.raises(InputError, match=r"results of another site; .*Make them again\."):
        yieldkit.load(folder, what, other, days)
    clouds = days.assign_attrs(sha256="of another file")
    with pytest.raises(InputError, match="results of another weather"):
        yieldkit.load(folder, what, demo(), clouds)
    for room in ("results.origin", "simulation.provenance"):
        monkeypatch.setattr(f"yieldkit.study.{room}.versions", lambda: "of next year")
    with pytest.raises(InputError, match="results of another version"):
        yieldkit.load(folder, what, weather=days)


def test_what_is_no_result_is_not_saved(tmp_path):
    with pytest.raises(InputError, match="got a Site; expected what simulate, compare, propose"):
        yieldkit.save(demo(), tmp_path)
