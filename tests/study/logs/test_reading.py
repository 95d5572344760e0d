"""A log is the same whatever its tables look like, and says what was done to them."""

import codecs
import re

import numpy as np
import pandas as pd
import pytest
import xarray as xr
from pvlib.irradiance import aoi_projection

import yieldkit
from tests.house.layers import ROOT
from tests.study import sites
from tests.study.logs.tables import (
    INPUTS,
    STEP,
    columns_of,
    described,
    readings,
    site,
    written,
)
from yieldkit.study.logs.plant_log import AMBIGUOUS, IMPOSSIBLE, MISSING, NIGHT, REASONS
from yieldkit.weather.readers.canonical import sun_of

SENSORS = {"poa_global": {"west roof": "G"}, "temp_module": {"west roof": "T"}, "temp_air": "Ta"}
DAY = readings()


def read(folder, tables, **keys):
    return yieldkit.read_log(described(folder, tables, **keys), site())


@pytest.fixture(scope="module")
def plain(tmp_path_factory):
    """Return a day as it should be read."""
    folder = tmp_path_factory.mktemp("plain")
    return read(folder, {"day.csv": written(DAY)}, columns=SENSORS)


def reason(log, at, name="MPPT 1"):
    return REASONS[int(log.data["left_out"].sel(time=at, tracker=name))]


def test_readings_stand_where_they_were_written(plain):
    data = plain.data
    assert data["tracker"].values.tolist() == list(INPUTS)
    assert data["inverter"].values.tolist() == [site().inverter.name]
    assert data.sizes["time"] == 144
    assert data["time"].values[0] == np.datetime64("2026-06-20T23:00")
    for number, name in enumerate(INPUTS, 1):
        for quantity, letter in (("v_dc", "U"), ("i_dc", "I"), ("p_dc", "P")):
            own = data[quantity].sel(tracker=name).values
            np.testing.assert_array_equal(own, DAY[f"{letter}{number}"])
    np.testing.assert_array_equal(data["p_ac"].values[:, 0], DAY["Pac"])
    np.testing.assert_array_equal(data["v_ac"].values[:, 0], DAY["Uac"])
    assert data.attrs == {
        "interval_s": 600.0,
        "utc_offset_s": 3600,
        "time_zone": "UTC+01:00",
        "wiring": site().wirings[0].name,
    }
    assert data["v_dc"].attrs["units"] == "V"
    assert data["i_dc"].attrs["written_in_steps_of"] == [0.01, 0.01, 0.01]
    assert data["p_dc"].attrs["written_in_steps_of"] == [1.0, 1.0, 1.0]
    assert plain.counted.all()


def test_its_weather_is_simulated_as_it_is(plain):
    weather = plain.weather
    assert (weather["time"] == plain.data["time"]).all()
    np.testing.assert_array_equal(weather["poa_global of west roof"], DAY["G"])
    np.testing.assert_array_equal(weather["temp_air"], DAY["Ta"])
    result = yieldkit.simulate(site(), site().wirings[0].name, weather)
    light = result["poa_global"].sel(plane="west roof").values
    seen = ~np.isnan(light)
    np.testing.assert_array_equal(light[seen], DAY["G"][seen])
    assert float(result["p_dc"].sum()) > 0.0


def test_where_no_sensor_sees_the_sun_the_sky_behind_is_not_known(tmp_path, plain):
    # The roof faces west: in the morning its light is diffuse, whatever the sun does.
    weather = plain.weather
    blind = np.isnan(weather["ghi"].values)
    at = pd.DatetimeIndex(weather["time"].values[blind])
    assert at.hour.max() <= 9
    assert 20 < blind.sum() < 60
    np.testing.assert_array_equal(np.isnan(weather["dni"]), blind)
    sun, roof = sun_of(weather), site().planes[0]
    facing = aoi_projection(roof.tilt_deg, roof.azimuth_deg, sun.apparent_zenith, sun.azimuth)
    grazed = (sun.zenith < 90.0) & (facing < np.cos(np.radians(70.0)))
    np.testing.assert_array_equal(blind, grazed)
    assert not np.isnan(weather["poa_global of west roof"]).any()
    assert (
        "Light on east roof, dormer wasn't measured; it is reckoned from that on west roof, "
        "on clear days a tenth and more beside what was there. In "
        f"{blind.sum()} daylit steps the sun shone there hardly or not" in str(plain.remarks)
    )
    # Steps without a sky have no beam that would be assumed.
    assert "stood behind every sensor" not in str((plain.remarks, weather.attrs["quality"]))
    text = written(DAY.assign(G2=DAY["G"], G3=DAY["G"]))
    whole = {"west roof": "G", "east roof": "G2", "dormer": "G3"}
    for light in ({"poa_global": whole}, {"poa_global": {"west roof": "G"}, "ghi": "G2"}):
        log = read(tmp_path, {"a.csv": text}, columns=SENSORS | light)
        assert not np.isnan(log.weather["ghi"]).any()
    # Planes that nothing is wired from need no light.
    one = sites.variant(wirings=[sites.wiring("west", MPPT_1=[sites.string(("west roof", 14))])])
    path = described(tmp_path, {"a.csv": text}, SENSORS, {"p_dc": {"MPPT 1": "P1"}})
    assert not np.isnan(yieldkit.read_log(path, one).weather["ghi"]).any()


