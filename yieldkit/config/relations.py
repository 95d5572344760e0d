"""Relations between parts of a site file, looked at wherever the parts are sound.

Models refuse wrong shapes one field at a time; these checks run on the plain content, so that a
wrong number in one place doesn't hide a wrong name in another.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator
from typing import Any

from yieldkit.words.errors import InputError, Problem, nearest
from yieldkit.words.zones import utc_offset

Place = Callable[[tuple[str | int, ...]], str]
Location = tuple[str | int, ...]


def relations(content: Any, place: Place) -> list[Problem]:
    """Return the problems between the parts of a site file.

    Parameters
    ----------
    content : dict
        The file's plain content, of any shape.
    place : callable
        From a location to the words "file line N, key".
    """
    problems: list[Problem] = []
    for check in (_names_once, _references, _module_counts, _wiring_once, _windows, _zone, _table):
        problems.extend(check(content, place))
    return problems


def entries(content: Any, *path: str) -> Iterator[tuple[Location, dict[str, Any]]]:
    """Yield the maps in the list at a path, each with its location."""
    node = content
    for key in path:
        node = node.get(key) if isinstance(node, dict) else None
    if isinstance(node, tuple):
        for index, item in enumerate(node):
            if isinstance(item, dict):
                yield (*path, index), item


def strings_of(wiring: dict[str, Any]) -> Iterator[tuple[Location, str, dict[str, Any]]]:
    """Yield the groups of a wiring: location inside it, tracker's name and the group."""
    for tracker_at, tracker in entries(wiring, "trackers"):
        for string_at, string in entries(tracker, "strings"):
            for group_at, group in entries(string, "groups"):
                yield (*tracker_at, *string_at, *group_at), str(tracker.get("mppt")), group


def _names(content: Any, *path: str) -> list[str]:
    return [item["name"] for _, item in entries(content, *path) if isinstance(item.get("name"), str)]


def _names_once(content: Any, place: Place) -> Iterator[Problem]:
    for path in (("planes",), ("module_types",), ("wirings",), ("inverter", "mppts")):
        counts = Counter(_names(content, *path))
        seen: set[str] = set()
        for location, item in entries(content, *path):
            name = item.get("name")
            if isinstance(name, str) and counts[name] > 1 and name in seen:
                yield Problem(
                    place((*location, "name")),
                    f"the name '{name}' again",
                    "a name of its own for each",
                )
            if isinstance(name, str):
                seen.add(name)


def _unknown(where: str, what: str, name: Any, known: list[str]) -> Problem | None:
    if not isinstance(name, str) or name in known or not known:
        return None
    close = nearest(name, known)
    return Problem(
        where,
        f"the {what} '{name}'",
        "one of " + ", ".join(f"'{each}'" for each in known),
        remedy=f"Did you mean '{close}'?" if close else "",
    )


def _references(content: Any, place: Place) -> Iterator[Problem]:
    types = _names(content, "module_types")
    planes = _names(content, "planes")
    mppts = _names(content, "inverter", "mppts")
    found: list[Problem | None] = []
    for location, plane in entries(content, "planes"):
        spot = place((*location, "module_type"))
        found.append(_unknown(spot, "module type", plane.get("module_type"), types))
    for location, wiring in entries(content, "wirings"):
        for tracker_at, tracker in entries(wiring, "trackers"):
            spot = place((*location, *tracker_at, "mppt"))
            found.append(_unknown(spot, "MPPT input", tracker.get("mppt"), mppts))
        for group_at, _mppt, group in strings_of(wiring):
            spot = place((*location, *group_at, "plane"))
            found.append(_unknown(spot, "plane", group.get("plane"), planes))
    for location, pair in entries(content, "inverter", "max_dc_power_pairs"):
        for name in pair.get("mppts", ()) if isinstance(pair.get("mppts"), tuple) else ():
            found.append(_unknown(place((*location, "mppts")), "MPPT input", name, mppts))
    yield from (problem for problem in found if problem is not None)


def _module_counts(content: Any, place: Place) -> Iterator[Problem]:
    have = {
        plane["name"]: plane["modules"]
        for _, plane in entries(content, "planes")
        if isinstance(plane.get("name"), str) and type(plane.get("modules")) is int
    }
    for location, plane in entries(content, "planes"):
        positions = plane.get("positions")
        count = plane.get("modules")
        if isinstance(positions, tuple) and positions and len(positions) != count:
            yield Problem(
                place((*location, "positions")),
                f"{len(positions)} positions for {count} modules",
                "one position for each module, or none",
            )
    for location, wiring in entries(content, "wirings"):
        used: Counter[str] = Counter()
        for _at, _mppt, group in strings_of(wiring):
            if isinstance(group.get("plane"), str) and type(group.get("modules")) is int:
                used[group["plane"]] += group["modules"]
        for plane_name, count in used.items():
            if plane_name in have and count > have[plane_name]:
                yield Problem(
                    place(location),
                    f"{count} modules of plane '{plane_name}' wired in '{wiring.get('name')}'",
                    f"no more than the {have[plane_name]} it has",
                    cause="Is a string listed on two trackers?",
                    remedy="Take modules off a string, or correct the plane's count",
                )


