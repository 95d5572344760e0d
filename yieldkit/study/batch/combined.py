"""All runs of a plan: counted by their positions, and made one by one when asked for."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import product
from math import prod
from pathlib import Path
from typing import Any, NamedTuple

from yieldkit.config.models.plan import Keep, Plan, SiteAxis
from yieldkit.config.plan.conditions import Condition
from yieldkit.config.plan.file import PlanFile
from yieldkit.study.batch.bases import Base
from yieldkit.study.batch.families import Family
from yieldkit.study.batch.run import AC, STRINGS, Run, reach_of

WIRING = "wiring"


class Dimension(NamedTuple):
    """One direction of a plan: an axis, a group of axes that go together, or the wirings.

    Parameters
    ----------
    name : str
        The axis, the group, or "wiring".
    coordinates : dict
        Values by column: one column, of a group one for each member.
    """

    name: str
    coordinates: dict[str, tuple[Any, ...]]

    @property
    def size(self) -> int:
        """How many values there are."""
        return len(next(iter(self.coordinates.values())))


class Runs:
    """All runs of a plan; each is made when it is asked for.

    Parameters
    ----------
    told : PlanFile
        The plan.
    file : Path
        Its file.
    bases : tuple of Base
        The sites, with the wirings that are run.
    dimensions : tuple of Dimension
        What is combined, the wirings last.
    families : dict
        Runs of each site and wiring, by their positions.
    conditions : tuple of Condition
        What leaves runs out.
    cautions : tuple of str
        What is to be known before they are computed.
    """

    def __init__(
        self,
        told: PlanFile,
        file: Path,
        bases: tuple[Base, ...],
        dimensions: tuple[Dimension, ...],
        families: dict[tuple[int, int], Family],
        conditions: tuple[Condition, ...],
        cautions: tuple[str, ...],
    ) -> None:
        self.told, self.file, self.bases, self.dimensions = told, file, bases, dimensions
        self.cautions = cautions
        self._families, self._conditions = families, conditions
        self._site = next(
            (n for n, parts in enumerate(told.axes) if isinstance(parts[0].said, SiteAxis)), None
        )
        self._sizes = tuple(dimension.size for dimension in dimensions)
        self._named = frozenset(name for each in conditions for name in each.names)
        self._all, self._kept = self._counted()

    @property
    def plan(self) -> Plan:
        """The plan."""
        return self.told.plan

    @property
    def keep(self) -> Keep:
        """What is kept beside the annual results."""
        return self.told.plan.keep

    @property
    def left_out(self) -> int:
        """How many runs the plan's conditions leave out."""
        return self._all - self._kept

    def __len__(self) -> int:
        return self._kept

    def __iter__(self) -> Iterator[Run]:
        """Give the runs in the order of the plan: the wirings change first, then the last axis."""
        for chosen in product(*map(range, self._sizes)):
            run = self._run(chosen)
            if run is not None:
                yield run

    def in_order(self) -> Iterator[Run]:
        """Give the runs in the order of what they share, so that neighbours share most."""
        order = sorted(range(len(self._sizes)), key=lambda number: (self._reach(number), number))
        back = [order.index(number) for number in range(len(order))]
        for mixed in product(*(range(self._sizes[number]) for number in order)):
            run = self._run(tuple(mixed[place] for place in back))
            if run is not None:
                yield run

    def _reach(self, number: int) -> int:
        """Return how far up the road from sky to meter an axis reaches."""
        if number == self._site:
            return 0
        if number == len(self._sizes) - 1:
            return STRINGS
        places = [
            place
            for family in self._families.values()
            for _, move, _ in family.axes[number]
            for place in move.places
        ]
        return min((reach_of([str(key) for key in place]) for place in places), default=AC)

    def _family(self, chosen: Sequence[int]) -> tuple[tuple[int, int], Family] | None:
        base = 0 if self._site is None else chosen[self._site]
        label = self.dimensions[-1].coordinates[WIRING][chosen[-1]]
        wirings = [wiring.name for wiring in self.bases[base].site.wirings]
        if label not in wirings:
            return None
        found = (base, wirings.index(label))
        return found, self._families[found]

    def _run(self, chosen: tuple[int, ...]) -> Run | None:
        """Return the run at positions along all dimensions, or None where there is none."""
        found = self._family(chosen)
        if found is None or self._is_left_out(chosen):
            return None
        (base, wired), family = found
        made = family.assembled(chosen[:-1])
        axes = tuple(
            (column, values[place])
            for dimension, place in zip(self.dimensions[:-1], chosen, strict=False)
            for column, values in dimension.coordinates.items()
        )
        return Run(
            self._number(chosen),
            made.name,
            chosen,
            axes,
            made.changes,
            self.bases[base].site.wirings[wired].name,
            base,
            wired,
            self.bases[base].file,
            made.weather_file,
            made.made_of,
        )

    def _number(self, chosen: Sequence[int]) -> int:
        number = 0
        for place, size in zip(chosen, self._sizes, strict=True):
            number = number * size + place
        return number

    def _is_left_out(self, chosen: Sequence[int]) -> bool:
        if not self._conditions:
            return False
        values = {
            column: coordinates[place]
            for dimension, place in zip(self.dimensions, chosen, strict=True)
            for column, coordinates in dimension.coordinates.items()
            if column in self._named
        }
        return any(condition.holds(values) for condition in self._conditions)

    def _counted(self) -> tuple[int, int]:
        """Return how many runs there are with and without those left out.

        Only axes that decide are gone through; every other one multiplies.
        """
        last = len(self._sizes) - 1
        deciding = [
            number
            for number, dimension in enumerate(self.dimensions)
            if number in (self._site, last) or self._named & dimension.coordinates.keys()
        ]
        others = prod(size for number, size in enumerate(self._sizes) if number not in deciding)
        chosen = [0] * len(self._sizes)
        every = kept = 0
        for places in product(*(range(self._sizes[number]) for number in deciding)):
            for number, place in zip(deciding, places, strict=True):
                chosen[number] = place
            if self._family(chosen) is None:
                continue
            every += others
            kept += 0 if self._is_left_out(chosen) else others
        return every, kept
