"""Causes that were fitted, told: where and when they show, how large, how sure, what to look at."""

from __future__ import annotations

import math

import numpy as np

from yieldkit.base.arrays import BoolArray, FloatArray
from yieldkit.base.measured_planes import POA, measured_name
from yieldkit.study.review.beside import Beside
from yieldkit.study.review.bins import VOLTAGE, Bins
from yieldkit.study.review.candidates import LIGHT_LATE, Candidate
from yieldkit.study.review.causes import Chosen
from yieldkit.study.review.result import (
    AZIMUTH,
    CLOCK,
    DIRT,
    DIRT_BY_RAIN,
    DRIFT,
    LOSS,
    SENSOR,
    SHADOW,
    STRING,
    SUBSTRING,
    TILT,
    Sign,
    Span,
)

_NINE_OF_TEN = 1.645
_SHOWS = 0.5
"""Share of its largest effect from which an hour or month shows a cause [1]."""
_TO_LOOK = {
    SHADOW: "Look from the modules towards the sun at that hour: what stands there? If it is to "
    "stay, write it into the site as an obstacle or horizon.",
    CLOCK: "Compare the logger's clock with a right one, its zone and summer time, and whether its "
    "times mark the start or the end of a step.",
    TILT: "Measure the slope of the modules and of the sensor: one of them is not as drawn.",
    AZIMUTH: "Take the bearing of the modules and of the sensor: one of them is not as drawn.",
    DIRT: "Look at the glass of modules and of the sensor; wash the sensor first, and see whether "
    "the loss goes away.",
    DIRT_BY_RAIN: "Look at the modules before the next rain, and compare days before and after it.",
    SUBSTRING: "Have the string's open-circuit voltage measured beside an equal one, and its "
    "modules looked at with a thermal camera, by people licensed for it.",
    STRING: "Have each string's current measured by people licensed for it: fuse, plug or cable?",
    SENSOR: "Clean and level the sensor of light, and compare it with another one.",
    DRIFT: "Have the sensor of light calibrated; until then months can't be compared.",
    LOSS: "What changed in that month: dirt, snow, a shadow, modules, plugs?",
}


def fitted_signs(own: Beside, bins: Bins, chosen: Chosen) -> tuple[Sign, ...]:
    """Return the causes that explain a log's shapes, that which takes most first.

    Parameters
    ----------
    own : Beside
        The log beside its expectation.
    bins : Bins
        Its bins.
    chosen : Chosen
        The causes.
    """
    groups: dict[tuple[str, tuple[int, ...]], list[int]] = {}
    for at, cause in enumerate(chosen.causes):
        groups.setdefault((cause.kind, cause.of), []).append(at)
    signs = [_sign(own, bins, chosen, members) for members in groups.values()]
    return tuple(sorted(signs, key=lambda each: -abs(each.lost_kwh)))


def effect(bins: Bins, chosen: Chosen, members: list[int]) -> FloatArray:
    """Return what causes do to the logarithm of the power in each input's hours.

    Parameters
    ----------
    bins : Bins
        The bins.
    chosen : Chosen
        All causes.
    members : list of int
        Those that are asked for.

    Returns
    -------
    ndarray
        (bin,); that of volts and amperes together, beside both.
    """
    total = np.zeros(bins.tracker.size)
    for at in members:
        total += chosen.causes[at].shapes @ chosen.fit.values[chosen.place(at)]
    key = (bins.tracker * (int(bins.month.max()) + 1) + bins.month) * 24 + bins.hour
    # Shapes of light say what less light does; their sizes are losses where they are positive.
    sums = np.bincount(key, total)
    found: FloatArray = sums[key]
    return found


