"""What a handover sheet says of strings, and that it comes back as it was saved."""

import json
from dataclasses import replace
from datetime import date

import pytest

import yieldkit
from tests.study.several import twice
from tests.study.sites import demo, string, variant, wiring
from yieldkit.base.errors import InputError, NothingPermitted
from yieldkit.report.tables.handover import handover_box, inverter_title
from yieldkit.report.tables.terminal_handover import handover_text
from yieldkit.study.handover.handover import handover

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def sheet():
    return handover(demo())


def by_name(sheet):
    return {each.name: each for each in sheet.strings}


def test_strings_are_numbered_as_on_the_roof_and_named_as_in_findings(sheet):
    assert [(each.number, each.name, each.count) for each in sheet.strings] == [
        (1, "MPPT 1, string 1", 14),
        (2, "MPPT 1, string 2", 13),
        (3, "MPPT 2, string 1", 14),
        (4, "MPPT 3, string 1", 7),
    ]
    assert sheet.power_kwp == pytest.approx(48 * 0.43)
    assert sheet.inputs == ("MPPT 1", "MPPT 2", "MPPT 3")
    assert [run.string for run in sheet.layout] == [1, 2, 1, 1]


# Datasheet: 38.9 V, -0.26 %/K, 13.95 A, 0.045 %/K; the lines in temperature by hand. Cells close to
# a roof are 1 K warmer than their back at 1000 W/m2 (King et al. 2004, from memory), and glass
# takes a little of the light of a sky that is not all in front: 0.3 to 1.5 % here.
def test_expected_voltage_and_current_follow_the_datasheet(sheet):
    points = by_name(sheet)["MPPT 1, string 1"].points
    assert points.lights[0] == 1000.0
    for at, temperature in enumerate(points.temperatures):
        line = 14 * 38.9 * (1.0 - 0.0026 * (temperature + 1.0 - 25.0))
        # The diode's line is bent: the less so, the nearer to 25 degC.
        assert points.v_oc[0][at] == pytest.approx(line, rel=2e-3)
    for light, amperes in zip(points.lights, points.i_sc, strict=True):
        line = 13.95 * light / 1000.0 * (1.0 + 0.00045 * (15.0 + light / 1000.0))
        assert 0.003 <= 1.0 - amperes / line <= 0.015
    # Less light, less voltage: about the thermal voltage of 54 cells at 25 degC, 1.39 V by
    # ideality, times the logarithm: 14 x 1.39 V x ln 2.5 = 17.8 V down to 400 W/m2.
    # Cells 0.6 K cooler give 14 x 38.9 V x 0.26 % x 0.6 = 0.8 V of it back.
    assert points.v_oc[0][1] - points.v_oc[3][1] == pytest.approx(17.8 - 0.8, rel=0.08)


def test_a_string_over_two_planes_has_no_one_short_circuit_current():
    site = variant({}, [wiring("w", MPPT_2=[string(("east roof", 14), ("dormer", 7))])])
    sheet = handover(site)
    points = sheet.strings[0].points
    assert points.i_sc == ()
    assert points.v_oc[0][1] == pytest.approx(21 * 38.9 * (1.0 - 0.0026), rel=1e-3)
    assert sheet.inverters[0].operating[0][1].lights == ()


# 14 modules beside 13 on MPPT 1: 27 x 430 W x 0.8 at 800 W/m2, cells at 40.8 degC, -0.32 %/K: some
# 8.7 kW, less what glass takes and unequal strings lose.
def test_operating_points_of_the_inputs(sheet):
    found = dict(sheet.inverters[0].operating)
    assert list(found) == ["MPPT 1", "MPPT 2", "MPPT 3"]
    both, alone = found["MPPT 1"], found["MPPT 2"]
    at = both.lights.index(800.0)
    line = 0.43 * 0.8 * (1.0 - 0.0032 * 15.8)
    assert alone.p_dc[at] / 1000.0 == pytest.approx(14 * line, rel=0.02)
    assert 0.95 < both.p_dc[at] / 1000.0 / (27 * line) < 0.995
    for own in found.values():
        for volts, amperes, watts in zip(own.v_dc, own.i_dc, own.p_dc, strict=True):
            assert watts == pytest.approx(volts * amperes, rel=1e-9)


