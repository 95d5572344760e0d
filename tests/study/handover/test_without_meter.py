"""What is read without a meter: how planes lie, a second light sensor, the clock."""

import math
from dataclasses import replace

import numpy as np
import pytest

from tests.study.handover_sheets import AMPS, RIGHT, VOLTS, A, B, C, filled, read
from tests.study.sites import demo
from yieldkit.base.errors import InputError
from yieldkit.report.tables.terminal_verify import verdict_json, verdict_text
from yieldkit.study.handover.judge import held_against_slips
from yieldkit.study.handover.names import planes_in_use
from yieldkit.study.handover.next_checks import WORTH_CHECKING, candidates, next_checks
from yieldkit.study.handover.next_reading import entropy
from yieldkit.study.handover.reading import Reading, Readings
from yieldkit.study.handover.slips import AS_DRAWN, all_slips, drawn_wiring
from yieldkit.study.handover.string_model import COMMON
from yieldkit.study.handover.verdict import meter_model, verdict
from yieldkit.study.handover.without_meter import (
    ERRORS,
    Check,
    ChecksModel,
    checks_beside,
    checks_of,
    planes_told,
    with_checks,
    with_planes,
)

pytestmark = pytest.mark.slow

TILT, AZIMUTH = "tilt", "azimuth from north through east"
SECOND, AHEAD = "irradiance by a second sensor", "ahead of the right time"
WEST, EAST, DORMER = "plane west roof", "plane east roof", "plane dormer"
CLOCK = "the sheet's clock"
HIGH = 1.1
SENSOR_HIGH = "the irradiance sensor reads +10 %"
DIRT = tuple(f"all planes: dirt or a film takes {lost} % of the light" for lost in (6, 12))


def sheet(folder, more, sensor=1.0):
    """Return the demonstration's right readings, the sensor off, and what is read beside them."""
    cells = {}
    for name, (volts, amps, light, heat) in RIGHT.items():
        beside = {"irradiance": f"{light * sensor:.1f}", "module temperature": str(heat)}
        cells[name, VOLTS] = {"reading": str(volts), **beside}
        cells[name, AMPS] = {"reading": str(amps), **beside}
    return read(cells | more, folder)


def believed(readings):
    """Return the probability of each slip by its words."""
    model = with_checks(meter_model(demo(), readings), demo(), readings)
    found = held_against_slips(model)
    return dict(zip([own.words for own in found.slips], found.probability, strict=True))


def second(read_by_it, first):
    return {(DORMER, SECOND): {"reading": f"{read_by_it:g}", "irradiance": f"{first:g}"}}


def test_a_second_sensor_parts_the_first_from_dirt(tmp_path):
    first = 839 * HIGH
    alone = believed(sheet(tmp_path, {}, HIGH))
    right = believed(sheet(tmp_path, second(839, first), HIGH))
    same = believed(sheet(tmp_path, second(first, first), HIGH))
    odds = [own[SENSOR_HIGH] / sum(own[words] for words in DIRT) for own in (alone, right, same)]
    assert odds[1] > 10.0 * odds[0]
    assert odds[2] < 0.1 * odds[0]
    told = [
        {words for _, members in verdict(demo(), own).explanations for words in members}
        for own in (sheet(tmp_path, more, HIGH) for more in ({}, second(839, first)))
    ]
    assert told[0] >= {SENSOR_HIGH, *DIRT}
    assert told[1] & {SENSOR_HIGH, *DIRT} == {SENSOR_HIGH}


def test_a_second_sensor_held_into_three_planes_says_no_more_than_in_one(tmp_path):
    lit = ((WEST, 777), (EAST, 816), (DORMER, 839))
    three = {
        (plane, SECOND): {"reading": f"{light}", "irradiance": f"{light * HIGH:g}"}
        for plane, light in lit
    }
    one, all_three = (
        believed(sheet(tmp_path, more, HIGH)) for more in (second(839, 839 * HIGH), three)
    )
    odds = [own[SENSOR_HIGH] / own[AS_DRAWN] for own in (one, all_three)]
    assert odds[1] == pytest.approx(odds[0], rel=0.1)


@pytest.mark.parametrize(
    ("where", "value", "words"),
    [
        ((DORMER, AZIMUTH), "205", "azimuth of dormer is +30 degrees off"),
        ((DORMER, TILT), "70", "tilt of dormer is +15 degrees off"),
        ((DORMER, TILT), "28", "tilt and azimuth of east roof and dormer are interchanged"),
        ((CLOCK, AHEAD), "60", "the clock is 60 minutes fast"),
    ],
)
def test_a_check_that_reads_as_a_slip_speaks_for_it_and_one_as_drawn_against(
    where, value, words, tmp_path
):
    drawn = {AZIMUTH: "175", TILT: "55", AHEAD: "0"}[where[1]]
    plain, off, right = (
        believed(sheet(tmp_path, {where: own} if own else {})) for own in ("", value, drawn)
    )
    weights = [own[words] / own[AS_DRAWN] for own in (plain, off, right)]
    assert weights[1] > 20.0 * weights[0]
    assert weights[2] < 0.1 * weights[0]


