"""A farm on a weak network and a ranch under another code."""

import pytest

from tests.street.house_checks import CHECKS

pytestmark = pytest.mark.slow


@pytest.mark.parametrize("folder", ["weak_network", "nec_ranch"])
@pytest.mark.parametrize("check", CHECKS, ids=lambda check: check.__name__)
def test_house(street, folder, check):
    check(street(folder))
