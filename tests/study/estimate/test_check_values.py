"""Published figures of uncertainty: exceedance of a normal spread, means of years, quadrature."""

import numpy as np
import pytest
from scipy.special import ndtri

from yieldkit.study.estimate.bands import exceeded, means_of_years, months_of
from yieldkit.study.estimate.contributions import Cause, contributions

# Normal numbers, spread evenly.
NORMAL = ndtri((np.arange(2**15) + 0.5) / 2**15)


@pytest.mark.parametrize(
    ("percent", "p90", "p99"),
    [
        (4.0, 94.87, 90.69),
        (5.0, 93.59, 88.37),
        (6.0, 92.31, 86.04),
        (8.0, 89.75, 81.39),
        (8.7, 88.85, 79.76),
        (10.0, 87.18, 76.74),
    ],
)
def test_what_is_exceeded_of_a_normal_spread(percent, p90, p99):
    # z of 75, 90, 95 and 99 %: 0.67449, 1.28155, 1.64485, 2.32635 (computed).
    bands = exceeded(100.0 + percent * NORMAL)
    assert bands[[0, 2, 4]] == pytest.approx([100.0, p90, p99], abs=0.01)
    assert (100.0 - bands) / percent == pytest.approx(
        [0, 0.67449, 1.28155, 1.64485, 2.32635], abs=1e-3
    )


def test_what_years_differ_by_averages_out():
    rng = np.random.default_rng(3)
    years = 100.0 + 3.9 * np.column_stack([rng.permutation(NORMAL) for _ in range(20)])
    spans, means = means_of_years(years)
    assert spans == (1, 5, 10, 20)
    assert means.std(axis=0) == pytest.approx([3.9, 1.744, 1.233, 0.872], abs=0.01)


def test_a_life_of_few_years_has_means_of_no_more():
    assert means_of_years(np.ones((4, 7)))[0] == (1, 5)


def test_published_components_add_up_in_quadrature():
    # Thevenard and Pelland (2013), Solar Energy 91, 432 (abstract read): of year to year, long-term
    # light, light in the plane, module rating, dirt, snow and other. The paper itself gives 8.7 %
    # in the first year and 7.9 % over the life; its listed components are 9.46 and 8.62 %.
    percents = np.array([3.9, 5.0, 3.0, 3.0, 2.0, 1.5, 5.0])
    rng = np.random.default_rng(4)
    sets = [np.column_stack([rng.permutation(NORMAL) for _ in percents]) for _ in range(2)]
    causes = tuple(Cause(str(at), (at,), False, (0.0,)) for at in range(percents.size))
    found = contributions(lambda numbers, _: 100.0 + numbers @ percents, *sets, causes)
    assert (100.0 + sets[0] @ percents).std() == pytest.approx(9.46, abs=0.05)
    assert (100.0 + sets[0][:, 1:] @ percents[1:]).std() == pytest.approx(8.62, abs=0.05)
    assert found.total == pytest.approx(np.square(percents / 9.46), abs=0.01)
    assert found.first_order.sum() == pytest.approx(1.0, abs=0.1)


def test_months_of_a_year_of_some_sum_add_up_to_it():
    rng = np.random.default_rng(5)
    months = rng.gamma(20.0, 5.0, (500, 12))
    sums = np.array([1200.0, 1100.0, 1000.0])
    found = months_of(months, sums)
    assert found.sum(axis=1) == pytest.approx(sums, rel=1e-12)
    # A month that varies more has more of what the year lacks.
    months[:, 4] = 4.0 * months[:, 4]
    found = months_of(months, months.sum(axis=1).mean() - np.array([0.0, 100.0]))
    lack = found[0] - found[1]
    assert lack[4] > 3.0 * np.delete(lack, 4).max()
    # Months of draws that are all alike keep their shares.
    alike = np.tile(np.arange(1.0, 13.0), (3, 1))
    assert months_of(alike, np.array([39.0]))[0] == pytest.approx(alike[0] / 2.0)
