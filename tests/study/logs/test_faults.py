"""Each fault planted in an invented day is found, with its hours and its words."""

from functools import cache

import numpy as np
import pandas as pd
import pytest
import xarray as xr
from hypothesis import given, settings
from hypothesis import strategies as st

import yieldkit
from tests.amounts import amount
from tests.study.logs.invented_logs import Weather, changed, invented_log
from tests.study.sites import string, variant, wiring
from yieldkit.base.errors import InputError
from yieldkit.study.logs.held_back import Limits, plateau
from yieldkit.study.logs.looked_at import looked_at
from yieldkit.study.logs.plant_log import (
    CLIPPED,
    COPIED,
    COUNTED,
    DARK,
    FROZEN,
    IMPOSSIBLE,
    LIMITED,
    MISSING,
    NIGHT,
    REASONS,
    STANDING,
    PlantLog,
)

DEMO = yieldkit.load_site()
WIRING = DEMO.wirings[0]
TWO = yieldkit.load_site("site_configs/two_inverters.yaml")
AT_TEN, AT_NOON = 60, 72


@cache
def day(**more):
    """Return a clear day of the demonstration, ten minutes a step, from local midnight."""
    return invented_log(DEMO, WIRING, **more)


def column(log, name):
    return log.data[name].to_numpy().copy()


def hours(log, site=DEMO, own=WIRING):
    found = looked_at(site, own, log)
    return found, found.left_out_hours()


def test_night_and_dusk_are_left_out_by_the_sun_and_by_little_light():
    found, left_out = hours(day())
    assert set(left_out["MPPT 1"]) == {NIGHT, DARK}
    times = found.data.indexes["time"] + pd.Timedelta(hours=1)
    codes = found.data["left_out"].to_numpy()[:, 0]
    night = times[codes == REASONS.index(NIGHT)]
    # At 45 N 8 E the sun rises on 2 May at 5:12 and sets at 19:38 standard time (pvlib).
    lit = times[codes != REASONS.index(NIGHT)]
    assert (lit[0].strftime("%H:%M"), lit[-1].strftime("%H:%M")) == ("05:10", "19:30")
    assert len(night) + len(lit) == 144
    dark = codes == REASONS.index(DARK)
    assert np.flatnonzero(dark).min() < 45
    assert np.flatnonzero(dark).max() > 105


def test_a_dark_hour_is_known_by_its_sensor():
    clear = invented_log(DEMO, WIRING, sensors=True)
    weather = clear.weather.copy(deep=True)
    for name in list(weather.data_vars)[::2]:
        weather[name][AT_NOON : AT_NOON + 6] = 20.0
    found = looked_at(DEMO, WIRING, PlantLog("dark", clear.data, weather))
    codes = found.data["left_out"].to_numpy()
    assert (codes[AT_NOON : AT_NOON + 6] == REASONS.index(DARK)).all()
    assert (codes[AT_NOON - 6 : AT_NOON] == 0).all()


def test_a_level_sensor_dims_all_planes():
    clear = day()
    times = clear.data["time"].to_numpy()
    ghi = np.where(np.arange(144) < AT_NOON, 30.0, 800.0)
    weather = xr.Dataset({"ghi": ("time", ghi)}, {"time": times})
    codes = looked_at(DEMO, WIRING, PlantLog("level", clear.data, weather)).data["left_out"]
    assert (codes.to_numpy()[AT_TEN:AT_NOON] == REASONS.index(DARK)).all()
    assert (codes.to_numpy()[AT_NOON : AT_NOON + 6] == 0).all()


def test_an_hour_of_one_value_is_frozen():
    current = column(day(), "i_dc")
    current[AT_TEN : AT_TEN + 6, 0] = current[AT_TEN, 0]
    found, left_out = hours(changed(day(), i_dc=current))
    assert left_out["MPPT 1"][FROZEN] == pytest.approx(1.0)
    assert FROZEN not in left_out["MPPT 2"]
    assert (
        "1.0 h of MPPT 1 repeat one value to the last digit while the light changes."
        in found.remarks
    )


def test_a_voltage_alone_may_be_frozen():
    volts = column(day(), "v_dc")
    volts[AT_TEN : AT_TEN + 12, 1] = volts[AT_TEN, 1]
    assert hours(changed(day(), v_dc=volts))[1]["MPPT 2"][FROZEN] == pytest.approx(2.0)