def same(one, other):
    """Compare two logs but for the steps in which their numbers were written."""
    xr.testing.assert_equal(one.data, other.data)
    assert one.data.attrs == other.data.attrs
    if one.weather is not None or other.weather is not None:
        xr.testing.assert_equal(one.weather, other.weather)


SPREADSHEET = {"separator": ";", "decimal": ",", "stamp": "%d.%m.%Y %H:%M"}


@pytest.mark.parametrize(
    ("text", "keys"),
    [
        (written(DAY, **SPREADSHEET), {}),
        (codecs.BOM_UTF8 + written(DAY, **SPREADSHEET).encode(), {}),
        (written(DAY, "\t").encode("utf-16"), {}),
        (written(DAY, head="Büro").encode("cp1252"), {}),
        (written(DAY, head="Büro").encode("cp850"), {"encoding": "cp850"}),
        (written(DAY, label="end"), {"label": "end"}),
        (written(DAY, label="middle"), {"label": "middle"}),
        (written(DAY, zone="UTC+00:00", stamp="%Y-%m-%dT%H:%MZ"), {}),
        (written(DAY, stamp="%m/%d/%Y %I:%M %p"), {}),
        (written(readings("2026-06-05"), stamp="%d/%m/%Y %H:%M"), {"date_format": "day-first"}),
        (written(DAY, stamp="%y%m%d-%H%M"), {"date_format": "%y%m%d-%H%M"}),
        (written(DAY, stamp="%Y-%m-%d,%H:%M").replace("Time", "Day,Hour", 1), "two columns"),
    ],
)
def test_it_is_the_same_log_however_it_is_written(tmp_path, plain, text, keys):
    if keys == "two columns":
        log = read(tmp_path, {"a.csv": text}, columns=SENSORS | {"time": "Day", "clock": "Hour"})
    else:
        log = read(tmp_path, {"a.csv": text}, columns=SENSORS, **keys)
    if "date_format" in keys and keys["date_format"] == "day-first":
        assert log.data["time"].values[0] == np.datetime64("2026-06-04T23:00")
        log.data["time"] = plain.data["time"]
        np.testing.assert_array_equal(log.data["p_dc"], plain.data["p_dc"])
    else:
        same(log, plain)


def test_zone_and_label_move_all_that_was_written(tmp_path, plain):
    log = read(tmp_path, {"a.csv": written(DAY)}, zone="UTC+02:00", label="end")
    moved = log.data["time"].values - plain.data["time"].values
    assert set(moved) == {-np.timedelta64(70, "m")}


def test_files_follow_one_another_in_any_order_and_rows_too(tmp_path, plain):
    lines = written(DAY).splitlines()
    mixed = [lines[0], *reversed(lines[60:])]
    tables = {"b.csv": "\n".join(mixed), "a.csv": "\n".join(lines[:70])}
    log = read(tmp_path, tables, columns=SENSORS)
    same(log, plain)
    # Ten rows stand in both.
    assert "b.csv and 1 more: 10 rows that were there already count once." in log.remarks
    again = yieldkit.read_log(described(tmp_path, tables, SENSORS, files="*.csv"), site())
    same(again, plain)


def test_dates_that_may_mean_two_things_are_read_as_those_of_the_other_files(tmp_path):
    tables = {
        f"{day}.csv": "Day 1\n"
        + written(readings(f"2026-06-{day}"), stamp="%d/%m/%Y %H:%M")
        + "sum\n"
        for day in ("05", "06", "25")
    }
    log = read(tmp_path, tables)
    assert log.data["time"].values[0] == np.datetime64("2026-06-04T23:00")
    assert log.data["time"].values[-1] == np.datetime64("2026-06-25T22:50")
    assert (
        "05.csv and 2 more: 3 rows without a time were passed over, such as 'sum'." in log.remarks
    )


