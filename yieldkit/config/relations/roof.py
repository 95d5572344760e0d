"""The modules' places on a plane, drawn in signs, and the point where its cables leave it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from yieldkit.base.errors import Problem
from yieldkit.config.reading.content import Content, Location
from yieldkit.config.reading.parts import entries
from yieldkit.config.reading.wording import shown

_MODULE, _NONE = "M", "."


def plane_places(content: Content, at: Location, plane: dict[str, Any]) -> Iterator[Problem]:
    """Give the problems of a plane's drawing and cable exit.

    Parameters
    ----------
    content : Content
        The file's content, of any shape.
    at : Location
        Where the plane stands.
    plane : dict
        The plane.
    """
    drawing = plane.get("drawing")
    rows = drawing if isinstance(drawing, tuple) else ()
    if rows and all(isinstance(row, str) for row in rows):
        yield from _drawing(content, at, plane, rows)
    if isinstance(plane.get("cable_exit"), dict):
        yield from _exit(content, at, plane, bool(rows))


def _drawing(
    content: Content, at: Location, plane: dict[str, Any], rows: tuple[str, ...]
) -> Iterator[Problem]:
    if plane.get("positions"):
        yield Problem(
            content.where((*at, "drawing")),
            "a drawing beside positions",
            "one of the two",
            remedy="Leave one of them out.",
        )
    for number, row in enumerate(rows):
        strange = next((char for char in row if char not in (_MODULE, _NONE)), None)
        if strange is not None:
            yield Problem(
                content.where((*at, "drawing", number)),
                f"the sign {shown(strange)} in {shown(row)}",
                f"{_MODULE} for a module and {_NONE} for none",
            )
    if len({len(row) for row in rows}) > 1:
        yield Problem(
            content.where((*at, "drawing")),
            f"rows of {min(map(len, rows))} to {max(map(len, rows))} signs",
            "rows of one length",
            remedy=f"Fill the shorter ones with {_NONE} on the side where nothing lies.",
        )
    drawn, count = sum(row.count(_MODULE) for row in rows), plane.get("modules")
    if type(count) is int and drawn != count:
        yield Problem(
            content.where((*at, "drawing")),
            f"{drawn} modules drawn, {shown(count)} on the plane",
            "a drawing of every module of the plane, or none",
            remedy="Correct the drawing or the number of modules.",
        )


def _exit(
    content: Content, at: Location, plane: dict[str, Any], is_drawn: bool
) -> Iterator[Problem]:
    where = content.where((*at, "cable_exit"))
    if not is_drawn and not plane.get("positions"):
        yield Problem(
            where,
            "a cable exit on a plane without its modules' places",
            "a drawing or positions of the modules",
            remedy="Draw the plane, or leave cable_exit out and state cable lengths.",
        )
    if plane.get("layout") is None:
        yield Problem(
            where,
            "a cable exit on a plane without layout",
            "layout: portrait or landscape, from which lengths follow",
        )
    for _, module in entries(content.values, "module_types"):
        if module.get("name") != plane.get("module_type"):
            continue
        lacking = [side for side in ("length_m", "width_m") if module.get(side) is None]
        if lacking:
            yield Problem(
                where,
                f"a cable exit, but no {' and no '.join(lacking)} of module type "
                f"{shown(module.get('name'))}",
                "both sides of the module, from which lengths follow",
            )