@pytest.mark.parametrize("digits", [(0, 1, 0), (0, 0, -2), (1, 1, -1)])
def test_whole_volts_tenths_of_amperes_and_whole_watts_are_not_frozen(digits):
    for weather in (Weather(), Weather(noise=0.0)):
        log = invented_log(DEMO, WIRING, minutes=5, digits=digits, weather=weather, held_w=1e9)
        for left_out in hours(log)[1].values():
            assert FROZEN not in left_out
            assert LIMITED not in left_out


def test_a_plateau_to_the_last_digit_is_held_not_frozen():
    log = day(held_w=1e9)
    volts, current = column(log, "v_dc"), column(log, "i_dc")
    current[:, 0] = np.minimum(current[:, 0], 16.0)
    found, left_out = hours(changed(log, i_dc=current, p_dc=np.round(volts * current)))
    assert left_out["MPPT 1"][LIMITED] > 4.0
    assert FROZEN not in left_out["MPPT 1"]
    assert LIMITED not in left_out["MPPT 2"]
    assert any(
        "h of MPPT 1 look held back by another limit: flat" in text for text in found.remarks
    )


@pytest.mark.parametrize("name", ["i_dc", "v_dc", "p_dc"])
def test_a_copy_is_found_and_which_of_the_two_it_is_where_light_tells(name):
    values = column(day(), name)
    values[:, 1] = values[:, 0]
    found, left_out = hours(changed(day(), **{name: values}))
    assert COPIED in left_out["MPPT 2"]
    assert COPIED not in left_out["MPPT 3"]
    text = " ".join(found.remarks)
    if name == "v_dc":
        assert COPIED in left_out["MPPT 1"]
        assert "MPPT 1 and MPPT 2 left out, for nothing tells which of them is the copy" in text
    else:
        assert COPIED not in left_out["MPPT 1"]
        assert "of MPPT 2 is that of MPPT 1 to the last digit, which two measurements" in text
        assert "MPPT 2 left out (on 1 day)." in text


def test_a_scaled_copy_is_found():
    current = column(day(), "i_dc")
    current[:, 2] = np.round(0.5 * current[:, 1], 2)
    found, left_out = hours(changed(day(), i_dc=current))
    assert COPIED in left_out["MPPT 3"]
    assert COPIED not in left_out["MPPT 2"]
    assert any("is that of MPPT 2 times 0.5 to the last digit" in text for text in found.remarks)


EQUAL = variant(
    wirings=[
        wiring(
            "equal strings",
            MPPT_1=[string(("west roof", 13))],
            MPPT_2=[string(("west roof", 13))],
            MPPT_3=[string(("dormer", 7))],
        )
    ]
)


@cache
def equal_strings(days=1, digits=(1, 2, 0), same=False):
    """Return a log of two inputs with strings as long on one plane, each with its own noise."""
    return invented_log(
        EQUAL,
        EQUAL.wirings[0],
        days=days,
        digits=digits,
        weather=Weather(noise=0.0 if same else 0.002),
        held_w=1e9,
    )


@pytest.mark.parametrize("digits", [(1, 2, 0), (0, 1, 0), (0, 0, -1)])
def test_two_strings_that_are_equal_are_no_copies(digits):
    for days in (1, 6):
        left_out = hours(equal_strings(days, digits), EQUAL, EQUAL.wirings[0])[1]
        for own in left_out.values():
            assert set(own) <= {NIGHT, DARK}


def test_equal_to_the_last_of_few_digits_is_not_enough():
    # Tens of volts and whole amperes of two equal strings without any noise: nobody can tell.
    coarse = hours(equal_strings(1, (-1, 0, -2), same=True), EQUAL, EQUAL.wirings[0])[1]
    assert all(COPIED not in own for own in coarse.values())
    fine = hours(equal_strings(1, (1, 2, 0), same=True), EQUAL, EQUAL.wirings[0])[1]
    assert COPIED in fine["MPPT 1"]
    assert COPIED in fine["MPPT 2"]
    assert COPIED not in fine["MPPT 3"]


