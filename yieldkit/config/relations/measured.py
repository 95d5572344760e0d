"""What was measured on planes: planes that are there, one temperature each, sensors of columns."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from yieldkit.base.errors import Problem, nearest
from yieldkit.base.measured_planes import CELL, MODULE, PLANE_QUANTITIES, POA
from yieldkit.config.reading.content import Content
from yieldkit.config.reading.parts import entries, names, part
from yieldkit.config.reading.wording import one_of, shown

_COLUMNS = ("weather", "columns")


def measured_relations(content: Content) -> Iterator[Problem]:
    """Give the problems of columns and sensors of single planes.

    Parameters
    ----------
    content : Content
        The file's content, of any shape.
    """
    columns = part(content.values, *_COLUMNS)
    known = names(content.values, "planes")
    for quantity in PLANE_QUANTITIES:
        for plane in _planes(columns, quantity):
            where = content.where((*_COLUMNS, quantity, plane))
            yield from _unknown(where, plane, known)
    for plane in _planes(columns, CELL):
        if plane in _planes(columns, MODULE):
            yield Problem(
                content.where((*_COLUMNS, CELL, plane)),
                f"temp_cell of {shown(plane)} beside its temp_module",
                "one temperature of a plane: that of its cells, or that of its modules' back",
                remedy="Leave one of them out.",
            )
    yield from _sensors(content, columns, known)
    if isinstance(columns, dict) and columns.get("ghi") is None:
        lacking = [name for name in known if name not in _planes(columns, POA)]
        if lacking:
            yield Problem(
                content.where(_COLUMNS),
                f"no 'ghi', and no poa_global of {', '.join(map(shown, lacking))}",
                "a column of global irradiance, or light measured on every plane",
                remedy="Write ghi: ... with the file's name for it",
            )


def _planes(columns: Any, quantity: str) -> tuple[str, ...]:
    pairs = part(columns, quantity)
    return tuple(pairs) if isinstance(pairs, dict) else ()


def _unknown(where: str, plane: Any, known: list[str]) -> Iterator[Problem]:
    if not isinstance(plane, str) or plane in known or not known:
        return
    close = nearest(plane, known)
    yield Problem(
        where,
        f"measurements of the plane {shown(plane)}",
        f"a plane of this site: {one_of(known)}",
        remedy=f"Did you mean '{close}'?" if close else "",
    )


def _sensors(content: Content, columns: Any, known: list[str]) -> Iterator[Problem]:
    seen: set[str] = set()
    for at, sensor in entries(content.values, "weather", "sensors"):
        plane = sensor.get("plane")
        where = content.where((*at, "plane"))
        if not isinstance(plane, str):
            continue
        if plane in seen:
            yield Problem(where, f"another sensor of {shown(plane)}", "one sensor for each plane")
        elif plane in known and plane not in _planes(columns, POA):
            yield Problem(
                where,
                f"a sensor of {shown(plane)}, whose light isn't read",
                "a sensor of a plane in weather.columns.poa_global",
                remedy=f"Write poa_global: {{{plane}: ...}} with the file's name of its column.",
            )
        else:
            yield from _unknown(where, plane, known)
        seen.add(plane)
