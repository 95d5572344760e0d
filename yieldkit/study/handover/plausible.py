"""Readings that no such string can give, and the slip that probably made them."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from typing import NamedTuple

import pandas as pd

from yieldkit.base.errors import Problem
from yieldkit.config.site.site import Site, WiredString, Wiring
from yieldkit.design.checks.limits import site_facts
from yieldkit.design.checks.wired import ModuleFacts
from yieldkit.physics.irradiance.sun import sun_position
from yieldkit.study.handover.names import named_strings

_SLIP = 3.2
"""Strings of a wiring in series can give so many times a string's voltage, and hardly more."""
_IN_THE_COLD = 1.3
"""What the longest string of the wiring, swapped with a short one, can give against its size."""
_NIGHT_DEG = 10.0
"""Below the horizon there is no light, even by a clock that is half an hour off."""
_THOUSAND = 20.0
_AS_KILO = 0.0015
_MOST_OHM = 1e11
_COLDEST_C, _HOTTEST_C = -60.0, 95.0
"""Temperatures of modules [degC]; more than the upper is degF or kelvin where people read it."""


_RANGES = {
    "tilt": ("a tilt against the horizontal", 0.0, 90.0, "deg"),
    "azimuth": ("an azimuth from north through east", 0.0, 360.0, "deg"),
    "poa_second": ("an irradiance", 2.0, 1700.0, "W/m2"),
    "clock_ahead": ("a clock's difference", -720.0, 720.0, "min"),
}
"""Quantities that are read without a meter: what they are called, and what they can be."""


class Sizes(NamedTuple):
    """What a string or input gives at standard test conditions: [V], [A], [W]."""

    volts: float
    amperes: float
    watts: float


def sizes_of(site: Site, wiring: Wiring) -> dict[str, Sizes]:
    """Return the sizes of every string and every used input by name.

    Parameters
    ----------
    site : Site
        The site.
    wiring : Wiring
        One of its wirings.
    """
    types = {plane.name: plane.module_type for plane in site.planes}
    facts = site_facts(site)
    found: dict[str, Sizes] = {}
    for one in named_strings(site, wiring):
        own = _size(one.string, types, facts)
        found[one.name] = own
        beside = found.get(one.input_name, Sizes(0.0, 0.0, 0.0))
        found[one.input_name] = Sizes(
            max(beside.volts, own.volts), beside.amperes + own.amperes, beside.watts + own.watts
        )
    return found


def largest_of(sizes: dict[str, Sizes]) -> Sizes:
    """Return the most that any string or input gives [V], [A], [W]."""
    return Sizes(*(max(own) for own in zip(*sizes.values(), strict=True)))


def _size(string: WiredString, types: dict[str, str], facts: dict[str, ModuleFacts]) -> Sizes:
    groups = [(group.modules, facts[types[group.plane]]) for group in string.groups]
    return Sizes(
        sum(count * own.v_oc for count, own in groups),
        max(own.i_sc for _, own in groups),
        sum(count * own.p_max for count, own in groups),
    )