def test_headings_totals_and_notes_among_the_rows_are_passed_over(tmp_path, plain):
    lines = written(DAY).splitlines()
    lines.insert(100, lines[0])
    lines.insert(50, "Total,,,12345,,,,,,,,,,,,")
    lines[90] = lines[90].replace(",", ",?", 1)
    lines.append("2026-06-21,,,54321")
    log = read(tmp_path, {"a.csv": "\n".join(["Plant 7", "", *lines])}, columns=SENSORS)
    assert log.data["v_dc"].isnull().sum() == 1
    assert "a.csv: 3 rows without a time were passed over, such as 'Total" in log.remarks[1]
    assert "a.csv, U1: 1 cell is no number and counts as empty, such as '?" in log.remarks[2]
    assert log.left_out_hours()["MPPT 1"] == {MISSING: pytest.approx(1 / 6)}


def test_gaps_are_steps_without_readings_and_at_night_nothing_lacks(tmp_path):
    kept = DAY[(DAY.index.hour >= 4) & (DAY.index.hour != 10)].copy()
    kept.loc["2026-06-21 12:00", ["I2", "P2"]] = np.nan
    log = read(tmp_path, {"a.csv": written(pd.concat([DAY[:1], kept]))})
    assert log.data.sizes["time"] == 144
    assert np.isnan(log.data["v_dc"].sel(time="2026-06-21 10:30")).all()
    assert reason(log, "2026-06-21 10:30") == MISSING
    assert reason(log, "2026-06-21 02:00") == NIGHT
    assert reason(log, "2026-06-21 12:00") == "counted"
    assert reason(log, "2026-06-21 12:00", "MPPT 2") == MISSING


def test_power_alone_in_kilowatts_is_enough(tmp_path, plain):
    table = DAY[["P1", "P2", "P3", "Pac"]] / 1000.0
    head = {"a.csv": written(table, names=["P1 [kW]", "P2_kW", "P3 in kW", "Pac (kW)"])}
    names = {"MPPT 1": "P1 [kW]", "MPPT 2": "P2_kW", "MPPT 3": "P3 in kW"}
    log = read(tmp_path, head, inverter={"p_dc": names, "p_ac": "Pac (kW)"})
    assert set(log.data.data_vars) == {"p_dc", "p_ac", "left_out"}
    np.testing.assert_allclose(log.data["p_dc"], plain.data["p_dc"], rtol=1e-12)
    np.testing.assert_allclose(log.data["p_ac"], plain.data["p_ac"], rtol=1e-12)
    assert log.data["p_dc"].attrs["written_in_steps_of"] == [1.0, 1.0, 1.0]
    own = {"p_dc": columns_of("p_dc")["p_dc"], "p_ac": "Pac"}
    units = {"p_dc": "kW", "p_ac": "kW"}
    said = read(tmp_path, {"a.csv": written(table)}, inverter=own, units=units)
    same(said, log)
    under = written(table).replace("\n", "\n,kW,kW,kW,kW\n", 1)
    same(read(tmp_path, {"a.csv": under}, inverter=own), log)


