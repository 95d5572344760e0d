"""Bifacial modules on small inputs, and a house that may export little."""

import pytest

from tests.street.house_checks import CHECKS

pytestmark = pytest.mark.slow


@pytest.mark.parametrize("folder", ["bifacial_18_a", "export_limited"])
@pytest.mark.parametrize("check", CHECKS, ids=lambda check: check.__name__)
def test_house(street, folder, check):
    check(street(folder))