def test_what_chance_makes_equal_as_often_as_not_tells_nothing():
    pair = [string(("west roof", 6)), string(("west roof", 6))]
    site = variant(wirings=[wiring("equal pairs", MPPT_1=pair, MPPT_2=pair)])
    log = invented_log(
        site, site.wirings[0], days=6, digits=(-1, 1, -2), weather=Weather(noise=0.0), held_w=1e9
    )
    assert all(COPIED not in own for own in hours(log, site, site.wirings[0])[1].values())


def test_power_that_was_reckoned_is_no_measurement_of_its_own():
    log = equal_strings(1, (-1, 0, -2), same=True)
    power = column(log, "v_dc") * column(log, "i_dc")
    left_out = hours(changed(log, p_dc=power), EQUAL, EQUAL.wirings[0])[1]
    assert all(set(own) <= {NIGHT, DARK} for own in left_out.values())


def test_a_broad_top_is_no_plateau_where_the_light_is_as_broad():
    turn = np.linspace(-1.2, 1.2, 97)
    light = 900.0 * np.cos(turn) ** 0.25
    limits = Limits((), 10_000.0, 80.0)
    day_of = np.zeros(97, dtype=int)
    flat = plateau(10.0 * light, light, day_of, limits, 600.0)
    assert not flat.steps.any()
    held = plateau(np.minimum(10.0 * light, 8500.0), 900.0 * np.cos(turn), day_of, limits, 600.0)
    assert held.steps.sum() > 40
    assert held.level[48] == 8500.0


def test_strings_on_one_plane_may_stay_in_one_ratio():
    log = equal_strings(6)
    columns = {name: column(log, name) for name in ("v_dc", "i_dc", "p_dc")}
    for values, ratio in zip(columns.values(), (1.004, 0.9955, 0.9993), strict=True):
        values[:, 1] = ratio * values[:, 0]
    left_out = hours(changed(log, **columns), EQUAL, EQUAL.wirings[0])[1]
    assert all(set(own) <= {NIGHT, DARK} for own in left_out.values())


def test_a_copy_on_some_days_is_left_out_on_those():
    log = equal_strings(6)
    current = column(log, "i_dc")
    current[144 * 3 :, 1] = current[144 * 3 :, 0]
    found = looked_at(EQUAL, EQUAL.wirings[0], changed(log, i_dc=current))
    copied = found.data["left_out"].to_numpy()[:, 1] == REASONS.index(COPIED)
    assert not copied[: 144 * 3].any()
    assert copied[144 * 3 :].any()
    assert any("(on 3 days)" in text for text in found.remarks)


def test_dc_power_that_is_the_ac_power_is_a_copy():
    power = column(day(), "p_dc")
    power[:, 0] = column(day(), "p_ac")[:, 0]
    found, left_out = hours(changed(day(), p_dc=power))
    assert COPIED in left_out["MPPT 1"]
    assert any(
        "DC power of MPPT 1 is the AC power of inverter Three-tracker inverter 15 kW (invented) to"
        in text
        for text in found.remarks
    )


def test_ac_power_of_another_inverter_is_taken_out():
    log = invented_log(TWO, TWO.wirings[0])
    power = column(log, "p_ac")
    power[:, 1] = power[:, 0]
    found = looked_at(TWO, TWO.wirings[0], changed(log, p_ac=power))
    kept = found.data["p_ac"].to_numpy()
    assert np.isnan(kept[:, 1]).all()
    np.testing.assert_array_equal(kept[:, 0], power[:, 0])
    assert any(
        "AC power of inverter annex is that of inverter hall to the last digit" in text
        for text in found.remarks
    )


def test_hours_at_the_ac_limit_are_left_out_on_all_inputs_of_that_inverter():
    found, left_out = hours(invented_log(TWO, TWO.wirings[0]), TWO, TWO.wirings[0])
    assert left_out["annex / MPPT 1"][CLIPPED] == left_out["annex / MPPT 2"][CLIPPED] > 0.5
    assert CLIPPED not in left_out["hall / MPPT 1"]
    assert any(
        "h of annex / MPPT 1 were held at the inverter's AC limit." in text
        for text in found.remarks
    )


def test_clipping_is_seen_in_dc_power_alone():
    log = invented_log(TWO, TWO.wirings[0])
    found = looked_at(TWO, TWO.wirings[0], PlantLog("dc", log.data.drop_vars("p_ac")))
    assert found.left_out_hours()["annex / MPPT 1"][CLIPPED] > 0.5