def test_an_hour_written_twice_by_a_clock_with_summer_time_is_told_apart_by_order(tmp_path):
    table = readings("2026-10-24", days=3)
    wall = {"zone": "Europe/Berlin", "clock": "wall"}
    text = written(table, zone="Europe/Berlin", label="end")
    log = read(tmp_path, {"a.csv": text}, label="end", **wall)
    np.testing.assert_array_equal(log.data["time"], table.index)
    np.testing.assert_array_equal(log.data["p_ac"].values[:, 0], table["Pac"])
    np.testing.assert_array_equal(log.data["v_ac"].values[:, 0], table["Uac"])
    assert log.data.attrs["utc_offset_s"] == 3600
    assert any("told apart by the order of the rows" in each for each in log.remarks)
    lines = text.splitlines()
    back = read(tmp_path, {"a.csv": "\n".join([lines[0], *lines[:0:-1]])}, label="end", **wall)
    xr.testing.assert_equal(back.data, log.data)
    # Out of order, nobody knows which is which; 12 steps of two hours, all at night.
    lines[20], lines[400] = lines[400], lines[20]
    torn = read(tmp_path, {"a.csv": "\n".join(lines)}, label="end", **wall)
    assert torn.left_out_hours()["MPPT 1"] == {AMBIGUOUS: 2.0}
    assert "12 rows of the hour that the clock shows twice on 2026-10-25 can't be told" in str(
        torn.remarks
    )
    assert np.isnan(torn.data["v_dc"]).sum() == 36
    # A file that begins within the second of the two hours doesn't tell which it is; of the
    # first hour all is known.
    lines = text.splitlines()
    cut = [at for at, line in enumerate(lines) if "10-25 02:20" in line][1]
    parts = {"a.csv": "\n".join(lines[:cut]), "b.csv": "\n".join([lines[0], *lines[cut:]])}
    cut_log = read(tmp_path, parts, label="end", **wall)
    assert cut_log.left_out_hours()["MPPT 1"] == {AMBIGUOUS: pytest.approx(4 / 6)}
    # In spring the clock skips an hour; the log has no gap there.
    spring = readings("2026-03-29")
    text = written(spring, zone="Europe/Berlin", label="end")
    log = read(tmp_path, {"a.csv": text}, label="end", **wall)
    np.testing.assert_array_equal(log.data["time"], spring.index)
    same(read(tmp_path, {"a.csv": text.replace("29 03:00", "29 02:00")}, label="end", **wall), log)


def test_an_hour_written_twice_by_another_clock_is_left_out_and_told(tmp_path):
    lines = written(DAY).splitlines()
    noon = [line for line in lines if " 11:" in line]
    log = read(tmp_path, {"a.csv": "\n".join([*lines, *(e.replace(" 11:", " 12:") for e in noon)])})
    assert log.left_out_hours() == {name: {AMBIGUOUS: 1.0} for name in INPUTS}
    assert reason(log, "2026-06-21 11:20") == AMBIGUOUS
    assert "6 times are there twice with other readings, from 2026-06-21 11:00" in str(log.remarks)


def test_readings_that_no_such_plant_gives_are_left_out_and_told(tmp_path):
    table = DAY.copy()
    table.loc["2026-06-21 11:00", "U1"] = 6553.5
    table.loc["2026-06-21 12:00", "I2"] = -40.0
    table.loc["2026-06-21 13:00", "Pac"] = 65535
    table.loc["2026-06-21 14:00", "U3"] = -9999
    log = read(tmp_path, {"a.csv": written(table)})
    assert reason(log, "2026-06-21 11:00") == IMPOSSIBLE
    assert reason(log, "2026-06-21 12:00", "MPPT 2") == IMPOSSIBLE
    assert reason(log, "2026-06-21 14:00", "MPPT 3") == MISSING
    assert np.isnan(log.data["p_ac"].sel(time="2026-06-21 13:00")).all()
    assert "v_dc of MPPT 1: 1 reading that no such plant gives, such as 6,553.5 V" in str(
        log.remarks
    )
    assert "a.csv, U3: 1 cell of -9999 left empty: a mark of a missing value." in log.remarks


def test_what_strings_wired_wrongly_give_is_read_to_be_judged(tmp_path):
    # Two strings in series, and three in parallel where one was drawn.
    table = DAY.assign(U3=2 * DAY["U2"], I2=3 * DAY["I2"], P2=3 * DAY["P2"])
    log = read(tmp_path, {"a.csv": written(table)})
    assert log.counted.all()


def test_loggers_that_are_late_mean_their_step(tmp_path, plain):
    late = DAY.copy()
    late.index = late.index + pd.to_timedelta(np.arange(144) % 50, unit="s")
    text = written(late, stamp="%Y-%m-%d %H:%M:%S")
    log = read(tmp_path, {"a.csv": text}, columns=SENSORS)
    same(log, plain)
    assert "times up to 10% of a step beside the raster" in str(log.remarks)


def test_counters_become_power_by_what_they_grow(tmp_path, plain):
    energy = DAY[["P1", "P2", "P3"]].cumsum() / 6.0
    table = (energy + 123456.0) / 1000.0
    table["Eac"] = (DAY["Pac"].cumsum() / 6.0 + 99.0).where(DAY.index < "2026-06-21 20:00", 0.0)
    text = written(table.round(6)).replace("Eac", "Eac [Wh]")
    names = dict(zip(INPUTS, ("P1", "P2", "P3"), strict=True))
    log = read(
        tmp_path,
        {"a.csv": text},
        inverter={"e_dc": names, "e_ac": "Eac [Wh]"},
        units={"e_dc": "kWh"},
    )
    np.testing.assert_allclose(log.data["p_dc"][1:], plain.data["p_dc"][1:], atol=0.01)
    assert np.isnan(log.data["p_dc"][0]).all()
    before = slice(None, "2026-06-21 19:50")
    ac = log.data["p_ac"].sel(time=before)[1:]
    np.testing.assert_allclose(ac, plain.data["p_ac"].sel(time=before)[1:], atol=0.01)
    assert np.isnan(log.data["p_ac"].sel(time="2026-06-21 20:00")).all()
    assert "the counter was set back once, steps without a power." in str(log.remarks)
    assert "it comes in steps of 0.006 W" in str(log.remarks)


