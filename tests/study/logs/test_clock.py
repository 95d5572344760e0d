"""The clock of a log is found by the day, with a span that holds, or said not to be told."""

import re
import sys
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import yieldkit
from tests.amounts import amount
from tests.study.logs.invented_logs import CLEAR, Weather, changed, invented_log
from tests.study.sites import demo_mapping
from yieldkit.config.site.files import site_from_mapping
from yieldkit.study.logs.looked_at import looked_at
from yieldkit.study.logs.plant_log import AMBIGUOUS, REASONS, PlantLog

DEMO = yieldkit.load_site()
WIRING = DEMO.wirings[0]
TWO = yieldkit.load_site("site_configs/two_inverters.yaml")
HELD_BY_NOTHING = 1e9
KINDS = {
    "clear": CLEAR,
    "hazier, and brighter towards evening": Weather(haze=1.3, drift=0.02),
    "heavy tails": Weather(tails=True, noise=0.008),
    "a light veil, darker towards evening": Weather(thin=0.02, drift=-0.02),
    "a thicker veil": Weather(thin=0.04, haze=0.8),
    "each plane's light drifting for itself": Weather(apart=0.012),
    "heavy tails below a veil, some clouds": Weather(thin=0.02, tails=True, clouds=0.2),
}
LABEL_STARTS = ("2026-03-10", "2026-05-02", "2026-06-18", "2026-09-10", "2026-11-20")


def one_plane(azimuth=205.0):
    """Return the demonstration with one plane and one input."""
    content = {**demo_mapping()}
    plane = dict(content["planes"][0]) | {"azimuth_deg": azimuth, "tilt_deg": 30.0}
    content["planes"] = (plane,)
    tracker = content["wirings"][0]["trackers"][0]
    content["wirings"] = ({"name": "one", "trackers": (tracker,)},)
    return site_from_mapping(content)


ONE = one_plane()


@pytest.fixture(scope="module")
def clear_day():
    return invented_log(DEMO, WIRING, ahead_min=12.0, held_w=HELD_BY_NOTHING)


def only(log, quantity):
    """Return a log that has one quantity of its inputs."""
    others = [name for name in ("v_dc", "i_dc", "p_dc") if name != quantity]
    return PlantLog(log.name, log.data.drop_vars(others), log.weather)


@pytest.mark.parametrize("quantity", ["i_dc", "p_dc"])
def test_clocks_up_to_half_an_hour_off_are_found_with_a_span_that_holds(quantity):
    rng = np.random.default_rng(7)
    days = amount(4, 14)
    errors, inside, half, cloudy, kinds = [], [], [], 0, []
    for at, (name, weather) in enumerate(KINDS.items()):
        for place, (site, wiring) in enumerate(
            ((DEMO, WIRING), (TWO, TWO.wirings[0]), (ONE, ONE.wirings[0]))
        ):
            ahead = rng.uniform(-30.0, 30.0, days)
            log = invented_log(
                site,
                wiring,
                start=LABEL_STARTS[(at + 2 * place) % 5],
                days=days,
                ahead_min=ahead,
                weather=weather,
                seed=100 * at + place,
                held_w=HELD_BY_NOTHING,
            )
            found = looked_at(site, wiring, only(log, quantity)).clock
            first = pd.Timestamp(LABEL_STARTS[(at + 2 * place) % 5])
            cloudy += days - len(found)
            for own in found:
                true = ahead[(pd.Timestamp(own.day) - first).days]
                errors.append(own.minutes - true)
                inside.append(own.low <= true <= own.high)
                half.append(0.5 * (own.high - own.low))
        kinds.append(np.mean(inside[-3 * days :]))
        sys.stdout.write(f"{name}: {len(errors)} days so far, {kinds[-1]:.3f} inside\n")
    error = np.array(errors)
    sys.stdout.write(
        f"{quantity}: {error.size} days, {cloudy} not told; error {error.mean():+.2f} +- "
        f"{error.std():.2f} min, at most {np.abs(error).max():.1f}; {np.mean(inside):.3f} inside "
        f"+-{np.mean(half):.1f} min\n"
    )
    assert error.size > 0.85 * 21 * days
    assert abs(error.mean()) < 0.5
    assert np.quantile(np.abs(error), 0.9) < 4.0
    assert np.abs(error).max() < 12.0
    # Nine of ten, and not all of them by being wide.
    assert np.mean(inside) > 0.88
    assert min(kinds) >= 0.75
    assert np.mean(half) < 6.0


