"""The search for wirings: an arrangement for every input, no two wirings alike."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from functools import cache, partial
from itertools import product
from typing import NamedTuple

from yieldkit.config.site.site import Site, Wiring
from yieldkit.design.checks.limits import site_facts
from yieldkit.design.checks.rules import string_rule
from yieldkit.design.checks.wired import string_facts
from yieldkit.design.permitted.arrangements import Candidate, InputClass
from yieldkit.design.permitted.constraints import Constraints, fixed_modules
from yieldkit.design.permitted.plane_symmetry import is_first, plane_swaps


def candidates(
    site: Site, constraints: Constraints, classes: tuple[InputClass, ...]
) -> Iterator[Candidate]:
    """Yield the wirings of classes of inputs one by one.

    Parameters
    ----------
    site : Site
        The site.
    constraints : Constraints
        What is asked.
    classes : tuple of InputClass
        From `input_classes`.
    """
    slots = [place for place, own in enumerate(classes) for _ in own.mppts]
    lookup = [_by_usage(own) for own in classes]
    rooms = [max((sum(each.usage) for each in own.arrangements), default=0) for own in classes]
    after = [sum(rooms[slot] for slot in slots[place + 1 :]) for place in range(len(slots))]
    fixed = fixed_modules(constraints)
    left = tuple(plane.modules - fixed.get(plane.name, 0) for plane in site.planes)
    limit = short_circuit_left(site, constraints)
    swaps = plane_swaps(site, constraints)

    search = _Search(slots, after, constraints.leave_at_most, cache(partial(_choices, lookup)))
    for chosen in _filled(search, 0, left, ()):
        candidate = tuple(
            tuple(
                own for own, slot in zip(chosen, slots, strict=True) if slot == place and own >= 0
            )
            for place in range(len(classes))
        )
        if not any(candidate) and not constraints.fixed:
            continue
        if limit < math.inf and _short_circuit(candidate, classes) > limit:
            continue
        if swaps and not is_first(candidate, classes, swaps):
            continue
        yield candidate


class _Search(NamedTuple):
    """What the search for wirings looks up on its way from input to input.

    Parameters
    ----------
    slots : list of int
        The class of every input, equal ones side by side.
    after : list of int
        Modules that fit on all inputs behind one, by its place.
    leave_at_most : int
        Modules that may stay unwired.
    choices : callable
        `_choices` with the arrangements of the classes, its answers kept.
    """

    slots: list[int]
    after: list[int]
    leave_at_most: int
    choices: Callable[[int, tuple[int, ...], int, bool], list[tuple[tuple[int, ...], list[int]]]]


def _choices(
    lookup: list[dict[tuple[int, ...], list[int]]],
    slot: int,
    left: tuple[int, ...],
    fewest: int,
    last: bool,
) -> list[tuple[tuple[int, ...], list[int]]]:
    """Return what may follow on an input: modules then left of each plane, and arrangements."""
    return [
        (tuple(a - b for a, b in zip(left, usage, strict=True)), places)
        for usage, places in _fitting(lookup[slot], left, fewest, last)
    ]


def _filled(
    search: _Search, place: int, left: tuple[int, ...], chosen: tuple[int, ...]
) -> Iterator[tuple[int, ...]]:
    """Choose an arrangement for every input from `place` on; -1 leaves it idle.

    Equal inputs take theirs in rising order, idle ones last, so that no wiring comes twice.
    """
    if place == len(search.slots):
        if sum(left) <= search.leave_at_most:
            yield chosen
        return
    slot = search.slots[place]
    floor = chosen[-1] if place and search.slots[place - 1] == slot else -1
    spare = sum(left) - search.leave_at_most
    if floor < 0 and spare <= search.after[place]:
        yield from _filled(search, place + 1, left, (*chosen, -1))
    fewest = max(spare - search.after[place], 1)
    for rest, places in search.choices(slot, left, fewest, place == len(search.slots) - 1):
        for own in places:
            if own >= floor:
                yield from _filled(search, place + 1, rest, (*chosen, own))


def _by_usage(own: InputClass) -> dict[tuple[int, ...], list[int]]:
    table: dict[tuple[int, ...], list[int]] = {}
    for place, arrangement in enumerate(own.arrangements):
        table.setdefault(arrangement.usage, []).append(place)
    return table


def _fitting(
    table: dict[tuple[int, ...], list[int]], left: tuple[int, ...], fewest: int, last: bool
) -> Iterator[tuple[tuple[int, ...], list[int]]]:
    """Yield usages that fit into what is left and take at least so many modules."""
    total = sum(left)
    if last and total - fewest <= 6:
        # Few usages can finish: look them up instead of trying all.
        spans = [range(max(0, room - (total - fewest)), room + 1) for room in left]
        for usage in product(*spans):
            if sum(usage) >= fewest and usage in table:
                yield usage, table[usage]
        return
    for usage, places in table.items():
        if sum(usage) >= fewest and all(a <= b for a, b in zip(usage, left, strict=True)):
            yield usage, places


def _short_circuit(candidate: Candidate, classes: tuple[InputClass, ...]) -> float:
    return sum(
        own.arrangements[place].short_circuit_a
        for own, chosen in zip(classes, candidate, strict=True)
        for place in chosen
    )


def short_circuit_left(site: Site, constraints: Constraints) -> float:
    """Return the sum of Isc that the inverter allows beside what is wired already [A].

    Parameters
    ----------
    site : Site
        A site of one inverter.
    constraints : Constraints
        With what is wired already.
    """
    limit = site.single_inverter.max_dc_short_circuit_a
    if limit is None:
        return math.inf
    allowed = limit * (1.0 + 1e-9) / string_rule(site.standards.strings, "isc_factor").value
    if not constraints.fixed:
        return allowed
    wiring = Wiring(name="fixed", trackers=constraints.fixed)
    return allowed - sum(each.i_sc for each in string_facts(site, wiring, site_facts(site)))
