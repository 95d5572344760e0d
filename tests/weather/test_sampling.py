"""One sky, however it was sampled, labelled and zoned (practice.md T1 to T13)."""

import json

import numpy as np
import pandas as pd
import pytest
from pvlib.clearsky import haurwitz
from pvlib.solarposition import get_solarposition

from tests.study.sites import demo_mapping, variant
from tests.weather.clear_sky import PLACE, averaged, minutes, snapshots
from yieldkit.base.errors import InputError
from yieldkit.study.simulation.prepare import prepare
from yieldkit.weather.readers.canonical import Sampling, from_frame

pytestmark = pytest.mark.slow


def irradiation(weather, azimuths=(90.0, 270.0, 180.0), tilt=35.0):
    """Return the irradiation on planes [kWh/m2]."""
    plane = demo_mapping()["planes"][0]
    planes = [
        dict(plane, name=f"p{azimuth:g}", azimuth_deg=azimuth, tilt_deg=tilt)
        for azimuth in azimuths
    ]
    used = [
        {
            "name": "w",
            "trackers": [
                {
                    "mppt": "MPPT 1",
                    "strings": [{"groups": [{"plane": planes[0]["name"], "modules": 8}]}],
                }
            ],
        }
    ]
    prepared = prepare(variant(None, used, planes), weather)
    hours = prepared.interval_s / 3600.0
    return prepared.planes["poa_global"].to_numpy().sum(axis=0) * hours / 1000.0


def quality(dataset):
    """Return the quality account."""
    return json.loads(dataset.attrs["quality"])


def test_the_label_moves_no_energy():
    start, middle, end = (
        irradiation(averaged(label=label)) for label in ("start", "middle", "end")
    )
    assert middle == pytest.approx(start, rel=1e-4)
    assert end == pytest.approx(start, rel=1e-4)


def test_snapshots_means_and_five_minutes_agree_on_east_against_west():
    ratios = {}
    year = minutes("2019-01-01", 365, 5)
    for name, weather in (
        ("hourly means", averaged(base=year)),
        ("half-hourly means", averaged("30min", "end", base=year)),
        ("five minutes", averaged("5min", base=year)),
        ("snapshots", snapshots(year, 2)),
    ):
        east, west, south = irradiation(weather)
        ratios[name] = east / west
        assert south > max(east, west) or abs(south / east - 1.0) < 0.1
    for name, ratio in ratios.items():
        assert ratio == pytest.approx(ratios["five minutes"], abs=0.005), name


def test_a_symmetric_clear_sky_lights_east_and_west_alike():
    east, west, _south = irradiation(averaged())
    assert east / west == pytest.approx(1.0, abs=0.01)


def test_a_wrong_label_turns_east_against_west_and_is_told():
    # Means that end at their label, said to start there: the clock check finds the half hours.
    table = minutes().resample("60min").mean()
    late = table.set_axis(table.index + pd.Timedelta("60min"), axis="index")
    wrong = from_frame(late, PLACE, Sampling("mean", "start"))
    east, west, _south = irradiation(wrong)
    assert east / west < 0.92
    assert quality(wrong)["clock"] == "zone" or quality(wrong)["clock"] == "offset"
    assert quality(wrong)["clock_shift_min"] == pytest.approx(-60.0, abs=3.0)
    right = from_frame(late, PLACE, Sampling("mean", "end"))
    assert quality(right)["clock"] == "agrees"


def test_snapshots_taken_for_means_are_told():
    table = minutes().iloc[11::60]
    hours = table.set_axis(table.index - pd.Timedelta("11min"), axis="index")
    wrong = quality(from_frame(hours, PLACE, Sampling("mean", "start")))
    assert wrong["clock"] == "offset"
    assert "sun_offset_min: 1" in wrong["clock_remedy"]


@pytest.mark.parametrize("step", ["5min", "15min", "30min"])
def test_energy_is_power_times_its_own_step(step):
    hourly = quality(averaged())["ghi_kwh_m2"]
    assert quality(averaged(step))["ghi_kwh_m2"] == pytest.approx(hourly, rel=1e-9)


def test_a_naive_index_is_refused():
    table = minutes().resample("60min").mean()
    naive = table.set_axis(table.index.tz_localize(None), axis="index")
    with pytest.raises(InputError, match="times without a time zone"):
        from_frame(naive, PLACE, Sampling("mean", "start"))


def test_a_clock_with_daylight_saving_is_refused():
    year = pd.date_range("2019-10-20", "2019-11-05", freq="h", tz="UTC")
    wall = year.tz_convert("Europe/Berlin").tz_localize(None)
    taken_as_standard = (wall - pd.Timedelta("1h")).tz_localize("UTC")
    table = pd.DataFrame(
        {"ghi": 100.0, "dni": 0.0, "dhi": 100.0, "temp_air": 10.0, "wind_speed": 1.0},
        index=taken_as_standard,
    )
    with pytest.raises(InputError, match="1 times twice") as refused:
        from_frame(table, PLACE, Sampling("mean", "start"))
    assert "daylight saving" in str(refused.value)


