"""What unknowns add to a spread: on cases that are known, and on the demonstration site."""

import numpy as np
import pytest
from scipy.stats import qmc

from yieldkit.study.estimate.contributions import Cause, contributions

SLOPES = np.array([3.0, 2.0, 1.0, 1.0])


def two_sets():
    """Return two sets of normal draws of four numbers."""
    both = qmc.MultivariateNormalQMC(np.zeros(8), rng=np.random.default_rng(5)).random(4096)
    return both[:, :4], both[:, 4:]


def cause(name, *columns, year=False):
    """Return a cause whose columns are zero in the middle."""
    return Cause(name, columns, year, (0.0,) * len(columns))


def linear(numbers, years):
    """Return an energy that follows numbers by their slopes."""
    return 1000.0 + numbers @ SLOPES


def test_shares_of_a_linear_case_are_its_slopes_squared():
    causes = tuple(cause(str(at), at) for at in range(4))
    found = contributions(linear, *two_sets(), causes)
    expected = np.square(SLOPES) / np.square(SLOPES).sum()
    assert found.first_order == pytest.approx(expected, abs=0.03)
    assert found.total == pytest.approx(expected, abs=0.03)
    assert found.first_order.sum() == pytest.approx(1.0, abs=0.1)


def test_what_belongs_together_is_one_row_and_adds_up_linearly():
    # Two planes with the same dirt: their slopes add up before they are squared.
    alike = contributions(
        lambda numbers, years: 5.0 * numbers[:, 1] + 3.0 * numbers[:, 0],
        *two_sets(),
        (cause("both", 1), cause("other", 0)),
    )
    assert alike.total == pytest.approx([25 / 34, 9 / 34], abs=0.03)
    together = contributions(linear, *two_sets(), (cause("some", 0, 2), cause("rest", 1, 3)))
    assert together.total == pytest.approx([10 / 15, 5 / 15], abs=0.03)


def test_knowing_all_of_it_leaves_no_spread():
    everything = cause("everything", 0, 1, 2, 3, year=True)
    found = contributions(linear, *two_sets(), (everything, cause("nothing")))
    width = np.sqrt(np.square(SLOPES).sum()) * 1.28155
    assert found.saved == pytest.approx([width, 0.0], abs=0.05 * width)
    assert found.saved[1] == 0.0
    assert found.total == pytest.approx([1.0, 0.0], abs=0.03)


def test_what_acts_only_with_others_shows_in_the_total_alone():
    found = contributions(
        lambda numbers, years: 100.0 + numbers[:, 0] * numbers[:, 1],
        *two_sets(),
        (cause("one", 0), cause("other", 1)),
    )
    assert found.first_order == pytest.approx([0.0, 0.0], abs=0.05)
    assert found.total == pytest.approx([1.0, 1.0], abs=0.1)


def test_the_year_is_a_cause_too():
    own = np.append(np.random.default_rng(2).normal(0.0, 2.0, 2 * 4096), 0.0)
    found = contributions(
        lambda numbers, years: numbers[:, 0] + own[years],
        *two_sets(),
        (cause("plant", 0), cause("weather year", year=True)),
    )
    assert found.total == pytest.approx([0.2, 0.8], abs=0.04)
    assert found.saved[1] > found.saved[0] > 0.0


def test_nothing_spreads_where_nothing_is_unknown():
    found = contributions(
        lambda numbers, years: np.full(len(numbers), 7.0), *two_sets(), (cause("one", 0),)
    )
    assert found.first_order == found.total == found.saved == 0.0
