"""A boathouse in the far north and a house in the south."""

import pytest

from tests.street.house_checks import CHECKS, KWH, kwh

pytestmark = pytest.mark.slow


@pytest.mark.parametrize("folder", ["far_north", "south_quarter_hours"])
@pytest.mark.parametrize("check", CHECKS, ids=lambda check: check.__name__)
def test_house(street, folder, check):
    check(street(folder))


def test_a_high_network_holds_the_power_back(street):
    walk = street("south_quarter_hours")
    for name, year in walk.years.items():
        result = walk.results[name]
        # Held back and never switched off: 253 V are passed, 258 V never reached.
        assert year.held_kwh > 0.01 * year.delivered_kwh, name
        assert kwh(result, "network voltage") == pytest.approx(year.held_kwh, rel=KWH), name
        assert 255.0 < float(result["v_ac"].max()) < 258.0, name
        assert float(result["off_fraction"].max()) == 0.0, name
