"""Numbers that no plant has are refused with the slip that probably made them."""

import pytest

from tests.config.small import mapping, sentence, with_changes
from yieldkit.config.reading.schema_walk import Schema
from yieldkit.config.site.files import site_from_mapping
from yieldkit.config.site.site import Site
from yieldkit.design.checks.grid_profiles import grid_profiles

TABLE = {"kind": "table", "loads": [0.1, 0.5, 1.0], "voltages_v": [300]}
WEIGHTED = {"kind": "weighted", "european": 0.975, "maximum": 0.98}


def with_grid(**keys):
    """Return the small site with a connection to the network, unchecked."""
    return mapping() | {"grid": keys}


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (
            with_grid(lead={"length_m": 18_000.0, "cross_section_mm2": 6.0}),
            "got 18000 m; expected 0 to 2000 m. In millimetres? Write 18",
        ),
        (
            with_grid(network_resistance_ohm=10_000.0),
            "got 10000 ohm; expected 0 to 5 ohm. The resistance of an insulation?",
        ),
        (
            with_grid(network_resistance_ohm=240.0),
            "got 240 ohm; expected 0 to 5 ohm. In milliohms? Write 0.24",
        ),
        (
            with_changes(inverter__efficiency=TABLE | {"values": [[0.00095, 0.97, 0.965]]}),
            "got 0.00095; expected 0.1 to 1 as a share. A slipped decimal point? Write 0.95",
        ),
        (
            with_changes(inverter__efficiency=TABLE | {"values": [[0.95, 0.00978, 0.965]]}),
            "got 0.00978; expected 0.1 to 1 as a share. Divided by 100 twice? Write 0.978",
        ),
        (
            with_changes(inverter__efficiency=WEIGHTED | {"european": 0.0975}),
            "got 0.0975; expected 0.5 to 1 as a share. A slipped decimal point? Write 0.975",
        ),
    ],
)
def test_nonsense_is_refused_with_its_likely_cause(content, said):
    assert said in sentence(content)


@pytest.mark.parametrize(
    ("watts", "said"),
    [
        (1e6, "0 to 150 W. The power of the inverter itself?"),
        (3000.0, "0 to 150 W. In milliwatts? Write 3"),
    ],
)
def test_an_inverter_takes_little_at_night(watts, said):
    content = mapping()
    content["inverter"]["night_power_w"] = watts
    assert said in sentence(content)
    assert f"got {watts:g} W beside a nominal power of 15000 W" in sentence(content)


def test_a_cable_longer_than_any_roof_is_refused():
    string = {
        "groups": [{"plane": "west", "modules": 12}],
        "cable": {"length_m": 24_000.0, "cross_section_mm2": 4.0},
    }
    said = sentence(with_changes(wirings__plain__trackers__0__strings__0=string))
    assert "got 24000 m; expected 0 to 2000 m. In millimetres? Write 24" in said


def test_wide_but_possible_values_are_taken():
    content = with_grid(
        lead={"length_m": 900.0, "cross_section_mm2": 300.0},
        network_resistance_ohm=1.5,
        network_voltage={"voltage_v": 262.0},
    )
    content["inverter"]["night_power_w"] = 90.0
    content["inverter"]["efficiency"] = TABLE | {"values": [[0.3, 0.9, 0.95]]}
    assert site_from_mapping(content).grid.lead.length_m == 900.0


def test_network_rules_are_those_of_the_data_and_others_are_refused_at_loading():
    assert set(Schema(Site).allowed_at(("grid", "profile"))) == set(grid_profiles())
    said = sentence(with_grid(profile="vde-ar-n-4105"))
    assert "'vde-ar-n-4105'" in said
    assert "Did you mean 'vde-ar-n-4105-2018'?" in said
