"""Paths of keys into plain content, such as "planes.west roof.tilt_deg", and where they lead."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NoReturn

from yieldkit.base.errors import nearest, refuse
from yieldkit.config.reading.content import Location
from yieldkit.config.reading.wording import one_of, shown

_QUOTES = "\"'"


def parts_of(path: str, where: str = "") -> list[str]:
    """Return the parts of a path; a part in quotes may hold dots.

    Parameters
    ----------
    path : str
        Parts with dots between them.
    where : str
        What messages call it.

    Raises
    ------
    InputError
        If quotes aren't closed before a dot or the end.
    """
    parts, rest = [], path
    while True:
        quote = rest[:1]
        if quote and quote in _QUOTES:
            name, closed, after = rest[1:].partition(quote)
            if not closed or (after and after[0] != "."):
                refuse(
                    where or f"change of {shown(path)}",
                    f"the part {shown(rest)}",
                    "quotes around a whole part",
                    remedy="Close the quotes before the next dot.",
                )
        else:
            name, _, _ = rest.partition(".")
            after = rest[len(name) :]
        parts.append(name)
        if not after:
            return parts
        rest = after[1:]


def located(content: Any, path: str, where: str = "") -> Location:
    """Return where a path leads: the keys, and the numbers of entries, to what stands there.

    Parameters
    ----------
    content : mapping
        Plain content of a site.
    path : str
        Keys with dots between them; an entry of a list by its name, its number, or, of a wiring's
        trackers, by its input ("MPPT 1", of several inverters "hall / MPPT 1"). A name that holds
        dots stands in quotes.
    where : str
        What messages call it.

    Raises
    ------
    InputError
        If it leads nowhere; the nearest key or name is suggested.
    """
    place = where or f"change of {shown(path)}"
    found: list[str | int] = []
    node = content
    for part in parts_of(path, where):
        if isinstance(node, Mapping):
            if part not in node:
                _refuse_unknown(part, list(node), place)
            key: str | int = part
        elif isinstance(node, list | tuple):
            key = _entry(part, node, place)
        else:
            refuse(place, f"a path through {shown(node)}", "a path of keys")
        found.append(key)
        node = node[key]
    return tuple(found)


def at(content: Any, location: Location) -> Any:
    """Return what stands at a location that is there."""
    for part in location:
        content = content[part]
    return content


def replaced(content: Any, location: Location, value: Any) -> Any:
    """Return content with the part at a location replaced; the given content stays as it is."""
    if not location:
        return value
    first, rest = location[0], location[1:]
    if isinstance(content, Mapping):
        return {**content, first: replaced(content[str(first)], rest, value)}
    entries = list(content)
    entries[int(first)] = replaced(content[int(first)], rest, value)
    return tuple(entries)


def written(content: Any, location: Location) -> str:
    """Return the path that leads to a location, by names where entries have them."""
    parts = []
    for key in location:
        name = str(key)
        if isinstance(key, int):
            labels = _labels(content[key])
            lists = [label for entry in content for label in _labels(entry)]
            name = next((label for label in labels if lists.count(label) == 1), name)
        quoted = "." in name or name[:1] in ("", *_QUOTES)
        mark = "'" if '"' in name else '"'
        parts.append(f"{mark}{name}{mark}" if quoted else name)
        content = content[key]
    return ".".join(parts)


def _entry(part: str, entries: list[Any] | tuple[Any, ...], place: str) -> int:
    labels = [_labels(entry) for entry in entries]
    holding = [number for number, own in enumerate(labels) if part in own]
    if len(holding) == 1:
        return holding[0]
    known = [own[0] for own in labels if own]
    if holding:
        both = [known[number] for number in holding]
        refuse(place, f"{shown(part)}, which is {' and '.join(both)}", one_of(known))
    if part.isdecimal() and int(part) < len(entries):
        return int(part)
    _refuse_unknown(part, known, place)


def _labels(entry: Any) -> list[str]:
    """Return what an entry of a list goes by: its name, or a tracker's input."""
    if not isinstance(entry, Mapping):
        return []
    if entry.get("name") is not None:
        return [str(entry["name"])]
    if entry.get("mppt") is None:
        return []
    alone = str(entry["mppt"])
    own = entry.get("inverter")
    return [alone] if own is None else [f"{own} / {alone}", alone]


def _refuse_unknown(part: str, known: list[str], place: str) -> NoReturn:
    close = nearest(part, known)
    dotted = [name for name in known if "." in name and name.split(".")[0] == part]
    remedy = f"Did you mean '{close}'?" if close else ""
    if dotted:
        remedy = f'A name that holds a dot stands in quotes: "{dotted[0]}".'
    refuse(
        place,
        f"the key {shown(part)}",
        one_of(known) if known else "an entry of the list",
        remedy=remedy,
    )