def test_bands_are_those_of_the_reference_errors(sheet):
    points = by_name(sheet)["MPPT 1, string 1"].points
    # Twice the root of 0.5, 0.4 and 1 % squared and of 3 and 2 K at 0.27 %/K, and the light's.
    volts = 2.0 * (0.5**2 + 0.4**2 + 1.0**2 + (0.27 * 3.0) ** 2 + (0.27 * 2.0) ** 2) ** 0.5
    assert points.v_band_percent == pytest.approx(volts, rel=0.08)
    # 1.5, 0.8 and 1.5 %, and the light's 3 and 1.5 %.
    amperes = 2.0 * (1.5**2 + 0.8**2 + 1.5**2 + 3.0**2 + 1.5**2) ** 0.5
    assert points.i_band_percent == pytest.approx(amperes, rel=0.03)


def test_insulation_of_every_string(sheet):
    found = {name: one.insulation for name, one in by_name(sheet).items()}
    longest, shortest = found["MPPT 1, string 1"], found["MPPT 3, string 1"]
    assert (longest.system_voltage_v, longest.test_voltage_v) == (pytest.approx(680.75), 1000.0)
    assert (shortest.system_voltage_v, shortest.test_voltage_v) == (pytest.approx(340.375), 500.0)
    assert longest.least_megohm == shortest.least_megohm == 1.0


def test_a_fuse_is_named_whether_drawn_built_in_or_not_needed():
    own = string(("west roof", 14)) | {"fuse_a": 20.0}
    site = variant({}, [wiring("w", MPPT_1=[own], MPPT_2=[string(("east roof", 14))])])
    first, second = handover(site).strings
    assert first.fuse == "20 A"
    assert second.fuse == "none needed"
    assert first.cable == "not stated in the site file"
    inputs = [dict(each) for each in demo().model_dump()["inverter"]["mppts"]]
    inputs[1]["string_fuses_built_in_a"] = 20.0
    site = variant({"inverter.mppts": inputs}, [wiring("w", MPPT_2=[string(("east roof", 14))])])
    assert handover(site).strings[0].fuse == "20 A, inside the inverter"


def test_inputs_without_strings_are_listed_too():
    site = variant({}, [wiring("w", MPPT_2=[string(("east roof", 14))])])
    own = handover(site)
    assert own.inverters[0].inputs == (("MPPT 1", ()), ("MPPT 2", (1,)), ("MPPT 3", ()))


def test_an_inverter_without_strings_is_named_on_the_sheet_and_in_the_terminal():
    both = twice()
    north = [each.model_dump() for each in both.wirings[0].trackers if each.inverter == "north"]
    own = handover(both.variant({"wirings.0.trackers": north}))
    said = "No string hangs on south: all inputs there stay closed with their caps."
    assert own.idle == ("south",)
    assert f"on 1 inverter. {said}" in handover_box(own).text
    assert said in " ".join(handover_text(own).split())
    assert "Inverter north" in inverter_title(own, own.inverters[0]).text
    full = handover(both)
    assert full.idle == ()
    assert "No string hangs on" not in handover_box(full).text + handover_text(full)


def test_small_arrays_need_not_be_tested_in_parts(sheet):
    small = variant({}, [wiring("w", MPPT_2=[string(("east roof", 14))])])

    def told(own):
        return any("tested in parts" in step for part in own.order for step in part.steps)

    assert told(sheet)
    assert not told(handover(small))


