"""How wirings share the planes out over the inverters, and which of equal ones counts."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from yieldkit.config.site.site import Site, Wiring
from yieldkit.study.several_inverters.shared_side import SharedSide, Wired
from yieldkit.study.several_inverters.solved_wirings import Group


def split_of(side: SharedSide, swaps: Sequence[dict[int, int]]) -> Callable[[Wired], Group]:
    """Return what tells one way to share the planes out from another.

    Parameters
    ----------
    side : SharedSide
        The inverters; those of one kind may be exchanged.
    swaps : sequence of dict
        Exchanges of equal planes, from `plane_swaps`.
    """

    def group(wired: Wired) -> Group:
        used = [
            (int(side.kind_of[place]), *side.solved(place).usage[list(rows)].sum(axis=0).tolist())
            for place, rows in enumerate(wired)
        ]
        found = [tuple(sorted(used))]
        for swap in swaps:
            planes = range(len(used[0]) - 1)
            moved = [(own[0], *(own[1 + swap.get(at, at)] for at in planes)) for own in used]
            found.append(tuple(sorted(moved)))
        return min(found)

    return group


def counts_once(side: SharedSide, swaps: Sequence[dict[int, int]]) -> Callable[[Wired], bool]:
    """Return what tells whether a wiring is the first of those that exchanged planes make equal.

    Parameters
    ----------
    side, swaps
        As for `split_of`.
    """

    def key(wired: Wired, swap: dict[int, int]) -> list[object]:
        found = []
        for place, rows in enumerate(wired):
            own = side.solved(place)
            sets = [(at, own.kind.classes[at].arrangements[chosen]) for at, chosen in own.rows]
            hung = sorted(
                (
                    sets[row][0],
                    sorted(
                        tuple(sorted((swap.get(plane, plane), n) for plane, n in piece))
                        for piece in sets[row][1].pieces
                    ),
                )
                for row in rows
            )
            found.append((int(side.kind_of[place]), hung))
        return sorted(found)  # type: ignore[return-value]  # lists of equal shape compare

    def counts(wired: Wired) -> bool:
        mine = key(wired, {})
        return all(mine <= key(wired, swap) for swap in swaps)

    return counts


def planes_on(site: Site, wiring: Wiring) -> dict[str, dict[str, int]]:
    """Return how many modules of each plane hang on each inverter.

    Parameters
    ----------
    site : Site
        The site.
    wiring : Wiring
        The wiring; its trackers name their inverter.
    """
    found: dict[str, dict[str, int]] = {one.name: {} for one in site.each_inverter()}
    for tracker in wiring.trackers:
        own = found[tracker.inverter or next(iter(found))]
        for string in tracker.strings:
            for group in string.groups:
                own[group.plane] = own.get(group.plane, 0) + group.modules
    return found


def split_sentence(site: Site, wiring: Wiring) -> str:
    """Return in words how a wiring shares the planes out over the inverters."""
    parts = []
    for inverter, planes in planes_on(site, wiring).items():
        listed = [f"{planes[name]} {name}" for name in planes]
        what = (
            ", ".join(listed[:-1]) + (" and " if len(listed) > 1 else "") + listed[-1]
            if (listed)
            else "nothing"
        )
        parts.append(f"{what} on '{inverter}'")
    return "; ".join(parts)
