"""What the values of an axis change in a site, and whether each of them can be."""

from __future__ import annotations

import os
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import NoReturn

from pydantic import ValidationError

from yieldkit.base.errors import InputError, Problem, nearest
from yieldkit.config.models.plan import (
    DcAcRatioAxis,
    ModuleTypeAxis,
    PathAxis,
    SiteAxis,
    StringLengthAxis,
    WeatherAxis,
)
from yieldkit.config.plan.file import AxisPart, PlanFile
from yieldkit.config.reading.content import Content, Location
from yieldkit.config.reading.messages import problems_from
from yieldkit.config.reading.paths import at, located, replaced, written
from yieldkit.config.reading.schema_walk import Schema
from yieldkit.config.reading.wording import one_of, shown
from yieldkit.config.site.site import Site
from yieldkit.study.batch.bases import Base
from yieldkit.study.batch.sizes import rated_places

WEATHER_FILE: Location = ("weather", "file")
_TRIED_WHOLE = 12
"""Values of an axis that are tried alone with everything a site file is checked for."""


@dataclass(frozen=True)
class Move:
    """What an axis changes in a site.

    Parameters
    ----------
    places : tuple of tuple
        Where its values go, in the site with all wirings.
    """

    places: tuple[Location, ...]

    def in_wiring(self, number: int) -> tuple[Location, ...]:
        """Return where its values go in the site with one wiring alone."""
        return tuple(
            ("wirings", 0, *place[2:]) if place[0] == "wirings" else place
            for place in self.places
            if place[0] != "wirings" or place[1] == number
        )


def move_of(base: Base, axis: AxisPart, told: PlanFile) -> Move:
    """Return where the values of an axis go in a site.

    Parameters
    ----------
    base : Base
        The site.
    axis : AxisPart
        The axis.
    told : PlanFile
        The plan, for lines.

    Raises
    ------
    InputError
        With the line: for a path, plane, input or inverter that isn't there, or a path that leads
        to more than one value.
    """
    if isinstance(axis.said, SiteAxis):
        return Move(())
    if isinstance(axis.said, WeatherAxis):
        return Move((WEATHER_FILE,))
    if isinstance(axis.said, DcAcRatioAxis):
        return Move(rated_places(base, axis, told))
    if isinstance(axis.said, ModuleTypeAxis):
        return Move(_planes(base, axis, told))
    if isinstance(axis.said, StringLengthAxis):
        return Move(_strings(base, axis, told))
    return Move((_path(base, axis, told),))


def _path(base: Base, axis: AxisPart, told: PlanFile) -> Location:
    where = f"{told.content.where((*axis.where, 'path'))} {shown(axis.said.path)}"
    place = located(base.content, axis.said.path, where)
    found = at(base.content, place)
    if isinstance(found, dict | tuple) or place == ("schema_version",):
        inner = list(found) if isinstance(found, dict) else []
        hint = f"Go on to one of its keys: {', '.join(map(str, inner))}." if inner else ""
        told.refuse(
            (*axis.where, "path"),
            f"{shown(axis.said.path)}, a whole part of the site",
            "a path to one value",
            hint,
        )
    return place


def _planes(base: Base, axis: AxisPart, told: PlanFile) -> tuple[Location, ...]:
    names = [plane.name for plane in base.site.planes]
    asked = axis.said.plane
    if asked is not None and asked not in names:
        _refuse_name(told, (*axis.where, "plane"), "plane", asked, names)
    kinds = [kind.name for kind in base.site.module_types]
    for number, value in enumerate(axis.values):
        if value not in kinds:
            _refuse_name(told, axis.value_at(number), "module type", value, kinds)
    return tuple(
        ("planes", number, "module_type")
        for number, name in enumerate(names)
        if asked in (None, name)
    )