def test_nobody_is_told_how_to_build_what_a_limit_forbids():
    content = {"site.design_temperatures.lowest_ambient_c": -14.0, "planes.0.modules": 27}
    site = variant(content, [wiring("long", MPPT_1=[string(("west roof", 27))])])
    with pytest.raises(NothingPermitted, match="before anybody builds it") as caught:
        handover(site)
    assert "cold open-circuit voltage against" in str(caught.value)
    with pytest.raises(InputError, match="Did you mean 'lopsided'"):
        handover(demo(), "lopsidde")


def test_clocks_are_told_as_they_are_read(sheet):
    assert "12:10 here is 11:10 UTC" in sheet.clock_words
    west = handover(variant({"site.time_zone": "UTC-03:30", "site.longitude": -52.0}))
    assert "the clock of UTC-03:30, the same all year: 12:10 here is 15:40 UTC" in west.clock_words
    wall = handover(variant({"site.time_zone": "Europe/Berlin"}))
    assert wall.clock_words == (
        "Write times by the clock on the wall in Europe/Berlin, summer time included."
    )


def test_a_sheet_comes_back_as_it_was_saved(sheet, tmp_path):
    folder = yieldkit.save(sheet, tmp_path / "out")
    assert yieldkit.load(folder) == sheet
    assert yieldkit.load(folder, "handover", demo()) == sheet
    other = variant({"site.name": "another (invented)"})
    with pytest.raises(InputError, match="results of another site"):
        yieldkit.load(folder, "handover", other)
    assert json.loads((folder / "handover.json").read_text())["mark"] == sheet.mark
    both = handover(twice())
    assert yieldkit.load(yieldkit.save(both, tmp_path / "both")) == both


def test_readings_that_somebody_wrote_are_never_written_over(sheet, tmp_path):
    yieldkit.save(sheet, tmp_path)
    yieldkit.save(sheet, tmp_path)
    table = tmp_path / "handover.csv"
    table.write_text(table.read_text().replace(",right or reversed,,", ",right or reversed,right,"))
    filled = table.read_bytes()
    with pytest.raises(InputError, match="may hold readings; expected a folder without readings"):
        yieldkit.save(sheet, tmp_path)
    assert table.read_bytes() == filled
    assert len(yieldkit.read_readings(table, demo()).of("MPPT 1, string 1", "polarity")) == 1


def test_a_cloudless_day_is_symmetric_and_less_sure_than_a_sensor():
    site = demo()
    own = handover(site, day=date(2026, 6, 21)).strings
    west, east = ({hour.clock: hour for hour in own[at].cloudless} for at in (0, 2))
    # The site's standard time is 28 minutes ahead of the sun there, so 12:28 is its noon; west by
    # 265 and east by 85 degrees mirror one another but for 10 degrees, 40 minutes of the sun.
    assert west["15:00"].poa_global > 850.0 > 750.0 > west["09:00"].poa_global
    assert east["10:00"].poa_global > 850.0 > 750.0 > east["16:00"].poa_global
    noon = west["12:00"]
    assert noon.poa_global == pytest.approx(east["12:00"].poa_global, rel=0.12)
    assert noon.i_sc == pytest.approx(13.95 * noon.poa_global / 1000.0, rel=0.03)
    assert (noon.i_sc_high - noon.i_sc_low) / noon.i_sc > 0.32
    assert (noon.v_oc_high - noon.v_oc_low) / noon.v_oc > 0.07
    assert not handover(site).strings[0].cloudless


def test_hours_follow_the_clock_on_the_wall_where_the_file_names_one():
    wall = variant({"site.time_zone": "Europe/Rome"})
    day = date(2026, 6, 21)
    summer = {hour.clock: hour for hour in handover(wall, day=day).strings[0].cloudless}
    plain = {hour.clock: hour for hour in handover(demo(), day=day).strings[0].cloudless}
    assert summer["14:00"] == replace(plain["13:00"], clock="14:00")


def test_strings_are_listed_only_while_there_is_light_on_them():
    winter = handover(demo(), day=date(2026, 12, 21)).strings
    assert all(hour.poa_global >= 200.0 for own in winter for hour in own.cloudless)
    assert len(winter[2].cloudless) < len(winter[3].cloudless)
