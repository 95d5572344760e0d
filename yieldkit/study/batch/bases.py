"""The sites that a plan varies: their files, the wirings that are run, and their plain content."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from importlib import import_module
from pathlib import Path
from typing import Any

from yieldkit.base.errors import nearest, refuse
from yieldkit.base.patterns import is_pattern, matching
from yieldkit.base.progress import Progress
from yieldkit.base.shipped import data_set_names, shipped
from yieldkit.config.models.plan import DcAcRatioAxis, Proposed, SiteAxis
from yieldkit.config.plan.file import AxisPart, PlanFile
from yieldkit.config.reading.content import Location, from_mapping
from yieldkit.config.reading.wording import one_of, shown
from yieldkit.config.site.files import DEMO
from yieldkit.config.site.site import Site, Wiring
from yieldkit.study.simulation.weather_questions import asked_site

_LATER = {"judged_wirings": "yieldkit.study.batch.judged_wirings"}
"""What only a plan loads that asks which wirings pass, or are best."""


@dataclass(frozen=True)
class Base:
    """A site that runs are variants of.

    Parameters
    ----------
    file : Path
        Its file.
    label : str
        What tables call it.
    site : Site
        The site with the wirings that are run.
    """

    file: Path
    label: str
    site: Site

    @cached_property
    def content(self) -> dict[str, Any]:
        """Its plain content, which paths of axes lead into."""
        return from_mapping(self.site.model_dump(), self.file.name).values

    def with_wiring(self, number: int) -> Site:
        """Return the site with one of its wirings alone.

        A mistake in another wiring is none of a run's business.
        """
        return self.site.model_copy(update={"wirings": (self.site.wirings[number],)})


def bases_of(told: PlanFile, progress: Progress) -> tuple[Base, ...]:
    """Return the sites of a plan with the wirings that are run.

    Parameters
    ----------
    told : PlanFile
        The plan.
    progress : callable
        Told of the ranking, where wirings are proposed.

    Raises
    ------
    InputError
        If a site file is missing or not sound, or a site has none of the wirings asked for.
    """
    axis = next(
        (part for parts in told.axes for part in parts if isinstance(part.said, SiteAxis)), None
    )
    if axis is not None:
        files = files_of(axis, told, "a site file")
    elif told.plan.base is not None:
        files = (_one_file(told.plan.base, ("base",), told, "a site file"),)
    else:
        files = (shipped("site_configs", DEMO),)
    sites = [_split_types(asked_site(file), told) for file in files]
    if isinstance(told.plan.wirings, tuple):
        _refuse_unknown_wirings(told.plan.wirings, sites, told)
    found = []
    for file, label, site in zip(files, labels_of(files), sites, strict=True):
        wirings = _chosen(site, told, file, progress)
        if not wirings:
            known = one_of([wiring.name for wiring in site.wirings])
            told.refuse(("wirings",), f"no wiring of {file.name}", f"at least one of it: {known}")
        found.append(Base(file, label, site.model_copy(update={"wirings": wirings})))
    return tuple(found)


def files_of(axis: AxisPart, told: PlanFile, noun: str) -> tuple[Path, ...]:
    """Return the files of an axis, patterns filled in, in the order of the plan.

    Parameters
    ----------
    axis : AxisPart
        An axis of site or weather files.
    told : PlanFile
        The plan; paths count from its folder.
    noun : str
        What a file is, for messages.

    Raises
    ------
    InputError
        With the line: if a file is missing, named twice, or a pattern matches none.
    """
    found: list[Path] = []
    for number, text in enumerate(axis.values):
        at = (*axis.where, "files", number)
        for file in _matching(text, at, told, noun):
            if file in found:
                told.refuse(at, f"the file {shown(str(file.name))} again", "each file once")
            found.append(file)
    return tuple(found)


def _matching(text: str, at: Location, told: PlanFile, noun: str) -> list[Path]:
    folder = Path(told.plan.folder)
    if not is_pattern(text, folder):
        return [_one_file(text, at, told, noun)]
    files = matching(text, folder)
    if not files:
        told.refuse(
            at,
            f"the pattern {shown(text)}, which no file matches",
            "a pattern of files that are there",
            f"It counts from the plan's folder, {folder}.",
        )
    return files


def _one_file(text: str, at: Location, told: PlanFile, noun: str) -> Path:
    folder = Path(told.plan.folder)
    file = folder / text
    if file.is_file():
        return file
    if noun == WEATHER_NOUN and text in data_set_names("weather"):
        return Path(text)
    beside = [each.name for each in file.parent.glob("*")] if file.parent.is_dir() else []
    close = nearest(file.name, beside)
    hint = f"Did you mean '{close}'?" if close else f"Paths count from the plan's folder, {folder}."
    refuse(told.content.where(at), f"{shown(text)}, which is not there", noun, remedy=hint)


WEATHER_NOUN = "a weather file"


def labels_of(files: Sequence[Path]) -> tuple[str, ...]:
    """Return what tables call files: their stems, with folders where stems repeat."""
    stems = Counter(file.stem for file in files)
    return tuple(
        file.stem if stems[file.stem] == 1 else f"{file.parent.name}/{file.name}" for file in files
    )


def _chosen(site: Site, told: PlanFile, file: Path, progress: Progress) -> tuple[Wiring, ...]:
    """Return the wirings of a site that are run."""
    asked = told.plan.wirings
    if asked == "all":
        return site.wirings
    if asked == "permitted":
        permitted: tuple[Wiring, ...] = _judged().permitted(site, told, file)
        return permitted
    if isinstance(asked, Proposed):
        best: tuple[Wiring, ...] = _judged().proposed(site, asked.proposed, told, file, progress)
        return best
    own = {wiring.name: wiring for wiring in site.wirings}
    return tuple(own[name] for name in asked if name in own)


def _judged() -> Any:
    return import_module(_LATER["judged_wirings"])


def _refuse_unknown_wirings(asked: tuple[str, ...], sites: Sequence[Site], told: PlanFile) -> None:
    """Refuse names of wirings that no site has, or that stand there twice."""
    known = list(dict.fromkeys(wiring.name for site in sites for wiring in site.wirings))
    for number, name in enumerate(asked):
        if name in asked[:number]:
            told.refuse(("wirings", number), f"{shown(name)} again", "each wiring once")
        if name not in known:
            close = nearest(name, known)
            hint = f"Did you mean '{close}'?" if close else ""
            told.refuse(("wirings", number), f"the wiring {shown(name)}", one_of(known), hint)


def _split_types(site: Site, told: PlanFile) -> Site:
    """Return a site whose inverters of varied size have types of their own.

    Several inverters of one type would all change with it.
    """
    named = {
        part.said.inverter
        for parts in told.axes
        for part in parts
        if isinstance(part.said, DcAcRatioAxis)
    }
    counts = Counter(one.type for one in site.inverters)
    types, inverters = list(site.inverter_types), []
    for one in site.inverters:
        if one.name in named and counts[one.type] > 1:
            kind = next(each for each in site.inverter_types if each.name == one.type)
            own = f"{one.type} of {one.name}"[:200]
            types.append(kind.model_copy(update={"name": own}))
            inverters.append(one.model_copy(update={"type": own}))
        else:
            inverters.append(one)
    changes = {"inverter_types": tuple(types), "inverters": tuple(inverters)}
    return site.model_copy(update=changes) if site.inverters else site
