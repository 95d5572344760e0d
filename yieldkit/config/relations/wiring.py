"""What can't be built: modules that aren't there, and one string in two places."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, NamedTuple

from yieldkit.base.errors import Problem
from yieldkit.config.reading.content import Content, Location
from yieldkit.config.reading.parts import entries
from yieldkit.config.reading.wording import shown


class _Connected(NamedTuple):
    """Modules of one plane in one string: where they are listed and on which tracker."""

    at: Location
    string_at: Location
    mppt: str
    plane: str
    modules: int
    twin: str
    """Equal for strings that are written alike."""


def wiring_relations(content: Content) -> Iterator[Problem]:
    """Give the problems of each wiring with the planes' modules and the inverter's inputs.

    Parameters
    ----------
    content : Content
        The file's content, of any shape.
    """
    have = {
        plane["name"]: plane["modules"]
        for _, plane in entries(content.values, "planes")
        if isinstance(plane.get("name"), str)
        and type(plane.get("modules")) is int
        and plane["modules"] > 0
    }
    for location, wiring in entries(content.values, "wirings"):
        yield from _inputs_once(content, location, wiring)
        connected = list(_connected(location, wiring))
        for plane, count in have.items():
            mine = [each for each in connected if each.plane == plane]
            if mine and sum(each.modules for each in mine) > count:
                yield _too_many(content, str(wiring.get("name")), mine, count)


def _inputs_once(content: Content, at: Location, wiring: dict[str, Any]) -> Iterator[Problem]:
    first: dict[tuple[str, str], Location] = {}
    for tracker_at, tracker in entries(wiring, "trackers"):
        name = tracker.get("mppt")
        if not isinstance(name, str):
            continue
        own = tracker.get("inverter")
        key = (str(own), name)
        if key in first:
            line = content.lines.get((*at, *first[key], "mppt"))
            of = f" of inverter {shown(own)}" if own is not None else ""
            yield Problem(
                content.where((*at, *tracker_at, "mppt")),
                f"{shown(name)}{of} again in wiring {shown(str(wiring.get('name')))}"
                + (f", first in line {line}" if line else ""),
                "each MPPT input once, with all its strings",
                remedy="Put the strings of both entries under one.",
            )
        first.setdefault(key, tracker_at)


def _connected(at: Location, wiring: dict[str, Any]) -> Iterator[_Connected]:
    for tracker_at, tracker in entries(wiring, "trackers"):
        for string_at, string in entries(tracker, "strings"):
            for group_at, group in entries(string, "groups"):
                plane, modules = group.get("plane"), group.get("modules")
                if isinstance(plane, str) and type(modules) is int and modules > 0:
                    yield _Connected(
                        (*at, *tracker_at, *string_at, *group_at),
                        (*at, *tracker_at, *string_at),
                        _input_name(tracker),
                        plane,
                        modules,
                        repr(string.get("groups")),
                    )


def _input_name(tracker: dict[str, Any]) -> str:
    own, mppt = tracker.get("inverter"), str(tracker.get("mppt"))
    return mppt if own is None else f"{own} / {mppt}"


def _too_many(content: Content, wiring: str, connected: list[_Connected], count: int) -> Problem:
    total = sum(each.modules for each in connected)
    sum_up = f"{total} modules of plane {shown(connected[0].plane)} wired in {shown(wiring)}"
    needed = f"no more than the {count} it has"
    for index, second in enumerate(connected):
        for one in connected[:index]:
            if one.twin == second.twin and one.mppt != second.mppt:
                return Problem(
                    content.where(second.string_at),
                    f"a string of {second.modules} modules on {shown(one.mppt)} and again on "
                    f"{shown(second.mppt)}, so {sum_up}",
                    needed,
                    cause="The same string listed on two trackers?",
                    remedy="Take it off one of them",
                )
    used = 0
    for each in connected:
        used += each.modules
        if used > count:
            break
    return Problem(
        content.where((*each.at, "modules")),
        sum_up,
        needed,
        remedy=f"Take {total - count} off, or correct the plane's number of modules",
    )
