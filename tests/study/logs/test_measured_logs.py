"""Two measured logs run whole: every step that doesn't count has a reason, and what is in them.

Both are five days, 2 to 6 January 2022, of 15 minutes, from data in the wheel of pvanalytics 0.2.2
(MIT): of a 6 kW plant in two poles on one rack (`serf_west_15min.csv`) and of one inverter of a
204.12 kW plant (`nrel_RSF_II.csv`). Their columns tell volts, amperes and watts; what is drawn here
is invented to fit them: no file says how many modules hang where. Clocks are declared as the files'
place has them, UTC-07:00, for nothing in them says a zone.
"""

import numpy as np
import pandas as pd
import pytest
import xarray as xr

from tests.archives import archive
from tests.study.logs.invented_logs import as_log
from tests.study.sites import demo_mapping
from yieldkit.base.measured_planes import POA, measured_name
from yieldkit.config.site.files import site_from_mapping
from yieldkit.study.logs.looked_at import looked_at
from yieldkit.study.logs.plant_log import (
    COPIED,
    COUNTED,
    DARK,
    NIGHT,
    REASONS,
    STANDING,
    PlantLog,
)

HOURS = 120.0


def read(name):
    """Return a file's columns, by what stands before their numbers."""
    frame = pd.read_csv(
        archive("pvanalytics==0.2.2") / "pvanalytics" / "data" / name,
        index_col=0,
        parse_dates=True,
    )
    frame.columns = [column.split("__")[0].removesuffix("_1137") for column in frame.columns]
    return frame


def drawn(tilt, azimuth, module, inputs, rated_w, *, zone="UTC-07:00", inverters=1):
    """Return a site of one plane: inputs by name, each with so many strings of so many modules."""
    content = {**demo_mapping()}
    content["site"] = content["site"] | {
        "latitude": 39.742,
        "longitude": -105.173,
        "altitude_m": 1800.0,
        "time_zone": zone,
    }
    plane = dict(content["planes"][0]) | {"name": "array", "tilt_deg": tilt}
    plane |= {"azimuth_deg": azimuth, "mounting": "open-rack", "modules": 1000}
    content["planes"] = (plane,)
    content["module_types"] = (
        content["module_types"][0] | module | {"relative_efficiency_200": None},
    )
    mppt = content["inverter"]["mppts"][0] | {
        "connectors": 30,
        "start_voltage_v": 60.0,
        "stop_voltage_v": 50.0,
        "mpp_voltage_min_v": 60.0,
        "max_power_w": None,
        "max_input_current_a": None,
        "short_circuit_rating_a": None,
    }
    ac = content["inverter"]["ac"] | {"nominal_power_w": rated_w, "max_power_w": rated_w}
    ac |= {"max_apparent_power_va": None, "max_current_a": None}
    more = {"ac": ac, "derating": (), "max_dc_power_w": None}
    kind = content["inverter"] | more | {"mppts": tuple(mppt | {"name": own} for own in inputs)}
    trackers = [
        {"mppt": own, "strings": [{"groups": [{"plane": "array", "modules": length}]}] * strings}
        for own, (length, strings) in inputs.items()
    ]
    if inverters == 1:
        content["inverter"] = kind
    else:
        del content["inverter"], content["inverter_place"]
        content["schema_version"] = 2
        content["inverter_types"] = (kind,)
        content["inverters"] = tuple(
            {"name": name, "type": kind["name"]} for name in ("first", "second")
        )
        for tracker, name in zip(trackers, ("first", "second"), strict=True):
            tracker["inverter"] = name
    content["wirings"] = ({"name": "own", "trackers": tuple(trackers)},)
    return site_from_mapping(content)


def weather_of(site, frame):
    """Return light on the rack and temperature of the air as they were written."""
    times = frame.index - pd.Timedelta(seconds=site.site.utc_offset_s)
    values = {
        measured_name(POA, "array"): ("time", frame["poa_irradiance"].clip(lower=0.0).to_numpy()),
        "temp_air": ("time", frame["ambient_temp"].to_numpy()),
    }
    return xr.Dataset(values, {"time": times})


SMALL = {"p_max_w": 208.0, "v_oc_v": 48.0, "i_sc_a": 5.6, "v_mp_v": 40.0, "i_mp_a": 5.2}
SMALL |= {"cells_in_series": 72}
LARGE = {"p_max_w": 340.0, "v_oc_v": 43.0, "i_sc_a": 10.4, "v_mp_v": 35.0, "i_mp_a": 9.714}
LARGE |= {"cells_in_series": 60}


def two_poles(inverters=1):
    """Return the small plant: about 200 V and 14 A in each pole in full sun."""
    site = drawn(45.0, 158.0, SMALL, {"pos": (5, 3), "neg": (5, 3)}, 6000.0, inverters=inverters)
    frame = read("serf_west_15min.csv")
    volts = frame[["dc_pos_voltage", "dc_neg_voltage"]].to_numpy()
    amperes = frame[["dc_pos_current", "dc_neg_current"]].to_numpy()
    held = {"v_dc": volts, "i_dc": amperes, "p_dc": volts * amperes}
    power = frame[["ac_power", "das_temperature"]].to_numpy()[:, :inverters]
    weather = weather_of(site, frame)
    times = weather.indexes["time"]
    return site, as_log(site, site.wirings[0], times, held, power, 15, weather)


