"""The clock check: gain and shift told apart, and the whole remedy at once."""

import json
from pathlib import Path

import numpy as np
import pandas as pd
import pvlib
import pytest

from tests.config.dumped import dump_site
from tests.study.sites import demo_mapping
from tests.weather.clear_sky import PLACE, minutes, snapshots
from yieldkit.cli.main import main
from yieldkit.config.site.files import site_from_mapping
from yieldkit.weather.quality.clock import _chosen_bright
from yieldkit.weather.readers.canonical import Sampling, Station, from_frame
from yieldkit.weather.readers.read import read_weather

pytestmark = pytest.mark.slow

MEANS = Sampling("mean", "start")
COLUMNS = ["ghi", "dni", "dhi", "temp_air", "wind_speed"]


def quality(dataset):
    """Return the quality account."""
    return json.loads(dataset.attrs["quality"])


def packaged(name):
    """Return a published year as a frame, with its station and sampling."""
    if name == "45n":
        found = read_weather("typical-year-45n-8e", "canonical")
    else:
        found = read_weather(Path(pvlib.__file__).parent / "data" / name, "tmy3")
    attrs = found.attrs
    frame = found[COLUMNS].to_dataframe()[COLUMNS]
    place = (attrs["latitude"], attrs["longitude"], attrs["altitude_m"])
    station = Station(*place, attrs["utc_offset_s"], attrs["wind_height_m"])
    sampling = Sampling(attrs["sampling"], "start", attrs["sun_offset_s"])
    return frame.set_axis(frame.index.tz_localize("UTC"), axis="index"), station, sampling


def own_site(folder, frame, latitude):
    """Return the file of the demonstration at a latitude with a table of weather beside it."""
    table = frame.reset_index(names="time")
    table["time"] = table["time"].dt.strftime("%Y-%m-%dT%H:%M")
    table.to_csv(folder / "own.csv", index=False)
    site = demo_mapping()
    site["site"] = site["site"] | {"latitude": latitude}
    site["weather"] = {
        "file": "own.csv",
        "format": "csv",
        "columns": {name: name for name in ["time", *COLUMNS]},
        "zone": "UTC",
        "sampling": "mean",
        "label": "start",
    }
    file = folder / "site.yaml"
    file.write_text(dump_site(site_from_mapping(site, folder=folder)), encoding="utf-8")
    return file


@pytest.mark.parametrize("name", ["45n", "723170TYA.CSV", "703165TY.csv"])
@pytest.mark.parametrize("gain", [0.9, 1.0, 1.05])
def test_a_late_clock_is_found_whatever_the_sensors_gain(name, gain):
    frame, station, sampling = packaged(name)
    frame = frame.assign(ghi=frame["ghi"] * gain)
    right = quality(from_frame(frame, station, sampling))
    assert right["clock"] == "agrees"
    assert right["closure_gain"] == pytest.approx(gain, abs=0.005)
    late = frame.set_axis(frame.index + pd.Timedelta("1h"), axis="index")
    wrong = quality(from_frame(late, station, sampling))
    assert wrong["clock"] == "zone"
    assert wrong["clock_shift_min"] == pytest.approx(-60.0, abs=3.0)
    assert wrong["closure_gain"] == pytest.approx(gain, abs=0.005)
    assert wrong["closure_rms_best"] < 0.5 * wrong["closure_rms"]


def test_a_gain_is_no_way_out_for_a_sky_that_is_always_clear():
    # Diffuse is 0.15 of global here: with a gain of 6.7 it would close at midnight as well.
    year = minutes("2019-01-01", 365, 5).round(2)
    found = quality(from_frame(year, PLACE, MEANS))
    assert found["clock"] == "agrees"
    assert found["closure_gain"] == pytest.approx(1.0, abs=0.005)


def test_a_half_hour_zone_cut_to_the_hour_is_told_with_the_whole_remedy():
    # 22.5 N 82.5 E keeps UTC+05:30; a header cut to the hour says +5.
    place = PLACE._replace(longitude=82.5, utc_offset_s=18_000)
    moved = minutes().set_axis(minutes().index - pd.Timedelta(minutes=298), axis="index")
    table = moved.resample("60min", offset="30min").mean()
    as_cut = table.set_axis(table.index + pd.Timedelta("30min"), axis="index")
    found = quality(from_frame(as_cut, place, MEANS))
    assert found["clock"] == "offset"
    assert found["clock_shift_min"] == pytest.approx(-30.0, abs=3.0)
    assert found["clock_remedy"] == (
        "zone: UTC+05:00, sampling: mean, label: middle (or snapshot, sun_offset_min: 0), or "
        "zone: UTC+05:30, sampling: mean, label: start"
    )
    assert "moves yield between east and west" in found["cautions"][0]
    right = place._replace(utc_offset_s=19_800)
    by_remedy = as_cut.set_axis(as_cut.index - pd.Timedelta("30min"), axis="index")
    assert quality(from_frame(by_remedy, right, MEANS))["cautions"] == []


