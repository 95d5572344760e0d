"""An offer: prices that are there together, years within the plant's life, days in their order."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from yieldkit.base.errors import InputError, Problem
from yieldkit.base.time_zones import wall_clock
from yieldkit.config.models.estimate import EstimateTerms
from yieldkit.config.reading.content import Content, Location
from yieldkit.config.reading.parts import entries, number, part
from yieldkit.config.relations.offer_logo import logo_problem
from yieldkit.config.relations.tariffs import LARGE_UNITS, tariff_problems

_NEEDED = ("currency", "outlay", "feed_in", "discount")
_PRICES = (*_NEEDED[1:], "purchase", "running_costs_per_year", "replacements", "growth", "tax")
_AT: Location = ("offer",)
# All of these: common knowledge, no source; wide enough for every plant.
_PER_KWP = (100.0, 20_000.0)
_LEAST_RUNNING, _LEAST_REPLACEMENT = 5.0, 10.0
_MOST_RUNNING = 0.25


def offer_relations(content: Content, folder: str) -> Iterator[Problem]:
    """Give the problems between the parts of an offer.

    Parameters
    ----------
    content : Content
        The file's content, of any shape.
    folder : str
        Folder from which its relative paths count.
    """
    offer = part(content.values, "offer")
    if not isinstance(offer, dict):
        return
    yield from _prices_together(content, offer)
    for key in ("purchase", "feed_in"):
        yield from tariff_problems(content, (*_AT, key), part(offer, key), part(offer, "currency"))
    yield from _zone(content, offer)
    yield from _slipped(content, offer)
    yield from _within_life(content, offer)
    yield from _discount(content, offer)
    yield from _days(content, offer)
    yield from logo_problem(content, (*_AT, "logo_file"), part(offer, "logo_file"), folder)


def _prices_together(content: Content, offer: dict[str, Any]) -> Iterator[Problem]:
    """Give what lacks where money can be reckoned from some prices only."""
    said = [key for key in _PRICES if offer.get(key) and not _usual_growth(offer, key)]
    if not said:
        return
    lacking = [key for key in _NEEDED if offer.get(key) is None]
    if _has_load(content) and offer.get("purchase") is None:
        lacking.append("purchase")
    if lacking:
        yield Problem(
            content.where((*_AT, said[0])),
            f"{said[0]} without {', '.join(lacking)}",
            "all of currency, outlay, feed_in and discount, and purchase where there is a load, "
            "or no price at all",
            remedy="Without prices an offer is made all the same, with no word of money.",
        )


def _usual_growth(offer: dict[str, Any], key: str) -> bool:
    """Return whether a key is growth in which nothing grows, as a site written back has it."""
    growth = offer.get("growth")
    return key == "growth" and isinstance(growth, dict) and not any(growth.values())


def _has_load(content: Content) -> bool:
    grid = part(content.values, "grid")
    return bool(number(grid, "load_w")) or isinstance(part(grid, "load"), dict)


def _slipped(content: Content, offer: dict[str, Any]) -> Iterator[Problem]:
    """Give prices that a dot between thousands has made a thousand times smaller, and the like."""
    outlay, running = number(offer, "outlay"), number(offer, "running_costs_per_year")
    code, kwp = offer.get("currency"), _kwp(content)
    if code in LARGE_UNITS:
        small = [((*_AT, "running_costs_per_year"), running, _LEAST_RUNNING)]
        small += [
            ((*_AT, *at, "cost"), number(own, "cost"), _LEAST_REPLACEMENT)
            for at, own in entries(offer, "replacements")
        ]
        for at, amount, least in small:
            if amount is not None and 0.0 < amount < least:
                yield Problem(
                    content.where(at),
                    f"{amount:g} {code}",
                    f"at least {least:g} {code}",
                    cause="A dot between thousands?",
                    remedy=f"A dot is a decimal point: write {1000.0 * amount:.10g}",
                )
        per_kwp = (outlay or 0.0) / kwp if kwp else 0.0
        if per_kwp > 0.0 and not _PER_KWP[0] <= per_kwp <= _PER_KWP[1]:
            dot = per_kwp < _PER_KWP[0]
            yield Problem(
                content.where((*_AT, "outlay")),
                f"{outlay:g} {code} for {kwp:.4g} kWp",
                f"{_PER_KWP[0]:,g} to {_PER_KWP[1]:,g} {code} for each kWp, of the whole plant",
                cause="A dot between thousands, or the price of one kWp?" if dot else "",
                remedy=f"A dot is a decimal point: write {1000.0 * per_kwp * kwp:.10g}" * dot,
            )
    if 0.0 < _MOST_RUNNING * (outlay or 0.0) < (running or 0.0):
        yield Problem(
            content.where((*_AT, "running_costs_per_year")),
            f"{running:g} a year for a plant of {outlay:g}",
            f"at most {100.0 * _MOST_RUNNING:g} % of its price a year",
            cause="Of all its life?",
        )


def _kwp(content: Content) -> float:
    """Return the plant's power by its datasheets [kW]; nothing where one isn't in the file."""
    watts = {
        each.get("name"): number(each, "p_max_w")
        for _, each in entries(content.values, "module_types")
    }
    total = 0.0
    for _, plane in entries(content.values, "planes"):
        power, count = watts.get(plane.get("module_type")), number(plane, "modules")
        if power is None or count is None:
            return 0.0
        total += power * count / 1000.0
    return total


def _zone(content: Content, offer: dict[str, Any]) -> Iterator[Problem]:
    """Give a zone without a clock on the wall, where periods follow one."""
    named = offer.get("zone")
    if not any(part(offer, key, "periods") for key in ("purchase", "feed_in")):
        if named is not None:
            yield Problem(
                content.where((*_AT, "zone")),
                "zone where no tariff has periods",
                "a zone for periods only",
                remedy="Leave it out: one price holds at every hour.",
            )
        return
    spot: Location = ("site", "time_zone") if named is None else (*_AT, "zone")
    text = part(content.values, "site", "time_zone") if named is None else named
    try:
        wall_clock(str(text), content.where(spot))
    except InputError as error:
        for each in error.problems:
            own = "Tariffs follow the clock on the wall: write offer.zone: Area/City"
            yield Problem(each.where, each.got, each.needed, each.cause, own)


def _within_life(content: Content, offer: dict[str, Any]) -> Iterator[Problem]:
    """Give what would happen after the plant's life, and so never."""
    terms = part(content.values, "estimate")
    life = number(terms, "years") or float(EstimateTerms().years)
    for at, own in entries(offer, "replacements"):
        year = number(own, "after_year")
        if year is not None and year >= life:
            yield Problem(
                content.where((*_AT, *at, "after_year")),
                f"a replacement after year {year:g} of a life of {life:g}",
                f"a year before the last one, at most {life - 1:g}",
                remedy="Correct it, or estimate.years",
            )
    over = number(part(offer, "tax"), "written_off_over_years")
    if over is not None and over > life:
        yield Problem(
            content.where((*_AT, "tax", "written_off_over_years")),
            f"{over:g} years of a life of {life:g}",
            f"at most the plant's life, {life:g} years",
            remedy="Correct it, or estimate.years",
        )


def _discount(content: Content, offer: dict[str, Any]) -> Iterator[Problem]:
    """Give a real rate without inflation, and inflation beside a nominal rate."""
    discount = part(offer, "discount")
    kind, rise = part(discount, "kind"), part(discount, "inflation_percent")
    where = content.where((*_AT, "discount", "inflation_percent"))
    if kind == "real" and rise is None:
        yield Problem(
            where,
            "a real rate without inflation_percent",
            "the inflation that it comes on top of",
            cause="Prices here are money of the day, whose worth falls with inflation.",
        )
    if kind == "nominal" and rise is not None:
        yield Problem(
            where,
            "inflation_percent with kind nominal",
            "inflation beside a real rate only: a nominal one holds it already",
            remedy="Leave it out, or write kind: real",
        )


def _days(content: Content, offer: dict[str, Any]) -> Iterator[Problem]:
    """Give an offer that ends before it is made; both are text that sorts by time."""
    made, ends = offer.get("date"), offer.get("valid_until")
    if isinstance(made, str) and isinstance(ends, str) and ends < made:
        yield Problem(
            content.where((*_AT, "valid_until")),
            f"{ends}, before the offer's date {made}",
            "a day on or after it",
        )