def _wiring_once(content: Any, place: Place) -> Iterator[Problem]:
    for location, wiring in entries(content, "wirings"):
        seen: set[str] = set()
        for tracker_at, tracker in entries(wiring, "trackers"):
            name = tracker.get("mppt")
            if isinstance(name, str) and name in seen:
                yield Problem(
                    place((*location, *tracker_at, "mppt")),
                    f"'{name}' twice in wiring '{wiring.get('name')}'",
                    "each MPPT input once, with all its strings",
                    remedy="Put the strings of both entries under one.",
                )
            if isinstance(name, str):
                seen.add(name)


_RISING = (
    ("mpp_voltage_min_v", "mpp_voltage_max_v", "the MPP window's lower end below its upper"),
    ("mpp_voltage_max_v", "max_voltage_v", "an MPP window below the absolute maximum voltage"),
    ("stop_voltage_v", "start_voltage_v", "a stop voltage at or below the start-up voltage"),
    ("start_voltage_v", "max_voltage_v", "a start-up voltage below the absolute maximum"),
    (
        "full_power_voltage_min_v",
        "full_power_voltage_max_v",
        "the full-power window's lower end below its upper",
    ),
    (
        "max_input_current_a",
        "short_circuit_rating_a",
        "an operating current at or below the short-circuit rating",
    ),
)


def _windows(content: Any, place: Place) -> Iterator[Problem]:
    for location, mppt in entries(content, "inverter", "mppts"):
        for low, high, needed in _RISING:
            one, two = mppt.get(low), mppt.get(high)
            if is_number(one) and is_number(two) and one > two:
                yield Problem(
                    place((*location, low)),
                    f"{low} {one:g} above {high} {two:g}",
                    needed,
                    remedy="Are the two swapped?",
                )


def is_number(value: Any) -> bool:
    """Return whether a value is a number and not a truth value."""
    return isinstance(value, int | float) and not isinstance(value, bool)


def _zone(content: Any, place: Place) -> Iterator[Problem]:
    site = content.get("site") if isinstance(content, dict) else None
    if not isinstance(site, dict) or not isinstance(site.get("time_zone"), str):
        return
    try:
        offset_h = utc_offset(site["time_zone"], place(("site", "time_zone"))) / 3600.0
    except InputError as error:
        yield from error.problems
        return
    longitude, latitude = site.get("longitude"), site.get("latitude")
    if not is_number(longitude) or not is_number(latitude):
        return
    expected = longitude / 15.0
    if abs(offset_h - expected) > 3.0:
        swapped = abs(offset_h - latitude / 15.0) <= 2.0
        yield Problem(
            place(("site", "time_zone")),
            f"zone {site['time_zone']} at longitude {longitude:g}",
            f"about UTC{expected:+.0f} there",
            cause="Latitude and longitude swapped?" if swapped else "The sign of the offset?",
            remedy="Longitude is positive to the east; zones count hours ahead of UTC",
        )


def _table(content: Any, place: Place) -> Iterator[Problem]:
    inverter = content.get("inverter") if isinstance(content, dict) else None
    entry = inverter.get("efficiency") if isinstance(inverter, dict) else None
    if not isinstance(entry, dict):
        return
    spot = ("inverter", "efficiency")
    for axis in ("loads", "voltages_v"):
        values = entry.get(axis)
        if isinstance(values, tuple) and all(map(is_number, values)):
            if list(values) != sorted(set(values)):
                yield Problem(place((*spot, axis)), str(list(values)), "rising values, each once")
    rows, loads, volts = (entry.get(key) for key in ("values", "loads", "voltages_v"))
    if isinstance(rows, tuple) and isinstance(loads, tuple) and isinstance(volts, tuple):
        shape = {len(row) for row in rows if isinstance(row, tuple)}
        if len(rows) != len(volts) or shape != {len(loads)}:
            yield Problem(
                place((*spot, "values")),
                f"{len(rows)} rows of {sorted(shape)} values",
                f"{len(volts)} rows (voltages) of {len(loads)} values (loads)",
            )
    european, maximum = entry.get("european"), entry.get("maximum")
    if is_number(european) and is_number(maximum) and european > maximum:
        yield Problem(
            place((*spot, "european")),
            f"{european:g} above the maximum {maximum:g}",
            "a weighted efficiency at or below the maximum",
        )
