"""What may hang on the inputs of each kind of inverter, solved once for every wiring."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import BoolArray, FloatArray, IntArray
from yieldkit.base.errors import refuse
from yieldkit.base.progress import Progress
from yieldkit.config.site.site import OneInverter, Site, TrackerStrings, WiredString
from yieldkit.design.permitted.arrangements import (
    InputClass,
    input_classes,
    plane_cables,
    wired_string,
)
from yieldkit.design.permitted.constraints import Constraints
from yieldkit.design.permitted.search import short_circuit_left
from yieldkit.physics.ac.inverter_totals import OwnPath
from yieldkit.physics.ac.many_wirings import Arrangements
from yieldkit.study.simulation.prepare import Prepared
from yieldkit.study.wiring_energies.arrangement_tables import InputStrings, solve_arrangements
from yieldkit.study.wiring_energies.behind_meter import own_path

MOST_TABLE_BYTES = 900_000_000
"""Room for the solved arrangements of all kinds of inverters [byte]."""


@dataclass(frozen=True)
class InverterKind:
    """Inverters that agree in everything but their name, and what may hang on their inputs.

    Parameters
    ----------
    names : tuple of str
        The inverters.
    site : Site
        The site as it stands to one of them alone.
    classes : tuple of InputClass
        Their inputs by rating with the arrangements that nothing forbids.
    fixed : tuple of TrackerStrings
        What is wired to them already.
    """

    names: tuple[str, ...]
    site: Site
    classes: tuple[InputClass, ...]
    fixed: tuple[TrackerStrings, ...]

    @property
    def slots(self) -> IntArray:
        """The class of each input that is to be wired, equal ones side by side (input,)."""
        return np.array(
            [place for place, own in enumerate(self.classes) for _ in own.mppts], dtype=np.int64
        )


def inverter_kinds(
    site: Site, constraints: Constraints, tell: Progress
) -> tuple[tuple[InverterKind, ...], IntArray]:
    """Return the kinds of a site's inverters, and of which kind each inverter is (inverter,).

    Parameters
    ----------
    site : Site
        A site of several inverters.
    constraints : Constraints
        What is asked of the wirings; inputs go by inverter and input.
    tell : callable
        Told how many sets of strings were looked at.
    """
    found: dict[str, list[OneInverter]] = {}
    asked: dict[str, Constraints] = {}
    for one in site.each_inverter():
        own = own_constraints(constraints, one.name)
        key = _rating(one) + repr((sorted(own.keep_free), own.fixed))
        found.setdefault(key, []).append(one)
        asked[key] = own
    kinds = []
    places = {one.name: place for place, one in enumerate(site.each_inverter())}
    kind_of = np.zeros(len(places), dtype=np.int64)
    for number, (key, ones) in enumerate(found.items()):
        # The cables of strings from each plane are those of all the site's wirings.
        alone = ones[0].site.model_copy(update={"wirings": site.wirings})
        classes = input_classes(alone, asked[key], tell)
        names = tuple(one.name for one in ones)
        kinds.append(InverterKind(names, alone, classes, asked[key].fixed))
        kind_of[[places[name] for name in names]] = number
    return tuple(kinds), kind_of


def own_constraints(constraints: Constraints, inverter: str) -> Constraints:
    """Return what is asked of the wirings of one of several inverters."""
    start = f"{inverter} / "
    free = tuple(
        name.removeprefix(start) for name in constraints.keep_free if name.startswith(start)
    )
    fixed = tuple(each for each in constraints.fixed if each.inverter == inverter)
    return constraints._replace(keep_free=free, fixed=fixed)


def _rating(one: OneInverter) -> str:
    """Return everything about an inverter but its name, as text."""
    parts = (one.site.single_inverter, one.site.inverter_place, one.lead, one.reactive)
    return "".join(
        "-" if part is None else part.model_dump_json(exclude={"name"}) for part in parts
    )


class SolvedKind(NamedTuple):
    """A kind of inverter with every arrangement of its inputs solved over the lit steps.

    Parameters
    ----------
    kind : InverterKind
        The inverters.
    rows : tuple of (int, int)
        Class and arrangement of every row, those of one class and with equal modules side by side.
    usage : ndarray of int
        Modules of each plane that a row takes (row, plane).
    short_circuit_a : ndarray
        Sum of its strings' short-circuit currents at STC [A] (row,).
    short_circuit_left_a : float
        How much of that the inverter allows [A].
    arrangements : Arrangements
        The solved rows, and behind them what is wired already.
    fixed_rows : ndarray of int
        Positions of what is wired already.
    unsolved : ndarray of bool
        Steps without a solution for any of them (lit step,).
    path : OwnPath
        The conversion.
    """

    kind: InverterKind
    rows: tuple[tuple[int, int], ...]
    usage: IntArray
    short_circuit_a: FloatArray
    short_circuit_left_a: float
    arrangements: Arrangements
    fixed_rows: IntArray
    unsolved: BoolArray
    path: OwnPath

    def strings(self, row: int) -> tuple[WiredString, ...]:
        """Return the strings of a row as the site file has them."""
        place, chosen = self.rows[row]
        site, lengths = self.kind.site, plane_cables(self.kind.site)
        pieces = self.kind.classes[place].arrangements[chosen].pieces
        return tuple(wired_string(site, piece, lengths) for piece in pieces)

    def inputs(self, rows: Sequence[int]) -> Iterator[tuple[str, int]]:
        """Yield the name of an input for each row: in each class the longest strings first."""
        for place, own in enumerate(self.kind.classes):
            placed = [row for row in rows if self.rows[row][0] == place]
            for mppt, row in zip(own.mppts, reversed(placed), strict=False):
                yield mppt.name, row


def solved_kinds(
    prepared: Prepared,
    kinds: Sequence[InverterKind],
    kind_of: IntArray,
    constraints: Constraints,
    lit: IntArray,
    tell: Progress,
) -> tuple[SolvedKind, ...]:
    """Solve everything that may hang on the inputs of each kind of inverter.

    Parameters
    ----------
    prepared : Prepared
        The site on its weather.
    kinds : sequence of InverterKind
        The kinds.
    kind_of : ndarray of int
        The kind of each inverter (inverter,).
    constraints : Constraints
        What is asked of the wirings.
    lit : ndarray of int
        The steps with light.
    tell : callable
        Told how many arrangements are solved; a true answer ends the work.

    Raises
    ------
    InputError
        Where there are more arrangements than there is room for, or no light to solve them in.
    KeyboardInterrupt
        If the work was ended.
    """
    if not lit.size:
        refuse("weather", "no light in any step", "some light to rank wirings by")
    rows = [_rows(kind) for kind in kinds]
    _refuse_too_many(sum(len(own) for own in rows), lit.size)
    each = prepared.each_inverter()
    found = []
    for number, (kind, own) in enumerate(zip(kinds, rows, strict=True)):
        first = each[int(np.flatnonzero(kind_of == number)[0])]
        found.append(_solved(first, kind, own, constraints, lit, tell))
    return tuple(found)


def _rows(kind: InverterKind) -> list[tuple[int, int]]:
    """Return class and arrangement of every row, those with equal modules side by side."""
    return [
        (place, chosen)
        for place, own in enumerate(kind.classes)
        for chosen in sorted(
            range(len(own.arrangements)), key=lambda at: own.arrangements[at].usage
        )
    ]


def _refuse_too_many(rows: int, steps: int) -> None:
    most = MOST_TABLE_BYTES // (4 * 8 * max(steps, 1))
    if rows > most:
        refuse(
            "sets of strings",
            f"{rows:,} that may hang on an input",
            f"at most {most:,} on weather of {steps:,} steps with light",
            remedy="Ask for fewer strings on an input (--strings) or a narrower string length "
            "(--shortest, --longest).",
        )


def _solved(
    own: Prepared,
    kind: InverterKind,
    rows: list[tuple[int, int]],
    constraints: Constraints,
    lit: IntArray,
    tell: Progress,
) -> SolvedKind:
    site, cables = kind.site, plane_cables(kind.site)
    mppts = {mppt.name: mppt for mppt in site.single_inverter.mppts}
    sets = [kind.classes[place].arrangements[chosen] for place, chosen in rows]
    wanted: list[InputStrings] = [
        (kind.classes[place].mppts[0], tuple(wired_string(site, piece, cables) for piece in pieces))
        for (place, _chosen), (pieces, _usage, _amperes) in zip(rows, sets, strict=True)
    ]
    wanted += [(mppts[tracker.mppt], tracker.strings) for tracker in kind.fixed]
    tables, solved = solve_arrangements(own, own.conversion, lit, wanted, tell)
    if solved < len(wanted):
        raise KeyboardInterrupt
    own_fixed = constraints._replace(fixed=kind.fixed)
    return SolvedKind(
        kind=kind,
        rows=tuple(rows),
        usage=np.array([each.usage for each in sets], dtype=np.int64).reshape(
            len(rows), len(site.planes)
        ),
        short_circuit_a=np.array([each.short_circuit_a for each in sets]),
        short_circuit_left_a=short_circuit_left(site, own_fixed),
        arrangements=Arrangements(tables.power, tables.parts),
        fixed_rows=np.arange(len(rows), len(wanted)),
        unsolved=tables.unsolved,
        path=own_path(own.conversion),
    )
