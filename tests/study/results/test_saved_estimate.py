"""An estimate saved: every file of it, and the same estimate back without drawing anything."""

import json

import numpy as np
import pandas as pd
import pytest

import yieldkit
from tests.study.estimates import small_estimate, small_site
from yieldkit import InputError
from yieldkit.study.simulation.weather import site_weather

pytestmark = pytest.mark.slow
FILES = {
    "estimate.nc",
    "estimate.json",
    *(
        f"estimate-{name}.csv"
        for name in ("bands", "months", "years", "contributions", "way", "losses", "yields")
    ),
}


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    place = tmp_path_factory.mktemp("saved")
    yieldkit.save(small_estimate(), place, "run-1")
    return place


def test_every_table_is_there_under_one_run(folder):
    assert {path.name for path in folder.iterdir() if path.name.startswith("estimate")} == {
        *FILES,
        "estimate-manifest.json",
    }
    for path in folder.glob("*.csv"):
        assert set(pd.read_csv(path)["run"]) == {"run-1"}


def test_it_comes_back_as_it_was(folder, monkeypatch):
    monkeypatch.setattr("yieldkit.study.estimate.estimate.plant_from_runs", None)
    again = yieldkit.load(folder, "estimate", small_site())
    found = small_estimate()
    assert repr(again) == repr(found)
    for table in ("bands", "months", "by_year", "way", "losses"):
        pd.testing.assert_frame_equal(getattr(again, table), getattr(found, table))
    assert again.sentences == found.sentences
    assert again.data.attrs["run"] == "run-1"
    assert repr(yieldkit.load(folder)) == repr(found)


def test_what_people_read_says_the_same(folder):
    found = small_estimate()
    bands = pd.read_csv(folder / "estimate-bands.csv", index_col=0)
    assert bands.loc["first year", "P90 [kWh]"] == pytest.approx(found.cautious_kwh, rel=1e-12)
    months = pd.read_csv(folder / "estimate-months.csv", index_col=0)
    assert months["likely [kWh]"].sum() == pytest.approx(found.likely_kwh, rel=1e-9)
    told = json.loads((folder / "estimate.json").read_text())
    assert told["likely_kwh"] == found.likely_kwh
    assert told["about"]["wiring"] == "plain"
    assert told["about"]["sentences"] == list(found.sentences)
    assert told["months"][0]["month"] == "Jan"
    yields = {each["symbol"]: each["value"] for each in told["yields"]}
    assert yields["PR"] == pytest.approx(found.yields["PR"], rel=1e-9)
    assert told["contributions"][0]["cause"] == found.contributions.index[0]


def test_every_number_has_a_unit_and_a_meaning(folder):
    for name, variable in yieldkit.load(folder, "estimate").data.data_vars.items():
        assert variable.attrs["units"], name
        assert variable.attrs["long_name"], name


def test_another_site_or_weather_is_refused(folder):
    other = small_site().variant({"planes.0.tilt_deg": 20.0})
    with pytest.raises(InputError, match="results of another site"):
        yieldkit.load(folder, "estimate", other)
    weather = site_weather(small_site()).assign_attrs(sha256="another")
    with pytest.raises(InputError, match="results of another weather"):
        yieldkit.load(folder, "estimate", small_site(), weather)


def test_a_changed_file_is_refused(folder, tmp_path):
    for path in folder.iterdir():
        (tmp_path / path.name).write_bytes(path.read_bytes())
    with (tmp_path / "estimate.nc").open("ab") as stream:
        stream.write(b"x")
    with pytest.raises(InputError, match="a file as it was written"):
        yieldkit.load(tmp_path, "estimate")


def test_the_same_run_writes_the_same_bytes(folder, tmp_path):
    yieldkit.save(small_estimate(), tmp_path, "run-1")
    for name in FILES:
        assert (tmp_path / name).read_bytes() == (folder / name).read_bytes(), name


def test_beside_a_simulated_wiring_it_is_asked_for_by_name(folder, tmp_path):
    weather = site_weather(small_site())
    days = weather.isel(time=slice(3600, 3648)).assign_attrs(weather.attrs)
    yieldkit.save(yieldkit.simulate(small_site(), "plain", days), tmp_path)
    yieldkit.save(small_estimate(), tmp_path)
    with pytest.raises(InputError, match="results: 'estimate', 'plain'"):
        yieldkit.load(tmp_path)
    assert np.isfinite(yieldkit.load(tmp_path, "estimate").likely_kwh)
