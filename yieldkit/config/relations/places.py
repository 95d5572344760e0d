"""Where a string's modules lie: places that are on the plane, and each in one string only."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, NamedTuple

from yieldkit.base.errors import Problem
from yieldkit.config.reading.content import Content, Location
from yieldkit.config.reading.parts import entries
from yieldkit.config.reading.wording import shown

_Place = tuple[int, int]


class _Placed(NamedTuple):
    """A group of a wiring: where it is listed, its plane, and its places if it names them."""

    at: Location
    plane: str
    modules: object
    places: tuple[tuple[Location, _Place], ...] | None


def string_places(content: Content) -> Iterator[Problem]:
    """Give the problems of the places that wirings give their strings' modules.

    Parameters
    ----------
    content : Content
        The file's content, of any shape.
    """
    have = {
        str(plane.get("name")): _places_of(plane) for _, plane in entries(content.values, "planes")
    }
    for at, wiring in entries(content.values, "wirings"):
        groups = list(_groups(at, wiring))
        for name, places in have.items():
            own = [group for group in groups if group.plane == name]
            if any(group.places is not None for group in own):
                yield from _of_plane(content, own, name, places)


def _of_plane(
    content: Content, groups: list[_Placed], plane: str, have: frozenset[_Place] | None
) -> Iterator[Problem]:
    used: dict[_Place, Location] = {}
    for group in groups:
        where = content.where((*group.at, "places"))
        if group.places is None:
            yield Problem(
                content.where(group.at),
                f"modules without places, where others of plane {shown(plane)} have them",
                "places for all modules of a plane that a wiring uses, or for none",
                remedy="Add places here, or leave them out of the plane's other strings.",
            )
            continue
        if type(group.modules) is int and len(group.places) != group.modules:
            yield Problem(
                where,
                f"{len(group.places)} places for {shown(group.modules)} modules",
                "one place for each module",
                remedy="Correct the places or the number of modules.",
            )
        if have is None:
            yield Problem(
                where,
                f"places on plane {shown(plane)}, which doesn't say where its modules lie",
                "a drawing or positions of the plane's modules",
                remedy=f"Draw plane {shown(plane)}, or leave the places out.",
            )
            continue
        for at, place in group.places:
            if place not in have:
                yield Problem(
                    content.where(at),
                    f"row {place[0]}, column {place[1]}, where plane {shown(plane)} has no module",
                    "a place of one of its modules, counted from 0 at the lower left",
                )
            elif place in used:
                line = content.lines.get(used[place])
                yield Problem(
                    content.where(at),
                    f"row {place[0]}, column {place[1]} of plane {shown(plane)} again"
                    + (f", first in line {line}" if line else ""),
                    "each module in one string, once",
                    remedy="Give one of the two another place.",
                )
            used.setdefault(place, at)


def _groups(at: Location, wiring: dict[str, Any]) -> Iterator[_Placed]:
    for tracker_at, tracker in entries(wiring, "trackers"):
        for string_at, string in entries(tracker, "strings"):
            for group_at, group in entries(string, "groups"):
                own = (*at, *tracker_at, *string_at, *group_at)
                places = None
                if group.get("places"):
                    places = tuple(
                        ((*own, *place_at), (place["row"], place["column"]))
                        for place_at, place in entries(group, "places")
                        if type(place.get("row")) is int and type(place.get("column")) is int
                    )
                yield _Placed(own, str(group.get("plane")), group.get("modules"), places)


def _places_of(plane: dict[str, Any]) -> frozenset[_Place] | None:
    """Return where a plane's modules lie, None where it doesn't say."""
    listed: list[Any] = [
        (place.get("row"), place.get("column")) for _, place in entries(plane, "positions")
    ]
    drawing = plane.get("drawing")
    if isinstance(drawing, tuple) and all(isinstance(row, str) for row in drawing):
        listed += [
            (row, column)
            for row, line in enumerate(reversed(drawing))
            for column, sign in enumerate(line)
            if sign == "M"
        ]
    return frozenset(listed) if listed else None
