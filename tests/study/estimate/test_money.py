"""Cash flows and their figures against worked examples, and against what they mean."""

import numpy as np
import pytest
from scipy.optimize import brentq

from yieldkit.study.estimate.money import (
    Terms,
    cash_flows,
    discounted,
    internal_rates,
    levelised_cost,
    likely_cautious,
    net_present_value,
    nominal_rate,
    payback,
    sales,
    savings,
)

NOTHING = np.zeros(1)


def terms(years=25, outlay=12_000.0, feed_in=0.2, running=120.0, rate=0.04, **more):
    more = {"replacements": np.zeros(years), "purchase": NOTHING} | more
    return Terms(
        years, outlay, feed_in=np.array([feed_in]), running_costs=running, rate=rate, **more
    )


def flows_of(own, energy):
    """Return cash flows where everything is fed in (draw, year + 1)."""
    sold = sales(own, np.asarray(energy)[..., None])
    return cash_flows(own, np.zeros_like(sold), sold)


HOUSE = 9000.0 * 0.995 ** np.arange(25)


def test_a_published_net_present_value():
    # A text's worked example, read: 500,000 outlay, 135,000 a year for five years at 10 %.
    flows = np.array([-500_000.0] + [135_000.0] * 5)
    assert net_present_value(flows, 0.10) == pytest.approx(11_756.21, abs=0.005)
    # Cash at the end of each year: from the beginning on it would be worth a tenth more.
    assert net_present_value(flows[1:], 0.10) == pytest.approx(1.1 * 511_756.214, abs=0.01)


@pytest.mark.parametrize(("rate", "cost"), [(0.10, 89.31), (0.05, 85.66)])
def test_a_published_levelised_cost(rate, cost):
    # Read: 500,000 outlay, 4,500 MWh a year at a variable cost of 60 a MWh, five years.
    own = terms(5, 500_000.0, running=60.0 * 4500.0, rate=rate)
    assert levelised_cost(own, np.full(5, 4500.0)) == pytest.approx(cost, abs=0.005)


def test_capital_recovery():
    # Read: 1,500 a kW, capacity factor 22 %, 8 %, 10 years, 0.04 a kWh: 0.155994 (exact, computed).
    kwh = 8760.0 * 0.22
    own = terms(10, 1500.0, running=0.04 * kwh, rate=0.08)
    assert levelised_cost(own, np.full(10, kwh)) == pytest.approx(0.155994, abs=5e-7)
    free = terms(10, 1500.0, running=0.0, rate=0.08)
    assert levelised_cost(free, np.full(10, kwh)) == pytest.approx(
        1500.0 * 0.149029 / kwh, rel=4e-6
    )


def test_the_house_on_paper():
    # Computed: 12,000, 9,000 kWh losing 0.5 % a year, 120 a year, 0.20 a kWh, 4 %, 25 years.
    own = terms()
    flows = flows_of(own, HOUSE)
    assert levelised_cost(own, HOUSE) == pytest.approx(0.103687, abs=5e-7)
    assert net_present_value(flows, 0.04) == pytest.approx(12_887.92, abs=0.01)
    assert payback(discounted(flows, 0.04)) == pytest.approx(8.784, abs=5e-4)
    assert payback(flows) == pytest.approx(7.264, abs=5e-4)
    assert 100.0 * internal_rates(flows).rate == pytest.approx(12.870, abs=5e-4)
    assert discounted(HOUSE, 0.04).sum() / 1.04 == pytest.approx(133_812.87, abs=0.01)


def varied():
    """Return energies of some draws and terms in which everything happens (draw, year)."""
    rng = np.random.default_rng(4)
    energy = HOUSE * rng.normal(1.0, 0.05, (60, 25))
    replaced = np.zeros(25)
    replaced[12] = 1800.0
    return energy, {"replacements": replaced, "cost_growth": 0.03}


@pytest.mark.parametrize("inflation", [0.0, 0.025])
def test_at_the_price_of_its_levelised_cost_a_plant_is_worth_nothing(inflation):
    energy, more = varied()
    rate = nominal_rate(0.03, inflation)
    more |= {"rate": rate, "inflation": inflation, "feed_in_growth": inflation}
    costs = levelised_cost(terms(**more), energy)
    for own, cost in zip(energy[:8], costs[:8], strict=True):
        flows = flows_of(terms(feed_in=cost, **more), own)
        assert net_present_value(flows, rate) == pytest.approx(0.0, abs=1e-6)


def test_at_its_rate_of_return_a_plant_is_worth_nothing():
    energy, more = varied()
    flows = flows_of(terms(**more), energy)
    found = internal_rates(flows)
    assert (found.roots == 1).all()
    for own, rate in zip(flows, found.rate, strict=True):
        assert net_present_value(own, rate) == pytest.approx(0.0, abs=1e-6)
    reference = brentq(lambda rate: net_present_value(flows[0], rate), -0.5, 1.0, xtol=1e-14)
    assert found.rate[0] == pytest.approx(reference, abs=1e-12)


def test_levelised_cost_rises_with_the_rate():
    found = [levelised_cost(terms(rate=rate), HOUSE) for rate in (-0.02, 0.0, 0.03, 0.08)]
    assert found == sorted(found)
    assert found[1] == pytest.approx((12_000.0 + 25 * 120.0) / HOUSE.sum(), rel=1e-12)
    assert levelised_cost(terms(), np.zeros(25)) == np.inf


