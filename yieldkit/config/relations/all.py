"""Relations between parts of a site file, looked at wherever the parts are sound.

Models refuse wrong shapes one field at a time; these checks run on the plain content, so that a
wrong number in one place doesn't hide a wrong name in another.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from typing import Any

from yieldkit.base.errors import Problem, nearest
from yieldkit.config.reading.content import Content
from yieldkit.config.reading.parts import entries, inside, inverters_in, names, part
from yieldkit.config.reading.wording import is_number, one_of, shown
from yieldkit.config.relations.conductors import conductor_relations
from yieldkit.config.relations.dirt import plane_dirt
from yieldkit.config.relations.estimate import estimate_relations
from yieldkit.config.relations.installed import installed_relations
from yieldkit.config.relations.inverter import inverter_relations
from yieldkit.config.relations.load import load_relations
from yieldkit.config.relations.magnitudes import magnitudes
from yieldkit.config.relations.measured import measured_relations
from yieldkit.config.relations.obstacles import obstacle_relations
from yieldkit.config.relations.offer import offer_relations
from yieldkit.config.relations.place import place_relations
from yieldkit.config.relations.places import string_places
from yieldkit.config.relations.roof import plane_places
from yieldkit.config.relations.snow import snow_relations
from yieldkit.config.relations.wiring import wiring_relations


def relations(content: Content, folder: str) -> list[Problem]:
    """Return the problems between the parts of a site file.

    Parameters
    ----------
    content : Content
        The file's content, of any shape.
    folder : str
        Folder from which its relative paths count.
    """
    return [
        *_names_once(content),
        *_references(content),
        *_planes(content),
        *_horizon(content, ("site",), part(content.values, "site")),
        *wiring_relations(content),
        *string_places(content),
        *inverter_relations(content),
        *installed_relations(content),
        *load_relations(content),
        *conductor_relations(content),
        *magnitudes(content),
        *obstacle_relations(content),
        *place_relations(content, folder),
        *measured_relations(content),
        *snow_relations(content),
        *estimate_relations(content),
        *offer_relations(content, folder),
    ]


def _names_once(content: Content) -> Iterator[Problem]:
    values = content.values
    listed = [
        entries(values, key)
        for key in (
            "planes",
            "module_types",
            "wirings",
            "inverter_types",
            "inverters",
            "obstacles",
        )
    ]
    listed += [inside(inverter, at, "mppts") for at, inverter in inverters_in(values)]
    for each in listed:
        seen: set[str] = set()
        for location, item in each:
            name = item.get("name")
            if not isinstance(name, str):
                continue
            if name in seen:
                yield Problem(
                    content.where((*location, "name")),
                    f"the name {shown(name)} again",
                    "a name of its own for each",
                    remedy="Rename one of the two.",
                )
            seen.add(name)


def _unknown(where: str, what: str, name: Any, known: list[str]) -> Iterator[Problem]:
    if not isinstance(name, str) or name in known or not known:
        return
    close = nearest(name, known)
    yield Problem(
        where,
        f"the {what} {shown(name)}",
        one_of(known),
        remedy=f"Did you mean '{close}'?" if close else "",
    )


def _references(content: Content) -> Iterator[Problem]:
    values = content.values
    types, planes = names(values, "module_types"), names(values, "planes")
    installed = names(values, "inverters")
    mppts = _inputs(values)
    for at, plane in entries(values, "planes"):
        where = content.where((*at, "module_type"))
        yield from _unknown(where, "module type", plane.get("module_type"), types)
    for at, wiring in entries(values, "wirings"):
        for tracker_at, tracker in entries(wiring, "trackers"):
            spot, named = (*at, *tracker_at), tracker.get("inverter")
            where = content.where((*spot, "inverter"))
            if named is None and len(installed) > 1:
                yield Problem(where, "an input without its inverter", one_of(installed))
            if isinstance(named, str) and named not in installed:
                # Where none is listed at all, that is told once, and not of every input.
                known = installed if _given_types(values) else installed or sorted(mppts)
                yield from _unknown(where, "inverter", named, known) if known else ()
                continue
            own = mppts.get(named if isinstance(named, str) else next(iter(mppts), ""), [])
            where = content.where((*spot, "mppt"))
            yield from _unknown(where, "MPPT input", tracker.get("mppt"), own)
            for string_at, string in entries(tracker, "strings"):
                for group_at, group in entries(string, "groups"):
                    where = content.where((*at, *tracker_at, *string_at, *group_at, "plane"))
                    yield from _unknown(where, "plane", group.get("plane"), planes)
    for spot, inverter in inverters_in(values):
        for at, pair in inside(inverter, spot, "max_dc_power_pairs"):
            listed = part(pair, "mppts")
            for index, name in enumerate(listed if isinstance(listed, tuple) else ()):
                where = content.where((*at, "mppts", index))
                yield from _unknown(where, "MPPT input", name, names(inverter, "mppts"))


def _given_types(values: Any) -> bool:
    return part(values, "inverter_types") is not None


def _inputs(values: Any) -> dict[str, list[str]]:
    """Return the inputs' names of every inverter by its name, version 1's by its own."""
    types = {str(kind.get("name")): names(kind, "mppts") for _, kind in inverters_in(values)}
    installed = {
        str(each.get("name")): types.get(str(each.get("type")), [])
        for _, each in entries(values, "inverters")
    }
    return installed or types


def _planes(content: Content) -> Iterator[Problem]:
    for at, plane in entries(content.values, "planes"):
        positions, count = plane.get("positions"), plane.get("modules")
        if isinstance(positions, tuple) and positions:
            if type(count) is int and len(positions) != count:
                yield Problem(
                    content.where((*at, "positions")),
                    f"{len(positions)} positions for {shown(count)} modules",
                    "one position for each module, or none",
                    remedy="Correct the positions or the number of modules.",
                )
            yield from _twice_placed(content, at, plane)
        yield from plane_places(content, at, plane)
        yield from plane_dirt(content, at, plane)
        yield from _horizon(content, at, plane)
        yield from _slope(content, at, plane)


def _twice_placed(content: Content, at: Any, plane: dict[str, Any]) -> Iterator[Problem]:
    places = [(place.get("row"), place.get("column")) for _, place in entries(plane, "positions")]
    for place, count in Counter(map(repr, places)).items():
        if count > 1:
            yield Problem(
                content.where((*at, "positions")),
                f"{count} modules at row and column {place}",
                "one module at a place",
            )


def _horizon(content: Content, at: Any, owner: Any) -> Iterator[Problem]:
    last: float | None = None
    seen: set[float] = set()
    for point_at, point in entries(owner, "horizon"):
        azimuth = point.get("azimuth_deg")
        if not is_number(azimuth):
            continue
        where = content.where((*at, *point_at, "azimuth_deg"))
        if azimuth % 360.0 in seen:
            north = " (0 and 360 are both north)" if azimuth in (0, 360) else ""
            yield Problem(
                where, f"the azimuth {azimuth} again{north}", "one elevation for each azimuth"
            )
        elif last is not None and azimuth < last:
            yield Problem(
                where,
                f"the azimuth {azimuth:g} after {last:g}",
                "azimuths in rising order, from north through east",
                cause="Counted from south, or points of another list?",
            )
        seen.add(azimuth % 360.0)
        last = float(azimuth)


def _slope(content: Content, at: Any, plane: dict[str, Any]) -> Iterator[Problem]:
    tilt, mounting = plane.get("tilt_deg"), plane.get("mounting")
    if not is_number(tilt) or not 0 <= tilt <= 90:
        return
    where = content.where((*at, "tilt_deg"))
    if mounting == "facade" and tilt < 45:
        yield Problem(
            where,
            f"a facade of {tilt:g} degrees from horizontal",
            "45 to 90 degrees from horizontal; a wall has 90",
            cause="Counted from vertical?",
            remedy=f"Write {90 - tilt:g}, or another mounting",
        )
    elif tilt > 75 and mounting in ("roof-parallel", "flat-roof-rack", "integrated"):
        yield Problem(
            where,
            f"a roof of {tilt:g} degrees",
            "a roof's tilt, up to 75 degrees from horizontal",
            cause="A pitch in percent?",
            remedy="A pitch of 100 % is 45 degrees; for a wall write mounting: facade",
        )
