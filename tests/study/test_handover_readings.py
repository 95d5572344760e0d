"""Readings come back as they were meant, or with a sentence on what is wrong with them."""

import math
import re
from datetime import UTC, datetime

import pytest

from tests.study.handover_sheets import (
    AMPS,
    DAY,
    MINUS,
    PLUS,
    POLARITY,
    VOLTS,
    A,
    B,
    C,
    D,
    blank,
    filled,
    read,
    written,
)
from tests.study.several import twice
from tests.study.sites import demo, string, variant, wiring
from yieldkit.base.errors import InputError
from yieldkit.study.handover.form import COLUMNS, clock_of, form_text
from yieldkit.study.handover.reading import Instrument, Reading
from yieldkit.study.handover.readings import read_readings

pytestmark = pytest.mark.slow

NOON = datetime(2026, 6, 21, 11, 10, tzinfo=UTC)
FULL = {"irradiance": "812.5", "module temperature": "46.5"}


def refused(readings, folder, **how):
    """Return what is said of a sheet that is refused."""
    with pytest.raises(InputError, match="expected") as caught:
        read(readings, folder, **how)
    return str(caught.value)


def only(found):
    assert len(found.readings) == 1
    return found.readings[0]


def test_a_reading_comes_back_in_si_and_utc(tmp_path):
    found = read({(A, VOLTS): {"reading": "519.4", **FULL}}, tmp_path)
    line = 1 + 1 + 5 * 5 + 2
    assert only(found) == Reading(A, "v_oc", 519.4, NOON, 812.5, 46.5, line)
    assert found.wiring == "one plane per tracker"
    assert found.remarks[0] == (
        "Times are read by the clock of UTC+01:00 (the same all year, no summer time)."
    )
    assert found.loud == ()


