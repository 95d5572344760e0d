"""The wirings of a site that a plan runs by what is known of them: those that pass, or the best."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from yieldkit.base.errors import InputError, Problem
from yieldkit.base.progress import Progress
from yieldkit.config.plan.file import PlanFile
from yieldkit.config.site.site import Site, Wiring
from yieldkit.design.checks.limits import check
from yieldkit.design.checks.permission import PERMITTED, permission
from yieldkit.study.ranking.propose import propose


def permitted(site: Site, told: PlanFile, file: Path) -> tuple[Wiring, ...]:
    """Return a site's own wirings that pass every check.

    Parameters
    ----------
    site : Site
        The site.
    told : PlanFile
        The plan that asks.
    file : Path
        The site's file.

    Raises
    ------
    InputError
        If none does, with what each of them lacks.
    """
    words = [(wiring, permission(check(site, wiring.name))) for wiring in site.wirings]
    passing = tuple(wiring for wiring, said in words if said.word == PERMITTED)
    if not passing:
        reasons = "; ".join(f"'{wiring.name}': {said.sentence()}" for wiring, said in words[:5])
        told.refuse(
            ("wirings",),
            f"no wiring of {file.name} that passes every check ({reasons})",
            "at least one that is permitted",
            "Mend the site, or write wirings: all.",
        )
    return passing


def proposed(
    site: Site, number: int, told: PlanFile, file: Path, progress: Progress
) -> tuple[Wiring, ...]:
    """Return the best wirings of a site's ranking.

    Parameters
    ----------
    site : Site
        The site.
    number : int
        How many at most.
    told : PlanFile
        The plan that asks.
    file : Path
        The site's file.
    progress : callable
        Told of the ranking.

    Raises
    ------
    InputError
        If there is nothing to rank, at the plan's line.
    """
    try:
        ranking = propose(site, progress=progress)
    except InputError as error:
        raise InputError(_in_plan(error, told, file)) from None
    return tuple(ranking.wiring(rank) for rank in range(min(number, ranking.order.size)))


def _in_plan(error: InputError, told: PlanFile, file: Path) -> Iterator[Problem]:
    where = told.content.where(("wirings",))
    for each in error.problems:
        place = f"{where} ({file.name}, {each.where})"
        yield Problem(place, each.got, each.needed, each.cause, each.remedy)