def test_checks_as_drawn_leave_a_right_wiring_right(tmp_path):
    more = {(WEST, TILT): "29", (EAST, AZIMUTH): "81", (CLOCK, AHEAD): "-2"}
    found = verdict(demo(), sheet(tmp_path, more | second(820, 839)))
    assert found.is_as_drawn
    rows = {(own.reading.subject, own.reading.quantity): own for own in found.readings}
    assert rows[WEST, "tilt"][1:5] == (28.0, 25.0, 31.0, "within")
    assert rows[EAST, "azimuth"][1:5] == (85.0, 69.0, 101.0, "within")
    assert rows[CLOCK, "clock_ahead"][1:5] == (0.0, -10.0, 10.0, "within")
    lit = rows[DORMER, "poa_second"]
    assert (lit.expected, lit.high) == (839.0, pytest.approx(839 * (1 + 0.06 * math.sqrt(2))))


def test_a_plane_that_lies_otherwise_is_told_whatever_strings_read(tmp_path):
    more = {(WEST, TILT): "36", (EAST, AZIMUTH): "135"}
    readings = read(more, tmp_path)
    rows = checks_beside(demo(), readings)
    assert [own.state for own in rows] == ["out", "out"]
    assert planes_told(rows) == (
        "The tilt of plane west roof was read as 36 degrees, drawn are 28: more than such a "
        "reading is usually off. Read it again; if it stays, correct the site file, for all that "
        "is expected rests on it.",
        planes_told(rows)[1],
    )
    found = verdict(demo(), readings)
    assert found.remarks[:2] == planes_told(rows)
    assert found.speaks_against
    whole = verdict(demo(), sheet(tmp_path, more))
    assert not whole.is_as_drawn
    assert whole.remarks[:2] == planes_told(rows)


def test_which_reading_to_repeat_does_not_hang_on_what_was_read_beside_it(tmp_path):
    odd = {(A, VOLTS): "402", (C, VOLTS): "555", (B, AMPS): "7.1"}
    beside = {key: {"reading": own, **_beside(key[0])} for key, own in odd.items()}
    more = {(WEST, TILT): "29", (EAST, AZIMUTH): "81"}
    plain, found = (verdict(demo(), sheet(tmp_path, beside | own)) for own in ({}, more))
    assert plain.explanations[0][1] == found.explanations[0][1] == ("none of these",)
    assert plain.repeat == found.repeat != ""


def _beside(name):
    _, _, light, heat = RIGHT[name]
    return {"irradiance": str(light), "module temperature": str(heat)}


def test_north_is_0_and_360():
    turned = demo().planes[2].model_copy(update={"azimuth_deg": 355.0})
    site = demo().model_copy(update={"planes": (*demo().planes[:2], turned)})
    slips = all_slips(drawn_wiring(site, site.wirings[0], tuple(RIGHT)), ())
    checks = ChecksModel(site, slips[:1], (Check("azimuth", 2, 3.0),), 3.0)
    assert checks.value - checks.at(np.zeros((1, 1)))[0] == pytest.approx(8.0)
    rows = checks_beside(site, Readings("x", (Reading(DORMER, "azimuth", 3.0),)))
    assert (rows[0].state, rows[0].expected) == ("within", 355.0)


def test_slopes_are_those_of_the_values():
    slips = all_slips(drawn_wiring(demo(), demo().wirings[0], tuple(RIGHT)), ())
    made = (
        Check("poa_second", 2, 800.0, 880.0),
        Check("tilt", 0, 28.0),
        Check("clock_ahead", -1, 0),
    )
    checks = ChecksModel(demo(), slips, made, 3.0)
    at, step = np.full((len(slips), 1), 0.7), 1e-6
    change = (checks.at(at + step)[0] - checks.at(at - step)[0]) / (2.0 * step)
    np.testing.assert_allclose(checks.at(at)[1][..., 0], change, rtol=1e-6, atol=1e-6)
    np.testing.assert_allclose(checks.noise_under(), np.tile([26.4, 1.5, 5.0], (len(slips), 1)))


def test_the_first_sensor_is_off_alike_in_what_is_read_with_it_and_beside_it(tmp_path):
    readings = sheet(tmp_path, second(839, 880))
    model = meter_model(demo(), readings)
    whole = with_checks(model, demo(), readings)
    _, slopes = whole.at(np.zeros((len(whole.slips), whole.unknowns)))
    assert np.flatnonzero(slopes[0, -1]).tolist() == [COMMON.index("sensor_light")]
    assert slopes[0, -1].max() == pytest.approx(0.03 * 880.0)
    assert whole.unknowns == model.unknowns