def test_a_real_rate_beside_inflation_is_none_without_it():
    assert nominal_rate(0.02, 0.03) == pytest.approx(0.0506, abs=1e-12)
    rise = 0.03
    grows = {"feed_in_growth": rise, "cost_growth": rise, "purchase_growth": rise}
    risen = terms(outlay=0.0, rate=nominal_rate(0.02, rise), inflation=rise, **grows)
    still = terms(outlay=0.0, rate=0.02)
    # Prices are those of the first year's end, so that a year's inflation lies before it.
    worth = net_present_value(flows_of(risen, HOUSE), risen.rate) * (1.0 + rise)
    assert worth == pytest.approx(net_present_value(flows_of(still, HOUSE), 0.02), rel=1e-12)


def test_prices_grow_from_the_first_year_on():
    own = terms(3, 0.0, 0.10, 50.0, purchase=np.array([0.30]), purchase_growth=0.10)
    own = own._replace(
        feed_in_growth=-0.5, cost_growth=0.2, replacements=np.array([0.0, 10.0, 0.0])
    )
    used, fed = np.full((3, 1), 1000.0), np.full((3, 1), 2000.0)
    flows = cash_flows(own, savings(own, used, np.array([100.0])), sales(own, fed))
    by_hand = [270.0 + 200.0 - 50.0, 297.0 + 100.0 - 72.0, 326.7 + 50.0 - 72.0]
    assert flows == pytest.approx([0.0, *by_hand], abs=1e-9)


def test_self_use_is_priced_by_its_periods():
    own = terms(1, purchase=np.array([0.40, 0.10]))
    used = np.array([[[100.0, 50.0]], [[50.0, 100.0]]])
    assert savings(own, used, np.array([0.0, 10.0])) == pytest.approx(np.array([[44.0], [29.0]]))


@pytest.mark.parametrize(("on_self_use", "more"), [(False, 0.0), (True, 60.0)])
def test_tax_is_on_what_is_earned_less_costs_and_what_is_written_off(on_self_use, more):
    own = terms(3, 400.0, 0.1, 20.0, tax=0.25, written_off=2, taxed_self_use=on_self_use)
    flows = cash_flows(own, np.full(3, 240.0), np.full(3, 200.0))
    # 25 % of 200 - 20 - 200 is given back while the outlay is written off; then 25 % of 180, and
    # 25 % of the 240 that are saved where that counts.
    assert flows == pytest.approx([-400.0, 425.0 - more, 425.0 - more, 375.0 - more], abs=1e-9)


def test_payback_counts_from_when_it_stays_paid_back():
    assert payback(np.array([-100.0, 60.0, 60.0, 60.0])) == pytest.approx(1.0 + 40.0 / 60.0)
    # A part is replaced in the third year: paid back in the second, for good in the fourth.
    replaced = np.array([-100.0, 60.0, 60.0, -50.0, 60.0])
    assert payback(replaced) == pytest.approx(3.0 + 30.0 / 60.0)
    assert payback(np.array([-100.0, 60.0, 30.0])) == np.inf
    assert payback(np.array([-100.0, 120.0, -50.0])) == np.inf
    assert payback(np.array([0.0, 5.0])) == 0.0
    both = payback(np.array([[-100.0, 60.0, 60.0], [-100.0, 40.0, 40.0]]))
    assert both == pytest.approx([1.0 + 40.0 / 60.0, np.inf])


def test_no_rate_of_return_and_several():
    # (1 + r) solves 1000 x^2 - 2500 x + 1540 = 0: 1.1 and 1.4.
    found = internal_rates(np.array([-1000.0, 2500.0, -1540.0]))
    assert found.roots == 2
    assert found.rate == pytest.approx(0.1, abs=1e-12)
    assert internal_rates(np.array([-1000.0, -20.0, -20.0])).rate == -np.inf
    assert internal_rates(np.array([-1000.0, 0.0, 0.0])).rate == -np.inf
    assert internal_rates(np.array([1000.0, 20.0])).rate == np.inf
    assert internal_rates(np.array([-1000.0, 100.0, 100.0])).rate == pytest.approx(
        -0.62984, abs=1e-5
    )
    flows = np.array([[-1000.0, 2500.0, -1540.0], [-1.0, 1.5, 0.0]])
    assert internal_rates(flows).roots.tolist() == [2, 1]
    assert internal_rates(flows).rate == pytest.approx([0.1, 0.5], abs=1e-12)


def test_the_cautious_figure_is_the_worse_tenth():
    draws = np.arange(101.0)
    assert likely_cautious(draws) == (50.0, 10.0)
    assert likely_cautious(draws, more_is_worse=True) == (50.0, 90.0)
    some = np.where(draws > 85.0, np.inf, draws)
    assert likely_cautious(some, more_is_worse=True) == (50.0, np.inf)
    assert likely_cautious(np.where(draws > 55.0, np.inf, draws), True) == (50.0, np.inf)
    assert likely_cautious(np.where(draws < 15.0, -np.inf, draws)) == (50.0, -np.inf)


def test_draws_are_reckoned_as_each_alone():
    energy, more = varied()
    own = terms(**more)
    together = flows_of(own, energy.reshape(12, 5, 25))
    assert together.shape == (12, 5, 26)
    for figure in (payback, lambda flows: internal_rates(flows).rate):
        alone = [float(figure(flows_of(own, each))) for each in energy]
        assert figure(together).ravel() == pytest.approx(alone, rel=1e-12)
