"""The runs of a plan: everything checked, counted and named before a site is built."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any, NoReturn

from yieldkit.base.errors import InputError
from yieldkit.base.progress import Progress, silent
from yieldkit.config.models.plan import SiteAxis, WeatherAxis
from yieldkit.config.plan.conditions import Condition, read_condition
from yieldkit.config.plan.file import AxisPart, PlanFile, load_plan, unequal
from yieldkit.study.batch.bases import WEATHER_NOUN, Base, bases_of, files_of, labels_of
from yieldkit.study.batch.combined import WIRING, Dimension, Runs
from yieldkit.study.batch.families import Family
from yieldkit.study.batch.kept import refuse_unknown_hourly
from yieldkit.study.batch.moves import move_of, refuse_impossible, refuse_shared_places
from yieldkit.study.batch.names import FileHashes


def runs_of(plan_file: str | Path, progress: Progress | None = None) -> Runs:
    """Read a plan and check all of it.

    Parameters
    ----------
    plan_file : str or Path
        The plan.
    progress : callable, optional
        Told of the ranking, where wirings are proposed.

    Returns
    -------
    Runs
        Its runs, named and counted.

    Raises
    ------
    InputError
        With file and line: for what is wrong with the plan, its sites or their files, and if no
        run is left.
    """
    told = load_plan(plan_file)
    refuse_unknown_hourly(told)
    bases = bases_of(told, progress or silent)
    axes = tuple(_with_values(parts, number, told) for number, parts in enumerate(told.axes))
    dimensions = (*_dimensions(told, axes, bases), _wirings(bases))
    conditions = tuple(_conditions(told, dimensions))
    hashes, cautions = FileHashes(), list[str]()
    families = {}
    for number, base in enumerate(bases):
        moves = [[(part, move_of(base, part, told)) for part, _ in members] for members in axes]
        flat = [pair for members in moves for pair in members]
        refuse_shared_places(base, flat, told)
        for part, move in flat:
            cautions.extend(refuse_impossible(base, part, move, told))
        whole = [
            tuple((part, move, values) for (part, move), (_, values) in zip(*pair, strict=True))
            for pair in zip(moves, axes, strict=True)
        ]
        for wired in range(len(base.site.wirings)):
            families[number, wired] = Family(base, wired, whole, told, hashes)
    found = Runs(
        told,
        Path(plan_file),
        bases,
        dimensions,
        families,
        conditions,
        tuple(dict.fromkeys(cautions)),
    )
    if not len(found):
        _refuse_nothing(told, found)
    return found


def _refuse_nothing(told: PlanFile, found: Runs) -> NoReturn:
    where = ("leave_out", 0) if found.left_out else ("axes",)
    got = "no run"
    if found.left_out:
        got = f"conditions that leave out all {found.left_out:,} runs"
    told.refuse(where, got, "at least one run")


def _with_values(
    parts: tuple[AxisPart, ...], number: int, told: PlanFile
) -> tuple[tuple[AxisPart, Sequence[Any]], ...]:
    """Return an axis' members with their values, files found."""
    found = []
    for part in parts:
        values: Sequence[Any] = part.values
        if isinstance(part.said, WeatherAxis):
            values = files_of(part, told, WEATHER_NOUN)
        elif isinstance(part.said, SiteAxis):
            values = ()
        found.append((part, values))
    sizes = {len(values) for part, values in found if not isinstance(part.said, SiteAxis)}
    if len(sizes) > 1:
        said = ", ".join(f"{part.name} {len(values)}" for part, values in found)
        raise InputError((unequal(told.content.where(("axes", number, "together")), said),))
    return tuple(found)


def _dimensions(
    told: PlanFile,
    axes: Sequence[tuple[tuple[AxisPart, Sequence[Any]], ...]],
    bases: tuple[Base, ...],
) -> Iterator[Dimension]:
    for axis, members in zip(told.plan.axes, axes, strict=True):
        columns: dict[str, tuple[Any, ...]] = {}
        for part, values in members:
            shown = tuple(values)
            if isinstance(part.said, WeatherAxis):
                shown = labels_of(values)
            elif isinstance(part.said, SiteAxis):
                shown = tuple(base.label for base in bases)
            columns[part.name] = shown
        yield Dimension(axis.name, columns)


def _wirings(bases: tuple[Base, ...]) -> Dimension:
    names = dict.fromkeys(wiring.name for base in bases for wiring in base.site.wirings)
    return Dimension(WIRING, {WIRING: tuple(names)})


def _conditions(told: PlanFile, dimensions: Sequence[Dimension]) -> Iterator[Condition]:
    known = {
        column: values
        for dimension in dimensions
        for column, values in dimension.coordinates.items()
    }
    for number, text in enumerate(told.plan.leave_out):
        yield read_condition(text, known, told.content.where(("leave_out", number)))
