"""A house with a wing and a hall with a flat roof."""

import pytest

from tests.street.house_checks import CHECKS

pytestmark = pytest.mark.slow


@pytest.mark.parametrize("folder", ["house_east_west", "flat_roof_50_kw"])
@pytest.mark.parametrize("check", CHECKS, ids=lambda check: check.__name__)
def test_house(street, folder, check):
    check(street(folder))
