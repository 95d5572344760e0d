"""What `check` accepts `compare` accepts: mutated sites; by hand with more of them.

By hand: `python -m tests.study.test_check_and_compare NUMBER`.
"""

import random
import sys

import pytest

from tests.config.small import mapping
from tests.config.test_fuzz import places, unfrozen
from tests.study.sites import weather
from yieldkit.base.errors import InputError
from yieldkit.config.site.files import site_from_mapping
from yieldkit.design.checks.limits import check
from yieldkit.study.comparison.compare import compare

pytestmark = pytest.mark.slow

# Words and sections that tables know or don't, and factors between units.
WORDS = ("copper", "aluminium", "open-rack", "facade", "vde-ar-n-4105-2018", "nec-690", "table")
NUMBERS = (3, 8, 400, 6, 1.5, 0, 1, 25, 35, 50, 0.5)
FACTORS = (0.001, 0.01, 0.1, 0.5, 0.9, 1.1, 2.0, 10.0, 100.0, 1000.0)
MORE = {
    "grid": {
        "lead": {"length_m": 20.0, "cross_section_mm2": 6.0, "overcurrent_device_a": 32.0},
        "profile": "vde-ar-n-4105-2018",
        "network_resistance_ohm": 0.2,
    },
    "standards": {"strings": "iec-62548-2016"},
    "inverter_place": {"surroundings": "outdoors-shaded"},
}
CABLE = {"length_m": 30.0, "cross_section_mm2": 4.0}


def mutated(draw):
    """Return the small site with more in it and one to three slips; its place stays."""
    content = unfrozen(mapping() | MORE)
    for tracker in content["wirings"][0]["trackers"]:
        for string in tracker["strings"]:
            string["cable"] = dict(CABLE)
    spots = [at for at in places(content) if at[0] not in ("site", "weather", "schema_version")]
    for _ in range(draw.randrange(1, 4)):
        *way, last = draw.choice(spots)
        node = content
        try:
            for step in way:
                node = node[step]
            value = node[last]
        except (KeyError, IndexError, TypeError):
            continue
        if isinstance(value, bool) or not isinstance(value, int | float | str):
            continue
        if isinstance(value, str):
            node[last] = draw.choice(WORDS)
        else:
            node[last] = draw.choice([*NUMBERS, *(value * each for each in FACTORS)])
    return content


def accepted(do):
    """Return our own refusal of something, empty if it is done; other errors are raised."""
    try:
        do()
    except InputError as error:
        return str(error)
    return ""


def tried(number, seed=12):
    """Return how many mutated sites loaded, and what only one of the two commands refused."""
    draw, loaded, differing = random.Random(seed), 0, []
    few = weather().sel(time=slice("2018-05-31T23", "2018-06-01T22"))
    few = few.assign_attrs(station_named=0)
    for _ in range(number):
        try:
            site = site_from_mapping(mutated(draw))
        except InputError:
            continue
        loaded += 1
        checked = accepted(lambda s=site: [check(s, each.name) for each in s.wirings])
        compared = accepted(lambda s=site: compare(s, weather=few))
        if bool(checked) != bool(compared):
            differing.append((checked, compared))
    return loaded, differing


def test_what_check_accepts_compare_accepts():
    loaded, differing = tried(80)
    assert loaded >= 15
    assert differing == []


if __name__ == "__main__":
    sys.stdout.write(f"{tried(int(sys.argv[1]), 7)}\n")
