"""What may hang on one MPPT input: strings that are long enough, and sets of them that pass."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from itertools import chain, combinations, combinations_with_replacement
from typing import NamedTuple

from yieldkit.base.progress import Progress, counted, silent
from yieldkit.config.models.conductors import Cable
from yieldkit.config.models.inverters import MpptInput
from yieldkit.config.models.planes import Plane
from yieldkit.config.site.site import Group, Site, TrackerStrings, WiredString, Wiring
from yieldkit.design.checks.findings import NOT_PERMITTED
from yieldkit.design.checks.limits import INPUT_CHECKS, allowed_lengths, site_facts
from yieldkit.design.checks.wired import ModuleFacts, string_facts
from yieldkit.design.permitted.constraints import Constraints, fixed_modules

_PROGRESS_EVERY_SETS = 200

Piece = tuple[tuple[int, int], ...]
"""A string: plane (its position) and modules, plane by plane."""


Candidate = tuple[tuple[int, ...], ...]
"""Per class of inputs the arrangements in use, by position, rising."""


class Arrangement(NamedTuple):
    """Strings that may hang in parallel on an input.

    Parameters
    ----------
    pieces : tuple
        The strings, in a fixed order.
    usage : tuple of int
        Modules taken from each plane (plane,).
    short_circuit_a : float
        Sum of the strings' short-circuit currents at STC [A].
    """

    pieces: tuple[Piece, ...]
    usage: tuple[int, ...]
    short_circuit_a: float


class InputClass(NamedTuple):
    """Inputs of one rating, and what may hang on each of them.

    Parameters
    ----------
    mppts : tuple of MpptInput
        The inputs, interchangeable but for their names.
    arrangements : tuple of Arrangement
        All that nothing forbids.
    dropped : dict of str to int
        How many arrangements failed which check.
    lengths : dict of str to tuple of int
        Fewest and most modules of a string of each plane, by start-up voltage, cold open-circuit
        voltage and constraints.
    """

    mppts: tuple[MpptInput, ...]
    arrangements: tuple[Arrangement, ...]
    dropped: dict[str, int]
    lengths: dict[str, tuple[int, int]]


def plane_cables(site: Site) -> dict[str, Cable | None]:
    """Return the cable of a string from each plane, as the site's own wirings have it."""
    cables: dict[str, Cable | None] = {plane.name: None for plane in site.planes}
    for wiring in site.wirings:
        for tracker in wiring.trackers:
            for string in tracker.strings:
                for group in string.groups:
                    cables[group.plane] = cables[group.plane] or string.cable
    return cables


def wired_string(site: Site, piece: Piece, cables: dict[str, Cable | None]) -> WiredString:
    """Return a string as the site file has it, with its plane's cable."""
    names = [site.planes[plane].name for plane, _ in piece]
    groups = tuple(
        Group(plane=name, modules=count) for name, (_, count) in zip(names, piece, strict=True)
    )
    known = [cables[name] for name in names]
    longest = max((each for each in known if each), key=lambda c: c.length_m, default=None)
    return WiredString(groups=groups, cable=longest)


def input_classes(
    site: Site, constraints: Constraints, tell: Progress = silent
) -> tuple[InputClass, ...]:
    """Return the inputs by rating with everything that may hang on them.

    Parameters
    ----------
    site : Site
        Planes, modules, inverter and rule profile.
    constraints : Constraints
        What is asked of the wirings.
    tell : callable
        Told how many sets of strings were looked at.
    """
    taken = {*constraints.keep_free, *(each.mppt for each in constraints.fixed)}
    by_rating: dict[str, list[MpptInput]] = {}
    for mppt in site.single_inverter.mppts:
        if mppt.name not in taken:
            rating = mppt.model_dump_json(exclude={"name"})
            by_rating.setdefault(rating, []).append(mppt)
    facts = site_facts(site)
    return tuple(
        _input_class(site, mppts, constraints, facts, tell) for mppts in by_rating.values()
    )