def test_inverters_have_columns_in_common_files_or_files_of_their_own(tmp_path, plain):
    own = {"columns": columns_of() | {"time": "At"}, "files": "inverter.csv"}
    inverter = DAY.drop(columns=["G", "T", "Ta"])
    path = described(
        tmp_path,
        {
            "sensors.csv": written(DAY[["G", "T", "Ta"]]),
            "inverter.csv": written(inverter, **SPREADSHEET).replace("Time", "At", 1),
        },
        SENSORS,
        files="sensors.csv",
        inverters=[own],
    )
    same(yieldkit.read_log(path, site()), plain)


def test_phases_are_one_mean_voltage(tmp_path):
    table = DAY.assign(L1=230.0, L2=233.0, L3=239.0)
    log = read(
        tmp_path, {"a.csv": written(table)}, inverter=columns_of() | {"v_ac": ["L1", "L2", "L3"]}
    )
    assert (log.data["v_ac"] == 234.0).all()
    assert f"v_ac of {site().inverter.name}: the mean of 3 phases." in log.remarks


def test_without_light_there_is_no_weather_and_that_is_told(tmp_path):
    log = read(tmp_path, {"a.csv": written(DAY)}, columns={"temp_air": "Ta"})
    assert log.weather is None
    assert log.remarks == (
        "Read as of the wiring 'one plane per tracker', the site's first: nothing says which was "
        "built.",
        "No light was written: what the sky gave at each step isn't known (of temp_air alone no "
        "weather is made).",
    )


def test_a_missing_air_temperature_is_reckoned_from_the_modules_or_assumed_and_told(tmp_path):
    # 48 degC of modules at 950 W/m2 close to a roof: 1 K less than the cells, which are
    # 950 / (19.3 + 1.26 x 1 m/s) = 46.2 K above the air (Faiman 2008; computed by hand).
    text = {"a.csv": written(DAY)}
    light = {"poa_global": {"west roof": "G"}}
    log = read(tmp_path, text, columns=light | {"temp_module": {"west roof": "T"}})
    noon = int(DAY["G"].argmax())
    air = DAY["T"].iloc[noon] + DAY["G"].iloc[noon] * (0.001 - 1.0 / 20.56)
    assert float(log.weather["temp_air"][noon]) == pytest.approx(air, abs=1e-9)
    assert "reckoned back from the measured temperature of modules" in str(log.remarks)
    log = read(tmp_path, text, columns=light)
    assert "the mean of that month and hour in the site's weather file counts" in str(log.remarks)
    assert 10.0 < float(log.weather["temp_air"].mean()) < 30.0


def test_sensors_and_the_height_of_wind_are_those_of_the_description(tmp_path):
    table = DAY.assign(W=3.0)
    log = read(
        tmp_path,
        {"a.csv": written(table)},
        columns={"poa_global": {"west roof": "G"}, "temp_air": "Ta", "wind_speed": "W"},
        sensors=[{"plane": "west roof", "kind": "reference-cell", "tilt_deg": 20.0, "gain": 1.02}],
        wind_height_m=3.0,
    )
    attrs = log.weather["poa_global of west roof"].attrs
    assert (attrs["sensor"], attrs["sensor_tilt_deg"], attrs["sensor_gain"]) == (
        "reference-cell",
        20.0,
        1.02,
    )
    assert log.weather.attrs["wind_height_m"] == 3.0
    assert float(log.weather["wind_speed"].mean()) == 3.0
    three = {"ghi": "G", "dni": "G", "dhi": "G2", "temp_air": "Ta"}
    own = read(
        tmp_path, {"a.csv": written(DAY.assign(G2=DAY["G"] * 0.1))}, columns=three | {"dni": "T"}
    )
    np.testing.assert_array_equal(own.weather["ghi"], DAY["G"])
    np.testing.assert_array_equal(own.weather["dni"], DAY["T"])
    np.testing.assert_allclose(own.weather["dhi"], DAY["G"] * 0.1)


