"""Money of a plant through its life: cash flows of many draws, and the figures people ask for."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import BoolArray, FloatArray, IntArray

_RATES = np.concatenate(
    [np.linspace(-0.99, 1.0, 400), np.linspace(1.0, 4.0, 61)[1:], [6.0, 9.0, 15.0, 30.0, 100.0]]
)
"""Rates between which roots are looked for: finely where rates of plants lie [1]."""
_HALVINGS = 60


class Terms(NamedTuple):
    """Prices and terms of a plant's life, all in money of the day.

    Parameters
    ----------
    years : int
        Years of life.
    outlay : float
        Paid before the first year.
    purchase, feed_in : ndarray
        Price of a kilowatt-hour in the first year (period,).
    running_costs : float
        Of the first year.
    replacements : ndarray
        Paid at the end of each year, at prices of the first one (year,).
    purchase_growth, feed_in_growth, cost_growth : float
        Change of prices from one year to the next [1].
    rate : float
        Nominal discount rate [1].
    inflation : float
        What money loses in a year, where the rate was stated in real terms; else 0 [1].
    tax : float
        Share of what is earned [1].
    written_off : int
        Years over which the outlay is written off.
    taxed_self_use : bool
        Whether self-use counts as earned.
    """

    years: int
    outlay: float
    purchase: FloatArray
    feed_in: FloatArray
    running_costs: float
    replacements: FloatArray
    purchase_growth: float = 0.0
    feed_in_growth: float = 0.0
    cost_growth: float = 0.0
    rate: float = 0.0
    inflation: float = 0.0
    tax: float = 0.0
    written_off: int = 1
    taxed_self_use: bool = False


def nominal_rate(rate: float, inflation: float) -> float:
    """Return the rate in money of the day of one beside inflation [1].

    Parameters
    ----------
    rate, inflation : float
        Of a year [1]; (1 + nominal) = (1 + real) (1 + inflation) (Fisher's equation, from memory).
    """
    return (1.0 + rate) * (1.0 + inflation) - 1.0


def grown(growth: float, years: int) -> FloatArray:
    """Return prices of each year over those of the first one [1] (year,)."""
    return np.asarray((1.0 + growth) ** np.arange(years, dtype=float))


def costs(terms: Terms) -> FloatArray:
    """Return running costs and replacements of each year, in money of the day (year,)."""
    found: FloatArray = (terms.running_costs + terms.replacements) * grown(
        terms.cost_growth, terms.years
    )
    return found


def savings(terms: Terms, self_use: FloatArray, taken: FloatArray) -> FloatArray:
    """Return what self-use saves, less what the plant's own consumption costs (..., year).

    Parameters
    ----------
    terms : Terms
        The prices.
    self_use : ndarray
        [kWh] (..., year, period).
    taken : ndarray
        What the plant itself takes from the network [kWh] (period,).
    """
    net = (self_use - taken) @ terms.purchase
    found: FloatArray = net * grown(terms.purchase_growth, terms.years)
    return found


def sales(terms: Terms, export: FloatArray) -> FloatArray:
    """Return what export brings (..., year).

    Parameters
    ----------
    terms : Terms
        The prices.
    export : ndarray
        [kWh] (..., year, period).
    """
    found: FloatArray = (export @ terms.feed_in) * grown(terms.feed_in_growth, terms.years)
    return found


def cash_flows(terms: Terms, saved: FloatArray, sold: FloatArray) -> FloatArray:
    """Return cash flows: the outlay in year 0, then each year's at its end (..., year + 1).

    Parameters
    ----------
    terms : Terms
        The terms.
    saved, sold : ndarray
        From `savings` and `sales` (..., year).
    """
    spent = costs(terms)
    surplus = saved + sold - spent
    if terms.tax > 0.0:
        off = np.where(np.arange(terms.years) < terms.written_off, 1.0, 0.0)
        earned = sold + (saved if terms.taxed_self_use else 0.0)
        surplus = surplus - terms.tax * (earned - spent - off * terms.outlay / terms.written_off)
    outlay = np.full((*surplus.shape[:-1], 1), -terms.outlay)
    found: FloatArray = np.concatenate([outlay, surplus], axis=-1)
    return found


def discounted(flows: FloatArray, rate: float) -> FloatArray:
    """Return cash flows at their worth before the first year (..., year + 1)."""
    found: FloatArray = flows / (1.0 + rate) ** np.arange(flows.shape[-1])
    return found


def net_present_value(flows: FloatArray, rate: float) -> FloatArray:
    """Return the net present value of cash flows (...).

    Parameters
    ----------
    flows : ndarray
        Year 0 first, each at the end of its year (..., year + 1).
    rate : float
        In a year [1]. NPV = sum of CF_t / (1 + r)^t.
    """
    found: FloatArray = discounted(flows, rate).sum(axis=-1)
    return found


def levelised_cost(terms: Terms, energy: FloatArray) -> FloatArray:
    """Return the levelised cost of energy: the price of the first year at which NPV is nothing.

    Parameters
    ----------
    terms : Terms
        The terms; tax has no part in it. Where a real rate was stated the price rises with
        inflation, else it stays as it is.
    energy : ndarray
        [kWh] (..., year).

    Returns
    -------
    ndarray
        Present worth of outlay and costs over that of the energy, a kilowatt-hour (...); infinite
        without energy.
    """
    worth = (1.0 + terms.rate) ** -np.arange(1.0, terms.years + 1.0)
    spent = terms.outlay + float(costs(terms) @ worth)
    counted = energy @ (worth * grown(terms.inflation, terms.years))
    nothing = np.full(counted.shape, np.inf)
    found: FloatArray = np.divide(spent, counted, out=nothing, where=counted > 0.0)
    return found


def payback(flows: FloatArray) -> FloatArray:
    """Return after which time cash flows have paid back, for good [years] (...).

    Parameters
    ----------
    flows : ndarray
        Year 0 first (..., year + 1); discounted ones for the discounted payback.

    Returns
    -------
    ndarray
        Linear within the year; infinite where they haven't by the end. A later year that costs
        more than was over, such as that of a replacement, moves it on.
    """
    sums = np.cumsum(flows, axis=-1)
    below = sums < 0.0
    # The last year that ends below nothing; -1 where none does.
    last = sums.shape[-1] - 1 - np.argmax(below[..., ::-1], axis=-1)
    last = np.where(below.any(axis=-1), last, -1)
    after = np.clip(last + 1, 0, sums.shape[-1] - 1)[..., None]
    before = np.clip(last, 0, None)[..., None]
    missing = -np.take_along_axis(sums, before, axis=-1)[..., 0]
    gained = np.take_along_axis(flows, after, axis=-1)[..., 0]
    part = np.divide(missing, gained, out=np.zeros_like(missing), where=gained > 0.0)
    years = np.where(last < 0, 0.0, last + part)
    found: FloatArray = np.where(last == sums.shape[-1] - 1, np.inf, years)
    return found


class Returns(NamedTuple):
    """Internal rates of return.

    Parameters
    ----------
    rate : ndarray
        The rate at which the present value is nothing [1] (...): minus infinity where less comes
        back than was paid at any rate, infinity where it is worth more than nothing at any rate.
    roots : ndarray of int
        How many such rates there are (...); above one the rate is the lowest of them.
    """

    rate: FloatArray
    roots: IntArray


def internal_rates(flows: FloatArray) -> Returns:
    """Return internal rates of return.

    They are looked for from -99 % to 10,000 %, each between two rates whose present values differ
    in sign, halved until nothing is left between them. Where the flows' sign changes once there is
    one (Descartes' rule of signs, from memory).

    Parameters
    ----------
    flows : ndarray
        Year 0 first (..., year + 1).
    """
    flat = flows.reshape(-1, flows.shape[-1])
    power = np.arange(flat.shape[1])
    with np.errstate(over="ignore"):
        weights = (1.0 + _RATES)[:, None] ** -power
    worth = flat @ weights.T
    change = np.signbit(worth[:, 1:]) != np.signbit(worth[:, :-1])
    roots = change.sum(axis=1)
    first = np.argmax(change, axis=1)
    low, high = _RATES[first], _RATES[first + 1]
    falls = worth[np.arange(len(flat)), first] > 0.0
    for _ in range(_HALVINGS):
        middle = (low + high) / 2.0
        found = (flat * (1.0 + middle)[:, None] ** -power).sum(axis=1)
        right: BoolArray = (found > 0.0) == falls
        low, high = np.where(right, middle, low), np.where(right, high, middle)
    none = np.where(worth[:, 0] > 0.0, np.inf, -np.inf)
    rate = np.where(roots > 0, (low + high) / 2.0, none)
    return Returns(rate.reshape(flows.shape[:-1]), roots.reshape(flows.shape[:-1]))


def likely_cautious(values: FloatArray, more_is_worse: bool = False) -> tuple[float, float]:
    """Return the median of draws, and the value that nine of ten are no worse than.

    Parameters
    ----------
    values : ndarray
        Of any shape; infinite ones are further out than all others.
    more_is_worse : bool
        Which way is worse.
    """
    cautious = 0.9 if more_is_worse else 0.1
    return _quantile(values, 0.5, more_is_worse), _quantile(values, cautious, more_is_worse)


def _quantile(values: FloatArray, share: float, more_is_worse: bool) -> float:
    # Between a number and an infinite one there is no middle: the worse of the two is told.
    if np.isfinite(values).all():
        return float(np.quantile(values, share))
    return float(np.quantile(values, share, method="higher" if more_is_worse else "lower"))
