"""An offer of a site file: its terms as numbers, and its assumptions as rows."""

from __future__ import annotations

import json

import numpy as np

from yieldkit.base.arrays import FloatArray
from yieldkit.config.models.offer import Offer, Tariff
from yieldkit.config.site.site import Site
from yieldkit.study.estimate.money import Terms, nominal_rate
from yieldkit.study.estimate.tariff_hours import periods_of

Row = tuple[str, str]


def offer_attributes(site: Site) -> dict[str, str]:
    """Return a site's offer as an estimate's Dataset carries it to the pages, as JSON.

    Parameters
    ----------
    site : Site
        The site; one without an offer gives nothing.
    """
    offer = site.offer
    return {} if offer is None else {"offer": json.dumps(offer.model_dump(mode="json"))}


def terms_of(site: Site) -> Terms | None:
    """Return the prices and terms of a site's offer; None where it states no prices.

    Parameters
    ----------
    site : Site
        The site.
    """
    offer = site.offer
    if offer is None or offer.outlay is None or offer.discount is None:
        return None
    discount, growth = offer.discount, offer.growth
    rise = (discount.inflation_percent or 0.0) / 100.0
    tax = offer.tax
    return Terms(
        years=site.estimate.years,
        outlay=offer.outlay,
        purchase=periods_of(site, offer.purchase).prices,
        feed_in=periods_of(site, offer.feed_in).prices,
        running_costs=offer.running_costs_per_year,
        replacements=_replacements(offer, site.estimate.years),
        purchase_growth=growth.purchase_percent / 100.0,
        feed_in_growth=growth.feed_in_percent / 100.0,
        cost_growth=growth.costs_percent / 100.0,
        rate=nominal_rate(discount.rate_percent / 100.0, rise),
        inflation=rise,
        tax=0.0 if tax is None else tax.rate_percent / 100.0,
        written_off=1 if tax is None else tax.written_off_over_years,
        taxed_self_use=tax is not None and tax.on_self_use,
    )


def _replacements(offer: Offer, years: int) -> FloatArray:
    found = np.zeros(years)
    for each in offer.replacements:
        found[each.after_year - 1] += each.cost
    return found


def assumption_rows(site: Site) -> tuple[Row, ...]:
    """Return what money rests on, as rows of what and how much; none without prices.

    Parameters
    ----------
    site : Site
        The site.
    """
    offer = site.offer
    if offer is None or offer.outlay is None or offer.discount is None:
        return ()
    code = offer.currency
    rows: list[Row] = [
        ("outlay, paid before the first year", f"{offer.outlay:,.2f} {code}"),
        ("life of the plant", f"{site.estimate.years} years, cash at the end of each"),
    ]
    if offer.purchase is None:
        rows.append(("power that the plant itself takes", "at no cost, for no price is stated"))
    else:
        rows += _tariff_rows("power from the network", offer.purchase, code)
    if offer.feed_in is not None:
        rows += _tariff_rows("power fed in", offer.feed_in, code)
    if offer.zone is not None:
        rows.append(("clock of the periods", f"on the wall, {offer.zone}"))
    rows.append(("running costs", f"{offer.running_costs_per_year:,.2f} {code} a year"))
    rows += [
        (f"{each.what}, after year {each.after_year}", f"{each.cost:,.2f} {code}, as of year 1")
        for each in offer.replacements
    ]
    growth = offer.growth
    if offer.purchase is not None:
        rows.append(("price of power from the network", _change_said(growth.purchase_percent)))
    rows += [
        ("price of power fed in", _change_said(growth.feed_in_percent)),
        ("running costs and replacements", _change_said(growth.costs_percent, "rise", "fall")),
        ("discount rate", _rate_said(offer)),
        ("tax", _tax_said(offer)),
    ]
    return tuple(rows)


def _tariff_rows(what: str, tariff: Tariff, code: str | None) -> list[Row]:
    if not tariff.periods:
        return [(what, _price_said(tariff.price_per_kwh or 0.0, code))]
    return [
        (f"{what}, {each.name}", _price_said(each.price_per_kwh, code)) for each in tariff.periods
    ]


def _price_said(price: float, code: str | None) -> str:
    # In words: a cell that begins with a sign is a formula to a spreadsheet.
    return f"{'minus ' if price < 0.0 else ''}{abs(price):g} {code}/kWh in year 1"


def _change_said(percent: float, up: str = "rises", down: str = "falls") -> str:
    if not percent:
        return "unchanged"
    return f"{up if percent > 0.0 else down} by {abs(percent):g} % a year"


def _rate_said(offer: Offer) -> str:
    discount = offer.discount
    if discount is None:
        return "none"
    if discount.kind == "nominal":
        return f"{discount.rate_percent:g} % a year, nominal"
    return (
        f"{discount.rate_percent:g} % a year, real, beside inflation of "
        f"{discount.inflation_percent:g} %"
    )


def _tax_said(offer: Offer) -> str:
    tax = offer.tax
    if tax is None:
        return "none reckoned with"
    earned = "what is fed in and used" if tax.on_self_use else "what is fed in"
    return (
        f"{tax.rate_percent:g} % of {earned} less costs and the outlay, written off over "
        f"{tax.written_off_over_years} years; given back for a loss"
    )
