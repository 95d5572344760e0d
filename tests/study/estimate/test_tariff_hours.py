"""A step's tariff is that of the clock on the wall; overlaps of load and power are exact."""

import numpy as np
import pytest
import xarray as xr

from tests.config.small import mapping
from yieldkit.config.site.files import site_from_mapping
from yieldkit.study.estimate.overlap import overlap
from yieldkit.study.estimate.tariff_hours import ALWAYS, periods_of

BASE = {
    "currency": "EUR",
    "outlay": 9_000.0,
    "discount": {"rate_percent": 4.0, "kind": "nominal"},
}


def periods(*rows, zone="Europe/Berlin"):
    listed = tuple(
        {"name": f"n{at}", "price_per_kwh": 0.1 * at, **row} for at, row in enumerate(rows)
    )
    offer = BASE | {"zone": zone, "feed_in": {"periods": listed}}
    site = site_from_mapping(mapping() | {"offer": offer})
    return periods_of(site, site.offer.feed_in)


def steps(start, count, interval_s=3600):
    times = np.datetime64(start, "ns") + np.arange(count) * np.timedelta64(interval_s, "s")
    return xr.Dataset(coords={"time": times}, attrs={"interval_s": interval_s})


NIGHT = ({"hours": ((6, 22),)}, {"hours": ((0, 6), (22, 24))})


@pytest.mark.parametrize(("day", "first"), [("2023-01-10", 5), ("2023-07-10", 4)])
def test_hours_follow_the_clock_on_the_wall(day, first):
    found = periods(*NIGHT).shares(steps(f"{day}T00:00", 24))
    day_hours = np.flatnonzero(found[:, 0])
    # 6 h on the wall is 5 h UTC in winter and 4 h in summer.
    assert day_hours.tolist() == list(range(first, first + 16))
    assert (found.sum(axis=1) == 1.0).all()


def test_a_year_of_the_wall_has_its_change_days():
    each = [{"hours": ((hour, hour + 1),)} for hour in range(24)]
    found = periods(*each).shares(steps("2022-12-31T23:00", 8760)).sum(axis=0)
    expected = np.full(24, 365.0)
    expected[2] = 365.0  # once lacking in March, once twice in October
    assert found.tolist() == expected.tolist()
    change = periods(*each).shares(steps("2023-03-25T23:00", 23)).sum(axis=0)
    assert change[2] == 0.0
    assert change.sum() == 23.0
    again = periods(*each).shares(steps("2023-10-28T22:00", 25)).sum(axis=0)
    assert again[2] == 2.0


def test_days_and_months_are_those_of_the_wall():
    rows = (
        {"months": tuple(range(1, 12))},
        {"months": (12,), "days": ("sat", "sun")},
        {"months": (12,), "days": ("mon", "tue", "wed", "thu", "fri")},
    )
    found = periods(*rows).shares(steps("2023-11-30T22:00", 48))
    # Friday 1 December 2023 begins at 23 h UTC; Saturday a day later.
    assert found[0].tolist() == [1.0, 0.0, 0.0]
    assert found[1].tolist() == [0.0, 0.0, 1.0]
    assert found[24].tolist() == [0.0, 0.0, 1.0]
    assert found[25].tolist() == [0.0, 1.0, 0.0]


def test_a_step_over_a_change_of_price_is_shared_out():
    found = periods(*NIGHT, zone="Asia/Kolkata").shares(steps("2023-06-01T00:00", 2))
    # 0 h UTC is 5:30 on the wall: half of the hour is night.
    assert found.tolist() == [[0.5, 0.5], [1.0, 0.0]]
    whole_day = periods(*NIGHT).shares(steps("2023-01-10T00:00", 1, 86_400))
    assert whole_day.tolist() == [[16 / 24, 8 / 24]]
    minutes = periods(*NIGHT).shares(steps("2023-01-10T04:58", 4, 60))
    assert minutes[:, 0].tolist() == [0.0, 0.0, 1.0, 1.0]


def test_one_price_holds_always():
    site = site_from_mapping(mapping() | {"offer": BASE | {"feed_in": {"price_per_kwh": -0.02}}})
    found = periods_of(site, site.offer.feed_in)
    assert (found.names, found.prices.tolist()) == ((ALWAYS,), [-0.02])
    assert (found.shares(steps("2023-01-10T00:00", 5)) == 1.0).all()
    assert periods_of(site, None).prices.tolist() == [0.0]


def test_an_overlap_is_the_sum_of_the_lesser():
    rng = np.random.default_rng(6)
    load = rng.uniform(0.0, 2.0, 500) * (rng.uniform(size=500) > 0.2)
    power = np.maximum(rng.normal(0.6, 1.0, 500), 0.0)
    scales = np.array([[0.0, 0.3, 1.0], [1.7, 3.0, 80.0]])
    expected = [[np.minimum(load, each * power).sum() for each in row] for row in scales]
    assert overlap(load, power).at(scales) == pytest.approx(np.array(expected), rel=1e-12)
    dark = overlap(load, np.zeros(500))
    assert dark.at(scales).tolist() == np.zeros((2, 3)).tolist()
