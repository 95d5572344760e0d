"""The load behind the meter: which keys belong to which kind, and whose clock it follows."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from yieldkit.base.errors import InputError, Problem
from yieldkit.base.time_zones import wall_clock
from yieldkit.config.reading.content import Content, Location
from yieldkit.config.reading.parts import number, part

_HOURS = 24
_LOADS = {
    "constant": ("power_w", "the consumption in watts"),
    "day": ("hours_w", "24 values in watts, from midnight on"),
    "series": ("file", "a table of consumption through a year"),
    "shape": ("kwh_per_year", "the consumption in a year"),
}
_LOAD_DETAILS: dict[str, tuple[str | None, tuple[str, ...]]] = {
    "shape": ("dwelling", ("shape",)),
    "column": (None, ("series",)),
    "unit": (None, ("series",)),
    "time": (None, ("series",)),
    "label": ("start", ("series",)),
    "zone": (None, ("series", "day", "shape")),
    "clock": ("standard", ("series", "day", "shape")),
}
"""What else may be said of a load: what counts where nothing is said, and of which kinds."""


def load_relations(content: Content) -> Iterator[Problem]:
    """Give the problems of the load behind the meter.

    Parameters
    ----------
    content : Content
        The file's content, of any shape.
    """
    grid = part(content.values, "grid")
    load = part(grid, "load")
    if not isinstance(load, dict):
        return
    at: Location = ("grid", "load")
    if number(grid, "load_w"):
        yield Problem(
            content.where(("grid", "load_w")), "load_w and load", "one of the two for the load"
        )
    kind = load.get("kind")
    for word, (key, said) in _LOADS.items():
        given = load.get(key) not in (None, ())
        if word == kind and not given:
            yield Problem(
                content.where((*at, "kind")), f"kind {word} without {key}", f"{key}: {said}"
            )
        if word != kind and given and kind in _LOADS:
            yield Problem(
                content.where((*at, key)), f"{key} with kind {kind}", f"{key} with kind {word} only"
            )
    yield from _load_details(content, load)
    hours = load.get("hours_w")
    if isinstance(hours, tuple) and hours and len(hours) != _HOURS:
        yield Problem(
            content.where((*at, "hours_w")),
            f"{len(hours)} values",
            f"{_HOURS} values, one for each hour of a day",
        )


def _load_details(content: Content, load: Mapping[str, Any]) -> Iterator[Problem]:
    """Give what is said of a load and means nothing for its kind, and a clock without a place."""
    at: Location = ("grid", "load")
    kind = load.get("kind")
    for key, (usual, kinds) in _LOAD_DETAILS.items():
        if kind in _LOADS and load.get(key) not in (None, usual) and kind not in kinds:
            yield Problem(
                content.where((*at, key)),
                f"{key} with kind {kind}",
                f"{key} with kind {' or '.join(kinds)} only",
            )
    if load.get("clock") != "wall":
        if load.get("zone") is not None and kind in ("day", "shape"):
            yield Problem(
                content.where((*at, "zone")),
                f"zone with kind {kind} by standard time",
                "zone with clock: wall",
            )
        return
    named = load.get("zone")
    spot: Location = ("site", "time_zone") if named is None else (*at, "zone")
    zone = part(content.values, "site", "time_zone") if named is None else named
    try:
        wall_clock(str(zone), content.where(spot))
    except InputError as error:
        yield from error.problems