def test_an_export_limit_holds_and_is_no_clipping():
    log = day(held_w=9000.0)
    left_out = hours(log)[1]
    true = (log.data["p_ac"].to_numpy()[:, 0] > 8990.0).sum() / 6.0
    for own in left_out.values():
        assert CLIPPED not in own
        assert own[LIMITED] == pytest.approx(true, abs=0.5)


def test_derating_that_makes_no_plateau_is_seen_by_voltages_moved_up():
    log = day(held_w=1e9)
    volts, current = column(log, "v_dc"), column(log, "i_dc")
    share = np.linspace(0.75, 0.5, 12)[:, None]
    volts[AT_NOON : AT_NOON + 12] *= 1.0 + 0.2 * np.sqrt(1.0 - share)
    current[AT_NOON : AT_NOON + 12] *= share / (1.0 + 0.2 * np.sqrt(1.0 - share))
    power = np.round(volts * current)
    data = changed(log, v_dc=volts, i_dc=current, p_dc=power).data.drop_vars("p_ac")
    codes = looked_at(DEMO, WIRING, PlantLog("derated", data)).data["left_out"].to_numpy()
    held = codes == REASONS.index(LIMITED)
    assert held[AT_NOON : AT_NOON + 12].all()
    assert not held[:AT_NOON].any()


@pytest.mark.parametrize("begin", [AT_NOON, 98])
def test_a_shadow_on_one_input_moves_its_voltage_too_and_counts(begin):
    # At noon the others are lit as well, from 16:20 on the west roof alone is.
    log = day(held_w=1e9)
    volts, current = column(log, "v_dc"), column(log, "i_dc")
    volts[begin : begin + 9, 0] *= 1.1
    current[begin : begin + 9, 0] *= 0.5
    shaded = changed(log, v_dc=volts, i_dc=current, p_dc=np.round(volts * current))
    alone = looked_at(DEMO, WIRING, PlantLog("shaded", shaded.data.drop_vars("p_ac")))
    assert alone.counted[begin : begin + 9, 0].all()


def test_a_voltage_at_the_end_of_its_window_is_held():
    volts = column(day(), "v_dc")
    volts[AT_TEN : AT_TEN + 6, 2] = [160.1, 160.0, 159.9, 160.2, 160.0, 159.8]
    assert hours(changed(day(), v_dc=volts))[1]["MPPT 3"][LIMITED] == pytest.approx(1.0)


def test_an_outage_is_told_with_its_hours():
    current, power = column(day(), "i_dc"), column(day(), "p_dc")
    current[AT_TEN:AT_NOON], power[AT_TEN:AT_NOON] = 0.0, 0.0
    found, left_out = hours(changed(day(), i_dc=current, p_dc=power))
    for own in left_out.values():
        assert own[STANDING] == pytest.approx(2.0)
    assert (
        "All of MPPT 1, MPPT 2, MPPT 3 gave nothing in good light for 2.0 h (standard time): "
        "2026-05-02 10:00 to 2026-05-02 12:00." in found.remarks
    )


def test_many_outages_are_told_by_the_longest():
    current, power = column(day(), "i_dc"), column(day(), "p_dc")
    for begin in range(42, 100, 8):
        current[begin : begin + 4], power[begin : begin + 4] = 0.0, 0.0
    text = " ".join(hours(changed(day(), i_dc=current, p_dc=power))[0].remarks)
    assert ", the longest of 8 times (standard time)" in text
    assert text.count(" to 2026-05-02") == 5


def test_an_outage_of_one_inverter_leaves_the_other():
    log = invented_log(TWO, TWO.wirings[0])
    current, power = column(log, "i_dc"), column(log, "p_dc")
    current[AT_TEN:AT_NOON, :2], power[AT_TEN:AT_NOON, :2] = 0.0, 0.0
    left_out = hours(changed(log, i_dc=current, p_dc=power), TWO, TWO.wirings[0])[1]
    assert left_out["hall / MPPT 1"][STANDING] == pytest.approx(2.0)
    assert STANDING not in left_out["annex / MPPT 1"]


