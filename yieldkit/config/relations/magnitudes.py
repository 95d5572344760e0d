"""Sizes that no plant has, and the slip that probably made them."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from typing import Any, NamedTuple, cast

from yieldkit.base.errors import Problem
from yieldkit.config.reading.content import Content, Location
from yieldkit.config.reading.parts import entries, inside, inverters_in, number, part
from yieldkit.config.reading.wording import is_number
from yieldkit.config.relations.sizes import SIZES, Size


class _Span(NamedTuple):
    """What a number may be, and what to multiply it with if it is another unit's."""

    least: float
    most: float
    unit: str
    slips: tuple[tuple[float, str], ...]
    otherwise: str = ""


# All spans: common practice, no source; wide enough for every plant on a low-voltage network.
_LENGTH = _Span(
    0.0,
    2000.0,
    "m",
    ((0.001, "In millimetres?"), (0.01, "In centimetres?")),
    "The route of another plant?",
)
_OHMS = _Span(0.0, 5.0, "ohm", ((0.001, "In milliohms?"),), "The resistance of an insulation?")
_SHARE = _Span(
    0.5,
    1.0,
    "as a share",
    (
        (10.0, "A slipped decimal point?"),
        (100.0, "Divided by 100 twice?"),
        (1000.0, "A slipped decimal point?"),
    ),
    "Another figure of the datasheet?",
)
_LOW_LOAD = _SHARE._replace(least=0.1)
_AIR = _Span(0.0, 300.0, "m", ((0.001, "In millimetres?"), (0.01, "In centimetres?")))
_NIGHT_SHARE = 0.01
_AUXILIARY_SHARE = 0.05
_ALWAYS_W = 100.0


def magnitudes(content: Content) -> Iterator[Problem]:
    """Give the numbers that are a matter of units or of a slipped decimal point.

    Parameters
    ----------
    content : Content
        The file's content, of any shape.
    """
    for at, owner, key, span in _spans(content.values):
        yield from _outside(content, (*at, key), number(owner, key), span)
    for at, inverter in inverters_in(content.values):
        yield from _efficiencies(content, at, inverter)
        yield from _own_consumption(content, at, inverter)


def _spans(values: Any) -> Iterator[tuple[Location, Any, str, _Span]]:
    for at, wiring in entries(values, "wirings"):
        for tracker_at, tracker in entries(wiring, "trackers"):
            for string_at, string in entries(tracker, "strings"):
                cable = (*at, *tracker_at, *string_at, "cable")
                yield cable, part(string, "cable"), "length_m", _LENGTH
    for at, plane in entries(values, "planes"):
        yield (*at, "cable_exit"), part(plane, "cable_exit"), "onward_m", _LENGTH
    yield ("grid", "lead"), part(values, "grid", "lead"), "length_m", _LENGTH
    for at, installed in entries(values, "inverters"):
        yield (*at, "lead"), part(installed, "lead"), "length_m", _LENGTH
    for key in ("network_resistance_ohm", "network_reactance_ohm"):
        yield ("grid",), part(values, "grid"), key, _OHMS
    yield ("weather",), part(values, "weather"), "wind_height_m", _AIR
    for spot, inverter in inverters_in(values):
        for at, mppt in inside(inverter, spot, "mppts"):
            yield at, mppt, "tracking_efficiency", _SHARE
        for key in ("european", "cec", "maximum"):
            yield (*spot, "efficiency"), part(inverter, "efficiency"), key, _SHARE


def _outside(content: Content, at: Location, value: float | None, span: _Span) -> Iterator[Problem]:
    """Give a problem where a number is outside its span; shares above 1 are the models' matter."""
    if value is None or value < 0.0 or span.least <= value <= span.most or value > 1e9:
        return
    if span.most == 1.0 and (value > 1.0 or value <= 0.0):
        return
    cause, remedy = span.otherwise, ""
    for factor, cause_text in span.slips:
        meant = value * factor
        if max(span.least, 0.0) < meant <= span.most:
            cause, remedy = cause_text, f"Write {meant:.6g}"
            break
    yield Problem(
        content.where(at),
        f"{value:g}" if span.unit == "as a share" else f"{value:g} {span.unit}",
        f"{span.least:g} to {span.most:g} {span.unit}",
        cause=cause,
        remedy=remedy,
    )