def value_problem(
    where: str, key: str, value: float, sizes: Sizes, largest: Sizes
) -> Iterator[Problem]:
    """Give what is wrong with the size of a reading, if anything is.

    Parameters
    ----------
    where : str
        Its line.
    key : str
        Its quantity.
    value : float
        In SI.
    sizes : Sizes
        What its string or input gives at standard test conditions.
    largest : Sizes
        The most that any of the wiring gives: what may hang here by a slip.
    """
    kinds = {
        "v": (sizes.volts, largest.volts, "V", "mV"),
        "i": (sizes.amperes, largest.amperes, "A", "mA"),
        "p": (sizes.watts, largest.watts, "W", "mW"),
    }
    if key.startswith("insulation"):
        if value < 0.0 or value > _MOST_OHM:
            yield Problem(
                where,
                f"{value / 1e6:g} Mohm",
                "an insulation resistance from 0 to 100,000 Mohm",
                cause="It looks like ohm" if value > 0.0 else "",
                remedy="Write ohm in the column unit" if value > 0.0 else "",
            )
        return
    if key[:1] not in kinds or key == "polarity":
        return
    usual, most, unit, smaller = kinds[key[0]]
    if abs(value) > max(_SLIP * usual, _IN_THE_COLD * most):
        thousand = abs(value) > _THOUSAND * usual and smaller != "mW"
        yield Problem(
            where,
            f"{value:g} {unit}",
            f"about {usual:.4g} {unit} at most (standard test conditions)",
            cause=f"It looks like {smaller}" if thousand else "A decimal sign lost?",
            remedy=f"Write {smaller} in the column unit" if thousand else "",
        )
    elif key == "p_dc" and 0.0 < value < _AS_KILO * usual:
        yield Problem(
            where,
            f"{value:g} W",
            f"W, where these strings give {usual:,.0f} W at standard test conditions",
            cause="It looks like kW",
            remedy="Write kW in the column unit; leave out a power that is really so small",
        )


def check_problem(where: str, key: str, value: float, light: float) -> Iterator[Problem]:
    """Give what is wrong with something that was read without a meter, if anything is.

    Parameters
    ----------
    where : str
        Its line.
    key : str
        Its quantity.
    value : float
        [deg], [W/m2] or [min].
    light : float
        What the first light sensor read beside it [W/m2]; nan where nothing was.
    """
    words, least, most, unit = _RANGES[key]
    if not least <= value <= most:
        yield Problem(where, f"{value:g} {unit}", f"{words} from {least:g} to {most:g} {unit}")
    if key == "poa_second" and light != light:
        yield Problem(
            where,
            "nothing of the first sensor beside it",
            "what the first sensor reads in the same plane at the same minute, in the column "
            "irradiance",
            cause="A second sensor tells of the first, by itself it tells nothing",
        )


def night_problem(where: str, moment: datetime, site: Site) -> Iterator[Problem]:
    """Give a reading of voltage, current or power that was made while the sun was far below.

    Parameters
    ----------
    where : str
        Its line.
    moment : datetime
        When it was read, in UTC.
    site : Site
        Where.
    """
    place = site.site
    sun = sun_position(
        pd.DatetimeIndex([moment]), place.latitude, place.longitude, place.altitude_m
    )
    below = float(sun.zenith[0]) - 90.0
    if below > _NIGHT_DEG:
        yield Problem(
            where,
            f"{moment:%Y-%m-%d %H:%M} UTC, when the sun stands {below:.0f} degrees below the "
            "horizon",
            "a time of daylight",
            cause="Twelve hours off, another zone's clock, or another day's date?",
        )


def light_problem(where: str, light: float, heat: float) -> Iterator[Problem]:
    """Give what is wrong with the light or the temperature beside a reading.

    Parameters
    ----------
    where : str
        The line.
    light, heat : float
        In-plane irradiance [W/m2] and module temperature [degC]; nan where none was read.
    """
    if not (light != light or 2.0 <= light <= 1700.0 or -10.0 <= light <= 0.0):
        yield Problem(
            where,
            f"an irradiance of {light:g} W/m2",
            "0, or 2 to 1,700 W/m2",
            cause="It looks like kW/m2" if 0.0 < light < 2.0 else "",
        )
    if not (heat != heat or _COLDEST_C <= heat <= _HOTTEST_C):
        told = {"kelvin": heat - 273.15, "degF": (heat - 32.0) / 1.8}
        likely = [unit for unit, own in told.items() if _COLDEST_C <= own <= _HOTTEST_C]
        unit = likely[0] if likely else ""
        yield Problem(
            where,
            f"a module temperature of {heat:g} degC",
            f"{_COLDEST_C:g} to {_HOTTEST_C:g} degC",
            cause=f"It looks like {unit}, which would be {told[unit]:.1f} degC" if unit else "",
        )
