"""Tariffs: one price or periods, and periods that cover every hour of the year exactly once."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from yieldkit.base.errors import Problem
from yieldkit.config.reading.content import Content, Location
from yieldkit.config.reading.parts import entries, number, part
from yieldkit.config.reading.wording import is_number, shown

DAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
MONTHS = tuple(range(1, 13))
HOURS = 24
_DAY_NAMES = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
_MONTH_NAMES = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)
LARGE_UNITS = ("EUR", "USD", "GBP", "CHF", "CAD", "AUD", "NZD")
"""Currencies in which no kilowatt-hour costs as much as `_MOST`; common knowledge, no source."""
_MOST = 5.0


def tariff_problems(
    content: Content, at: Location, tariff: Any, currency: Any
) -> Iterator[Problem]:
    """Give the problems of a tariff.

    Parameters
    ----------
    content : Content
        The file's content, of any shape.
    at : Location
        Where the tariff stands.
    tariff, currency : object
        What stands there, and the currency of its prices.
    """
    if not isinstance(tariff, dict):
        return
    one, periods = tariff.get("price_per_kwh"), tariff.get("periods")
    if (one is None) == (not periods):
        yield Problem(
            content.where(at),
            "neither a price nor periods" if one is None else "a price and periods",
            "price_per_kwh for one price at all hours, or periods",
        )
        return
    yield from _in_cents(content, at, tariff, currency)
    if periods:
        yield from _covered(content, at, tariff)


def _in_cents(
    content: Content, at: Location, tariff: dict[str, Any], currency: Any
) -> Iterator[Problem]:
    priced = [(at, tariff), *(((*at, *inner), own) for inner, own in entries(tariff, "periods"))]
    for spot, own in priced:
        price = number(own, "price_per_kwh")
        if currency in LARGE_UNITS and price is not None and abs(price) > _MOST:
            yield Problem(
                content.where((*spot, "price_per_kwh")),
                f"{price:g} {currency} for a kilowatt-hour",
                f"at most {_MOST:g} {currency}",
                cause="In hundredths, or for a megawatt-hour?",
                remedy=f"In hundredths: write {price / 100.0:g}",
            )


def cells(period: Any) -> list[tuple[int, int, int]]:
    """Return month, day of the week and hour of all cells that a period covers, from 0 on.

    Parameters
    ----------
    period : mapping
        Its months, days and hours as the file has them, each of any shape.
    """
    months = [each - 1 for each in _listed(period, "months") if each in MONTHS]
    days = [DAYS.index(each) for each in _listed(period, "days") if each in DAYS]
    hours = [
        hour
        for span in _listed(period, "hours")
        if _is_span(span)
        for hour in range(int(span[0]), int(span[1]))
    ]
    own_months = months if _listed(period, "months") else range(len(MONTHS))
    own_days = days if _listed(period, "days") else range(len(DAYS))
    own_hours = hours if _listed(period, "hours") else range(HOURS)
    return [(month, day, hour) for month in own_months for day in own_days for hour in own_hours]


def _listed(period: Any, key: str) -> tuple[Any, ...]:
    found = part(period, key)
    return found if isinstance(found, tuple) else ()


def _is_span(span: Any) -> bool:
    return _is_pair(span) and 0 <= span[0] < span[1] <= HOURS


def _is_pair(span: Any) -> bool:
    return isinstance(span, tuple) and len(span) == 2 and all(is_number(each) for each in span)


def _misread(period: dict[str, Any]) -> bool:
    """Return whether a period's hours, days or months aren't what they have to be anyhow."""
    hours = _listed(period, "hours")
    return (
        not all(_is_pair(span) and all(0 <= each <= HOURS for each in span) for span in hours)
        or any(day not in DAYS for day in _listed(period, "days"))
        or any(month not in MONTHS for month in _listed(period, "months"))
    )


def _covered(content: Content, at: Location, tariff: dict[str, Any]) -> Iterator[Problem]:
    """Give hours of no period and of two, the first of each named."""
    owners: dict[tuple[int, int, int], list[str]] = {}
    for inner, period in entries(tariff, "periods"):
        backwards = [
            number
            for number, span in enumerate(_listed(period, "hours"))
            if isinstance(span, tuple) and not _is_span(span)
        ]
        if _misread(period):
            return  # Told where it stands.
        if backwards:
            yield Problem(
                content.where((*at, *inner, "hours")),
                f"the hours {list(_listed(period, 'hours')[backwards[0]])}",
                "from a full hour to a later one of the same day, 0 to 24",
                remedy="Hours over midnight are two spans: [[0, 6], [22, 24]]",
            )
            return  # Which hours are meant isn't known.
        for cell in cells(period):
            owners.setdefault(cell, []).append(str(period.get("name")))
    every = [
        (month, day, hour)
        for month in range(len(MONTHS))
        for day in range(len(DAYS))
        for hour in range(HOURS)
    ]
    holes = [cell for cell in every if cell not in owners]
    twice = [cell for cell in every if len(owners.get(cell, ())) > 1]
    where = content.where((*at, "periods"))
    needed = "periods that cover every hour of the year exactly once"
    if holes:
        yield Problem(where, f"no price for {_when(holes)}", needed)
    if twice:
        both = " and ".join(shown(name) for name in owners[twice[0]])
        yield Problem(where, f"{both} both for {_when(twice)}", needed)


def _when(found: list[tuple[int, int, int]]) -> str:
    month, day, hour = found[0]
    first = f"{_MONTH_NAMES[month]}, {_DAY_NAMES[day]} from {hour} to {hour + 1} h"
    share = len(found) / (len(MONTHS) * len(DAYS) * HOURS)
    return first if len(found) == 1 else f"{share:.0%} of the year's hours, the first {first}"