def _input_class(
    site: Site,
    mppts: list[MpptInput],
    constraints: Constraints,
    facts: dict[str, ModuleFacts],
    tell: Progress,
) -> InputClass:
    lengths = _string_lengths(site, mppts[0], constraints, facts)
    pieces = list(_pieces(site, lengths, _pairs(site, constraints)))
    most = min(mppts[0].connectors, constraints.strings_per_tracker or mppts[0].connectors)
    drawn = [plane.modules for plane in site.planes]
    wired = fixed_modules(constraints)
    left = [plane.modules - wired.get(plane.name, 0) for plane in site.planes]
    cables = plane_cables(site)
    dropped: Counter[str] = Counter()
    found = []
    alone: set[Piece] = set()
    for number in range(1, most + 1):
        pool = pieces if number == 1 else [piece for piece in pieces if piece in alone]
        sets = combinations_with_replacement(pool, number)
        for chosen in counted(sets, tell, f"sets of {number} tried", _PROGRESS_EVERY_SETS):
            usage = [0] * len(drawn)
            for piece in chosen:
                for plane, count in piece:
                    usage[plane] += count
            if any(used > room for used, room in zip(usage, left, strict=True)):
                continue
            strings = tuple(wired_string(site, piece, cables) for piece in chosen)
            reason, amperes = forbidding_check(site, mppts[0], strings, facts)
            if reason:
                dropped[reason] += 1
                continue
            if number == 1:
                alone.add(chosen[0])
            found.append(Arrangement(chosen, tuple(usage), amperes))
    return InputClass(tuple(mppts), tuple(found), dict(dropped), lengths)


def _string_lengths(
    site: Site, mppt: MpptInput, constraints: Constraints, facts: dict[str, ModuleFacts]
) -> dict[str, tuple[int, int]]:
    """Return the fewest and the most modules of a string of each plane on an input.

    Where the voltage in the cold can't be known, the one at 25 degC bounds the length: longer
    strings are forbidden whatever the cold makes of them.
    """
    lengths = allowed_lengths(site)
    own = lengths[lengths["mppt"] == mppt.name].set_index("plane")

    def span(plane: Plane) -> tuple[int, int]:
        start = float(own["fewest_by_start_up"].loc[plane.name])
        most = float(own["most_by_cold_voltage"].loc[plane.name])
        fewest = 1 if math.isnan(start) else int(start)
        if math.isnan(most):
            most = mppt.max_voltage_v * (1.0 + 1e-9) // facts[plane.module_type].most_v_oc
        return max(fewest, constraints.shortest or 1), min(
            int(most), constraints.longest or int(most)
        )

    return {plane.name: span(plane) for plane in site.planes}


def _pieces(
    site: Site, lengths: dict[str, tuple[int, int]], pairs: set[tuple[int, int]]
) -> Iterator[Piece]:
    """Yield every string whose length an input and the constraints allow."""
    for place, plane in enumerate(site.planes):
        fewest, most = lengths[plane.name]
        for count in range(fewest, min(most, plane.modules) + 1):
            yield ((place, count),)
    for first, second in sorted(pairs):
        spans = [lengths[site.planes[place].name] for place in (first, second)]
        fewest, most = max(s[0] for s in spans), min(s[1] for s in spans)
        for one in range(1, site.planes[first].modules + 1):
            for other in range(max(1, fewest - one), site.planes[second].modules + 1):
                if one + other <= most:
                    yield ((first, one), (second, other))


def _pairs(site: Site, constraints: Constraints) -> set[tuple[int, int]]:
    place = {plane.name: number for number, plane in enumerate(site.planes)}
    return {
        (min(place[a], place[b]), max(place[a], place[b]))
        for group in constraints.crossing
        for a, b in combinations(group, 2)
    }


def forbidding_check(
    site: Site, mppt: MpptInput, strings: Sequence[WiredString], facts: dict[str, ModuleFacts]
) -> tuple[str, float]:
    """Return the first check that forbids strings on an input, and the sum of their Isc [A].

    Parameters
    ----------
    site : Site
        The site with its rule profile.
    mppt : MpptInput
        The input.
    strings : sequence of WiredString
        The strings in parallel.
    facts : dict of str to ModuleFacts
        From `site_facts`.
    """
    wiring = Wiring(
        name="candidate", trackers=(TrackerStrings(mppt=mppt.name, strings=tuple(strings)),)
    )
    own = string_facts(site, wiring, facts)
    amperes = sum(string.i_sc for string in own)
    for finding in chain.from_iterable(every(site, own) for every in INPUT_CHECKS):
        if finding.verdict == NOT_PERMITTED and finding.check not in _OF_THE_PART:
            return finding.check, amperes
    return "", amperes


# What a part lacks whatever is wired to it forbids no wiring in favour of another.
_OF_THE_PART = frozenset(("DC isolator category", "DC isolator poles"))
