"""Plan files: YAML in, a frozen plan with the values of its axes out, or every problem at once."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, NoReturn

from pydantic import ValidationError

from yieldkit.base.errors import InputError, Problem, refuse
from yieldkit.base.shipped import shipped
from yieldkit.config.models.plan import GroupAxis, Plan, SiteAxis, WeatherAxis
from yieldkit.config.plan.values import axis_values
from yieldkit.config.reading.content import Content, Location
from yieldkit.config.reading.messages import problems_from
from yieldkit.config.reading.schema_walk import Schema
from yieldkit.config.reading.yaml import PLAN_FILE, read_yaml

EXAMPLE = "plan.yaml"
_MOST_PROBLEMS = 100


@dataclass(frozen=True)
class AxisPart:
    """One thing that is varied: an axis, or a member of a group of axes that go together.

    Parameters
    ----------
    name : str
        What it is called in conditions and tables.
    said : PathAxis, ModuleTypeAxis, StringLengthAxis, DcAcRatioAxis, WeatherAxis or SiteAxis
        As the plan has it.
    where : tuple
        Where it stands in the plan.
    values : tuple
        Its values; patterns of files are still patterns.
    spaced : bool
        Whether the values come from a range.
    """

    name: str
    said: Any
    where: Location
    values: tuple[Any, ...]
    spaced: bool

    def value_at(self, number: int) -> Location:
        """Return where a value stands in the plan."""
        if self.spaced:
            return (*self.where, "range")
        key = "files" if isinstance(self.said, WeatherAxis | SiteAxis) else "values"
        return (*self.where, key, number)


@dataclass(frozen=True)
class PlanFile:
    """A plan that was read.

    Parameters
    ----------
    plan : Plan
        The plan.
    content : Content
        Its lines.
    axes : tuple of tuple of AxisPart
        What is varied: each axis alone, members of a group together.
    """

    plan: Plan
    content: Content
    axes: tuple[tuple[AxisPart, ...], ...]

    def refuse(self, at: Location, got: str, needed: str, remedy: str = "") -> NoReturn:
        """Refuse what stands at a place of the plan.

        Raises
        ------
        InputError
            Always, with the line.
        """
        refuse(self.content.where(at), got, needed, remedy=remedy)


def example_text() -> str:
    """Return a commented plan to start from, for the demonstration site."""
    return shipped("site_configs", EXAMPLE).read_text(encoding="utf-8")


def load_plan(path: str | Path) -> PlanFile:
    """Read a plan.

    Parameters
    ----------
    path : str or Path
        The file.

    Raises
    ------
    InputError
        With every problem found: syntax, shapes, then what the axes say together.
    """
    file = Path(path)
    return plan_from(read_yaml(file, PLAN_FILE), str(file.resolve().parent))


def plan_from(content: Content, folder: str) -> PlanFile:
    """Return content as a sound plan.

    Parameters
    ----------
    content : Content
        What a plan holds.
    folder : str
        Folder from which its paths count.

    Raises
    ------
    InputError
        As `load_plan`.
    """
    whole = {**content.values, "axes": _with_kinds(content.values.get("axes", ()))}
    if "folder" in content.values:
        remedy = "Paths count from the plan's own folder."
        where = content.where(("folder",))
        refuse(where, "the unknown key 'folder'", "a key of the schema", remedy=remedy)
    told = content._replace(values=whole)
    try:
        plan = Plan.model_validate(whole | {"folder": folder})
    except ValidationError as error:
        found = problems_from(error, told, Schema(Plan, PLAN_FILE.start))
        raise InputError(_shortened(found)) from None
    problems: list[Problem] = []
    axes = tuple(tuple(_parts(plan, number, told, problems)) for number in range(len(plan.axes)))
    problems.extend(_together(plan, axes, told))
    if problems:
        raise InputError(_shortened(problems))
    return PlanFile(plan, told, axes)


def _shortened(problems: list[Problem]) -> list[Problem]:
    return list(dict.fromkeys(problems))[:_MOST_PROBLEMS]


def _with_kinds(axes: Any) -> Any:
    """Return axes with the kind that is meant where none is said."""
    if not isinstance(axes, tuple):
        return axes
    return tuple(_with_kind(axis) for axis in axes)


def _with_kind(axis: Any) -> Any:
    if not isinstance(axis, dict):
        return axis
    found = dict(axis)
    if "together" in axis:
        found["together"] = _with_kinds(axis["together"])
        found.setdefault("kind", "group")
    elif "path" in axis:
        found.setdefault("kind", "key")
    return found


def _parts(
    plan: Plan, number: int, content: Content, problems: list[Problem]
) -> Iterator[AxisPart]:
    """Give what an axis varies, each with its values."""
    axis = plan.axes[number]
    at: Location = ("axes", number)
    if not isinstance(axis, GroupAxis):
        yield _part(axis, at, content, problems)
        return
    members = [
        _part(said, (*at, "together", place), content, problems)
        for place, said in enumerate(axis.together)
    ]
    sized = [each for each in members if not isinstance(each.said, WeatherAxis)]
    counts = {len(each.values) for each in sized if each.values}
    if len(counts) > 1:
        said = ", ".join(f"{each.name} {len(each.values)}" for each in sized)
        problems.append(unequal(content.where((*at, "together")), said))
    yield from members


def unequal(where: str, said: str) -> Problem:
    """Return the problem of members of a group that haven't equally many values.

    Parameters
    ----------
    where : str
        File and line.
    said : str
        The members with how many each has.
    """
    return Problem(
        where,
        f"members of unequal length: {said}",
        "as many values in each: the first of all, the second of all, and so on",
        remedy="Make them separate axes to run every combination.",
    )


def _part(said: Any, at: Location, content: Content, problems: list[Problem]) -> AxisPart:
    if isinstance(said, WeatherAxis | SiteAxis):
        return AxisPart(said.name, said, at, said.files, False)
    values, found = axis_values(said, at, content)
    problems.extend(found)
    return AxisPart(said.name, said, at, values, getattr(said, "range", None) is not None)


def _together(
    plan: Plan, axes: tuple[tuple[AxisPart, ...], ...], content: Content
) -> Iterator[Problem]:
    """Give what is wrong with the axes beside one another."""
    taken: dict[str, str] = {}
    for number, axis in enumerate(plan.axes):
        named = [(axis.name, content.where(("axes", number, "name")))]
        if isinstance(axis, GroupAxis):
            named += [(part.name, content.where((*part.where, "name"))) for part in axes[number]]
        for name, where in named:
            if name in taken:
                got = f"the name '{name}' again"
                yield Problem(where, got, "a name of its own for every axis", taken[name])
            taken.setdefault(name, f"First in {where}")
    sites = [part for parts in axes for part in parts if isinstance(part.said, SiteAxis)]
    if sites and plan.base is not None:
        got = f"a base beside the axis '{sites[0].name}' of site files"
        yield Problem(content.where(("base",)), got, "one of the two")
    for extra in sites[1:]:
        got = "a second axis of site files"
        yield Problem(content.where(extra.where), got, "one; list all files there")
