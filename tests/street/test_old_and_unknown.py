"""A workshop with fuses of 2016, and a shed of which little is known."""

import pytest

from tests.street.house_checks import CHECKS

pytestmark = pytest.mark.slow


@pytest.mark.parametrize("folder", ["old_fuses", "bare_datasheet"])
@pytest.mark.parametrize("check", CHECKS, ids=lambda check: check.__name__)
def test_house(street, folder, check):
    check(street(folder))
