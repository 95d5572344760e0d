"""A cause drawn into a year's log is named, with its hour or month; a right plant has none."""

import pytest

from tests.amounts import LONG
from tests.study.review.plants import plants
from tests.study.review.year_logs import Drawn, log_of
from yieldkit.study.review.result import (
    AZIMUTH,
    CLOCK,
    DIRT,
    LOSS,
    SENSOR,
    SHADOW,
    STRING,
    SUBSTRING,
    TILT,
)
from yieldkit.study.review.review import review

PLANTS = ("demo", "two inverters", "in the north", "in the south", "flat")
LAST_HALF = tuple(f"2025-{month:02d}" for month in range(7, 13))


def reviewed(plant, drawn=None, seed=1, **asked):
    site, wiring = plants()[plant]
    return review(site, wiring, log_of(site, wiring, drawn, seed, **asked))


def only(found, kind):
    (sign,) = found.signs
    assert sign.kind == kind
    return sign


def of_all(*often):
    """Return plants: those that every run takes, and with long tests all."""
    return pytest.mark.parametrize("plant", PLANTS if LONG else often)


@of_all("demo")
def test_a_shadow_at_sixteen(plant):
    found = reviewed(plant, Drawn(shadow=(0, 16, 17, 0.6)))
    sign = only(found, SHADOW)
    site, wiring = plants()[plant]
    assert sign.subject == site.input_name(wiring.trackers[0])
    assert sign.hours == (16,)
    assert "16:00 to 17:00" in sign.words
    assert 15.0 < sign.size.value < 60.0
    assert sign.size.low < sign.size.value < sign.size.high
    assert sign.lost_kwh > 5.0


@of_all("in the north")
def test_a_clock_twenty_minutes_late(plant):
    sign = only(reviewed(plant, Drawn(clock_min=20.0), fresh=True), CLOCK)
    assert 12.0 < sign.size.value < 26.0
    assert "later than" in sign.words


@of_all("flat")
def test_power_and_light_by_two_clocks(plant):
    sign = only(reviewed(plant, Drawn(power_late_min=20.0)), CLOCK)
    assert sign.size.value == pytest.approx(20.0, abs=1.5)
    assert "later than the light" in sign.words


@of_all("in the south")
@pytest.mark.parametrize("off", [8.0, -8.0] if LONG else [-8.0])
def test_a_tilt_eight_degrees_off(plant, off):
    sign = only(reviewed(plant, Drawn(tilt={0: off}), 2), TILT)
    site, _ = plants()[plant]
    assert sign.subject == site.planes[0].name
    assert sign.size.value == pytest.approx(off, abs=1.6)  # a right plant is off by up to 1
    assert sign.hours or sign.months
    assert ("steeper" if off > 0 else "flatter") in sign.words


@of_all("flat")
def test_a_plane_dirty_since_july(plant):
    sign = only(reviewed(plant, Drawn(dirt={0: 0.12}, since=0.5)), LOSS)
    site, _ = plants()[plant]
    assert sign.subject == site.planes[0].name
    assert sign.months == LAST_HALF
    assert sign.size.value == pytest.approx(12.0, abs=1.5)


@of_all("two inverters")
def test_a_dead_substring(plant):
    site, wiring = plants()[plant]
    last = len(wiring.trackers) - 1
    found = reviewed(plant, Drawn(dead=(last, 0), since=0.5))
    sign = only(found, SUBSTRING)
    assert sign.subject == site.input_name(wiring.trackers[last])
    assert sign.months == LAST_HALF
    assert "voltage lacks one substring of its string since 2025-07" in sign.words


@of_all("flat")
@pytest.mark.parametrize(
    ("drawn", "kind"),
    [
        (Drawn(azimuth={0: 15.0}), AZIMUTH),
        (Drawn(dirt={0: 0.18}), DIRT),
        (Drawn(sensor=1.18), SENSOR),
    ],
)
def test_further_causes_of_a_whole_year(plant, drawn, kind):
    only(reviewed(plant, drawn, 3), kind)


@pytest.mark.parametrize("plant", ["demo", "two inverters"] if LONG else ["demo"])
def test_a_string_that_gives_nothing(plant):
    sign = only(reviewed(plant, Drawn(open_string=(0, 1))), STRING)
    assert "gives nothing" in sign.words


@pytest.mark.parametrize("seed", range(100, 112) if LONG else [100])
@of_all("demo", "in the north")
def test_a_right_plant_gives_no_alarm(plant, seed):
    sensors = "level" if seed % 4 == 3 else "planes"
    found = reviewed(plant, Drawn(), seed, sensors=sensors, fresh=True)
    assert not found.signs
    assert "nothing that counts in the log looks wrong" in found.answer