def test_what_the_first_sensor_states_of_itself_counts(tmp_path):
    stated = {("irradiance sensor", "error, the same in all readings"): "1"}
    plain, own = (
        checks_beside(demo(), read(second(839, 839) | more, tmp_path)) for more in ({}, stated)
    )
    assert plain[0].high - 839 == pytest.approx(839 * 0.06 * math.sqrt(2.0))
    assert own[0].high - 839 == pytest.approx(839 * 0.02 * math.hypot(1.0, 3.0))
    model = meter_model(demo(), sheet(tmp_path, second(839, 839 * HIGH) | stated, HIGH))
    assert model.spreads["sensor_light"] == 1.0
    whole = with_checks(model, demo(), sheet(tmp_path, second(839, 839 * HIGH) | stated, HIGH))
    assert whole.parts[1].sensor == 1.0


def test_what_was_read_is_not_proposed_again(tmp_path):
    readings = sheet(tmp_path, {}, HIGH)
    model = meter_model(demo(), readings)
    found = held_against_slips(model)
    proposed = next_checks(model, found)
    assert proposed[0].quantity == "poa_second"
    assert proposed[0].plane == 2
    assert [own.gain for own in proposed] == sorted((own.gain for own in proposed), reverse=True)
    assert "poa_second" not in {
        own.quantity for own, _ in verdict(demo(), sheet(tmp_path, second(839, 900), HIGH)).checks
    }
    made = (Check("poa_second", 0, 800.0, 800.0), Check("tilt", 1, 28.0))
    left = {(own.quantity, own.plane) for own in next_checks(model, found, made)}
    assert "poa_second" not in {quantity for quantity, _ in left}
    assert left == {(own.quantity, own.plane) for own in proposed} - {
        ("poa_second", 2),
        ("tilt", 1),
    }


def test_a_check_settles_what_drawn_readings_of_it_settle(tmp_path):
    """The gain by drawing slip, gain of the first sensor and reading: Lindley's expectation."""
    model = meter_model(demo(), sheet(tmp_path, {}, HIGH))
    found = held_against_slips(model)
    proposed = next_checks(model, found)[0]
    rng, at = np.random.default_rng(2), COMMON.index("sensor_light")
    weight = found.probability
    spread = np.sqrt(found.spread[:, at, at])
    off = np.array([own.sensor for own in found.slips])
    each = found.unknowns[:, at] + spread * rng.standard_normal((200, 1))
    expected = 800.0 / off * np.exp(0.03 * each)
    slip = rng.choice(len(weight), 2000, p=weight)
    value = expected[rng.integers(200, size=2000), slip] + 24.0 * rng.standard_normal(2000)
    under = np.exp(-0.5 * np.square((value[:, None, None] - expected) / 24.0)).mean(axis=1)
    gain = np.mean(np.log(under[np.arange(2000), slip] / (under @ weight)))
    assert proposed.gain * entropy(weight) == pytest.approx(gain, rel=0.1)


def test_what_settles_little_is_not_proposed(tmp_path):
    # Currents fit the light: a second sensor would hardly tell anything.
    model = meter_model(demo(), sheet(tmp_path, {}))
    proposed = next_checks(model, held_against_slips(model))
    assert {own.quantity for own in proposed} == {"tilt", "azimuth", "clock_ahead"}
    assert min(own.gain for own in proposed) >= WORTH_CHECKING


def test_nothing_is_proposed_that_nobody_could_read(tmp_path):
    model = meter_model(demo(), sheet(tmp_path, {}))
    assert {own.quantity for own in candidates(model)} == set(ERRORS)
    flat = demo().planes[0].model_copy(update={"tilt_deg": 2.0})
    level = replace(model, site=demo().model_copy(update={"planes": (flat, *demo().planes[1:])}))
    assert [own.plane for own in candidates(level) if own.quantity == "azimuth"] == [1, 2]
    dark = model.readings._replace(poa_global=np.full(8, np.nan))
    assert "poa_second" not in {own.quantity for own in candidates(replace(model, readings=dark))}
    groups = model.slips[0].groups.copy()
    groups[:, 1] = 0.0
    unused = replace(model, slips=(model.slips[0]._replace(groups=groups),))
    assert 1 not in {own.plane for own in candidates(unused)}


