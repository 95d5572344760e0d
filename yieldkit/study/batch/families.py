"""Runs of one site and wiring: what each value of every axis changes there, and their names."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import chain
from pathlib import Path
from typing import Any, NamedTuple

from yieldkit.config.models.plan import DcAcRatioAxis, SiteAxis, WeatherAxis
from yieldkit.config.plan.file import AxisPart, PlanFile
from yieldkit.config.reading.content import Location, from_mapping
from yieldkit.config.reading.parts import part
from yieldkit.config.reading.paths import at, written
from yieldkit.config.site.written_back import NAMED_FILES
from yieldkit.study.batch.bases import Base
from yieldkit.study.batch.moves import WEATHER_FILE, Move, weather_value
from yieldkit.study.batch.names import (
    FileHashes,
    canonical,
    files_named,
    ingredients_of,
    label_of,
    name_of,
    site_hash,
    together,
    wiring_hash,
)
from yieldkit.study.batch.sizes import Size, size_of

_REMEMBERED = 20_000
"""Values of an axis whose changes are remembered; those of a longer one are worked out anew."""

Files = Mapping[Location, tuple[Path, str]]


class Step(NamedTuple):
    """What one value of an axis changes.

    Parameters
    ----------
    changes : tuple of (str, object)
        Paths and new values; none where the value is the site's own.
    fragments : tuple of str
        The same for the name.
    places : dict
        New values by where they stand.
    files : dict
        Files that are others than the site's, with the hash of their bytes.
    """

    changes: tuple[tuple[str, Any], ...]
    fragments: tuple[str, ...]
    places: dict[Location, Any]
    files: Files


class Assembled(NamedTuple):
    """A run put together: its name, its changes, the weather file, and what it is made of."""

    name: str
    changes: tuple[tuple[str, Any], ...]
    weather_file: Path
    made_of: tuple[tuple[str, str], ...]


@dataclass
class Family:
    """All runs of a site with one of its wirings.

    Parameters
    ----------
    base : Base
        The site.
    wiring : int
        Which of its wirings.
    axes : sequence of tuple of (AxisPart, Move, values)
        Every axis: its parts, what each changes, and its values.
    told : PlanFile
        The plan.
    hashes : FileHashes
        Hashes of files, shared by all families.
    """

    base: Base
    wiring: int
    axes: Sequence[tuple[tuple[AxisPart, Move, Sequence[Any]], ...]]
    told: PlanFile
    hashes: FileHashes
    _steps: dict[tuple[int, int], Step] = field(default_factory=dict)
    _sized: dict[tuple[Any, ...], Step] = field(default_factory=dict)

    def __post_init__(self) -> None:
        site = self.base.with_wiring(self.wiring)
        self.content = from_mapping(site.model_dump(), self.base.file.name).values
        self.ingredients = ingredients_of(
            site_hash(self.content), wiring_hash(self.content["wirings"][0])
        )
        self.files: Files = {
            place: self._file(place, part(self.content, *place))
            for place in NAMED_FILES
            if part(self.content, *place) is not None
        }
        self.sizes: list[tuple[int, int, Size]] = [
            (number, place, size_of(self.base, said, self.told, self.wiring))
            for number, members in enumerate(self.axes)
            for place, (said, _, _) in enumerate(members)
            if isinstance(said.said, DcAcRatioAxis)
        ]

    def _file(self, place: Location, said: Any) -> tuple[Path, str]:
        site = self.base.site
        files = files_named(place, said, site.folder, site.weather)
        return label_of(files), together([self.hashes.of(file) for file in files])

    def assembled(self, chosen: Sequence[int]) -> Assembled:
        """Return the run of one value of every axis.

        Parameters
        ----------
        chosen : sequence of int
            The position on each axis.
        """
        steps = [self._step(number, value) for number, value in enumerate(chosen)]
        if self.sizes:
            steps.append(self._sizes(chosen, steps))
        changes = sorted(chain.from_iterable(step.changes for step in steps))
        fragments = sorted(chain.from_iterable(step.fragments for step in steps))
        files = dict(self.files)
        for step in steps:
            files.update(step.files)
        weather, weather_hash = files[WEATHER_FILE]
        made_of = dict(self.ingredients)
        made_of["weather"] = weather_hash
        for place, (_, hashed) in files.items():
            if place != WEATHER_FILE:
                made_of[".".join(map(str, place))] = hashed
        name = name_of(made_of, fragments)
        return Assembled(name, tuple(changes), weather, tuple(made_of.items()))

    def _step(self, number: int, value: int) -> Step:
        """Return what a value of an axis changes, beside sizes of inverters."""
        known = self._steps.get((number, value))
        if known is not None:
            return known
        places: dict[Location, Any] = {}
        for axis, move, values in self.axes[number]:
            if isinstance(axis.said, DcAcRatioAxis | SiteAxis):
                continue
            new = values[value]
            if isinstance(axis.said, WeatherAxis):
                new = weather_value(new, self.base)
            places.update(dict.fromkeys(move.in_wiring(self.wiring), new))
        step = self._as_step(places)
        if len(self.axes[number]) and len(self.axes[number][0][2]) <= _REMEMBERED:
            self._steps[number, value] = step
        return step

    def _as_step(self, places: dict[Location, Any]) -> Step:
        """Return new values as changes, those left out that are the site's own."""
        changes, fragments, kept = [], [], {}
        files: dict[Location, tuple[Path, str]] = {}
        for place, new in places.items():
            if place in NAMED_FILES and isinstance(new, str | list | tuple):
                found = self._file(place, new)
                if self.files.get(place, (None, ""))[1] == found[1]:
                    continue
                files[place] = found
            else:
                own = at(self.content, place)
                if type(own) is not bool and canonical(own) == canonical(new):
                    continue
                if own is new:
                    continue
                fragments.append(json.dumps([*place, canonical(new)], ensure_ascii=False))
            kept[place] = new
            changes.append((written(self.content, place), new))
        return Step(tuple(changes), tuple(fragments), kept, files)

    def _sizes(self, chosen: Sequence[int], steps: Sequence[Step]) -> Step:
        """Return the ratings of inverters whose size is varied, beside the other changes."""
        others = {place: new for step in steps for place, new in step.places.items()}
        ratios = [self.axes[number][place][2][chosen[number]] for number, place, _ in self.sizes]
        powers = [size.dc_power(others) for _, _, size in self.sizes]
        key = (*ratios, *powers)
        if key not in self._sized:
            found: dict[Location, Any] = {}
            for (_, _, size), ratio in zip(self.sizes, ratios, strict=True):
                found.update(size.changes(ratio, others))
            if len(self._sized) >= _REMEMBERED:
                self._sized.clear()
            self._sized[key] = self._as_step(found)
        return self._sized[key]
