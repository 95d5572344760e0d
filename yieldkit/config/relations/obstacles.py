"""Obstacles and planes in one space: what each needs, and obstacles that cut through modules."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, NamedTuple

from yieldkit.base.errors import Problem
from yieldkit.config.reading.content import Content, Location
from yieldkit.config.reading.parts import entries, number, part
from yieldkit.config.reading.wording import shown
from yieldkit.config.relations.solids import Flat, Solid, overlap_m, rectangle, solid

_LOOK = "what shades what follows from them"


class _Laid(NamedTuple):
    """A plane whose modules' rectangles in space are known."""

    name: str
    modules: tuple[Flat, ...]


def obstacle_relations(content: Content) -> Iterator[Problem]:
    """Give the problems of obstacles, and of planes that lie beside them.

    Parameters
    ----------
    content : Content
        The file's content, of any shape.
    """
    planes = list(entries(content.values, "planes"))
    obstacles = list(entries(content.values, "obstacles"))
    placed = [plane for _, plane in planes if plane.get("corner_m") is not None]
    for at, obstacle in obstacles:
        yield from _one_transmittance(content, at, obstacle)
    if obstacles and planes and not placed:
        yield Problem(
            content.where(("obstacles",)),
            "obstacles, but no plane with its corner",
            "corner_m of every plane, in the same metres as the obstacles",
            remedy="Write corner_m: [east, north, up] of each plane's lower left corner",
        )
        return
    laid = []
    for at, plane in planes:
        if plane.get("corner_m") is None:
            if placed:
                yield _no_corner(content, at, plane, placed)
            continue
        lacking = list(_lacking(content, at, plane))
        yield from lacking
        own = None if lacking else _laid(content.values, plane)
        if own is not None:
            laid.append(own)
    for at, obstacle in obstacles:
        yield from _cut(content, at, obstacle, laid)


def _one_transmittance(
    content: Content, at: Location, obstacle: dict[str, Any]
) -> Iterator[Problem]:
    if obstacle.get("transmittance_by_month") is not None and obstacle.get("transmittance"):
        yield Problem(
            content.where((*at, "transmittance")),
            "a transmittance beside transmittance_by_month",
            "one of the two",
            remedy="Leave one of them out.",
        )


def _no_corner(
    content: Content, at: Location, plane: dict[str, Any], placed: list[dict[str, Any]]
) -> Problem:
    others = ", ".join(shown(each.get("name")) for each in placed)
    return Problem(
        content.where(at),
        f"no corner_m of plane {shown(plane.get('name'))} beside that of {others}",
        "corner_m of every plane or of none: planes shade one another",
        remedy="Write corner_m: [east, north, up] of its lower left corner",
    )


def _lacking(content: Content, at: Location, plane: dict[str, Any]) -> Iterator[Problem]:
    """Give what a plane with a corner lacks to know where its modules lie."""
    where = content.where((*at, "corner_m"))
    if not plane.get("drawing") and not plane.get("positions"):
        yield Problem(
            where,
            "a corner of a plane without its modules' places",
            f"a drawing or positions of the modules: {_LOOK}",
        )
    if plane.get("layout") is None:
        yield Problem(
            where,
            "a corner of a plane without layout",
            f"layout: portrait or landscape: {_LOOK}",
        )
    for _, module in entries(content.values, "module_types"):
        if module.get("name") != plane.get("module_type"):
            continue
        sides = [side for side in ("length_m", "width_m") if module.get(side) is None]
        if sides:
            yield Problem(
                where,
                f"a corner, but no {' and no '.join(sides)} of module type "
                f"{shown(module.get('name'))}",
                f"both sides of the module: {_LOOK}",
            )


def _point(owner: dict[str, Any], key: str) -> tuple[float, float, float] | None:
    """Return a point of three sound numbers, or None."""
    listed = owner.get(key)
    if not isinstance(listed, tuple | list) or len(listed) != 3:
        return None
    found = [number({"here": each}, "here") for each in listed]
    return None if None in found else (found[0] or 0.0, found[1] or 0.0, found[2] or 0.0)


def _laid(values: Any, plane: dict[str, Any]) -> _Laid | None:
    """Return the rectangles of a plane's modules; None where a value is unsound."""
    corner, tilt = _point(plane, "corner_m"), number(plane, "tilt_deg")
    azimuth = number(plane, "azimuth_deg")
    sides = next(
        (
            (number(module, "width_m"), number(module, "length_m"))
            for _, module in entries(values, "module_types")
            if module.get("name") == plane.get("module_type")
        ),
        (None, None),
    )
    if corner is None or tilt is None or azimuth is None or sides[0] is None or sides[1] is None:
        return None
    short, long = min(sides[0], sides[1]), max(sides[0], sides[1])
    size = (short, long) if plane.get("layout") == "portrait" else (long, short)
    modules = tuple(
        rectangle(corner, tilt, azimuth, (column * size[0], row * size[1]), size)
        for row, column in _places(plane)
    )
    return _Laid(str(plane.get("name")), modules)


def _places(plane: dict[str, Any]) -> Iterator[tuple[int, int]]:
    """Give row and column of each module whose place is sound."""
    for _, place in entries(plane, "positions"):
        row, column = place.get("row"), place.get("column")
        if type(row) is int and type(column) is int:
            yield row, column
    drawing = part(plane, "drawing")
    for row, line in enumerate(reversed(drawing if isinstance(drawing, tuple) else ())):
        for column, char in enumerate(line if isinstance(line, str) else ""):
            if char == "M":
                yield row, column


def _solid(obstacle: dict[str, Any]) -> Solid | None:
    """Return an obstacle's body; None where a value is unsound."""
    is_roof = obstacle.get("shape") == "roof"
    place = _point(obstacle, "corner_m" if is_roof else "foot_m")
    keys = {
        "box": ("width_m", "depth_m", "height_m"),
        "cylinder": ("diameter_m", "diameter_m", "height_m"),
        "roof": ("width_m", "length_m", "tilt_deg"),
    }.get(str(obstacle.get("shape")), ())
    found = [number(obstacle, key) for key in keys]
    numbers = [each for each in found if each is not None]
    if place is None or len(numbers) != 3:
        return None
    azimuth = number(obstacle, "azimuth_deg")
    return solid(str(obstacle["shape"]), place, numbers, 180.0 if azimuth is None else azimuth)


def _cut(
    content: Content, at: Location, obstacle: dict[str, Any], laid: list[_Laid]
) -> Iterator[Problem]:
    """Give a problem for each plane whose modules an obstacle cuts."""
    own = _solid(obstacle)
    for plane in laid if own is not None else ():
        cuts = [overlap_m(own, module) for module in plane.modules] if own is not None else []
        count = sum(cut > 0.0 for cut in cuts)
        if not count:
            continue
        modules = "a module" if count == 1 else f"{count} modules"
        yield Problem(
            content.where(at),
            f"{shown(obstacle.get('name'))} cutting {modules} of plane {shown(plane.name)} by up "
            f"to {max(cuts):.2f} m",
            "an obstacle beside, above or under the modules",
            remedy="Correct its place or size, the plane's corner_m, or take the modules that "
            "aren't there out of the plane",
        )