def test_proposals_are_told_with_their_share_and_with_care(tmp_path):
    found = verdict(demo(), sheet(tmp_path, {}, HIGH))
    said = verdict_text(found, 200)
    assert "Would tell more without a meter, with the share of what is open that each may" in said
    share = f"{100.0 * found.checks[0][0].gain:.0f} %"
    assert (
        f"{share}: light in the plane of dormer by a second sensor, held beside the first at the "
        "same minute." in said
    )
    assert "%: tilt of dormer (an inclinometer or a telephone laid on a module)." in said
    assert "%: azimuth of dormer from true north (a compass away from metal, or a map)." in said
    assert (
        "%: how far the sheet's clock is ahead of one that is right, such as a telephone's." in said
    )
    assert "None touches a live part; go onto a roof only if secured against falling." in said
    told = verdict_json(found)["checks"]
    assert told[0]["quantity"] == "poa_second"
    assert told[0]["plane"] == "dormer"
    assert told[0]["settles"] == found.checks[0][0].gain
    assert {"quantity": "clock_ahead", "plane": None} in [
        {key: own[key] for key in ("quantity", "plane")} for own in told
    ]


def test_where_nothing_is_open_nothing_is_proposed(tmp_path):
    model = meter_model(demo(), sheet(tmp_path, {}))
    found = held_against_slips(model)
    sure = found._replace(probability=np.eye(len(found.slips))[0])
    assert next_checks(model, sure) == ()
    said = verdict_text(replace(verdict(demo(), sheet(tmp_path, {})), checks=()))
    assert "without a meter" not in said


def test_logs_take_from_a_sheet_how_planes_lie_and_nothing_of_its_clock_and_sensors(tmp_path):
    readings = read({(DORMER, AZIMUTH): "205", (CLOCK, AHEAD): "60"} | second(839, 923), tmp_path)
    model = meter_model(demo(), sheet(tmp_path, {}))
    assert with_planes(model, demo(), None) is model
    whole = with_planes(model, demo(), readings)
    assert [own.quantity for own in whole.parts[1].checks] == ["azimuth"]
    assert len(whole.value) == len(model.value) + 1
    words = [own.words for own in model.slips]
    at = words.index("azimuth of dormer is +30 degrees off")
    plain, found = (held_against_slips(own).probability for own in (model, whole))
    assert found[at] / found[0] > 20.0 * plain[at] / plain[0]


@pytest.mark.parametrize(
    ("where", "cells", "sentence"),
    [
        ((WEST, TILT), "91", "got 91 deg; expected a tilt against the horizontal from 0 to 90 deg"),
        (
            (WEST, AZIMUTH),
            "-95",
            "got -95 deg; expected an azimuth from north through east from 0 to 360 deg",
        ),
        ((WEST, SECOND), {"reading": "1800", "irradiance": "800"}, "an irradiance from 2 to 1700"),
        (
            (WEST, SECOND),
            "800",
            "got nothing of the first sensor beside it; expected what the first sensor reads in "
            "the same plane at the same minute, in the column irradiance. A second sensor tells "
            "of the first, by itself it tells nothing",
        ),
        ((CLOCK, AHEAD), "800", "a clock's difference from -720 to 720 min"),
        ((CLOCK, AHEAD), "5 s", "the unit 's'; expected one of min, h"),
        ((WEST, TILT), "0.5 rad", "the unit 'rad'; expected one of deg, degrees"),
        ((WEST, VOLTS), "500", "a quantity that is read of a plane. It is read of a string"),
        ((CLOCK, TILT), "28", "a quantity that is read of the clock. It is read of a plane"),
        ((WEST, AHEAD), "2", "It is read of the clock"),
    ],
)
def test_what_cannot_be_is_told(where, cells, sentence, tmp_path):
    with pytest.raises(InputError, match="expected") as caught:
        read({where: cells}, tmp_path)
    assert sentence in str(caught.value)


def test_too_little_light_judges_no_sensor(tmp_path):
    readings = sheet(tmp_path, second(150, 199))
    assert checks_of(demo(), readings) == ()
    row = checks_beside(demo(), readings)[0]
    assert row.state == "not judged"
    assert row.why.startswith(
        "199 W/m2 is too little light to judge the irradiance by a second sensor: at least 200 W/m2"
    )


def test_units_are_taken_over(tmp_path):
    own = {(WEST, TILT): "28 °", (CLOCK, AHEAD): "1 h", (WEST, SECOND): "0.8 kW/m2"}
    own[WEST, SECOND] = {"reading": "0.8 kW/m2", "irradiance": "805"}
    found = read(own, tmp_path)
    assert [each.value for each in found.readings] == [28.0, 800.0, 60.0]
    assert any("1 h are taken as 60 min" in each for each in found.remarks)


def test_the_table_has_lines_for_planes_of_the_wiring_alone():
    rows = filled({}, demo(), 0)
    names = [row["what"] for row in rows if row["quantity"] == TILT]
    assert names == [WEST, EAST, DORMER]
    assert [row["what"] for row in rows if row["quantity"] == AHEAD] == [CLOCK]
    bare = demo().wirings[0].model_copy(update={"trackers": demo().wirings[0].trackers[:1]})
    assert [own.name for own in planes_in_use(demo(), bare)] == ["west roof"]