def _sign(own: Beside, bins: Bins, chosen: Chosen, members: list[int]) -> Sign:
    cause = chosen.causes[members[0]]
    change = effect(bins, chosen, members)
    once = bins.quantity != VOLTAGE
    lost = float((bins.energy * -np.expm1(change))[once].sum())
    hours, months = _where(own, bins, change, once, [chosen.causes[at] for at in members])
    size, unit = _size(bins, chosen, members, change, once)
    deviations = max(_deviations(chosen, at) for at in members)
    subject = _subject(own, cause)
    words = _words(own, cause, subject, hours, months, size, lost)
    look = _TO_LOOK[cause.kind]
    return Sign(cause.kind, subject, words, look, hours, months, size, unit, deviations, lost)


def _deviations(chosen: Chosen, at: int) -> float:
    place = chosen.place(at)
    values, covariance = chosen.fit.values[place], chosen.fit.covariance[place, place]
    return math.sqrt(float(values @ np.linalg.solve(covariance, values)))


def _where(
    own: Beside, bins: Bins, change: FloatArray, once: BoolArray, causes: list[Candidate]
) -> tuple[tuple[int, ...], tuple[str, ...]]:
    """Return hours and months in which a cause shows; nothing where it shows in all."""
    if causes[0].kind in (DIRT, SENSOR, SUBSTRING, STRING, LOSS):
        since = causes[0].since
        return (), tuple(own.months[since:]) if since else ()
    found = []
    for places, size in ((bins.hour, 24), (bins.month, len(own.months))):
        weight = np.where(once & (change != 0.0), bins.energy, 0.0)
        over = np.bincount(places, weight * np.abs(change), size)
        below = np.bincount(places, np.where(once, bins.energy, 0.0) * (weight > 0.0), size)
        mean = np.divide(over, below, out=np.zeros(size), where=below > 0.0)
        shows = mean > _SHOWS * mean.max()
        there = np.bincount(places, np.where(once, bins.energy, 0.0), size) > 0.0
        found.append(np.flatnonzero(shows) if (shows != there).any() else np.empty(0, dtype=int))
    hours = tuple(int(each) for each in found[0])
    return hours, tuple(own.months[each] for each in found[1])


def _size(
    bins: Bins, chosen: Chosen, members: list[int], change: FloatArray, once: BoolArray
) -> tuple[Span, str]:
    """Return how large a cause is, and in which unit."""
    cause, place = chosen.causes[members[0]], chosen.place(members[0])
    if cause.kind in (SHADOW, SUBSTRING, STRING):
        there = once & (change != 0.0)
        share = bins.energy * there / max(float((bins.energy * there).sum()), 1e-9)
        value = 100.0 * float(share @ -np.expm1(change))
        wide = value / max(_deviations(chosen, members[0]), 1e-9) * _NINE_OF_TEN
        return Span(value, value - wide, value + wide), "%"
    value = float(chosen.fit.values[place][0])
    wide = _NINE_OF_TEN * math.sqrt(float(chosen.fit.covariance[place, place][0, 0]))
    span = Span(value, value - wide, value + wide)
    units = {CLOCK: "min", TILT: "deg", AZIMUTH: "deg", DRIFT: "%", DIRT_BY_RAIN: "% a day"}
    return span, units.get(cause.kind, "%")


def _subject(own: Beside, cause: Candidate) -> str:
    if cause.kind in (TILT, AZIMUTH, DIRT, DIRT_BY_RAIN, LOSS):
        return own.site.planes[cause.of[0]].name
    if cause.kind in (SHADOW, SUBSTRING, STRING):
        return own.names[cause.of[0]]
    return "all inputs"


