"""What a handover sheet says of strings, and that it comes back as it was saved."""

import json

import pytest

import yieldkit
from tests.study.several import twice
from tests.study.sites import demo, string, variant, wiring
from yieldkit.base.errors import InputError, NothingPermitted
from yieldkit.design.checks.limits import site_facts
from yieldkit.design.checks.wired import string_facts
from yieldkit.study.handover.handover import handover
from yieldkit.study.handover.points import string_points

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


# Datasheet: 38.9 V, -0.26 %/K, 13.95 A, 0.045 %/K; the line in temperature by hand, the diode's
# curvature lies within a thousandth of it.
def test_expected_voltage_and_current_follow_the_datasheet(sheet):
    points = by_name(sheet)["MPPT 1, string 1"].points
    assert points.lights[0] == 1000.0
    for at, temperature in enumerate(points.temperatures):
        line = 14 * 38.9 * (1.0 - 0.0026 * (temperature - 25.0))
        assert points.v_oc[0][at] == pytest.approx(line, rel=2e-3)
    for light, amperes in zip(points.lights, points.i_sc, strict=True):
        line = 13.95 * light / 1000.0 * (1.0 + 0.00045 * 15.0)
        assert amperes == pytest.approx(line, rel=1e-3)
    # Less light, less voltage: about the thermal voltage of 54 cells at 25 degC, 1.39 V by
    # ideality, times the logarithm: 14 x 1.39 V x ln 2.5 = 17.8 V down to 400 W/m2.
    assert points.v_oc[0][1] - points.v_oc[3][1] == pytest.approx(17.8, rel=0.08)


def test_a_string_over_two_planes_has_no_one_short_circuit_current():
    site = variant({}, [wiring("w", MPPT_2=[string(("east roof", 14), ("dormer", 7))])])
    facts = string_facts(site, site.wirings[0], site_facts(site))
    points = string_points(facts[0])
    assert points.i_sc == ()
    assert points.v_oc[0][1] == pytest.approx(21 * 38.9)


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
    assert first.fuse == "20 A in each pole of the string"
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