def test_single_readings_that_no_weather_has_are_left_out(tmp_path):
    table = DAY.copy()
    table.loc["2026-06-21 11:00", "Ta"] = 85.0
    log = read(tmp_path, {"a.csv": written(table)}, columns=SENSORS)
    assert np.isnan(log.weather["poa_global of west roof"].sel(time="2026-06-21 11:00"))
    assert "1 readings of temp_air that no weather has, such as 85 degC, are left out" in str(
        log.remarks
    )
    assert log.counted.all()


def test_it_tells_what_it_is_in_a_few_lines(plain):
    told = repr(plain)
    assert "from:     2026-06-21 00:00 to 2026-06-22 00:00 (UTC+01:00)" in told
    assert "steps:    144 of 10 min" in told
    assert "counts:   MPPT 1 24.0 h; MPPT 2 24.0 h; MPPT 3 24.0 h" in told
    assert "left out: nothing" in told
    assert plain._repr_html_().startswith("<div><strong>Log log.yaml</strong>")


def test_the_step_is_any_up_to_an_hour(tmp_path):
    hourly = readings(days=2, step=6 * STEP)
    log = read(tmp_path, {"a.csv": written(hourly, label="end")}, label="end")
    assert log.data.attrs["interval_s"] == 3600.0
    np.testing.assert_array_equal(log.data["time"], hourly.index)


def test_the_readmes_description_reads_two_months_of_a_clock_on_the_wall(tmp_path):
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    (block,) = re.findall(r"^```yaml\n(.*?)^```$", text, re.MULTILINE | re.DOTALL)
    (tmp_path / "log.yaml").write_text(block, encoding="utf-8")
    table = readings("2026-06-30", days=2)
    lines = written(table.assign(Pac=table["Pac"] / 1000.0), zone="Europe/Berlin", label="end")
    head, *rows = lines.splitlines()
    for name, own in (("june.csv", rows[:144]), ("july.csv", rows[144:])):
        (tmp_path / name).write_text("\n".join([head, *own]), encoding="utf-8")
    log = yieldkit.read_log(tmp_path / "log.yaml", site())
    np.testing.assert_array_equal(log.data["time"], table.index)
    np.testing.assert_allclose(log.data["p_ac"].values[:, 0], table["Pac"], rtol=1e-12)
    assert set(log.data.data_vars) == {"v_dc", "i_dc", "p_ac", "left_out"}


def test_parquet_is_read_as_the_same_table_as_text_is(tmp_path, plain):
    stamped = DAY.rename_axis("Time").tz_localize("UTC").tz_convert("Europe/Berlin")
    local = (DAY.index + pd.Timedelta("1h")).rename("Time")
    for name, table in (
        ("zoned", stamped.astype("float32")),
        ("naive", DAY.set_index(local).reset_index()),
        ("texts", DAY.set_index(local.strftime("%d.%m.%Y %H:%M")).astype(str)),
    ):
        table.rename_axis("Time" if name == "texts" else table.index.name).to_parquet(
            tmp_path / f"{name}.parquet"
        )
        content = (tmp_path / f"{name}.parquet").read_bytes()
        log = read(tmp_path, {f"{name}.parquet": content}, columns=SENSORS)
        for quantity in ("v_dc", "i_dc", "p_dc", "p_ac", "v_ac"):
            ours, theirs = (each.data[quantity].to_numpy() for each in (log, plain))
            np.testing.assert_allclose(ours, theirs, rtol=1e-6)
        assert (log.data["time"].to_numpy() == plain.data["time"].to_numpy()).all()
        assert (log.data["left_out"].to_numpy() == plain.data["left_out"].to_numpy()).all()
    described_by = yieldkit.start_log(tmp_path / "zoned.parquet", site())
    assert "U1" in described_by.read_text(encoding="utf-8")


def test_what_is_wrong_with_a_logs_clock_is_not_told_of_a_site_files_weather(tmp_path):
    light = {"ghi": "G", "temp_air": "Ta"}
    text = written(readings(days=4), zone="UTC+03:00")
    log = read(tmp_path, {"day.csv": text}, columns=light)
    said = [each for each in log.remarks if "lock of the" in each]
    assert said
    assert all(each.startswith("Clock of the log's light: ") for each in said)
    assert not any("weather block" in each for each in log.remarks)
