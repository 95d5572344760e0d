"""On what the customer's figures rest, in the customer's words."""

from __future__ import annotations

from collections import Counter

from yieldkit.config.site.site import Site
from yieldkit.report.words.language import NO_BREAK, Language
from yieldkit.study.estimate.result import Estimate
from yieldkit.study.estimate.spread import ENOUGH_YEARS, MEASURED, STATED

_ALWAYS_UP = 100.0
Row = tuple[str, str]
"""What, and what is said of it."""


def rests_on(estimate: Estimate, site: Site, language: Language) -> tuple[Row, ...]:
    """Return on what an estimate rests: plant, weather, years, ageing, outages, meter.

    Parameters
    ----------
    estimate : Estimate
        What `estimate` returned.
    site : Site
        The site that it is of.
    language : Language
        The customer's.
    """
    say = language.say
    rows = [
        (say("rated power"), _plant(estimate, site, language)),
        (say("inverter"), _inverters(site, language)),
        (say("weather"), _weather(estimate, language)),
        (say("between years"), _years(estimate, language)),
        (say("ageing"), _ageing(site, language)),
        (say("outages"), _outages(site, language)),
        (say("measured at"), say("measured at said")),
    ]
    return tuple(rows)


def _inverters(site: Site, language: Language) -> str:
    """Return the kinds of inverters, and how many there are of each where there are several."""
    kinds = Counter(one.site.single_inverter.name for one in site.each_inverter())
    return ", ".join(
        name if count == 1 else f"{language.number(count)}{NO_BREAK}×{NO_BREAK}{name}"
        for name, count in kinds.items()
    )


def _plant(estimate: Estimate, site: Site, language: Language) -> str:
    """Return the plant's rated power, its modules, and how many of them are connected."""
    wiring = next(each for each in site.wirings if each.name == estimate.data.attrs["wiring"])
    wired = sum(
        group.modules
        for tracker in wiring.trackers
        for string in tracker.strings
        for group in string.groups
    )
    modules = sum(plane.modules for plane in site.planes)
    kwp = language.amount(float(estimate.data.attrs["kwp"]), language.say("kwp"), 2)
    key = "rated power said" if wired == modules else "not wired"
    values = {} if wired == modules else {"wired": language.number(wired)}
    return language.say(key, kwp=kwp, modules=language.number(modules), **values)


def _weather(estimate: Estimate, language: Language) -> str:
    """Return what weather it is, and of how many years where there are several."""
    attrs = estimate.data.attrs
    title, years = str(attrs["weather_title"]), int(attrs["years_averaged"])
    if years == 1:
        return title
    return language.say("years of weather", title=title, years=language.number(years))


def _years(estimate: Estimate, language: Language) -> str:
    """Return how much years are taken to differ, and whether that is enough."""
    attrs = estimate.data.attrs
    kind = str(attrs["year_to_year"])
    if kind not in (MEASURED, STATED):
        return language.say(kind)
    percent = language.percent(float(attrs["year_to_year_percent"]), 1)
    few = kind == MEASURED and int(attrs["years_averaged"]) < ENOUGH_YEARS
    said = language.say(kind, percent=percent)
    return f"{said} {language.say('few years')}" if few else said


def _ageing(site: Site, language: Language) -> str:
    terms = site.estimate
    percent = f"{language.plain(terms.ageing.power_loss_percent_per_year)}{NO_BREAK}%"
    return language.say("ageing said", percent=percent, years=language.number(terms.years))


def _outages(site: Site, language: Language) -> str:
    """Return for how much of the time the plant is taken to stand still."""
    up, months = site.grid.availability_percent, site.estimate.outages_percent_by_month
    said = []
    if up < _ALWAYS_UP:
        percent = f"{language.plain(up)}{NO_BREAK}%"
        said.append(language.say("outages said", percent=percent))
    if months is not None and any(months):
        mean = language.percent(sum(months) / len(months), 1)
        said.append(language.say("outages by month", percent=mean))
    return " ".join(said) or language.say("no outages")