def _efficiencies(content: Content, spot: Location, inverter: Any) -> Iterator[Problem]:
    at = (*spot, "efficiency", "values")
    rows = part(inverter, "efficiency", "values")
    for place, row in enumerate(rows if isinstance(rows, tuple) else ()):
        for column, value in enumerate(row if isinstance(row, tuple) else ()):
            if is_number(value):
                yield from _outside(content, (*at, place, column), float(value), _LOW_LOAD)


def _own_consumption(content: Content, at: Location, inverter: Any) -> Iterator[Problem]:
    nominal = number(part(inverter, "ac"), "nominal_power_w")
    if nominal is None or nominal < 100.0:
        return
    for key, share in (("night_power_w", _NIGHT_SHARE), ("auxiliary_power_w", _AUXILIARY_SHARE)):
        value, most = number(inverter, key), max(share * nominal, _ALWAYS_W)
        if value is None or value <= most or value > 1e9:
            continue
        milliwatts = value / 1000.0 <= most
        yield Problem(
            content.where((*at, key)),
            f"{value:g} W beside a nominal power of {nominal:g} W",
            f"0 to {most:g} W",
            cause="In milliwatts?" if milliwatts else "The power of the inverter itself?",
            remedy=f"Write {value / 1000.0:g}" if milliwatts else "",
        )


def unlikely_sizes(content: Content) -> Iterator[Problem]:
    """Give the numbers that no plant has.

    Parameters
    ----------
    content : Content
        The file's content, of any shape. What its types refuse isn't given again.
    """
    for at, value, size in _sized(content.values):
        refused = abs(value) > 1e9 or (value <= 0.0 <= size.least)
        allowed = size.least <= value <= size.most or (size.or_zero and value == 0.0)
        if not (refused or allowed):
            yield _problem(content.where(at), value, size)


def _problem(where: str, value: float, size: Size) -> Problem:
    cause, remedy = "Another unit, or a slipped decimal point?", ""
    for factor, cause_text in size.slips:
        if size.least <= value * factor <= size.most:
            cause, remedy = cause_text, f"Write {value * factor:.6g}"
            break
    zero = "0, or " if size.or_zero else ""
    unit = "" if size.unit == "as a share" else f" {size.unit}"
    return Problem(
        where,
        f"{value:.10g}{unit}",
        f"{zero}{size.least:g} to {size.most:.10g} {size.unit}",
        cause=cause,
        remedy=remedy,
    )


_Tree = dict[str, "_Tree | Size"]


@cache
def _tree() -> _Tree:
    """Return the sizes by the keys that lead to them."""
    tree: _Tree = {}
    for keys, size in SIZES.items():
        inner, (*way, last) = tree, keys.split(".")
        for key in way:
            inner = cast(_Tree, inner.setdefault(key, {}))
        inner[last] = size
    return tree


def _sized(node: Any) -> Iterator[tuple[Location, float, Size]]:
    """Give every number that has a size, and where it stands; no level hands on the others'."""
    waiting: list[tuple[Location, Any, _Tree | Size]] = [((), node, _tree())]
    while waiting:
        here, inner, sizes = waiting.pop()
        if isinstance(inner, tuple):
            places = range(len(inner) - 1, -1, -1)
            waiting += [((*here, place), inner[place], sizes) for place in places]
        elif isinstance(sizes, Size):
            if is_number(inner):
                yield here, float(inner), sizes
        elif isinstance(inner, dict):
            named = reversed([key for key in inner if key in sizes])
            waiting += [((*here, key), inner[key], sizes[key]) for key in named]