@pytest.mark.parametrize("separator", [",", ";", "\t"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_any_spreadsheets_way_of_writing_is_read(separator, encoding, tmp_path):
    own = {
        (A, VOLTS): {"reading": "519,4", "irradiance": "1.012,5", "module temperature": "46,5"},
        (B, AMPS): {"reading": "11,25", "date": "21.06.2026", "time": "12:10:00"},
    }
    found = read(own, tmp_path, separator=separator, encoding=encoding)
    first, second = found.readings
    assert (first.value, first.poa_global, first.temp_module) == (519.4, 1012.5, 46.5)
    assert (second.value, second.moment) == (11.25, NOON)


def test_columns_may_be_moved_and_rows_left_blank(tmp_path):
    rows = filled({(A, VOLTS): "519.4"})
    rows.insert(3, {})
    heads = {key: COLUMNS[key] for key in ("reading", "quantity", "what", "time", "date")}
    found = read_readings(written(rows, tmp_path / "in.csv", heads=heads), demo())
    assert (only(found).value, only(found).moment) == (519.4, NOON)
    assert "for no zone stands beside them" in found.remarks[0]


def test_the_sheet_as_it_is_written_has_no_reading_yet(tmp_path):
    path = tmp_path / "sheet.csv"
    path.write_text(form_text(blank(demo(), demo().wirings[0])), encoding="utf-8")
    with pytest.raises(InputError, match="got no reading; expected at least one reading"):
        read_readings(path, demo())


def test_a_table_with_other_heads_is_told_what_it_lacks(tmp_path):
    (tmp_path / "log.csv").write_text("time;U;I\n12:10;500;3\n")
    with pytest.raises(InputError, match="no line of heads with the columns what, quantity"):
        read_readings(tmp_path / "log.csv", demo())
    (tmp_path / "log.ods").write_bytes(b"PK\x03\x04\x00\x00")
    with pytest.raises(InputError, match="Save it as CSV, in UTF-8"):
        read_readings(tmp_path / "log.ods", demo())
    with pytest.raises(InputError, match="no such file; expected a filled-in table"):
        read_readings(tmp_path / "none.csv", demo())
    with pytest.raises(InputError, match="got a folder"):
        read_readings(tmp_path, demo())


@pytest.mark.parametrize(
    ("written_as", "decimal_comma", "volts"),
    [
        ("519.4", False, 519.4),
        ("519.4 V", False, 519.4),
        ("0.5194 kV", False, 519.4),
        ("519400 mV", False, 519.4),
        ("1 019.4", False, 1019.4),
        ("1\u202f019,4", True, 1019.4),
        ("1.019,4", True, 1019.4),
        ("519", False, 519.0),
    ],
)
def test_numbers_as_people_write_them(written_as, decimal_comma, volts, tmp_path):
    found = read({(A, VOLTS): written_as}, tmp_path, separator=";" if decimal_comma else ",")
    assert only(found).value == pytest.approx(volts, rel=1e-12)


def test_a_unit_written_beside_a_reading_is_taken_over_and_told(tmp_path):
    found = read({(A, VOLTS): {"reading": "519400", "unit": "mV"}}, tmp_path)
    assert only(found).value == pytest.approx(519.4)
    assert any("519400 mV are taken as 519.4 V" in each for each in found.remarks)
    own = {("MPPT 1", "operating power"): {"reading": "8.4 kW", "date": DAY, "time": "12:10"}}
    assert only(read(own, tmp_path)).value == pytest.approx(8400.0)
    assert "the unit 'Ah'; expected one of A, mA" in refused({(A, AMPS): "5 Ah"}, tmp_path)


def test_a_long_string_read_where_a_short_one_hangs_is_a_reading_and_no_slip_of_the_pen(tmp_path):
    # Swapped: 20 modules of 38.9 V each where 5 hang, four times what the short one gives.
    uneven = wiring("uneven", MPPT_1=[string(("west roof", 20))], MPPT_2=[string(("dormer", 5))])
    site = variant({}, [uneven])
    short = "MPPT 2, string 1"
    assert only(read({(short, VOLTS): "752.0"}, tmp_path, site)).value == pytest.approx(752.0)
    assert only(read({(short, VOLTS): "-752.0"}, tmp_path, site)).value == pytest.approx(-752.0)
    with pytest.raises(InputError, match=r"expected about 194\.5 V at most .* decimal sign lost"):
        read({(short, VOLTS): "1023"}, tmp_path, site)


def test_points_and_commas_in_one_file_are_asked_for(tmp_path):
    said = refused({(A, VOLTS): "519.4", (B, VOLTS): "519,4"}, tmp_path, separator=";")
    assert "line 29, reading: got '519.4'" in said
    assert "Points and commas mean different things in this file" in said


@pytest.mark.parametrize(
    ("where", "cells", "sentence"),
    [
        ((A, VOLTS), {"reading": "519400"}, "It looks like mV. Write mV in the column unit"),
        (
            (A, VOLTS),
            {"reading": "5194"},
            "about 544.6 V at most (standard test conditions). A decimal",
        ),
        ((A, AMPS), {"reading": "11250"}, "It looks like mA"),
        (
            (A, VOLTS),
            {"reading": "519.4 V DC"},
            "got '519.4 V DC'; expected a number in V. More than a number and its unit?",
        ),
        (
            (A, VOLTS),
            {"reading": "519.4", "date": DAY, "time": "12:10 by my watch"},
            "time: got '12:10 by my watch'; expected the time of day at which it was read, such as",
        ),
        (
            (A, VOLTS),
            {"reading": "519.4", "date": DAY, "time": "00:10"},
            "got 2026-06-20 23:10 UTC, when the sun stands 21 degrees below the horizon; expected "
            "a time of daylight. Twelve hours off, another zone's clock, or another day's date?",
        ),
        (
            ("MPPT 1", "operating power"),
            {"reading": "8.4", "date": DAY, "time": "12:10"},
            "these strings give 11,610 W at standard test conditions. It looks like kW",
        ),
        ((A, VOLTS), {"reading": "519", "irradiance": "0.81"}, "It looks like kW/m2"),
        ((A, VOLTS), {"reading": "519", "irradiance": "2000"}, "2 to 1,700 W/m2"),
        (
            (A, VOLTS),
            {"reading": "519", "module temperature": "319.5"},
            "It looks like kelvin, which would be 46.4 degC",
        ),
        (
            (A, VOLTS),
            {"reading": "519", "module temperature": "115.7"},
            "-60 to 95 degC. It looks like degF, which would be 46.5 degC",
        ),
        ((A, VOLTS), {"reading": "519", "module temperature": "-80"}, "-60 to 95 degC."),
        ((A, PLUS), {"reading": "OL"}, "write > and the range, such as > 200"),
        ((A, POLARITY), {"reading": "+"}, "right or reversed"),
        ((A, PLUS), {"reading": "2000000"}, "It looks like ohm"),
        ((A, VOLTS), {"reading": "high"}, "a number in V. Leave a blank empty that wasn't read"),
        ((A, VOLTS), {"reading": ">519"}, "more than 519; expected a number in V"),
        ((A, VOLTS), {"reading": "519", "irradiance": "bright"}, "a number, or nothing"),
        ((A, POLARITY), {"reading": "fine"}, "right or reversed"),
        (("voltmeter", "error, the same in all readings"), {"reading": "lots"}, "0 to 50 in %"),
    ],
)
def test_what_no_such_string_can_give_is_told_with_its_likely_cause(
    where, cells, sentence, tmp_path
):
    said = refused({where: cells}, tmp_path)
    assert sentence in said
    assert "in.csv, line " in said


def test_a_dash_in_a_blank_is_no_reading(tmp_path):
    own = {(A, POLARITY): "-", (A, VOLTS): "–", (B, VOLTS): "480", (A, MINUS): "N/A"}
    found = read(own, tmp_path)
    assert only(found).subject == B
    assert found.loud == ()


def test_all_problems_are_told_at_once(tmp_path):
    said = refused(
        {(A, VOLTS): "519400", (B, VOLTS): "high", (C, VOLTS): "1"} | {(D, VOLTS): "9e9"}, tmp_path
    )
    assert said.count("expected") == 3


def test_unknown_strings_and_quantities_get_the_nearest_name(tmp_path):
    said = refused({("MPPT 1, string 3", VOLTS): "519"}, tmp_path)
    assert "'MPPT 1, string 3', which is no string, input, plane or instrument of" in said
    assert "Did you mean 'MPPT 1, string " in said
    assert "Did you mean 'open-circuit voltage'?" in refused(
        {(A, "open circuit volts"): "5"}, tmp_path
    )
    said = refused(
        {(A, "operating power"): {"reading": "500", "date": DAY, "time": "9:00"}}, tmp_path
    )
    assert "a quantity that is read of a string. It is read of an input" in said
    assert "a reading of nothing" in refused({("", VOLTS): "519"}, tmp_path)


def test_a_string_that_was_not_read_is_named(tmp_path):
    found = read({(A, VOLTS): "519.4", (C, POLARITY): "right"}, tmp_path)
    assert f"No polarity was read of: {B}; {D}." in found.remarks
    assert f"No open-circuit voltage was read of: {B}; {C}; {D}." in found.remarks


def test_reversed_polarity_is_said_first_and_loud(tmp_path):
    found = read({(A, VOLTS): "-519.4", (C, POLARITY): "Reversed", (D, VOLTS): "250"}, tmp_path)
    assert found.of(A, "v_oc")[0].value == -519.4
    assert found.of(C, "polarity")[0].value == -1.0
    assert [each.split(" (")[0] for each in found.loud] == [
        f"REVERSED POLARITY: {A}",
        f"REVERSED POLARITY: {C}",
    ]
    assert "DO NOT CLOSE ITS ISOLATOR, DO NOT JOIN IT TO ANOTHER STRING" in found.loud[0]
    assert "-519.4 V, line 29" in found.loud[0]


def test_a_clamp_turned_round_is_told_and_no_polarity(tmp_path):
    found = read({(A, AMPS): "-11.2"}, tmp_path)
    assert only(found).value == 11.2
    assert found.loud == ()
    assert any("a clamp that was turned round" in each for each in found.remarks)


@pytest.mark.parametrize(
    ("where", "light", "judged"),
    [
        ((A, AMPS), 199.0, False),
        ((A, AMPS), 200.0, True),
        ((A, VOLTS), 60.0, True),
        ((A, VOLTS), 0.0, False),
        (("MPPT 1", "operating voltage"), 399.0, False),
        (("MPPT 1", "operating current"), 399.0, False),
        (("MPPT 1", "operating power"), 399.0, False),
        (("MPPT 1", "operating power"), 400.0, True),
    ],
)
def test_too_little_light_is_marked_and_not_refused(where, light, judged, tmp_path):
    value = {"operating voltage": "450", "operating power": "900"}.get(where[1], "3.1")
    cells = {"reading": value, "irradiance": str(light), "date": DAY, "time": "12:10"}
    found = read({where: cells}, tmp_path)
    assert (only(found).not_judged == "") is judged
    assert (found.judged == found.readings) is judged


def test_light_that_changed_between_readings_of_a_string_is_told(tmp_path):
    def told(second):
        own = {(A, VOLTS): {"reading": "519", "irradiance": "800"}}
        own[A, AMPS] = {"reading": "10.9", "irradiance": second}
        return [each for each in read(own, tmp_path).remarks if "light changed" in each]

    assert told("761") == []
    assert "by 6 % between its readings (752 to 800 W/m2), more than 5 %" in told("752")[0]


def test_a_time_is_asked_for_where_a_reading_says_nothing_without(tmp_path):
    said = refused({(A, VOLTS): {"reading": "519", "time": ""}}, tmp_path)
    assert "line 29, time: got nothing; expected the time of day" in said
    assert only(read({(A, POLARITY): "ok"}, tmp_path)).moment is None
    said = refused({(A, VOLTS): {"reading": "519", "date": "", "time": "12:10"}}, tmp_path)
    assert "a date such as 2026-06-21" in said


def test_a_blank_date_is_that_of_the_line_above(tmp_path):
    found = read(
        {(A, VOLTS): "519", (B, VOLTS): {"reading": "480", "date": "", "time": "12:14"}}, tmp_path
    )
    assert found.readings[1].moment == NOON.replace(minute=14)


@pytest.mark.parametrize(
    ("date", "time", "moment"),
    [
        ("2026-06-21 12:10", "", NOON),
        ("2026-06-21T13:10+02:00", "", NOON),
        ("2026-06-21", "11:10Z", NOON),
        ("21.06.2026", "12.10", NOON),
        ("6/21/2026", "12:10 PM", NOON),
        ("21/6/2026", "12h10", NOON),
    ],
)
def test_moments_as_people_write_them(date, time, moment, tmp_path):
    found = read({(A, VOLTS): {"reading": "519", "date": date, "time": time}}, tmp_path)
    assert only(found).moment == moment


@pytest.mark.parametrize(
    ("date", "time", "sentence"),
    [
        ("5/6/2026", "12:10", "whose day and month can't be told apart"),
        ("21.06.26", "12:10", "got '21.06.26'; expected a date such as 2026-06-21"),
        ("2026-02-30", "12:10", "a date such as 2026-06-21"),
        (DAY, "25:10", "got the time '25:10'"),
        (DAY, "noon", "got 'noon'; expected the time of day"),
        (DAY, "", "got nothing; expected the time of day"),
    ],
)
def test_moments_that_are_none(date, time, sentence, tmp_path):
    assert sentence in refused(
        {(A, VOLTS): {"reading": "519", "date": date, "time": time}}, tmp_path
    )


def test_a_clock_on_the_wall_shows_an_hour_twice_and_one_never(tmp_path):
    site = variant({"site.time_zone": "Europe/Berlin"})
    assert clock_of(site) == "Europe/Berlin"

    def at(date, time):
        return {(A, VOLTS): {"reading": "519", "date": date, "time": time}}

    found = read(at(DAY, "13:10"), tmp_path, site=site)
    assert only(found).moment == NOON
    assert "clock of Europe/Berlin (summer time included)" in found.remarks[0]
    said = refused(at("2026-10-25", "02:30"), tmp_path, site=site)
    assert "which the clock of Europe/Berlin showed twice when summer time ended" in said
    assert "such as 02:30+01:00" in said
    said = refused(at("2026-03-29", "02:30"), tmp_path, site=site)
    assert "which the clock of Europe/Berlin left out when summer time began" in said
    # Insulation may be tested by night.
    tested = {"reading": "200", "date": "2026-10-25", "time": "02:30+02:00"}
    first = read({(A, PLUS): tested}, tmp_path, site=site)
    assert only(first).moment == datetime(2026, 10, 25, 0, 30, tzinfo=UTC)


def test_a_zone_beside_a_time_counts_and_one_that_is_none_is_refused(tmp_path):
    found = read(
        {(A, VOLTS): {"reading": "519", "date": DAY, "time": "13:10", "zone": "UTC+02:00"}},
        tmp_path,
    )
    assert only(found).moment == NOON
    said = refused({(A, VOLTS): {"reading": "519", "zone": "summer"}}, tmp_path)
    assert "zone: got 'summer'; expected an offset such as 'UTC+01:00'" in said


def test_readings_of_another_wiring_are_refused(tmp_path):
    site = demo()
    rows = filled({(A, VOLTS): "519"}, number=2)
    path = written(rows, tmp_path / "in.csv")
    assert read_readings(path, site).wiring == "west and east in parallel"
    with pytest.raises(InputError, match="The readings are of another wiring") as caught:
        read_readings(path, site, "lopsided")
    assert "Name the wiring that was built (--wiring)" in str(caught.value)
    with pytest.raises(InputError, match="The site has no such wiring") as caught:
        read_readings(path, variant({}, [wiring("mine", MPPT_1=[string(("dormer", 7))])]))
    assert "Name the site that the sheet was made of (--site)." in str(caught.value)
    content = demo().model_dump(mode="json")["wirings"]
    content[0]["trackers"][0]["strings"][0]["groups"][0]["modules"] = 12
    changed = variant({}, content)
    with pytest.raises(InputError, match="Strings were changed in the site file since"):
        read({(A, VOLTS): "519"}, tmp_path, site=site) and read_readings(
            written(filled({(A, VOLTS): "519"}), tmp_path / "in.csv"), changed
        )


def test_cables_and_names_of_wirings_may_change_after_the_sheet_was_made(tmp_path):
    path = written(filled({(A, VOLTS): "519"}), tmp_path / "in.csv")
    content = demo().model_dump(mode="json")["wirings"]
    content[0]["trackers"][0]["strings"][0]["cable"]["length_m"] = 31.0
    content[0]["name"] = "as built"
    assert read_readings(path, variant({}, content)).wiring == "as built"


def test_instruments_with_their_stated_errors(tmp_path):
    gain, spread = "error, the same in all readings", "error, other in each reading"
    own = {
        ("person", "tested by"): "N. N.",
        ("voltmeter", "make and type"): "handheld",
        ("voltmeter", "serial number"): "0815",
        ("voltmeter", "calibrated on"): "2026-01-15",
        ("voltmeter", gain): "0,2",
        ("module thermometer", spread): "1,5",
        (A, VOLTS): "519,4",
    }
    found = read(own, tmp_path, separator=";")
    assert found.tested_by == "N. N."
    assert found.instrument("voltmeter").serial == "0815"
    assert found.instrument("voltmeter").gain == 0.2
    assert math.isnan(found.instrument("voltmeter").reading)
    assert found.instrument("temperature").reading == 1.5
    assert str(found.instrument("ammeter")) == str(Instrument("ammeter"))
    assert "serial number" in refused({("voltmeter", "colour"): "red"}, tmp_path)


def test_insulation_beyond_the_testers_range(tmp_path):
    found = read({(A, PLUS): "> 200", (A, MINUS): "3 GOhm"}, tmp_path)
    assert [each.value for each in found.readings] == [200e6, 3e9]


def test_strings_of_several_inverters_are_known_by_their_inverter(tmp_path):
    site = twice()
    name = f"south / {A}"
    found = read({(name, VOLTS): "519.4"}, tmp_path, site=site)
    assert only(found).subject == name
    assert "Did you mean 'south / MPPT 1, string" in refused(
        {("south / MPPT 1, string 9", VOLTS): "519"}, tmp_path, site=site
    )


def test_names_that_spreadsheets_take_for_formulas_come_back(tmp_path):
    content = demo().model_dump(mode="json")
    site = variant({"inverter.mppts.0.name": "=1+1"}, _renamed(content["wirings"]))
    path = tmp_path / "in.csv"
    text = form_text(blank(site, site.wirings[0]))
    assert "\n'=1+1" in text
    cells = f"'=1+1, string 1\",{VOLTS},V,"
    assert cells in text
    text = text.replace(cells + ",,", cells + "519.4,2026-06-21,12:10")
    path.write_text(text, encoding="utf-8")
    found = read_readings(path, site)
    assert only(found).subject == "=1+1, string 1"


def _renamed(wirings):
    for each in wirings:
        each["trackers"][0]["mppt"] = "=1+1"
    return wirings


# 1 / (1/1.5 + 1/2.0) = 0.857 Mohm and 1 / (1/2.0 + 1/3.0) = 1.2 Mohm.
def test_insulation_that_fails_is_said_loud_and_what_passes_is_told(tmp_path):
    own = {(A, PLUS): "1.5", (A, MINUS): "2.0", (B, PLUS): "2.0", (B, MINUS): "3.0"}
    found = read(own | {(C, PLUS): "2.0", (D, PLUS): ">200", (D, MINUS): "> 200"}, tmp_path)
    assert len(found.loud) == 1
    assert found.loud[0].startswith(f"INSULATION OF {A} FAILS: 0.857 Mohm of plus and minus ")
    assert "at least 1 Mohm. DO NOT CLOSE IT. Find the leak to earth first" in found.loud[0]
    told = [each for each in found.remarks if each.startswith("Insulation of ")]
    lacking = "The resistance of both poles to earth is not known."
    assert told[0] == f"Insulation of {C}: NOT CHECKED. {lacking}"
    assert told[1].startswith("Insulation of plus and minus together passes (at least 1 Mohm, IEC ")
    assert told[1].endswith(f"(from memory)): {B} 1.2 Mohm; {D} 100 Mohm.")
    assert len(told) == 2


# 510.6 V x (1 + 0.0026 x 21.5 + 1.39 V / 38.9 V x ln 1.25) = 543.2 V, with the thermal voltage of
# 54 cells; 11.27 A + 11.27 A x (1000/800 - 1) - 0.0063 A/K x 21.5 K = 13.95 A. By hand.
def test_readings_are_told_at_standard_test_conditions(tmp_path):
    beside = {"irradiance": "800", "module temperature": "46.5"}
    own = {(A, VOLTS): {"reading": "510.6", **beside}, (A, AMPS): {"reading": "11.27", **beside}}
    own[B, VOLTS] = {"reading": "474", "irradiance": "390", "module temperature": "46.5"}
    own[C, VOLTS] = {"reading": "510", "irradiance": "800"}
    told = [each for each in read(own, tmp_path).remarks if "Carried over to 1000" in each]
    assert len(told) == 1
    volts, amperes = map(float, re.findall(r"([\d.]+) [VA] \(datasheet", told[0]))
    assert volts == pytest.approx(543.2, rel=1e-3)
    assert amperes == pytest.approx(13.95, rel=5e-4)
    assert told[0].startswith(
        "Carried over to 1000 W/m2 and 25 degC by IEC 60891:2009, voltage by procedure 2, current "
        f"by procedure 1 (from memory): {A} "
    )
    assert "(datasheet 544.6), " in told[0]
