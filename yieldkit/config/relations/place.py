"""The place, its clock, and the files that must be there."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

from yieldkit.base.errors import InputError, Problem, nearest
from yieldkit.base.measured_planes import PLANE_QUANTITIES
from yieldkit.base.readable_files import other_than_file
from yieldkit.base.time_zones import utc_offset, zone_name
from yieldkit.config.reading.content import Content, Location
from yieldkit.config.reading.parts import inverters_in, number, part
from yieldkit.config.reading.wording import is_number, one_of, shown
from yieldkit.config.relations.weather_files import weather_files

_FAR_OFF_H = 3.25
_OFF_H = 1.65
"""Hours between sun and clock: no clock is further off than the first; only a few, in the far
west of their zone, are further off than the second (computed from zones and coasts)."""
_SWAP_LATITUDE = 70.0
_TABLES = ("csv", "parquet")


def place_relations(content: Content, folder: str) -> Iterator[Problem]:
    """Give the problems of place, clock, design temperatures, weather and network voltage.

    Parameters
    ----------
    content : Content
        The file's content, of any shape.
    folder : str
        Folder from which its relative paths count.
    """
    yield from _zone(content)
    yield from _temperatures(content)
    yield from _weather(content, folder)
    yield from _network(content, folder)


def _zone(content: Content) -> Iterator[Problem]:
    site = part(content.values, "site")
    where = content.where(("site", "time_zone"))
    offset_h, problems = _offset_h(part(site, "time_zone"), where)
    yield from problems
    _, problems = _offset_h(
        part(content.values, "weather", "zone"), content.where(("weather", "zone"))
    )
    yield from problems
    for spot in (("grid", "network_voltage", "zone"), ("grid", "load", "zone")):
        yield from _offset_h(part(content.values, *spot), content.where(spot))[1]
    longitude, latitude = number(site, "longitude"), number(site, "latitude")
    if offset_h is None or longitude is None or latitude is None:
        return
    if part(site, "unusual_time_zone") is True:
        return
    problem = zone_far_off(where, offset_h, longitude, latitude)
    if problem is not None:
        remedy = "where the clock really is that far off write unusual_time_zone: true"
        yield replace(problem, remedy=f"{problem.remedy}; {remedy}")


def zone_far_off(where: str, offset_h: float, longitude: float, latitude: float) -> Problem | None:
    """Return what is wrong with a clock that is further off the sun than any, or None.

    Parameters
    ----------
    where : str
        Where the zone is stated.
    offset_h : float
        Its hours ahead of UTC [h].
    longitude, latitude : float
        Of the place [deg].
    """
    expected = longitude / 15.0
    off = abs(_hours(offset_h - expected))
    swapped = abs(longitude) <= _SWAP_LATITUDE and abs(_hours(offset_h - latitude / 15.0)) <= 1.0
    signed = abs(_hours(-offset_h - expected)) <= 1.0
    if abs(longitude) > 180.0 or off <= _OFF_H or not (swapped or signed or off > _FAR_OFF_H):
        return None
    cause = "The sign of the offset?" if signed else ""
    return Problem(
        where,
        f"zone {zone_name(round(offset_h * 3600.0))} at longitude {longitude:g}",
        f"about {zone_name(round(expected) * 3600)} there",
        cause="Latitude and longitude swapped?" if swapped else cause,
        remedy="Longitude is positive to the east, zones count hours ahead of UTC",
    )


def _hours(difference: float) -> float:
    """Return a difference of clocks between -12 and 12 hours."""
    return (difference + 12.0) % 24.0 - 12.0


def _offset_h(text: Any, where: str) -> tuple[float | None, tuple[Problem, ...]]:
    if not isinstance(text, str):
        return None, ()
    try:
        return utc_offset(text, where) / 3600.0, ()
    except InputError as error:
        return None, error.problems


def _temperatures(content: Content) -> Iterator[Problem]:
    entry = part(content.values, "site", "design_temperatures")
    spot = ("site", "design_temperatures")
    spans = (("lowest_ambient_c", -90.0, 35.0), ("highest_ambient_c", -30.0, 60.0))
    for key, low, high in spans:
        value = number(entry, key)
        if value is not None and not low <= value <= high:
            kelvin = 150.0 < value < 350.0
            celsius = value - 273.15 if kelvin else (value - 32.0) / 1.8
            yield Problem(
                content.where((*spot, key)),
                f"{value:g} degC",
                f"{low:g} to {high:g} degC",
                cause="In kelvin?" if kelvin else "In Fahrenheit?",
                remedy=f"That would be {celsius:.1f} degC",
            )
    lowest, highest = number(entry, "lowest_ambient_c"), number(entry, "highest_ambient_c")
    if lowest is not None and highest is not None and lowest >= highest:
        yield Problem(
            content.where((*spot, "lowest_ambient_c")),
            f"{lowest:g} degC as the lowest, {highest:g} degC as the highest ambient",
            "the lowest below the highest",
            remedy="Are the two swapped?",
        )


def _there(file: Any, folder: str) -> bool:
    """Return whether a path leads to a file, from a folder or from here."""
    try:
        return Path(folder, file).is_file() or Path(file).is_file()
    except (OSError, ValueError):
        return False


def _weather(content: Content, folder: str) -> Iterator[Problem]:
    weather = part(content.values, "weather")

    def missing(at: Location, file: str, known: list[str]) -> Problem:
        return _missing(content, at, file, folder, known)

    yield from weather_files(content, folder, _there, missing)
    if part(weather, "format") in _TABLES:
        yield from _table(content, weather)
    yield from _within_hour(content, weather, folder)
    offset, sampling = part(weather, "sun_offset_min"), part(weather, "sampling")
    if is_number(offset) and sampling == "mean":
        yield Problem(
            content.where(("weather", "sun_offset_min")),
            f"sun_offset_min {offset:g} with sampling mean",
            "an offset with snapshots only",
            remedy="Leave it out, or write sampling: snapshot",
        )


def _within_hour(content: Content, weather: Any, folder: str) -> Iterator[Problem]:
    """Give the problems of the minutes that a weather file is refined with."""
    spot = ("weather", "within_hour")
    smoothed = part(weather, "within_hour", "smoothed_over_min")
    if is_number(smoothed) and part(weather, "sampling") == "mean":
        yield Problem(
            content.where((*spot, "smoothed_over_min")),
            f"smoothed_over_min {smoothed:g} with sampling mean",
            "a smoothing of snapshots only",
            remedy="Leave it out: means are refined as they are.",
        )
    minutes = part(weather, "within_hour", "minutes")
    file = part(minutes, "file")
    if isinstance(file, str) and file and not _there(file, folder):
        yield _missing(content, (*spot, "minutes", "file"), file, folder, [])
    on_planes = [key for key in PLANE_QUANTITIES if part(minutes, "columns", key)]
    if on_planes:
        yield Problem(
            content.where((*spot, "minutes", "columns", on_planes[0])),
            f"{on_planes[0]} of planes among minutes to draw from",
            "columns of the sky: ghi, dni, dhi",
            remedy="Leave it out.",
        )
    if part(minutes, "format") not in _TABLES:
        return
    lacking = [key for key in ("columns", "label") if part(minutes, key) is None]
    if lacking:
        yield Problem(
            content.where((*spot, "minutes", "format")),
            f"a table of minutes without {' and '.join(lacking)}",
            "columns: {time: ..., ghi: ..., dni: ..., dhi: ..., temp_air: ...} with the file's "
            "names, and label: start, middle or end of the minute",
        )


def _table(content: Content, weather: dict[str, Any]) -> Iterator[Problem]:
    where = content.where(("weather", "format"))
    said = shown(weather.get("format"))[1:-1]
    if weather.get("columns") is None:
        yield Problem(
            where,
            f"format {said} without columns",
            "which column holds what",
            remedy="Write columns: {time: ..., ghi: ..., temp_air: ...} with the file's names; "
            "and zone: UTC+01:00 or another, unless its times carry their offset",
        )
    if weather.get("sampling") is None:
        yield Problem(
            where,
            f"format {said} without sampling",
            "sampling: mean (with label) or snapshot (with sun_offset_min)",
            cause="Half an hour of doubt moves an east plane by 5 % one way, a west the other",
        )
    elif weather.get("sampling") == "mean" and weather.get("label") is None:
        yield Problem(where, "means without a label", "label: start, middle or end")
    yield from _columns(content, weather)


def _columns(content: Content, weather: dict[str, Any]) -> Iterator[Problem]:
    columns = weather.get("columns")
    if not isinstance(columns, dict):
        return
    where = content.where(("weather", "columns"))
    lit = columns.get("ghi") is not None or columns.get("poa_global")
    if lit and columns.get("temp_air") is None:
        yield Problem(
            where,
            "columns without temp_air",
            "a column of air temperature in degC",
            remedy="Write temp_air: ... with the file's name for it",
        )
    by_column: dict[str, list[str]] = {}
    for name, column in columns.items():
        if isinstance(column, dict):
            continue  # two planes may share a sensor
        by_column.setdefault(str(column), []).append(str(name))
    for column, names in by_column.items():
        if column != "None" and len(names) > 1:
            yield Problem(
                where,
                f"column {shown(column)} for {' and '.join(names)}",
                "a column of its own for each quantity",
                remedy="Leave out what the file doesn't hold: dni and dhi are then modelled",
            )


def _missing(
    content: Content, at: Location, file: str, folder: str, data_sets: list[str]
) -> Problem:
    kind = other_than_file(Path(folder, file)) or other_than_file(file)
    if kind:
        return Problem(
            content.where(at),
            f"{shown(file)}, which is {kind}",
            "a file that can be read whole",
            remedy="Save the data as a file and name that",
        )
    try:
        beside = [each.name for each in Path(folder).iterdir()] if folder else []
    except OSError:
        beside = []
    close = nearest(file, [*data_sets, *beside])
    needed = "a file that is there"
    fetched = " `yieldkit weather --into` and the site file fetch a year of its place."
    advice = f"Did you mean '{close}'?" if close else "Paths count from the site file's folder."
    return Problem(
        content.where(at),
        f"{shown(file)}, which is not there",
        f"{needed}, or the name of a data set: {one_of(data_sets)}" if data_sets else needed,
        remedy=advice + (fetched if data_sets else ""),
    )


def _network(content: Content, folder: str) -> Iterator[Problem]:
    network = part(content.values, "grid", "network_voltage")
    spot = ("grid", "network_voltage")
    kind, file = part(network, "kind"), part(network, "file")
    if kind == "series" and file is None:
        yield Problem(
            content.where((*spot, "kind")),
            "a measured series without its file",
            "file: the table that holds it",
        )
    if kind == "series" and isinstance(file, str) and file and not _there(file, folder):
        yield _missing(content, (*spot, "file"), file, folder, [])
    load = part(content.values, "grid", "load", "file")
    if isinstance(load, str) and load and not _there(load, folder):
        yield _missing(content, ("grid", "load", "file"), load, folder, [])
    volts = number(network, "voltage_v")
    kinds = (
        number(part(kind, "ac"), "nominal_voltage_v") for _, kind in inverters_in(content.values)
    )
    nominal = next(kinds, None)
    if volts is not None and nominal is not None and not 0.7 <= volts / (nominal or 1.0) <= 1.3:
        yield Problem(
            content.where((*spot, "voltage_v")),
            f"{volts:g} V in a network of nominally {nominal:g} V",
            "the voltage from phase to neutral, within 30 % of the nominal voltage",
            cause="The voltage between phases?" if 1.6 < volts / (nominal or 1.0) < 1.9 else "",
        )