def test_a_clear_day_is_right_to_a_minute_where_planes_face_several_ways(clear_day):
    found = looked_at(DEMO, WIRING, clear_day)
    (own,) = found.clock
    assert own.day == "2026-05-02"
    assert own.minutes == pytest.approx(12.0, abs=1.0)
    # Its planes may each drift by a percent through the day: that is some minutes.
    assert 2.0 < 0.5 * (own.high - own.low) < 4.0
    assert any("ahead of the sun by 12 min (by 1 clear day" in text for text in found.remarks)


def test_a_clock_that_is_right_is_not_told_of():
    found = looked_at(DEMO, WIRING, invented_log(DEMO, WIRING, held_w=HELD_BY_NOTHING))
    assert found.clock[0].low < 0.0 < found.clock[0].high
    assert found.remarks == ()


@pytest.mark.parametrize(
    ("minutes", "ahead", "words"),
    [
        (30, 30.0, "That is one step: rows may be labelled by the other end of their steps."),
        (30, -15.0, "That is half a step: rows may be labelled by the middle of their steps."),
        (10, 60.0, "More than 30 min are probably summer time or another zone."),
        (10, -85.0, "it is behind the sun by 85 min"),
    ],
)
def test_what_an_offset_probably_is_stands_beside_it(minutes, ahead, words):
    log = invented_log(DEMO, WIRING, minutes=minutes, ahead_min=ahead, held_w=HELD_BY_NOTHING)
    found = looked_at(DEMO, WIRING, log)
    assert found.clock[0].minutes == pytest.approx(ahead, abs=2.5)
    assert any(words in text for text in found.remarks)


