"""Limits of an inverter that contradict one another."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from typing import Any

from yieldkit.base.errors import Problem
from yieldkit.config.reading.content import Content, Location
from yieldkit.config.reading.parts import inside, inverters_in, number, part
from yieldkit.config.reading.wording import is_number, shown

_ORDER = (
    ("mpp_voltage_min_v", "mpp_voltage_max_v", "the tracking window's lower end below its upper"),
    ("mpp_voltage_max_v", "max_voltage_v", "a tracking window below the absolute maximum voltage"),
    ("stop_voltage_v", "start_voltage_v", "a stop voltage at or below the start-up voltage"),
    ("start_voltage_v", "max_voltage_v", "a start-up voltage below the absolute maximum"),
    ("stop_power_w", "start_power_w", "a stop power at or below the start-up power"),
    (
        "full_power_voltage_min_v",
        "full_power_voltage_max_v",
        "the full-power window's lower end below its upper",
    ),
    (
        "mpp_voltage_min_v",
        "full_power_voltage_min_v",
        "a full-power window inside the tracking window",
    ),
    (
        "full_power_voltage_max_v",
        "mpp_voltage_max_v",
        "a full-power window inside the tracking window",
    ),
    (
        "max_operating_voltage_v",
        "max_voltage_v",
        "an operating voltage at or below the absolute maximum",
    ),
    (
        "max_input_current_a",
        "short_circuit_rating_a",
        "an operating current at or below the short-circuit rating",
    ),
)
_BETWEEN_PHASES = (380.0, 400.0, 415.0, 440.0, 480.0)
_CARRIED = 0.6
"""Smallest share of its nominal power that an inverter's current carries: less is a slip, such as
a third or the voltage between phases reckoned in twice (common practice, no source)."""


def inverter_relations(content: Content) -> Iterator[Problem]:
    """Give the problems between the limits, the AC side, the efficiency and the derating.

    Parameters
    ----------
    content : Content
        The file's content, of any shape.
    """
    for at, inverter in inverters_in(content.values):
        yield from _windows(content, at, inverter)
        yield from _pairs(content, at, inverter)
        yield from _ac_side(content, at, inverter)
        yield from _efficiency(content, at, inverter)
        yield from _derating(content, at, inverter)


def _windows(content: Content, spot: Location, inverter: Any) -> Iterator[Problem]:
    for at, mppt in inside(inverter, spot, "mppts"):
        for low, high, needed in _ORDER:
            one, two = number(mppt, low), number(mppt, high)
            if one is not None and two is not None and one > two:
                yield Problem(
                    content.where((*at, low)),
                    f"{low} {one:g} above {high} {two:g}",
                    needed,
                    remedy="Are the two swapped?",
                )


def _pairs(content: Content, spot: Location, inverter: Any) -> Iterator[Problem]:
    for at, pair in inside(inverter, spot, "max_dc_power_pairs"):
        listed = part(pair, "mppts")
        texts = (
            [each for each in listed if isinstance(each, str)] if isinstance(listed, tuple) else []
        )
        if len(set(texts)) < len(texts):
            yield Problem(
                content.where((*at, "mppts")), "an MPPT input twice", "two or more different inputs"
            )


def _ac_side(content: Content, spot: Location, inverter: Any) -> Iterator[Problem]:
    ac = part(inverter, "ac")
    nominal, largest = number(ac, "nominal_power_w"), number(ac, "max_power_w")
    apparent, volts = number(ac, "max_apparent_power_va"), number(ac, "nominal_voltage_v")
    spot = (*spot, "ac")
    if nominal is not None and 0.0 < nominal < 100.0:
        yield Problem(
            content.where((*spot, "nominal_power_w")),
            f"{nominal:g} W",
            "the nominal power in watts",
            cause="In kilowatts?",
            remedy=f"Write {1000.0 * nominal:g}",
        )
    yield from _carried(content, spot, ac)
    for key, value in (("max_power_w", largest), ("max_apparent_power_va", apparent)):
        if nominal is not None and value is not None and value < nominal:
            yield Problem(
                content.where((*spot, key)),
                f"{key} {value:g} below nominal_power_w {nominal:g}",
                "at least the nominal power",
                remedy="Are the two swapped?",
            )
    if volts is not None and part(ac, "phases") == 3 and volts in _BETWEEN_PHASES:
        yield Problem(
            content.where((*spot, "nominal_voltage_v")),
            f"{volts:g} V with three phases",
            "the voltage from phase to neutral",
            cause="The voltage between phases?",
            remedy=f"Write {volts / 3.0**0.5:.0f}",
        )


def _carried(content: Content, spot: Location, ac: Any) -> Iterator[Problem]:
    """Give a largest current by which leads would be judged, and that can't be a phase's."""
    nominal, amperes = number(ac, "nominal_power_w"), number(ac, "max_current_a")
    volts, phases = number(ac, "nominal_voltage_v"), part(ac, "phases")
    if nominal is None or amperes is None or volts is None or phases not in (1, 3):
        return
    carried = phases * volts * amperes
    if 0.0 < carried < _CARRIED * nominal:
        yield Problem(
            content.where((*spot, "max_current_a")),
            f"max_current_a {amperes:g}, by which {phases} x {volts:g} V carry {carried:,.0f} W",
            f"about {nominal / (phases * volts):.1f} A of each phase or more, for a nominal power "
            f"of {nominal:,.0f} W",
            cause="The current of another model, or of other phases?",
        )


def _efficiency(content: Content, spot: Location, inverter: Any) -> Iterator[Problem]:
    entry = part(inverter, "efficiency")
    if not isinstance(entry, dict):
        return
    spot = (*spot, "efficiency")
    for axis in ("loads", "voltages_v"):
        values = entry.get(axis)
        if isinstance(values, tuple) and all(map(is_number, values)):
            if not values:
                yield Problem(content.where((*spot, axis)), "no values", "at least one value")
            if any(one >= two for one, two in pairwise(values)):
                yield Problem(
                    content.where((*spot, axis)),
                    ", ".join(map(shown, values)),
                    "rising values, each once",
                )
    yield from _shape(content, (*spot, "values"), entry)
    best = number(entry, "maximum")
    for key in ("european", "cec"):
        weighted = number(entry, key)
        if weighted is not None and best is not None and best < weighted <= 1.0:
            yield Problem(
                content.where((*spot, key)),
                f"{weighted:g} above the maximum {best:g}",
                "a weighted efficiency at or below the maximum",
                remedy="Are the two swapped?",
            )


def _shape(content: Content, spot: Location, entry: dict[str, Any]) -> Iterator[Problem]:
    rows, loads, volts = (entry.get(key) for key in ("values", "loads", "voltages_v"))
    if not (isinstance(rows, tuple) and isinstance(loads, tuple) and isinstance(volts, tuple)):
        return
    if len(rows) != len(volts):
        yield Problem(
            content.where(spot),
            f"{len(rows)} rows for {len(volts)} voltages",
            "one row for each voltage",
        )
    for index, row in enumerate(rows):
        if isinstance(row, tuple) and len(row) != len(loads):
            yield Problem(
                content.where((*spot, index)),
                f"{len(row)} values for {len(loads)} loads",
                "one value for each load",
            )


def _derating(content: Content, spot: Location, inverter: Any) -> Iterator[Problem]:
    groups: dict[float | None, list[tuple[float, float, int]]] = {}
    for at, point in inside(inverter, spot, "derating"):
        temp, power = number(point, "temp_inlet_c"), number(point, "max_power_w")
        if temp is not None and power is not None:
            index = int(at[-1])
            groups.setdefault(number(point, "dc_voltage_v"), []).append((temp, power, index))
    for points in groups.values():
        ordered = sorted(points)
        for (cold, more, _), (hot, less, index) in pairwise(ordered):
            at = (*spot, "derating", index)
            if hot == cold:
                yield Problem(
                    content.where((*at, "temp_inlet_c")),
                    f"{hot:g} degC again",
                    "each temperature once for a DC voltage",
                )
            elif less > more:
                yield Problem(
                    content.where((*at, "max_power_w")),
                    f"{less:g} W at {hot:g} degC above {more:g} W at {cold:g} degC",
                    "a power that doesn't rise with temperature",
                    remedy="Are the two swapped?",
                )
