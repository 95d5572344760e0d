"""Planes that agree in everything but their name: wirings that exchange them are one wiring."""

from __future__ import annotations

from itertools import permutations, product

from yieldkit.config.site.site import Site
from yieldkit.design.permitted.arrangements import Candidate, InputClass, plane_cables
from yieldkit.design.permitted.constraints import Constraints, fixed_modules


def plane_swaps(site: Site, constraints: Constraints) -> list[dict[int, int]]:
    """Return the exchanges of planes that agree in everything but their name.

    Parameters
    ----------
    site : Site
        The site: mounting, horizon, places of the modules, cable exit and module type must agree,
        and the cable of their strings.
    constraints : Constraints
        Planes that are named in them are not exchanged.
    """
    named = {name for group in constraints.crossing for name in group} | set(
        fixed_modules(constraints)
    )
    cables = plane_cables(site)
    # What was measured on one plane is not the other's.
    measured = site.weather.measured_planes
    alike: dict[str, list[int]] = {}
    for place, plane in enumerate(site.planes):
        if plane.name not in named:
            cable = cables[plane.name]
            own = plane.name if plane.name in measured else ""
            key = (
                own
                + plane.model_dump_json(exclude={"name"})
                + (cable.model_dump_json() if cable else "")
            )
            alike.setdefault(key, []).append(place)
    groups = [places for places in alike.values() if len(places) > 1]
    swaps = []
    for chosen in product(*(list(permutations(group)) for group in groups)):
        swap = {
            a: b
            for group, order in zip(groups, chosen, strict=True)
            for a, b in zip(group, order, strict=True)
        }
        if any(a != b for a, b in swap.items()):
            swaps.append(swap)
    return swaps


def is_first(
    candidate: Candidate, classes: tuple[InputClass, ...], swaps: list[dict[int, int]]
) -> bool:
    """Tell whether a candidate is the first of those that exchanged planes make equal.

    Parameters
    ----------
    candidate : Candidate
        A wiring.
    classes : tuple of InputClass
        The inputs by rating.
    swaps : list of dict
        From `plane_swaps`.
    """

    def key(swap: dict[int, int]) -> list[list[list[tuple[tuple[int, int], ...]]]]:
        return [
            sorted(
                sorted(
                    tuple(sorted((swap.get(plane, plane), count) for plane, count in piece))
                    for piece in own.arrangements[place].pieces
                )
                for place in chosen
            )
            for own, chosen in zip(classes, candidate, strict=True)
        ]

    mine = key({})
    return all(mine <= key(swap) for swap in swaps)
