"""Modules that differ within a plane: the strings they make, and what that costs."""

import numpy as np
import pytest

from tests.study.sites import demo, string, variant, weather, wiring
from yieldkit.study.simulation.prepare import prepare
from yieldkit.study.uncertainty.module_sorting import sorted_modules
from yieldkit.study.wiring_energies.energies import wiring_energies

pytestmark = pytest.mark.slow


def counts(wiring):
    """Return a wiring's modules by kind and string."""
    return [
        [(group.plane, group.modules) for group in string.groups]
        for tracker in wiring.trackers
        for string in tracker.strings
    ]


@pytest.fixture(scope="module")
def prepared():
    """Return the demonstration site on its weather."""
    return prepare(demo(), weather())


def test_every_string_keeps_its_number_of_modules(prepared):
    for share in (0.0, 0.5, 1.0):
        site, wirings = sorted_modules(prepared, demo().wirings, 0.6, share, 3)
        assert sum(plane.modules for plane in site.site.planes) == 48
        for before, after in zip(demo().wirings, wirings, strict=True):
            assert [sum(n for _, n in each) for each in counts(before)] == [
                sum(n for _, n in each) for each in counts(after)
            ]
            used = {}
            for each in counts(after):
                for plane, number in each:
                    used[plane] = used.get(plane, 0) + number
            limits = {plane.name: plane.modules for plane in site.site.planes}
            assert all(number <= limits[plane] for plane, number in used.items())


def test_sorted_modules_make_even_strings(prepared):
    _, wirings = sorted_modules(prepared, demo().wirings[:1], 0.6, 1.0, 3)
    west = counts(wirings[0])[:2]
    # Fourteen of the lower kind in the longer string, thirteen of the higher in the other.
    assert west == [[("plane 0 kind 0", 14)], [("plane 0 kind 1", 13)]]


def test_the_planes_mean_stays(prepared):
    site, _ = sorted_modules(prepared, demo().wirings, 2.0, 0.3, 3)
    numbers = np.array([plane.modules for plane in site.site.planes]).reshape(-1, 2)
    light = site.conditions.photocurrent.reshape(-1, 3, 2)
    mean = (light * numbers).sum(axis=2) / numbers.sum(axis=1)
    assert mean == pytest.approx(prepared.conditions.photocurrent, rel=1e-12)
    ratio = light[4000, 0, 1] / light[4000, 0, 0]
    assert ratio == pytest.approx(1.02 / 0.98, rel=2e-3)


def test_no_spread_changes_nothing(prepared):
    own = demo().wirings
    laid = sorted_modules(prepared, own, 0.0, 0.4, 3)
    assert wiring_energies(*laid) == pytest.approx(wiring_energies(prepared, own), rel=1e-9)


def test_the_loss_grows_with_the_square_of_the_spread(prepared):
    # A string of the whole plane, its mean unchanged: to second order in the spread the loss of
    # modules in series is half the curvature of their power times the variance (Bucciarelli).
    own = variant(None, [wiring("east", MPPT_2=[string(("east roof", 14))])]).wirings
    base = wiring_energies(prepared, own)[0]

    def lost(spread):
        return 1.0 - wiring_energies(*sorted_modules(prepared, own, spread, 0.0, 5))[0] / base

    assert lost(0.3) > 0.0
    assert lost(0.6) / lost(0.3) == pytest.approx(4.0, rel=0.1)
    # Some thousandths of a percent at 0.6 %: an unsorted class is no reason to fear.
    assert lost(0.6) < 5e-4


def test_sorted_modules_in_strings_of_one_kind_lose_less(prepared):
    strings = [string(("west roof", 14)), string(("west roof", 13))]
    own = variant(None, [wiring("west", MPPT_1=strings)]).wirings
    base = wiring_energies(prepared, own)[0]
    sorted_, mixed = (
        base - wiring_energies(*sorted_modules(prepared, own, 1.5, share, 5))[0]
        for share in (1.0, 0.0)
    )
    assert sorted_ < mixed


def test_the_same_seed_gives_the_same_delivery(prepared):
    one = sorted_modules(prepared, demo().wirings, 0.6, 0.2, 8)[1]
    assert one == sorted_modules(prepared, demo().wirings, 0.6, 0.2, 8)[1]
    assert one != sorted_modules(prepared, demo().wirings, 0.6, 0.2, 9)[1]


def test_the_site_of_a_delivery_is_one_that_a_file_could_hold():
    roofs = [plane.name for plane in demo().planes]
    used = [wiring("one", MPPT_1=[string((roofs[0], 12))])]
    site = variant({f"planes.{roofs[1]}.modules": 1}, used)
    short = weather().isel(time=slice(24 * 155, 24 * 157))
    laid, wirings = sorted_modules(prepare(site, short), site.wirings, 0.6, 0.5, 3)
    assert laid.site.variant({}) == laid.site
    assert list(laid.site.wirings) == wirings
    own = [plane for plane in laid.site.planes if plane.name.startswith("plane 1 ")]
    assert [plane.modules for plane in own] == [1]
    assert laid.conditions.photocurrent.shape[1] == len(laid.site.planes)
