"""Paths into a site's content: by names, numbers and inputs, and written back the same way."""

import pytest

from tests.config.small import SITE, mapping
from yieldkit.base.errors import InputError
from yieldkit.config.reading.paths import at, located, parts_of, replaced, written

CONTENT = {
    "planes": (
        {"name": "west", "tilt_deg": 30},
        {"name": "roof 1.5", "tilt_deg": 20},
        {"name": 'say "when"', "tilt_deg": 10},
        {"name": "0", "tilt_deg": 5},
    ),
    "wirings": (
        {
            "name": "plain",
            "trackers": (
                {"inverter": "hall", "mppt": "MPPT 1", "strings": ({"n": 1},)},
                {"inverter": "annex", "mppt": "MPPT 1", "strings": ({"n": 2},)},
                {"inverter": "annex", "mppt": "MPPT 2", "strings": ({"n": 3},)},
            ),
        },
    ),
    "points": ((0.1, 0.2), (0.3, 0.4)),
}


@pytest.mark.parametrize(
    ("path", "parts"),
    [
        ("planes.west.tilt_deg", ["planes", "west", "tilt_deg"]),
        ('planes."roof 1.5".tilt_deg', ["planes", "roof 1.5", "tilt_deg"]),
        ("planes.'say \"when\"'", ["planes", 'say "when"']),
        ("the mason's roof.x", ["the mason's roof", "x"]),
        ("a", ["a"]),
        ("a..b", ["a", "", "b"]),
        ('""', [""]),
    ],
)
def test_parts_stand_between_dots_that_quotes_hide(path, parts):
    assert parts_of(path) == parts


@pytest.mark.parametrize(
    ("path", "location", "back"),
    [
        ("planes.west.tilt_deg", ("planes", 0, "tilt_deg"), "planes.west.tilt_deg"),
        ("planes.2.tilt_deg", ("planes", 2, "tilt_deg"), 'planes.say "when".tilt_deg'),
        ("planes.0.tilt_deg", ("planes", 3, "tilt_deg"), "planes.0.tilt_deg"),
        ("planes.'roof 1.5'", ("planes", 1), 'planes."roof 1.5"'),
        ("points.1.0", ("points", 1, 0), "points.1.0"),
        (
            "wirings.plain.trackers.hall / MPPT 1.strings.0.n",
            ("wirings", 0, "trackers", 0, "strings", 0, "n"),
            "wirings.plain.trackers.hall / MPPT 1.strings.0.n",
        ),
        (
            "wirings.plain.trackers.MPPT 2.strings.0.n",
            ("wirings", 0, "trackers", 2, "strings", 0, "n"),
            "wirings.plain.trackers.annex / MPPT 2.strings.0.n",
        ),
    ],
)
def test_a_path_leads_to_a_place_and_back(path, location, back):
    assert located(CONTENT, path) == location
    assert written(CONTENT, location) == back
    assert located(CONTENT, back) == location
    assert at(replaced(CONTENT, location, 99), location) == 99
    assert at(CONTENT, location) != 99


@pytest.mark.parametrize(
    ("path", "sentence"),
    [
        (
            "planes.roof 1.5.tilt_deg",
            "change of 'planes.roof 1.5.tilt_deg': got the key 'roof 1'; expected one of 'west', "
            "'roof 1.5', 'say \"when\"', '0'. A name that holds a dot stands in quotes: "
            '"roof 1.5".',
        ),
        (
            "wirings.plain.trackers.MPPT 1.strings",
            "got 'MPPT 1', which is hall / MPPT 1 and annex / MPPT 1; expected one of "
            "'hall / MPPT 1', 'annex / MPPT 1', 'annex / MPPT 2'.",
        ),
        ('planes."west', "got the part '\"west'; expected quotes around a whole part."),
        ("planes.'west'x.tilt_deg", "Close the quotes before the next dot."),
        ("planes.9", "got the key '9'; expected one of 'west'"),
        ("points.7", "got the key '7'; expected an entry of the list."),
        ("", "got the key ''; expected one of 'planes', 'wirings', 'points'."),
    ],
)
def test_a_path_that_leads_nowhere_is_told(path, sentence):
    with pytest.raises(InputError, match="expected") as caught:
        located(CONTENT, path)
    assert sentence in str(caught.value)


def test_variants_take_inputs_in_their_paths():
    other = SITE.variant({"wirings.plain.trackers.B.strings.0.groups.0.modules": 9})
    assert other.wirings[0].trackers[1].strings[0].groups[0].modules == 9
    assert located(mapping(), "wirings.plain.trackers.1") == ("wirings", 0, "trackers", 1)
