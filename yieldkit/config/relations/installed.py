"""Inverters behind one connection point: which there are, and what they share."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from typing import Any

from yieldkit.base.errors import Problem, nearest
from yieldkit.config.reading.content import Content, Location
from yieldkit.config.reading.parts import entries, inverters_in, names, number, part
from yieldkit.config.reading.wording import is_number, one_of, shown

_OF_VERSION: dict[object, tuple[str, str]] = {
    1: ("inverter", "inverter_place"),
    2: ("inverter_types", "inverters"),
}


def installed_relations(content: Content) -> Iterator[Problem]:
    """Give the problems between inverters, their types, the wirings and the connection point.

    Parameters
    ----------
    content : Content
        The file's content, of any shape.
    """
    yield from _which_keys(content)
    yield from _types(content)
    yield from _alike(content)
    yield from _export_limits(content)
    for at, installed in entries(content.values, "inverters"):
        yield from _curve(content, (*at, "reactive"), part(installed, "reactive"))


def _which_keys(content: Content) -> Iterator[Problem]:
    """Give the keys of the other version, and an inverter that is missing."""
    values = content.values
    version = values.get("schema_version")
    one, several = _given(values, "inverter"), _given(values, "inverters")
    if one and several:
        yield Problem(
            content.where(("inverters",)),
            "inverter and inverters",
            "one of the two",
            remedy="Take the inverter's description into inverter_types, and name it in inverters",
        )
        return
    if not is_number(version) or version not in _OF_VERSION:
        return
    for other, keys in _OF_VERSION.items():
        for key in keys if other != version else ():
            if _given(values, key):
                yield Problem(
                    content.where((key,)),
                    f"{key} in schema_version {version}",
                    " and ".join(_OF_VERSION[version]),
                    remedy=f"{key} belongs to schema_version: {other}",
                )
    if not one and not several:
        needed = "inverter: its description" if version == 1 else "inverters: a list of them"
        yield Problem(content.where(("inverters",)), "no inverter", needed)


def _given(values: dict[str, Any], key: str) -> bool:
    return values.get(key) not in (None, (), {})


def _types(content: Content) -> Iterator[Problem]:
    known = names(content.values, "inverter_types")
    for at, installed in entries(content.values, "inverters"):
        name = installed.get("type")
        if isinstance(name, str) and name not in known:
            close = nearest(name, known)
            yield Problem(
                content.where((*at, "type")),
                f"the inverter type {shown(name)}",
                one_of(known) if known else "the name of an entry of inverter_types",
                remedy=f"Did you mean '{close}'?" if close else "",
            )


def _alike(content: Content) -> Iterator[Problem]:
    """Give inverters of other phases or of another nominal voltage than the first."""
    types = {str(kind.get("name")): kind for _, kind in entries(content.values, "inverter_types")}
    first: dict[str, Any] = {}
    for at, installed in entries(content.values, "inverters"):
        kind = installed.get("type")
        ac = part(types.get(kind), "ac") if isinstance(kind, str) else None
        for key, said in (("phases", "phases"), ("nominal_voltage_v", "V nominal")):
            value = part(ac, key)
            if not is_number(value):
                continue
            other = first.setdefault(key, value)
            if value != other:
                yield Problem(
                    content.where((*at, "type")),
                    f"{value:g} {said} beside an inverter with {other:g}",
                    "inverters of the same phases and nominal voltage behind one connection point",
                )


def _export_limits(content: Content) -> Iterator[Problem]:
    at_meter = number(part(content.values, "grid"), "export_limit_w")
    several = len(tuple(entries(content.values, "inverters"))) > 1
    for at, inverter in inverters_in(content.values):
        own = number(part(inverter, "ac"), "export_limit_w")
        if own is not None and (at_meter is not None or several):
            yield Problem(
                content.where((*at, "ac", "export_limit_w")),
                f"export_limit_w {own:g} of an inverter"
                + (" and another at the meter" if at_meter is not None else ""),
                "one limit, at the meter",
                remedy="Write it once, as grid: {export_limit_w: ...}; what an inverter itself "
                "may feed in is its max_power_w",
            )


def _curve(content: Content, at: Location, reactive: Any) -> Iterator[Problem]:
    """Give a curve of reactive power that is none."""
    points = part(reactive, "points")
    kind = part(reactive, "kind")
    if not isinstance(points, tuple) or not points:
        return
    where = content.where((*at, "points"))
    if kind == "fixed":
        yield Problem(
            where,
            "points with kind fixed",
            "none; the displacement factor of the inverter's type counts",
            remedy="For a curve write kind: cos-phi-of-p or q-of-u",
        )
        return
    pairs = [point for point in points if _is_pair(point)]
    if len(pairs) < len(points):
        return
    told = ", ".join(f"{x:g}" for x, _ in pairs)
    if any(one[0] >= two[0] for one, two in pairwise(pairs)):
        yield Problem(where, f"the first numbers {told}", "rising values, each once")
    if kind == "q-of-u" and any(one[1] < two[1] for one, two in pairwise(pairs)):
        yield Problem(
            where,
            "reactive power that rises with the voltage",
            "reactive power that falls or stays as the voltage rises",
            cause="Absorbed power with a positive sign?",
            remedy="Injected reactive power is positive, absorbed is negative",
        )
    if kind == "cos-phi-of-p" and any(not 0.8 <= factor <= 1.0 for _, factor in pairs):
        yield Problem(
            where,
            "displacement factors " + ", ".join(f"{factor:g}" for _, factor in pairs),
            "0.8 to 1",
            remedy="The sign stands in the type's power_factor_sign",
        )


def _is_pair(point: Any) -> bool:
    return isinstance(point, tuple) and len(point) == 2 and all(map(is_number, point))