def test_the_remedy_for_a_label_names_the_label():
    table = minutes().resample("60min").mean()
    late = table.set_axis(table.index + pd.Timedelta("1h"), axis="index")
    found = quality(from_frame(late, PLACE, MEANS))
    assert found["clock"] == "zone"
    assert found["clock_remedy"].startswith("zone: UTC+01:00, sampling: mean, label: end, or zone")
    assert "UTC+02:00, sampling: mean, label: start" in found["clock_remedy"]


def test_where_nothing_can_be_told_the_way_to_look_is_named():
    table = minutes().resample("60min").mean().iloc[:48]
    found = quality(from_frame(table, PLACE, MEANS))
    assert found["clock"] == "cannot tell"
    assert "its light should be highest at about 12:28 of the file's clock" in found["cautions"][0]


def test_the_other_hemispheres_sign_is_found_and_refused(tmp_path, capsys):
    year = minutes("2019-01-01", 365, 5)
    table = year.resample("60min").mean()
    # Not brighter than another hemisphere's sun: what it can't send at all is refused before.
    table[["ghi", "dni", "dhi"]] *= 0.25
    mirrored = quality(from_frame(table, PLACE._replace(latitude=-PLACE.latitude), MEANS))
    assert mirrored["clock"] == "hemisphere"
    assert mirrored["clock_text"] == (
        f"global, direct and diffuse close at latitude {PLACE.latitude:g}, not at "
        f"{-PLACE.latitude:g}"
    )
    assert quality(from_frame(table, PLACE, MEANS))["clock"] == "agrees"
    # Light that closes nowhere is still light of which nothing can be told.
    other = table.assign(ghi=table["ghi"] * np.random.default_rng(3).uniform(0.8, 1.2, len(table)))
    assert quality(from_frame(other, PLACE, MEANS))["clock"] == "cannot tell"
    for latitude, code in ((45.0, 0), (-45.0, 2)):
        assert main(["simulate", str(own_site(tmp_path, table, latitude))]) == code
    assert (
        "own.csv, latitude: got light by which global, direct and diffuse close at latitude 45, "
        "not at -45; expected light of the site's own hemisphere. The sign of site.latitude, or "
        "weather of another place? North is positive, south is negative."
    ) in capsys.readouterr().err


def test_no_more_than_five_thousand_bright_steps_are_compared_and_every_month_counts():
    year = minutes("2019-01-01", 365, 5)
    whole = from_frame(year, PLACE, MEANS)
    chosen = _chosen_bright(whole)
    months = pd.DatetimeIndex(whole.indexes["time"]).month.to_numpy()[chosen]
    assert chosen.size <= 5000
    assert set(months) == set(range(1, 13))
    assert np.unique(chosen).size == chosen.size
    assert quality(whole)["clock"] == "agrees"
    hourly = snapshots(year, 2)
    assert _chosen_bright(hourly).size > 0.95 * int((hourly["dni"] > 150.0).sum())
    late = year.set_axis(year.index + pd.Timedelta("20min"), axis="index")
    found = quality(from_frame(late, PLACE, MEANS))
    assert (found["clock"], found["clock_shift_min"]) == ("zone", pytest.approx(-20.0, abs=1.0))


def test_a_command_says_that_the_clock_is_off(tmp_path, capsys):
    table = minutes().iloc[11::60]
    moved = table.set_axis(table.index - pd.Timedelta("11min"), axis="index")
    file = own_site(tmp_path, moved, 45.0)
    assert main(["simulate", str(file)]) == 0
    said = capsys.readouterr().err
    assert "Caution: Clock of the weather file: values hold +1" in said
    assert "zone: UTC, sampling: snapshot, sun_offset_min: 1" in said


def test_bright_days_about_solar_noon_agree_without_any_shift():
    table = minutes("2019-01-01", 365, 5).resample("60min").mean()[["ghi", "temp_air"]]
    found = quality(from_frame(table, PLACE, MEANS))
    assert (found["clock"], found["clock_shift_min"]) == ("agrees", 0.0)
    assert "symmetric about solar noon (only global is given)" in found["clock_text"]
    late = table.set_axis(table.index + pd.Timedelta("1h"), axis="index")
    wrong = quality(from_frame(late, PLACE, MEANS))
    assert (wrong["clock"], wrong["clock_shift_min"]) == ("zone", pytest.approx(-60.0, abs=5.0))
