"""Modules of one plane that differ a little, delivered sorted or not, laid string after string."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from yieldkit.base.arrays import FloatArray, IntArray
from yieldkit.config.models.planes import Plane
from yieldkit.config.site.site import Group, WiredString, Wiring
from yieldkit.physics.circuit.api import CellConditions
from yieldkit.study.simulation.planes import scale_current
from yieldkit.study.simulation.prepare import Prepared

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
    # Of a plane with a single module one kind has none.
    plane, kind = np.nonzero(counts)
    names = [_name(int(at), int(which)) for at, which in zip(plane, kind, strict=True)]
    place = {each.name: number for number, each in enumerate(planes)}
    laid = [
        _taken(wiring, f"wiring {number}", kinds, place) for number, wiring in enumerate(wirings)
    ]
    parts = [
        _part(planes[own], name, int(counts[own, which]))
        for own, name, which in zip(plane, names, kind, strict=True)
    ]
    site = prepared.site.model_copy(update={"planes": tuple(parts), "wirings": tuple(laid)})
    spread = CellConditions(*(np.ascontiguousarray(part[:, plane]) for part in prepared.conditions))
    variant = replace(
        prepared,
        site=site,
        planes=prepared.planes.isel(plane=plane).assign_coords(plane=names),
        conditions=scale_current(spread, _factors(counts, spread_percent)[plane, kind]),
        groups_per_module=tuple(prepared.groups_per_module[own] for own in plane),
        module_power=prepared.module_power[plane],
        module_stages=prepared.module_stages[:, plane],
    )
    return variant, laid


def _part(plane: Plane, name: str, modules: int) -> Plane:
    """Return the part of a plane that one kind takes; where its modules lie is nobody's matter."""
    nowhere = {"positions": (), "drawing": (), "cable_exit": None}
    return plane.model_copy(update=nowhere | {"name": name, "modules": modules})


def _name(plane: int, kind: int) -> str:
    return f"plane {plane} kind {kind}"


def _delivered(modules: int, share_sorted: float, rng: np.random.Generator) -> IntArray:
    """Return the kind of each module of a plane in the order in which they are laid."""
    rank = np.arange(modules)
    key = share_sorted * rank / modules + (1.0 - share_sorted) * rng.random(modules)
    return (KINDS * np.argsort(key, kind="stable")) // modules


def _factors(counts: IntArray, spread_percent: float) -> FloatArray:
    """Return each kind's current over the plane's mean (plane, kind)."""
    steps = np.array([-1.0, 1.0]) * spread_percent / 100.0
    mean = (counts * steps).sum(axis=1, keepdims=True) / counts.sum(axis=1, keepdims=True)
    factors: FloatArray = 1.0 + steps - mean
    return factors


def _taken(wiring: Wiring, name: str, kinds: Sequence[IntArray], place: dict[str, int]) -> Wiring:
    """Return a wiring whose strings take the planes' modules in order, longer strings first."""
    wired = [string for tracker in wiring.trackers for string in tracker.strings]
    order = sorted(range(len(wired)), key=lambda own: -_modules(wired[own]))
    start = [0] * len(kinds)
    changed: dict[int, WiredString] = {}
    for own in order:
        groups: list[Group] = []
        for group in wired[own].groups:
            plane = place[group.plane]
            chosen = kinds[plane][start[plane] : start[plane] + group.modules]
            start[plane] += group.modules
            groups += [
                Group(plane=_name(plane, kind), modules=count)
                for kind, count in sorted(Counter(chosen.tolist()).items())
            ]
        changed[own] = WiredString(**dict(wired[own]) | {"groups": tuple(groups)})
    trackers = []
    position = 0
    for tracker in wiring.trackers:
        strings = tuple(changed[position + number] for number in range(len(tracker.strings)))
        position += len(tracker.strings)
        trackers.append(tracker.model_copy(update={"strings": strings}))
    return Wiring(name=name, trackers=tuple(trackers))


def _modules(string: WiredString) -> int:
    return sum(group.modules for group in string.groups)
