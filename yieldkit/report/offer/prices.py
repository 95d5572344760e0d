"""The prices and terms that an offer's money rests on, in the customer's words."""

from __future__ import annotations

from yieldkit.config.models.offer import Offer, Tariff, TariffPeriod
from yieldkit.config.site.site import Site
from yieldkit.report.offer.rests_on import Row
from yieldkit.report.offer.tariff_hours import when_told
from yieldkit.report.words.language import NO_BREAK, Language

_DECIMALS = 5
"""Decimals that a price of a kilowatt-hour may have."""


def price_rows(site: Site, language: Language, with_load: bool) -> tuple[Row, ...]:
    """Return what money rests on, as rows of what and how much.

    Parameters
    ----------
    site : Site
        A site whose offer states prices.
    language : Language
        The customer's.
    with_load : bool
        Whether a load is stated, without which nothing is saved by using power.
    """
    offer = site.offer or Offer()
    say, code = language.say, offer.currency or ""
    growth, years = offer.growth, language.number(site.estimate.years)
    rows = [(say("outlay"), say("outlay said", money=_money(offer.outlay or 0.0, code, language)))]
    if with_load and offer.purchase is not None:
        price = _prices(offer.purchase, code, language)
        rows.append((say("purchase"), _over_years(price, growth.purchase_percent, language)))
    if offer.feed_in is not None:
        price = _prices(offer.feed_in, code, language)
        rows.append((say("feed in"), _over_years(price, growth.feed_in_percent, language)))
    if any(each is not None and each.periods for each in (offer.purchase, offer.feed_in)):
        rows.append((say("clock"), offer.zone or site.site.time_zone))
    running = _money(offer.running_costs_per_year, code, language)
    rows.append((say("running costs"), _over_years(running, growth.costs_percent, language)))
    for each in offer.replacements:
        money, year = _money(each.cost, code, language), language.number(each.after_year)
        told = say("replacement said", what=each.what, year=year, money=money)
        rows.append((say("replacement"), told))
    rows += [
        (say("discount"), _discount(offer, language)),
        (say("tax"), _tax(offer, language)),
        (say("life"), say("life said", years=years)),
    ]
    return tuple(rows)


def _money(value: float, code: str, language: Language) -> str:
    return language.amount(value, code, 0 if value == round(value) else 2)


def _percent(value: float, language: Language) -> str:
    return f"{language.plain(value)}{NO_BREAK}%"


def _prices(tariff: Tariff, code: str, language: Language) -> str:
    """Return a tariff's price, or those of its periods with their names."""

    def price(value: float) -> str:
        return f"{language.plain(value, _DECIMALS)}{NO_BREAK}{code}/kWh"

    if not tariff.periods:
        return price(tariff.price_per_kwh or 0.0)
    return "; ".join(
        _of_period(each, price(each.price_per_kwh), language) for each in tariff.periods
    )


def _of_period(period: TariffPeriod, price: str, language: Language) -> str:
    """Return a period's price with its name, and when it holds."""
    when = when_told(period, language)
    if not when:
        return language.say("of period", name=period.name, price=price)
    return language.say("of period at", name=period.name, when=when, price=price)


def _over_years(price: str, percent: float, language: Language) -> str:
    """Return a price, and how it changes from year to year."""
    if percent == 0.0:
        return language.say("unchanging", price=price)
    return language.say("changing", price=price, percent=language.change(percent))


def _discount(offer: Offer, language: Language) -> str:
    discount = offer.discount
    if discount is None:
        return language.number(float("nan"))
    percent = _percent(discount.rate_percent, language)
    if discount.kind == "nominal":
        return language.say("nominal", percent=percent)
    inflation = _percent(discount.inflation_percent or 0.0, language)
    return language.say("real", percent=percent, inflation=inflation)


def _tax(offer: Offer, language: Language) -> str:
    tax = offer.tax
    if tax is None:
        return language.say("no tax")
    return language.say(
        "tax on all" if tax.on_self_use else "tax on export",
        percent=_percent(tax.rate_percent, language),
        years=language.number(tax.written_off_over_years),
    )