def test_a_day_with_gaps_and_an_hour_twice_is_right_all_the_same(clear_day):
    rng = np.random.default_rng(3)
    data = clear_day.data
    kept = np.sort(rng.permutation(data.sizes["time"])[: 3 * data.sizes["time"] // 4])
    left_out = data["left_out"].to_numpy().copy()
    left_out[66:72] = REASONS.index(AMBIGUOUS)
    gaps = PlantLog("gaps", changed(clear_day, left_out=left_out).data.isel(time=kept))
    again = np.sort(np.r_[kept, np.arange(66, 72)])
    for log in (gaps, PlantLog("twice", data.isel(time=again))):
        (own,) = looked_at(DEMO, WIRING, log).clock
        assert own.minutes == pytest.approx(12.0, abs=1.5)
        assert own.low < 12.0 < own.high


def test_clouds_tell_nothing_and_that_is_said():
    log = invented_log(DEMO, WIRING, weather=Weather(clouds=0.6), ahead_min=60.0)
    found = looked_at(DEMO, WIRING, log)
    assert found.clock == ()
    assert any(
        "no day was clear for hours; an hour's error would not show" in text
        for text in found.remarks
    )


def test_an_overcast_day_is_no_clear_one():
    grey = invented_log(ONE, ONE.wirings[0], days=2, held_w=HELD_BY_NOTHING)
    current = grey.data["i_dc"].to_numpy().copy()
    current[144:] = np.round(0.2 * current[144:], 2)
    found = looked_at(ONE, ONE.wirings[0], only(changed(grey, i_dc=current), "i_dc"))
    assert [own.day for own in found.clock] == ["2026-05-02"]


def test_a_plateau_does_not_move_the_clock():
    log = invented_log(DEMO, WIRING, ahead_min=-17.0, held_w=8000.0)
    assert looked_at(DEMO, WIRING, log).clock[0].minutes == pytest.approx(-17.0, abs=1.5)


def test_a_clock_that_jumps_an_hour_is_told_with_its_day():
    ahead = np.r_[np.full(6, 3.0), np.full(7, 63.0)]
    log = invented_log(DEMO, WIRING, days=13, ahead_min=ahead, held_w=HELD_BY_NOTHING)
    found = looked_at(DEMO, WIRING, log)
    text = " ".join(found.remarks)
    assert "jumps by +60 min between 2026-05-07 and 2026-05-08. That is what summer time" in text
    assert "by 63 min from 2026-05-08 to 2026-05-14" in text


def test_a_clock_that_drifts_is_told_with_its_pace():
    ahead = np.linspace(0.0, 20.0, 21)
    log = invented_log(DEMO, WIRING, days=21, ahead_min=ahead, held_w=HELD_BY_NOTHING)
    text = " ".join(looked_at(DEMO, WIRING, log).remarks)
    pace, first, last = re.search(
        r"The log's clock drifts: by ([+\d.]+) min in 30 days, from \+(\d+) to \+(\d+) min", text
    ).groups()
    assert float(pace) == pytest.approx(30.0, abs=1.0)
    assert (int(first), int(last)) == (2, 18)


def test_sensors_tell_whether_they_share_the_clock():
    late = invented_log(DEMO, WIRING, ahead_min=20.0, sensors=True, held_w=HELD_BY_NOTHING)
    shared = " ".join(looked_at(DEMO, WIRING, late).remarks)
    assert "The sensors of light share the log's clock: the whole log is off." in shared
    other = invented_log(
        DEMO, WIRING, ahead_min=20.0, sensors=True, sensors_ahead_min=0.0, held_w=HELD_BY_NOTHING
    )
    apart = " ".join(looked_at(DEMO, WIRING, other).remarks)
    assert "The inverters' clock is 20 min ahead of that of the sensors of light" in apart


def test_sensors_that_face_the_mornings_alone_accuse_no_clock():
    log = invented_log(
        DEMO, WIRING, ahead_min=20.0, sensors=True, sensors_ahead_min=0.0, held_w=HELD_BY_NOTHING
    )
    others = [name for name in log.weather if "east" not in str(name) and name != "temp_air"]
    morning = replace(log, weather=log.weather.drop_vars(others))
    assert [str(name) for name in morning.weather if "poa_global" in str(name)] == [
        "poa_global of east roof"
    ]
    assert "sensors of light" in " ".join(looked_at(DEMO, WIRING, log).remarks)
    assert "sensors of light" not in " ".join(looked_at(DEMO, WIRING, morning).remarks)


def test_half_a_day_of_one_plane_tells_nothing():
    log = invented_log(ONE, ONE.wirings[0], held_w=HELD_BY_NOTHING)
    late = PlantLog("since noon", log.data.isel(time=slice(80, None)))
    assert looked_at(ONE, ONE.wirings[0], only(late, "i_dc")).clock == ()


@pytest.mark.parametrize(("azimuth", "way"), [(195.0, "behind"), (215.0, "ahead of")])
def test_a_plane_that_lies_otherwise_does_not_blame_the_sensors(azimuth, way):
    steep = ONE.variant({"planes.0.azimuth_deg": azimuth})
    log = invented_log(steep, steep.wirings[0], sensors=True, held_w=HELD_BY_NOTHING)
    weather = looked_at(ONE, ONE.wirings[0], log)
    text = " ".join(weather.remarks)
    assert f"{way} the sun by" in text
    assert "unless the planes lie otherwise than drawn" in text
    assert "whole log is off" not in text


def test_days_of_broken_clouds_beside_clear_ones_tell_nothing():
    clear = invented_log(DEMO, WIRING, days=4, ahead_min=15.0, held_w=HELD_BY_NOTHING)
    current = clear.data["i_dc"].to_numpy().copy()
    rng = np.random.default_rng(5)
    current[144:] *= rng.uniform(0.2, 1.4, (144 * 3, 1))
    found = looked_at(DEMO, WIRING, only(changed(clear, i_dc=current), "i_dc"))
    assert [own.day for own in found.clock] == ["2026-05-02"]


def test_sensors_alone_tell_where_inputs_give_nothing():
    log = invented_log(DEMO, WIRING, ahead_min=20.0, sensors=True)
    nothing = np.zeros(log.data["i_dc"].shape)
    found = looked_at(DEMO, WIRING, changed(log, i_dc=nothing, p_dc=nothing, v_dc=nothing))
    assert found.clock[0].minutes == pytest.approx(20.0, abs=2.0)
    assert "The clock was seen by the sensors of light alone." in found.remarks


@settings(max_examples=amount(4, 25), deadline=None)
@given(factor=st.floats(0.75, 1.3))
def test_a_gain_common_to_all_currents_does_not_move_the_clock(clear_day, factor):
    own = only(clear_day, "i_dc")
    before = looked_at(DEMO, WIRING, own).clock[0]
    scaled = changed(own, i_dc=own.data["i_dc"].to_numpy() * factor)
    after = looked_at(DEMO, WIRING, scaled).clock[0]
    assert after.minutes == pytest.approx(before.minutes, abs=0.2)


@settings(max_examples=amount(4, 25), deadline=None)
@given(steps=st.integers(-7, 7))
def test_a_log_moved_by_steps_moves_its_clock_by_their_minutes(clear_day, steps):
    before = looked_at(DEMO, WIRING, clear_day).clock[0]
    times = clear_day.data.indexes["time"] + pd.Timedelta(minutes=10 * steps)
    moved = PlantLog("moved", clear_day.data.assign_coords(time=times))
    found = {own.day: own for own in looked_at(DEMO, WIRING, moved).clock}
    assert found[before.day].minutes - before.minutes == pytest.approx(10.0 * steps, abs=1.0)