def _words(
    own: Beside,
    cause: Candidate,
    subject: str,
    hours: tuple[int, ...],
    months: tuple[str, ...],
    size: Span,
    lost: float,
) -> str:
    """Return a cause in a sentence."""
    value = f"{abs(size.value):.3g}"
    low, high = sorted((abs(size.low), abs(size.high)))
    if size.low * size.high < 0.0:
        low = 0.0
    sized = f"{value} {{}} ({low:.3g} to {high:.3g})"
    when = when_told(hours, months)
    since = f" since {months[0]}" if months and cause.since else ""
    cost = f", about {lost:,.0f} kWh" if lost > 0.0 else ""
    if cause.kind in (TILT, AZIMUTH):
        return f"{subject}: {_lies(own, cause, size, sized.format('deg'))}, seen most{when}."
    if cause.kind == CLOCK:
        return _clock_words(cause, size, sized.format("min"))
    if cause.kind in (SUBSTRING, STRING):
        lacks = (
            f"the voltage lacks one substring of {_which(own, cause)}{since}, with the current "
            "right"
            if cause.kind == SUBSTRING
            else f"{_which(own, cause)} gives nothing{since}"
        )
        return f"{subject}: {lacks}: {value} % of the power{cost}."
    return f"{subject}: {_of_light(own, cause, size, sized.format('%'), when, since)}{cost}."


def _lies(own: Beside, cause: Candidate, size: Span, sized: str) -> str:
    """Return in words how a plane lies otherwise than drawn."""
    turn = "clockwise" if size.value > 0 else "anticlockwise"
    way = {
        TILT: ("lie", "steeper than drawn" if size.value > 0 else "flatter than drawn"),
        AZIMUTH: ("face", f"further {turn} than drawn"),
    }
    verb, how = way[cause.kind]
    sensed = measured_name(POA, own.site.planes[cause.of[0]].name) in own.weather
    return f"the modules{' (or the sensor of their light)' if sensed else ''} {verb} {sized} {how}"


def _of_light(own: Beside, cause: Candidate, size: Span, sized: str, when: str, since: str) -> str:
    """Return in words what takes light."""
    less = "less" if size.value > 0 else "more"
    if cause.kind == DIRT:
        sensed = measured_name(POA, own.site.planes[cause.of[0]].name) in own.weather
        other = ", or a sensor of their light that reads high" if sensed else ""
        return f"dirt on the modules{other}: {sized} of the light is missing in all hours"
    told = {
        SHADOW: f"a shadow{when}: {sized} of the power is missing",
        DIRT_BY_RAIN: f"dirt that grows by {sized} of the light a day until it rains",
        SENSOR: f"{sized} {less} than the light lets expect, on all alike: the sensor of light, "
        "or all modules",
        DRIFT: f"{sized} {less} a year beside the light, on all alike: the sensor of light "
        "drifts, or all modules do",
        LOSS: f"{sized} of the light is missing in all hours{since}: dirt, or its sensor changed",
    }
    return told[cause.kind]


def _clock_words(cause: Candidate, size: Span, sized: str) -> str:
    order = "later" if size.value > 0 else "earlier"
    if cause.of == (LIGHT_LATE,):
        return (
            f"The power is written {sized} {order} than the light: two clocks, or "
            "a step marked at its other end."
        )
    return (
        f"The log's clock writes {sized} {order} than the sun: mornings and evenings "
        "are off by opposite signs."
    )


def _which(own: Beside, cause: Candidate) -> str:
    strings = own.wiring.trackers[cause.of[0]].strings
    if len(strings) == 1:
        return "its string"
    alike = [at for at, each in enumerate(strings) if each == strings[cause.of[1]]]
    numbers = " or ".join(str(at + 1) for at in alike)
    return f"string {numbers}"


def when_told(hours: tuple[int, ...], months: tuple[str, ...]) -> str:
    """Return hours and months in words that stand behind others; empty where all show it."""
    parts = []
    if hours:
        parts.append(" at " + ", ".join(_runs(hours)))
    if months:
        parts.append(" in " + _months(months))
    return "".join(parts)


def _runs(hours: tuple[int, ...]) -> list[str]:
    """Return hours as clock times, neighbours together."""
    found: list[list[int]] = []
    for hour in hours:
        if found and found[-1][1] == hour:
            found[-1][1] = hour + 1
        else:
            found.append([hour, hour + 1])
    return [f"{first:02d}:00 to {last:02d}:00" for first, last in found]


def _months(months: tuple[str, ...]) -> str:
    if len(months) <= 3:
        return ", ".join(months)
    return f"{len(months)} months from {months[0]} to {months[-1]}"
