"""Modules of one plane that differ a little, delivered sorted or not, laid string after string."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from yieldkit.config.site import Group, TrackerStrings, WiredString, Wiring
from yieldkit.physics.circuit import CellConditions
from yieldkit.study.prepare import Prepared, scale_current

KINDS = 2
"""Modules of less and of more current, half of the plane each: a small loss grows with the square
of the spread, so that two kinds of the right variance stand for any distribution."""


def sorted_modules(
    prepared: Prepared,
    wirings: Sequence[Wiring],
    spread_percent: float,
    share_sorted: float,
    seed: int,
) -> tuple[Prepared, list[Wiring]]:
    """Return a site whose planes hold modules of several currents, and wirings that use them.

    Every plane's modules come in an order between random and sorted by current. The strings of a
    wiring take them in that order, longer strings first, so that two wirings cut the same
    delivery differently.

    Parameters
    ----------
    prepared : Prepared
        The site, its modules all alike.
    wirings : sequence of Wiring
        The wirings.
    spread_percent : float
        Standard deviation of the modules' current within a plane [%].
    share_sorted : float
        0 for a random order, 1 for one sorted by current.
    seed : int
        Seed of the random part.
    """
    planes = prepared.site.planes
    rng = np.random.default_rng(seed)
    kinds = [_delivered(plane.modules, share_sorted, rng) for plane in planes]
    counts = np.array([np.bincount(own, minlength=KINDS) for own in kinds])
    repeated = np.repeat(np.arange(len(planes)), KINDS)
    names = [_name(plane, kind) for plane in range(len(planes)) for kind in range(KINDS)]
    factors = _factors(counts, spread_percent)
    # No site that anybody could write: kinds without modules, and wirings of the planes before.
    site = prepared.site.model_copy(
        update={
            "planes": tuple(
                planes[plane].model_copy(update={"name": name, "modules": int(count)})
                for plane, name, count in zip(repeated, names, counts.ravel(), strict=True)
            )
        }
    )
    spread = CellConditions(
        *(np.ascontiguousarray(part[:, repeated]) for part in prepared.conditions)
    )
    variant = replace(
        prepared,
        site=site,
        planes=prepared.planes.isel(plane=repeated).assign_coords(plane=names),
        conditions=scale_current(spread, factors.ravel()),
        groups_per_module=tuple(prepared.groups_per_module[plane] for plane in repeated),
        module_power=prepared.module_power[repeated],
        module_stages=prepared.module_stages[:, repeated],
    )
    place = {plane.name: number for number, plane in enumerate(planes)}
    return variant, [_taken(wiring, kinds, place) for wiring in wirings]


def _name(plane: int, kind: int) -> str:
    return f"plane {plane} kind {kind}"


def _delivered(modules: int, share_sorted: float, rng: np.random.Generator) -> np.ndarray:
    """Return the kind of each module of a plane in the order in which they are laid."""
    rank = np.arange(modules)
    key = share_sorted * rank / modules + (1.0 - share_sorted) * rng.random(modules)
    return (KINDS * np.argsort(key, kind="stable")) // modules


def _factors(counts: np.ndarray, spread_percent: float) -> np.ndarray:
    """Return each kind's current over the plane's mean (plane, kind)."""
    steps = np.array([-1.0, 1.0]) * spread_percent / 100.0
    mean = (counts * steps).sum(axis=1, keepdims=True) / counts.sum(axis=1, keepdims=True)
    return 1.0 + steps - mean


def _taken(wiring: Wiring, kinds: Sequence[np.ndarray], place: dict[str, int]) -> Wiring:
    """Return a wiring whose strings take the planes' modules in order, longer strings first."""
    wired = [(tracker.mppt, string) for tracker in wiring.trackers for string in tracker.strings]
    order = sorted(range(len(wired)), key=lambda own: -_modules(wired[own][1]))
    start = [0] * len(kinds)
    changed: dict[int, WiredString] = {}
    for own in order:
        groups: list[Group] = []
        for group in wired[own][1].groups:
            plane = place[group.plane]
            chosen = kinds[plane][start[plane] : start[plane] + group.modules]
            start[plane] += group.modules
            groups += [
                Group(plane=_name(plane, kind), modules=count)
                for kind, count in sorted(Counter(chosen.tolist()).items())
            ]
        changed[own] = wired[own][1].model_copy(update={"groups": tuple(groups)})
    trackers = []
    position = 0
    for tracker in wiring.trackers:
        strings = tuple(changed[position + number] for number in range(len(tracker.strings)))
        position += len(tracker.strings)
        trackers.append(TrackerStrings(mppt=tracker.mppt, strings=strings))
    return wiring.model_copy(update={"trackers": tuple(trackers)})


def _modules(string: WiredString) -> int:
    return sum(group.modules for group in string.groups)