def test_a_hole_stays_missing_unless_a_rule_fills_it():
    hole = pd.Timestamp("2019-06-05 10:00", tz="UTC")
    table = minutes().resample("60min").mean()
    cut = table.drop(index=hole)
    found = from_frame(cut, PLACE, Sampling("mean", "start"))
    assert quality(found)["missing_steps"] == 1
    assert list(found["time"].to_numpy()[found["ghi"].isnull()]) == [
        np.datetime64(hole.tz_convert(None))
    ]
    filled = from_frame(cut, PLACE, Sampling("mean", "start"), fill_gaps_up_to_h=1.0)
    assert quality(filled)["filled_steps"] == 1
    assert quality(filled)["missing_steps"] == 0
    assert float(filled["ghi"].isnull().sum()) == 0.0
    assert int(filled["filled"].sum()) == 1


@pytest.mark.parametrize("values", [np.nan, -9999.0, -999.0])
def test_marks_for_missing_values_are_missing_and_never_zero(values):
    table = minutes().resample("60min").mean()
    table.iloc[130:133, 0] = values
    found = from_frame(table, PLACE, Sampling("mean", "start"))
    assert quality(found)["missing_steps"] == 3
    assert quality(found)["longest_gap_h"] == 3.0
    for name in ("ghi", "dni", "dhi", "temp_air", "wind_speed"):
        assert found[name].isnull().to_numpy().nonzero()[0].tolist() == [130, 131, 132]


def test_night_offsets_become_zero_and_are_counted():
    table = minutes().resample("60min").mean()
    night = table["ghi"] == 0.0
    table.loc[night, "ghi"] = -2.0
    found = from_frame(table, PLACE, Sampling("mean", "start"))
    assert quality(found)["negative_to_zero"] == int(night.sum())
    assert float(found["ghi"].min()) == 0.0


@pytest.mark.parametrize(
    ("column", "factor", "offset", "sentence"),
    [
        ("ghi", 1.0, -200.0, "no less than -25 W/m2"),
        ("ghi", 1e-3, 0.0, "Is the column in kW/m2 or kWh/m2?"),
        ("ghi", 3.0, 0.0, "no more than 1600 W/m2"),
        ("temp_air", 1.0, 273.15, "Is the column in kelvin?"),
        ("temp_air", 1.8, 32.0, "Fahrenheit"),
        ("wind_speed", -1.0, 0.0, "m/s, from 0 to 100"),
    ],
)
def test_values_of_another_unit_are_refused(column, factor, offset, sentence):
    table = minutes().resample("60min").mean()
    table["temp_air"] = 25.0 + table["ghi"] / 100.0
    table[column] = table[column] * factor + offset
    with pytest.raises(InputError, match="got") as refused:
        from_frame(table, PLACE, Sampling("mean", "start"))
    assert sentence in str(refused.value)


def test_no_wind_is_assumed_and_said():
    table = minutes().resample("60min").mean().drop(columns="wind_speed")
    found = from_frame(table, PLACE, Sampling("mean", "start"))
    assert "1 m/s assumed" in quality(found)["assumed"]
    assert (found["wind_speed"] == 1.0).all()


def test_no_temperature_is_refused():
    table = minutes().resample("60min").mean().drop(columns="temp_air")
    with pytest.raises(InputError, match="no air temperature"):
        from_frame(table, PLACE, Sampling("mean", "start"))


def test_direct_from_global_and_diffuse_never_exceeds_the_suns_own():
    # T14: the division by the cosine gives up to 456,818 W/m2 where it isn't guarded.
    table = minutes().resample("60min").mean()
    closed = from_frame(table.drop(columns="dni"), PLACE, Sampling("mean", "start"))
    assert float(closed["dni"].min()) >= 0.0
    assert float(closed["dni"].max()) < 1400.0
    split = from_frame(table[["ghi", "temp_air"]], PLACE, Sampling("mean", "start"))
    assert quality(split)["decomposition"] == "erbs-driesse"
    assert float(split["dni"].max()) < 1200.0


def test_a_typical_year_of_many_years_becomes_one_whole_year():
    index = pd.date_range("2019-01-01", "2019-12-31 23:00", freq="h", tz="Etc/GMT-10")
    years = np.array([1999, 2004, 1987, 2001, 1996, 2012, 2008, 1993, 2003, 2006, 1990, 2000])
    patched = pd.DatetimeIndex(
        [stamp.replace(year=int(years[stamp.month - 1])) for stamp in index]
    ).tz_convert("UTC")
    table = pd.DataFrame({"ghi": 0.0, "dni": 0.0, "dhi": 0.0, "temp_air": 5.0}, index=patched)
    table["temp_air"] = index.month.to_numpy(dtype=float)
    place = PLACE._replace(utc_offset_s=36_000, longitude=150.0)
    found = from_frame(table, place, Sampling("mean", "start"), typical=True)
    assert found.sizes["time"] == 8760
    local = pd.DatetimeIndex(found.indexes["time"]) + pd.Timedelta("10h")
    assert (local.month == found["temp_air"].to_numpy()).all()


