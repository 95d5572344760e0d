"""A hut in the mountains and a works on a hot plateau."""

import pytest

from tests.street.house_checks import CHECKS


@pytest.mark.parametrize("folder", ["alpine_hut", "hot_highland"])
@pytest.mark.parametrize("check", CHECKS, ids=lambda check: check.__name__)
def test_house(street, folder, check):
    check(street(folder))
