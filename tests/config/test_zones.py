"""Zones as people write them: hours ahead of UTC, standard time."""

import pytest

from tests.config.small import mapping
from yieldkit.base.errors import InputError
from yieldkit.base.time_zones import utc_offset, zone_name
from yieldkit.config.site.files import site_from_mapping


@pytest.mark.parametrize(
    ("text", "hours"),
    [
        ("UTC+01:00", 1),
        ("utc+1", 1),
        ("GMT+1", 1),
        ("+10", 10),
        ("+5:30", 5.5),
        ("+0545", 5.75),
        ("-3", -3),
        ("\u22123", -3),
        ("UTC - 3", -3),
        ("UTC", 0),
        ("Z", 0),
        ("GMT", 0),
        ("+14", 14),
        ("-12", -12),
        # IANA names of offsets count the other way round (tz database, file etcetera; read).
        ("Etc/GMT+10", -10),
        ("Etc/GMT-1", 1),
        # Standard time, never daylight saving (tz database; read).
        ("Europe/Berlin", 1),
        ("Europe/Dublin", 0),
        ("Australia/Sydney", 10),
        ("America/Santiago", -4),
        ("America/St_Johns", -3.5),
        ("Asia/Kolkata", 5.5),
        ("Asia/Kathmandu", 5.75),
    ],
)
def test_offsets_and_names_mean_hours_ahead_of_utc(text, hours):
    assert utc_offset(text) == hours * 3600


@pytest.mark.parametrize(
    "text",
    [
        "",
        "+15",
        "-13",
        "+1:60",
        "+1:5",
        "1",
        "CEST",
        "Europe",
        "../../etc/passwd",
        "/etc/passwd",
        "a\x00b",
        "x" * 5000,
        "UTC+1.5",
        "+",
        "UTC+",
    ],
)
def test_anything_else_is_refused(text):
    with pytest.raises(InputError, match=r"^zone: got '.*expected an offset such as 'UTC\+01:00'"):
        utc_offset(text, "zone")


def test_the_nearest_zone_is_suggested():
    with pytest.raises(InputError, match=r"Did you mean 'Europe/Berlin'\? Write hours ahead"):
        utc_offset("Europa/Berlin")


@pytest.mark.parametrize("text", ["UTC+01:00", "UTC-03:30", "UTC+00:00", "UTC+12:45", "UTC-12:00"])
def test_an_offset_has_one_written_form(text):
    assert zone_name(utc_offset(text)) == text


def test_a_site_knows_its_offset():
    assert site_from_mapping(mapping()).site.utc_offset_s == 3600


@pytest.mark.parametrize(
    ("hours", "wanted"),
    [
        (1, "UTC+01:00"),
        (-5, "UTC-05:00"),
        (5.5, "UTC+05:30"),
        ("1", "UTC+01:00"),
        ("5:30", "UTC+05:30"),
    ],
)
def test_what_is_advised_for_a_bare_number_is_accepted(hours, wanted):
    bare = mapping()
    with pytest.raises(InputError, match=r"site\.time_zone: got ") as told:
        site_from_mapping(bare | {"site": bare["site"] | {"time_zone": hours}})
    assert wanted in str(told.value)
    assert "Put it in quotes" not in str(told.value)
    assert zone_name(utc_offset(wanted)) == wanted


def test_a_number_that_is_no_zone_gets_none():
    for word in ("99", "15"):
        with pytest.raises(InputError, match="an offset such as") as told:
            utc_offset(word)
        assert "Did you mean" not in str(told.value)
