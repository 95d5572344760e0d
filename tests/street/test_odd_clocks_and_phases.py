"""A school at half past the hour and a small house on one phase."""

import pytest

from tests.street.house_checks import CHECKS
from tests.street.page_checks import PAGE_CHECKS

pytestmark = pytest.mark.slow


@pytest.mark.parametrize("folder", ["half_hour_zone", "single_phase"])
@pytest.mark.parametrize("check", CHECKS, ids=lambda check: check.__name__)
def test_house(street, folder, check):
    check(street(folder))


@pytest.mark.parametrize("check", PAGE_CHECKS, ids=lambda check: check.__name__)
def test_pages(street, check):
    check(street("single_phase"))
