"""Sizes that no plant has, and the slip that probably made them."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from typing import Any, NamedTuple, cast

from yieldkit.base.errors import Problem
from yieldkit.config.reading.content import Content, Location
from yieldkit.config.reading.parts import entries, inside, inverters_in, number, part
from yieldkit.config.reading.wording import is_number


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


_MILLI_A = ((0.001, "In milliamperes?"),)
_KILO_V = ((1000.0, "In kilovolts?"), (0.001, "In millivolts?"))
_KILO_W = ((1000.0, "In kilowatts?"), (0.001, "In milliwatts?"))
_SHORT = ((0.001, "In millimetres?"), (0.01, "In centimetres?"))
_SECONDS = ((0.001, "In milliseconds?"),)
_TENTH = ((0.1, "A slipped decimal point?"), (0.01, "A slipped decimal point?"))


class _Size(NamedTuple):
    """What a number may be, and what to multiply it with if it is in another unit."""

    least: float
    most: float
    unit: str
    slips: tuple[tuple[float, str], ...] = ()
    or_zero: bool = False


# All sizes: common practice, no source; wide enough for every plant on a low-voltage network.
_AMPERES = _Size(0.5, 6300.0, "A", _MILLI_A)
_FUSE = _Size(0.5, 200.0, "A", _MILLI_A)
_RATED_V = _Size(50.0, 5000.0, "V", _KILO_V)
_INPUT_V = _Size(5.0, 3000.0, "V", _KILO_V)
_PLANT_W = _Size(50.0, 2e6, "W", _KILO_W)
_RISE_V = _Size(0.0, 60.0, "V", ((0.001, "In millivolts?"),))
_DELAY_S = _Size(0.0, 7200.0, "s", _SECONDS)
_CONDUCTOR_C = _Size(-40.0, 150.0, "degC")
_AIR_C = _Size(-50.0, 120.0, "degC")
_PERCENT = _Size(0.0, 20.0, "%", _TENTH)

_MODULE = {
    "p_max_w": _Size(0.05, 2000.0, "W", _KILO_W),
    "v_oc_v": _Size(0.4, 1000.0, "V", _KILO_V),
    "v_mp_v": _Size(0.3, 1000.0, "V", _KILO_V),
    "i_sc_a": _Size(0.01, 100.0, "A", _MILLI_A),
    "i_mp_a": _Size(0.01, 100.0, "A", _MILLI_A),
    "i_sc_bnpi_a": _Size(0.01, 115.0, "A", _MILLI_A),
    "cells_in_series": _Size(1.0, 1000.0, "cells"),
    "bypass_diodes": _Size(1.0, 200.0, "diodes"),
    "v_oc_tolerance_percent": _PERCENT,
    "initial_v_oc_excess_percent": _PERCENT,
    "relative_efficiency_200": _Size(0.5, 1.2, "as a share", ((0.01, "In percent?"),)),
    "max_system_voltage_v": _Size(20.0, 5000.0, "V", _KILO_V),
    "max_ocpr_a": _FUSE,
    "length_m": _Size(0.05, 5.0, "m", ((1000.0, "In kilometres?"), *_SHORT)),
    "width_m": _Size(0.05, 5.0, "m", ((1000.0, "In kilometres?"), *_SHORT)),
    "lead_length_m": _Size(0.05, 20.0, "m", _SHORT),
    "capacitance_nf_per_kwp": _Size(
        1.0, 10_000.0, "nF per kWp", ((1000.0, "In microfarads?"), (0.001, "In picofarads?"))
    ),
    "power_matrix.irradiance_w_m2": _Size(
        20.0, 1500.0, "W/m2", ((1000.0, "In kilowatts per square metre?"),)
    ),
    "power_matrix.temp_cell_c": _Size(-50.0, 120.0, "degC"),
    "power_matrix.power_w": _Size(0.001, 2000.0, "W", _KILO_W),
}
_INPUT = {
    "connectors": _Size(1.0, 100.0, "connectors"),
    "max_current_per_connector_a": _AMPERES,
    "max_voltage_v": _Size(20.0, 3000.0, "V", _KILO_V),
    "start_voltage_v": _INPUT_V,
    "stop_voltage_v": _INPUT_V._replace(least=1.0),
    "start_power_w": _Size(0.0, 10_000.0, "W", ((0.001, "In milliwatts?"),)),
    "stop_power_w": _Size(0.0, 10_000.0, "W", ((0.001, "In milliwatts?"),)),
    "start_delay_s": _DELAY_S,
    "restart_delay_s": _DELAY_S,
    "mpp_voltage_min_v": _INPUT_V,
    "mpp_voltage_max_v": _INPUT_V,
    "full_power_voltage_min_v": _INPUT_V,
    "full_power_voltage_max_v": _INPUT_V,
    "max_input_current_a": _AMPERES,
    "short_circuit_rating_a": _AMPERES,
    "max_power_w": _PLANT_W,
    "max_operating_voltage_v": _INPUT_V,
    "string_fuses_built_in_a": _FUSE,
}
_INVERTER = {
    "max_dc_power_w": _PLANT_W,
    "max_dc_power_pairs.max_power_w": _PLANT_W,
    "max_dc_short_circuit_a": _AMPERES,
    "backfeed_current_a": _AMPERES._replace(least=0.0),
    "connector_rated_voltage_v": _RATED_V,
    "altitude_derating.percent_per_100_m": _Size(0.0, 10.0, "%", ((0.1, "Per kilometre?"),)),
    "derating.temp_inlet_c": _Size(-50.0, 120.0, "degC"),
    "derating.max_power_w": _PLANT_W._replace(or_zero=True),
    "derating.dc_voltage_v": _INPUT_V,
    "efficiency.voltages_v": _INPUT_V,
    "efficiency.voltage_v": _INPUT_V,
    "ac.nominal_power_w": _PLANT_W,
    "ac.max_power_w": _PLANT_W,
    "ac.max_apparent_power_va": _PLANT_W._replace(
        unit="VA", slips=((1000.0, "In kilovolt-amperes?"),)
    ),
    "ac.max_current_a": _AMPERES._replace(least=0.1),
    "ac.nominal_voltage_v": _Size(50.0, 1000.0, "V", _KILO_V),
    "ac.export_limit_w": _PLANT_W._replace(or_zero=True),
    "ac.max_overcurrent_device_a": _AMPERES,
    "dc_isolator.rated_voltage_v": _RATED_V,
    "dc_isolator.rated_current_a": _AMPERES,
    "dc_isolator.poles": _Size(1.0, 16.0, "poles"),
    "surge_protection.dc_max_continuous_voltage_v": _RATED_V,
}
_GRID = {
    "load_w": _Size(1.0, 2e6, "W", _KILO_W, or_zero=True),
    "load.power_w": _Size(1.0, 2e6, "W", _KILO_W, or_zero=True),
    "load.hours_w": _Size(1.0, 2e6, "W", _KILO_W, or_zero=True),
    "export_limit_w": _PLANT_W._replace(or_zero=True),
    "busbar_rating_a": _AMPERES,
    "main_device_a": _AMPERES,
    "network_voltage.voltage_v": _Size(50.0, 1000.0, "V", _KILO_V),
    "network_voltage.daily_swing_v": _RISE_V,
    "network_voltage.load_term_v": _RISE_V,
    "network_voltage.neighbours_rise_v": _RISE_V,
    "network_voltage.noise_v": _RISE_V,
    "network_voltage.correlation_time_min": _Size(
        0.1, 10_080.0, "min", ((1.0 / 60.0, "In seconds?"), (60.0, "In hours?"))
    ),
}
_LEAD = {
    "overcurrent_device_a": _AMPERES,
    "temp_conductor_c": _CONDUCTOR_C,
    "temp_ambient_c": _AIR_C,
    "circuits_bunched": _Size(1.0, 200.0, "circuits"),
}
_CABLE = {
    "temp_conductor_c": _CONDUCTOR_C,
    "temp_ambient_c": _AIR_C,
    "rated_voltage_v": _RATED_V,
    "circuits_bunched": _Size(1.0, 200.0, "circuits"),
}
_WALL = {
    "width_m": _Size(0.1, 200.0, "m", _SHORT),
    "height_m": _Size(0.1, 50.0, "m", _SHORT),
    "case_width_m": _Size(0.05, 5.0, "m", _SHORT),
    "case_height_m": _Size(0.05, 5.0, "m", _SHORT),
    "inverters": _Size(1.0, 500.0, "inverters"),
}
_TYPES, _PLACES = ("inverter", "inverter_types"), ("inverter_place", "inverters.place")
SIZES = {
    **{f"module_types.{key}": size for key, size in _MODULE.items()},
    **{f"{at}.mppts.{key}": size for at in _TYPES for key, size in _INPUT.items()},
    **{f"{at}.{key}": size for at in _TYPES for key, size in _INVERTER.items()},
    **{f"grid.{key}": size for key, size in _GRID.items()},
    **{f"wirings.trackers.strings.cable.{key}": size for key, size in _CABLE.items()},
    **{f"{at}.lead.{key}": size for at in ("grid", "inverters") for key, size in _LEAD.items()},
    **{f"{at}.wall.{key}": size for at in _PLACES for key, size in _WALL.items()},
    "wirings.trackers.strings.fuse_a": _FUSE,
    "wirings.trackers.strings.groups.modules": _Size(1.0, 1000.0, "modules"),
    "planes.modules": _Size(1.0, 20_000.0, "modules"),
    "site.ground_flash_density_per_km2_year": _Size(0.0, 300.0, "per km2 and year", _TENTH),
}
"""What the numbers may be whose type alone allows nearly everything, by their keys."""


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


def _problem(where: str, value: float, size: _Size) -> Problem:
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


_Tree = dict[str, "_Tree | _Size"]


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


def _sized(node: Any) -> Iterator[tuple[Location, float, _Size]]:
    """Give every number that has a size, and where it stands; no level hands on the others'."""
    waiting: list[tuple[Location, Any, _Tree | _Size]] = [((), node, _tree())]
    while waiting:
        here, inner, sizes = waiting.pop()
        if isinstance(inner, tuple):
            places = range(len(inner) - 1, -1, -1)
            waiting += [((*here, place), inner[place], sizes) for place in places]
        elif isinstance(sizes, _Size):
            if is_number(inner):
                yield here, float(inner), sizes
        elif isinstance(inner, dict):
            named = reversed([key for key in inner if key in sizes])
            waiting += [((*here, key), inner[key], sizes[key]) for key in named]
