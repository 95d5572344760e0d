"""A boathouse in the far north and a house in the south."""

import pytest

from tests.street.house_checks import CHECKS


@pytest.mark.parametrize("folder", ["far_north", "south_quarter_hours"])
@pytest.mark.parametrize("check", CHECKS, ids=lambda check: check.__name__)
def test_house(street, folder, check):
    check(street(folder))