def _strings(base: Base, axis: AxisPart, told: PlanFile) -> tuple[Location, ...]:
    """Return where the lengths of the strings on an input stand, in all wirings."""
    asked, inputs = axis.said.tracker, base.site.inputs()
    if asked not in inputs:
        _refuse_name(told, (*axis.where, "tracker"), "input", asked, list(inputs))
    places: list[Location] = []
    for w, wiring in enumerate(base.site.wirings):
        for t, tracker in enumerate(wiring.trackers):
            if base.site.input_name(tracker) != asked:
                continue
            for s, string in enumerate(tracker.strings):
                if len(string.groups) > 1:
                    planes = " and ".join(group.plane for group in string.groups)
                    told.refuse(
                        axis.where,
                        f"a string of {planes} on {shown(asked)} in the wiring "
                        f"{shown(wiring.name)}",
                        "strings of one plane each",
                        "Leave that wiring out of `wirings`, or vary the modules of each group by "
                        "its path.",
                    )
                inner = ("trackers", t, "strings", s, "groups", 0, "modules")
                places.append(("wirings", w, *inner))
    if not places:
        told.refuse(
            (*axis.where, "tracker"),
            f"{shown(asked)}, where no wiring of {base.file.name} has a string",
            "an input in use",
        )
    return tuple(places)


def _refuse_name(
    told: PlanFile, where: Location, noun: str, got: str, known: list[str]
) -> NoReturn:
    close = nearest(got, known)
    hint = f"Did you mean '{close}'?" if close else ""
    told.refuse(where, f"the {noun} {shown(got)}", one_of(known), hint)


def refuse_shared_places(base: Base, moves: list[tuple[AxisPart, Move]], told: PlanFile) -> None:
    """Refuse two axes that change the same value.

    Parameters
    ----------
    base : Base
        The site.
    moves : list of (AxisPart, Move)
        Every axis with what it changes.
    told : PlanFile
        The plan.

    Raises
    ------
    InputError
        With the line of the second.
    """
    taken: dict[Location, AxisPart] = {}
    for axis, move in moves:
        for place in move.places:
            other = taken.setdefault(place, axis)
            if other is not axis:
                told.refuse(
                    axis.where,
                    f"the axis '{axis.name}' on {written(base.content, place)}, which "
                    f"'{other.name}' varies already",
                    "a place of its own for every axis",
                    "Put all values on one axis, or make the two a group that goes together.",
                )


def weather_value(file: Path, base: Base) -> str:
    """Return a weather file as a site names it: from the site's own folder, where one leads there.

    Parameters
    ----------
    file : Path
        The file, or a data set's name.
    base : Base
        The site.
    """
    if not file.is_file():
        return str(file)
    try:
        return Path(os.path.relpath(file.resolve(), base.site.folder or Path.cwd())).as_posix()
    except ValueError:  # on another drive no relative path leads there
        return str(file.resolve())


def refuse_impossible(base: Base, axis: AxisPart, move: Move, told: PlanFile) -> Iterator[str]:
    """Try each value of an axis alone, and give what is to be known of values that may fail.

    Parameters
    ----------
    base : Base
        The site.
    axis : AxisPart
        An axis of values.
    move : Move
        Where they go.
    told : PlanFile
        The plan.

    Yields
    ------
    str
        A sentence for a value that the site can't have while everything else stays: beside
        another axis' values it may be right.

    Raises
    ------
    InputError
        With the value's line: if it is nothing that can stand at its place.
    """
    if not isinstance(axis.said, PathAxis | StringLengthAxis) or not move.places:
        return
    # Bounds of a number are an interval, so that the ends speak for the numbers between them.
    ends = (0, len(axis.values) - 1)
    tried = sorted(set(ends)) if axis.spaced else range(len(axis.values))
    problems = [problem for number in tried for problem in _shape(base, axis, number, move, told)]
    if problems:
        raise InputError(list(dict.fromkeys(problems))[:100])
    for number in list(tried)[:_TRIED_WHOLE]:
        place = move.places[0]
        path = written(base.content, place)
        try:
            base.site.variant({path: axis.values[number]})
        except InputError as error:
            first = error.problems[0]
            yield (
                f"{told.content.where(axis.value_at(number))}: {shown(axis.values[number])} alone "
                f"makes no sound site (got {first.got}; expected {first.needed}). Runs whose other "
                "axes don't mend that fail."
            )


def _shape(
    base: Base, axis: AxisPart, number: int, move: Move, told: PlanFile
) -> Iterator[Problem]:
    """Give what is wrong with a value at its place, whatever stands elsewhere."""
    where = told.content.where(axis.value_at(number))
    for place in move.places:
        values = replaced(base.content, place, axis.values[number])
        try:
            Site.model_validate({**values, "folder": base.site.folder})
        except ValidationError as error:
            path = written(base.content, place)
            for each in problems_from(error, Content(values, {}, ""), Schema(Site)):
                got = f"{each.got} for {path}"
                yield Problem(where, got, each.needed, each.cause, each.remedy)