def test_a_leap_year_keeps_its_hours():
    index = pd.date_range("2020-01-01", "2020-12-31 23:00", freq="h", tz="UTC")
    table = pd.DataFrame({"ghi": 0.0, "dni": 0.0, "dhi": 0.0, "temp_air": 5.0}, index=index)
    assert from_frame(table, PLACE, Sampling("mean", "start")).sizes["time"] == 8784


def test_labels_at_the_end_of_a_year_stay_in_twelve_months():
    index = pd.date_range("2019-01-01 01:00", "2020-01-01 00:00", freq="h", tz="UTC")
    table = pd.DataFrame({"ghi": 0.0, "dni": 0.0, "dhi": 0.0, "temp_air": 5.0}, index=index)
    place = PLACE._replace(utc_offset_s=0)
    found = from_frame(table, place, Sampling("mean", "end"))
    assert pd.DatetimeIndex(found.indexes["time"]).to_period("M").nunique() == 12


@pytest.mark.parametrize("step", ["61min", "2h", "1D"])
def test_steps_above_an_hour_are_refused(step):
    index = pd.date_range("2019-06-01", periods=50, freq=step, tz="UTC")
    table = pd.DataFrame({"ghi": 0.0, "dni": 0.0, "dhi": 0.0, "temp_air": 5.0}, index=index)
    with pytest.raises(InputError, match="between one second and one hour"):
        from_frame(table, PLACE, Sampling("mean", "start"))


def test_a_change_of_step_is_refused():
    first = pd.date_range("2019-06-01", periods=50, freq="h", tz="UTC")
    later = pd.date_range(first[-1] + pd.Timedelta("10min"), periods=20, freq="10min", tz="UTC")
    table = pd.DataFrame(
        {"ghi": 0.0, "dni": 0.0, "dhi": 0.0, "temp_air": 5.0}, index=first.append(later)
    )
    with pytest.raises(InputError, match="off the raster"):
        from_frame(table, PLACE, Sampling("mean", "start"))


def test_below_a_quarter_of_an_hour_cells_have_thermal_mass():
    plane = demo_mapping()["planes"][2]
    used = [
        {
            "name": "w",
            "trackers": [
                {"mppt": "MPPT 1", "strings": [{"groups": [{"plane": "dormer", "modules": 7}]}]}
            ],
        }
    ]
    site = variant(None, used, [plane])
    quick, slow = prepare(site, averaged("5min")), prepare(site, averaged("15min"))
    first = quick.planes["temp_cell"].to_numpy()[:, 0]
    light = quick.planes["poa_global"].to_numpy()[:, 0]
    rising = np.flatnonzero((light[1:] > 50.0) & (light[:-1] <= 50.0))
    assert rising.size >= 10
    steady = slow.planes["temp_cell"].to_numpy()[:, 0]
    assert first.mean() == pytest.approx(steady.mean(), abs=0.5)


def test_south_of_the_equator_the_north_plane_wins():
    # T21: Sydney 2548 against 1436 kWh/m2 and more.
    starts = pd.date_range("2019-01-01", periods=8760, freq="h", tz="UTC")
    sky = haurwitz(get_solarposition(starts + pd.Timedelta("30min"), -33.9, 151.2)["zenith"])
    table = pd.DataFrame({"ghi": sky["ghi"].to_numpy()}, index=starts)
    table["temp_air"] = 18.0
    station = PLACE._replace(latitude=-33.9, longitude=151.2, utc_offset_s=36_000)
    weather = from_frame(table, station, Sampling("mean", "start"))
    content = {"site.latitude": -33.9, "site.longitude": 151.2, "site.time_zone": "UTC+10:00"}
    plane = demo_mapping()["planes"][0]
    planes = [
        dict(plane, name=n, azimuth_deg=a, tilt_deg=34.0) for n, a in (("n", 0.0), ("s", 180.0))
    ]
    used = [
        {
            "name": "w",
            "trackers": [
                {"mppt": "MPPT 1", "strings": [{"groups": [{"plane": "n", "modules": 8}]}]}
            ],
        }
    ]
    north, south = (
        prepare(variant(content, used, planes), weather).planes["poa_global"].to_numpy().sum(axis=0)
    )
    assert north > 1.5 * south


def test_polar_night_gives_no_energy_and_no_missing_values():
    starts = pd.date_range("2019-12-01", periods=240, freq="h", tz="UTC")
    table = pd.DataFrame({"ghi": 0.0, "dni": 0.0, "dhi": 0.0, "temp_air": -10.0}, index=starts)
    station = PLACE._replace(latitude=69.65, longitude=18.96)
    weather = from_frame(table, station, Sampling("mean", "start"))
    found = irradiation_at(weather, 69.65, 18.96)
    assert (found == 0.0).all()


def irradiation_at(weather, latitude, longitude):
    """Return every hour's irradiance at another place."""
    content = {"site.latitude": latitude, "site.longitude": longitude}
    return prepare(variant(content), weather).planes["poa_global"].to_numpy()