def one_of_many(zone="UTC-07:00"):
    """Return one inverter of the large plant: about 420 V and 220 A in full sun."""
    site = drawn(10.0, 180.0, LARGE, {"in": (12, 25)}, 100_000.0, zone=zone)
    frame = read("nrel_RSF_II.csv")
    held = {
        "v_dc": frame[["inv2_dc_voltage"]].to_numpy(),
        "i_dc": frame[["inv2_dc_current"]].to_numpy(),
        "p_dc": frame[["inv2_dc_power"]].to_numpy(),
    }
    power = frame[["inv2_ac_power_w"]].to_numpy()
    weather = weather_of(site, frame)
    times = weather.indexes["time"]
    return site, as_log(site, site.wirings[0], times, held, power, 15, weather)


@pytest.fixture(scope="module")
def poles():
    site, log = two_poles()
    return log, looked_at(site, site.wirings[0], log)


@pytest.fixture(scope="module")
def many():
    site, log = one_of_many()
    return log, looked_at(site, site.wirings[0], log)


@pytest.mark.parametrize("name", ["poles", "many"])
def test_every_step_counts_or_has_a_reason(name, request):
    log, found = request.getfixturevalue(name)
    codes = found.data["left_out"].to_numpy()
    assert ((codes >= 0) & (codes < len(REASONS))).all()
    for at, own in enumerate(found.left_out_hours().values()):
        counted = np.count_nonzero(codes[:, at] == REASONS.index(COUNTED)) * 0.25
        assert sum(own.values()) + counted == pytest.approx(HOURS)
        assert counted > 20.0
        assert set(own) <= {NIGHT, DARK, STANDING}
    light = log.weather[measured_name(POA, "array")].to_numpy()
    assert (light[found.counted[:, 0]] >= 50.0).all()


def test_the_first_mornings_outages_of_the_small_plant_are_told(poles):
    log, found = poles
    text = " ".join(found.remarks)
    assert (
        "All of pos, neg gave nothing in good light for 1.0 h (standard time): 2022-01-02" in text
    )
    standing = found.data["left_out"].to_numpy()[:, 0] == REASONS.index(STANDING)
    # Both poles idle near open circuit, 14 to 17 W of a plant of 6 kW, while the rack gets light.
    assert (log.data["p_dc"].to_numpy()[standing].sum(axis=1) < 20.0).all()
    assert (log.weather[measured_name(POA, "array")].to_numpy()[standing] > 150.0).all()
    # What snow lets through on the last day is little, but it is something: it counts.
    last = np.asarray(found.data["time"] >= np.datetime64("2022-01-06T17:00"))
    assert found.counted[last].sum() > 20


def test_the_last_days_outage_of_the_large_plant_is_told(many):
    log, found = many
    text = " ".join(found.remarks)
    assert "All of in gave nothing in good light for 4.0 h (standard time)" in text
    assert "2022-01-06 14:15 to 2022-01-06 18:00" in text
    standing = found.data["left_out"].to_numpy()[:, 0] == REASONS.index(STANDING)
    assert (log.data["i_dc"].to_numpy()[standing] == 0.0).all()
    assert (log.data["v_dc"].to_numpy()[standing] > 390.0).all()


def test_the_copied_column_is_found():
    """The column `das_temperature` holds the AC power; it is read as a second inverter's here."""
    frame = read("serf_west_15min.csv")
    assert (frame["das_temperature"] == frame["ac_power"]).all()
    site, log = two_poles(inverters=2)
    found = looked_at(site, site.wirings[0], log)
    assert any(
        "AC power of inverter second is that of inverter first to the last digit" in text
        for text in found.remarks
    )
    # Each has half of the DC power that goes with it: nothing tells whose it is.
    bright = log.data["p_ac"].to_numpy() > 0.25 * log.data["p_ac"].to_numpy().max()
    assert np.isnan(found.data["p_ac"].to_numpy()[bright]).all()
    # Read as DC power of an input it is left out.
    site, log = two_poles()
    power = log.data["p_dc"].to_numpy().copy()
    power[:, 0] = frame["das_temperature"].to_numpy()
    other = PlantLog("copied", log.data.assign(p_dc=(("time", "tracker"), power)), log.weather)
    read_so = looked_at(site, site.wirings[0], other)
    assert COPIED in read_so.left_out_hours()["pos"]
    assert COPIED not in read_so.left_out_hours()["neg"]


def test_the_large_plants_stamps_are_two_hours_ahead_of_its_place(many):
    """Its light is highest at about 14:00, where noon by the sun is 12:05 in UTC-07:00."""
    log, found = many
    light = log.weather[measured_name(POA, "array")].to_numpy()
    first = light[:96]
    local = log.data.indexes["time"][:96] - pd.Timedelta(hours=7)
    centre = np.average((local.hour + local.minute / 60.0).to_numpy() + 0.125, weights=first)
    assert centre == pytest.approx(14.1, abs=0.3)
    (own,) = found.clock
    assert own.day == "2022-01-02"
    assert own.low < 120.0 < own.high
    assert any("probably summer time or another zone" in text for text in found.remarks)
    site, log = one_of_many("UTC-05:00")
    (own,) = looked_at(site, site.wirings[0], log).clock
    assert own.low < 0.0 < own.high


def test_the_small_plants_clock_is_told_with_a_doubt_about_its_plane(poles):
    _, found = poles
    assert [own.day for own in found.clock] == ["2022-01-02", "2022-01-04"]
    # A stamp at the moment itself, read as the start of 15 minutes, is half a step ahead; a rack
    # some degrees from where it is said to face looks like more.
    assert all(0.0 < own.minutes < 30.0 for own in found.clock)
    assert any("unless the planes lie otherwise than drawn" in text for text in found.remarks)