def test_an_input_that_gives_nothing_while_others_do_counts():
    current, power = column(day(), "i_dc"), column(day(), "p_dc")
    current[:, 2], power[:, 2] = 0.0, 0.0
    found, left_out = hours(changed(day(), i_dc=current, p_dc=power))
    assert set(left_out["MPPT 3"]) == {NIGHT, DARK}
    assert any(
        "MPPT 3 gives nothing while its inverter runs: an open string, or one that stays" in text
        for text in found.remarks
    )


@pytest.mark.parametrize(
    ("name", "value", "is_left_out"),
    [
        ("i_dc", 600.0, True),
        ("i_dc", -9.0, True),
        # Another string in parallel by a slip, in the light behind the edge of a cloud.
        ("i_dc", 40.0, False),
        ("v_dc", 6553.5, True),
        # The longest string of the roof, open on a cold morning.
        ("v_dc", 640.0, False),
        ("p_dc", 250_000.0, True),
        ("p_dc", -1.0, False),
    ],
)
def test_what_no_wiring_gives_at_any_light_is_impossible(name, value, is_left_out):
    values = column(day(), name)
    values[AT_TEN, 1] = value
    found, left_out = hours(changed(day(), **{name: values}))
    assert (IMPOSSIBLE in left_out["MPPT 2"]) is is_left_out
    said = any("h of MPPT 2 hold values beyond what the wiring can" in t for t in found.remarks)
    assert said is is_left_out


def test_steps_without_any_value_are_missing():
    columns = {name: column(day(), name) for name in ("v_dc", "i_dc", "p_dc")}
    for values in columns.values():
        values[AT_TEN : AT_TEN + 3, 0] = np.nan
    found, left_out = hours(changed(day(), **columns))
    assert left_out["MPPT 1"][MISSING] == pytest.approx(0.5)
    assert found.counted[AT_TEN : AT_TEN + 3, 1].all()


def test_what_the_log_left_out_already_keeps_its_reason():
    codes = np.zeros((144, 3), dtype=np.int8)
    codes[:10] = REASONS.index(FROZEN)
    found = looked_at(DEMO, WIRING, changed(day(), left_out=codes))
    assert (found.data["left_out"].to_numpy()[:10] == REASONS.index(FROZEN)).all()


def test_looking_twice_changes_nothing():
    current = column(day(), "i_dc")
    current[AT_TEN : AT_TEN + 6, 0] = current[AT_TEN, 0]
    current[:, 1] = current[:, 2]
    once = looked_at(DEMO, WIRING, changed(day(ahead_min=20.0), i_dc=current))
    again = looked_at(DEMO, WIRING, once)
    np.testing.assert_array_equal(again.data["left_out"], once.data["left_out"])
    assert again.remarks == once.remarks


def test_an_input_the_wiring_does_not_have_is_refused():
    data = day().data.assign_coords(tracker=["MPPT 1", "MPPT 2", "MPPT 9"])
    said = (
        r"log, input MPPT 9: got 'MPPT 9'; expected an input of 'one plane per tracker': 'MPPT 1'"
    )
    with pytest.raises(InputError, match=said):
        looked_at(DEMO, WIRING, PlantLog("other", data))


@settings(max_examples=amount(12, 60), deadline=None)
@given(
    seed=st.integers(0, 1000),
    begin=st.integers(30, 110),
    length=st.integers(1, 20),
    value=st.sampled_from([0.0, 5.0, 900.0, -50.0, np.nan]),
    name=st.sampled_from(["v_dc", "i_dc", "p_dc"]),
    input_at=st.integers(0, 2),
)
def test_reasons_and_what_counts_add_up_and_nothing_comes_back(
    seed, begin, length, value, name, input_at
):
    rng = np.random.default_rng(seed)
    values = column(day(), name)
    values[begin : begin + length, input_at] = value
    before = np.where(rng.random((144, 3)) < 0.1, rng.integers(1, len(REASONS), (144, 3)), 0)
    log = changed(day(), left_out=before.astype(np.int8), **{name: values})
    found = looked_at(DEMO, WIRING, log)
    assert not (found.counted & ~log.counted).any()
    codes = found.data["left_out"].to_numpy()
    np.testing.assert_array_equal(codes[before > 0], before[before > 0])
    for at, own in enumerate(found.left_out_hours().values()):
        counted = (codes[:, at] == REASONS.index(COUNTED)).sum() / 6.0
        assert sum(own.values()) + counted == pytest.approx(24.0)
