"""A school at half past the hour and a small house on one phase."""

import pytest

from tests.street.house_checks import CHECKS

pytestmark = pytest.mark.slow


@pytest.mark.parametrize("folder", ["half_hour_zone", "single_phase"])
@pytest.mark.parametrize("check", CHECKS, ids=lambda check: check.__name__)
def test_house(street, folder, check):
    check(street(folder))
