"""What an offer to a customer rests on and says: prices, tariffs, discount, language and names."""

from __future__ import annotations

import re
from datetime import date
from typing import Annotated, Literal

from pydantic import AfterValidator, Field

from yieldkit.config.models.base import FileName, Frozen, Name, NotNegative, Positive, Text

_CODE = re.compile(r"[A-Z]{3}")
_DAY = re.compile(r"\d{4}-\d{2}-\d{2}")


def _currency(code: str) -> str:
    if not _CODE.fullmatch(code):
        raise ValueError("a code of three capitals by ISO 4217, such as EUR")
    return code


def _day(text: str) -> str:
    needed = "a day as year-month-day, such as 2026-03-31"
    if not _DAY.fullmatch(text):
        raise ValueError(needed)
    try:
        date.fromisoformat(text)
    except ValueError:
        raise ValueError(f"{needed}, that is in the calendar") from None
    return text


Currency = Annotated[str, AfterValidator(_currency)]
"""A code by ISO 4217."""
Day = Annotated[str, AfterValidator(_day)]
"""A calendar day by ISO 8601, as text."""
PricePerKwh = Annotated[float, Field(ge=-50_000, le=50_000)]
Percent = Annotated[float, Field(gt=-100, le=100)]
"""A change or rate of a year; one of -100 % would leave nothing."""


class TariffPeriod(Frozen):
    """Hours of the year with a price of their own, by the clock on the wall."""

    name: Name
    """What the period is called."""
    price_per_kwh: PricePerKwh
    """Price of a kilowatt-hour in the offer's currency."""
    months: tuple[Annotated[int, Field(ge=1, le=12)], ...] = ()
    """Its months, 1 to 12; all if left out."""
    days: tuple[Literal["mon", "tue", "wed", "thu", "fri", "sat", "sun"], ...] = ()
    """Its days of the week; all if left out."""
    hours: tuple[
        tuple[Annotated[int, Field(ge=0, le=24)], Annotated[int, Field(ge=0, le=24)]], ...
    ] = ()
    """From which full hour to which, such as [[0, 6], [22, 24]]; all day if left out."""


class Tariff(Frozen):
    """What a kilowatt-hour costs or brings: one price, or periods that cover every hour once."""

    price_per_kwh: PricePerKwh | None = None
    """One price at all hours, in the offer's currency."""
    periods: tuple[TariffPeriod, ...] = ()
    """Several prices, in place of the one."""


class Replacement(Frozen):
    """A part that is replaced once in the plant's life."""

    what: Text
    """What is replaced."""
    after_year: Annotated[int, Field(ge=1, le=49)]
    """Paid at the end of this year of life."""
    cost: Positive
    """What it costs at the prices of the first year, in the offer's currency."""


class Growth(Frozen):
    """By how much prices change from one year to the next; the first year's are those stated."""

    purchase_percent: Percent = 0.0
    """Price of power bought [%] a year, in money of the day."""
    feed_in_percent: Percent = 0.0
    """Price of power fed in [%] a year, in money of the day."""
    costs_percent: Percent = 0.0
    """Running costs and replacements [%] a year, in money of the day."""


class Discount(Frozen):
    """At which rate later money counts less."""

    rate_percent: Percent
    """Rate of a year [%]."""
    kind: Literal["nominal", "real"]
    """Of money of the day, or of money that buys the same: beside inflation."""
    inflation_percent: Percent | None = None
    """Real: by how much all prices rise in a year [%]."""


class Tax(Frozen):
    """Tax on what the plant earns; none is reckoned with where this block is left out."""

    rate_percent: Annotated[float, Field(gt=0, lt=100)]
    """Share of the earnings [%]; of a loss it is given back, against other income."""
    written_off_over_years: Annotated[int, Field(ge=1, le=50)]
    """Over so many years the outlay is written off, every year the same."""
    on_self_use: bool = False
    """Whether power used in the building counts as earned, at its purchase price."""


class Party(Frozen):
    """Who offers, or to whom."""

    name: Name
    """Name of a person or a company."""
    lines: Annotated[tuple[Text, ...], Field(max_length=8)] = ()
    """Address and ways to reach them, line by line."""


class Offer(Frozen):
    """What `estimate` needs for an offer to a customer; money is reckoned where prices stand."""

    currency: Currency | None = None
    """Of all prices and costs: a code by ISO 4217, such as EUR."""
    outlay: Positive | None = None
    """Price of the whole plant, paid before its first year."""
    purchase: Tariff | None = None
    """What power from the network costs, saved by what the building uses of the plant's own."""
    feed_in: Tariff | None = None
    """What power fed into the network brings; it may be nothing or negative."""
    zone: Text | None = None
    """Zone of the clock on the wall that the tariffs' periods follow, with summer time, such as
    Area/City; by default the site's."""
    running_costs_per_year: NotNegative = 0.0
    """Insurance, upkeep, meter and the like, at the prices of the first year."""
    replacements: tuple[Replacement, ...] = ()
    """What is replaced in the plant's life."""
    growth: Growth = Growth()
    """How prices change from year to year."""
    discount: Discount | None = None
    """At which rate later money counts less."""
    tax: Tax | None = None
    """Tax on what the plant earns; none if left out."""
    language: Literal["en", "de", "fr"] = "en"
    """Language of the customer's pages."""
    number_format: Literal["1,234.5", "1.234,5", "1 234,5", "1'234.5"] | None = None
    """How numbers are written on them; by default as the language does."""
    company: Party | None = None
    """Who offers."""
    logo_file: FileName | None = None
    """The company's mark: a PNG or JPEG file of at most 1 MB, relative to the site file."""
    customer: Party | None = None
    """To whom it is offered."""
    number: Text | None = None
    """Number of the offer."""
    date: Day | None = None
    """Day of the offer, as year-month-day."""
    valid_until: Day | None = None
    """Last day on which the offer holds, as year-month-day."""
