"""A hut in the mountains and a works on a hot plateau."""

import pytest

from tests.street.house_checks import CHECKS, value

pytestmark = pytest.mark.slow


@pytest.mark.parametrize("folder", ["alpine_hut", "hot_highland"])
@pytest.mark.parametrize("check", CHECKS, ids=lambda check: check.__name__)
def test_house(street, folder, check):
    check(street(folder))


def test_above_two_thousand_metres_the_makers_word_is_asked_for(street):
    walk = street("hot_highland")
    for wiring in walk.results:
        for check, key in (
            ("altitude against air clearances", "inverter.max_altitude_m"),
            ("altitude derating", "inverter.altitude_derating"),
        ):
            assert value(walk, wiring, check, "inverter", "verdict") == "NOT CHECKED"
            told = value(walk, wiring, check, "inverter", "advice")
            assert key in told
            assert "2200 m" in told
    hut = street("alpine_hut").findings
    low = hut[hut["check"].str.startswith("altitude")]
    assert "NOT CHECKED" not in set(low["verdict"])
    assert len(low) == 2 * len(street("alpine_hut").site["wirings"])
