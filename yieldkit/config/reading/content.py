"""What a file holds, as plain values that remember where they were written."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, NamedTuple

from pydantic import BaseModel

from yieldkit.base.errors import refuse
from yieldkit.config.reading.wording import visible

Location = tuple[str | int, ...]
MAX_DEPTH = 32
_VALUES = (str, int, float, bool, type(None))


class Content(NamedTuple):
    """The plain content of a site file.

    Parameters
    ----------
    values : dict
        Dicts, tuples and scalars, as strict models want them.
    lines : dict of Location to int or None
        The line of every key and list entry; None where there is no file.
    name : str
        What messages call the file.
    """

    values: dict[str, Any]
    lines: dict[Location, int | None]
    name: str

    def where(self, location: Location) -> str:
        """Return "file line 12, planes.0.azimuth_deg" for a location in the content.

        Parts of the location that only the models know are left out, such as a kind's name;
        the line is the nearest one known.
        """
        path: Location = ()
        for part in location:
            if (*path, part) in self.lines:
                path = (*path, part)
        line = self.lines.get(path)
        spot = list(path)
        if location and (not path or location[-1] != path[-1]):
            spot.append(location[-1])
        dotted = visible(".".join(map(str, spot)))
        start = f"{self.name} line {line}" if line else self.name
        return f"{start}, {dotted}" if dotted else start


def from_mapping(mapping: Mapping[str, Any], name: str) -> Content:
    """Return content without a file: plain values out of a mapping, lists or models.

    Parameters
    ----------
    mapping : mapping
        Keys as in a site file.
    name : str
        What messages call it.

    Raises
    ------
    InputError
        If it is no mapping or nested too deep.
    """
    if not isinstance(mapping, Mapping):
        refuse(name, f"a {type(mapping).__name__}", "keys and values")
    lines: dict[Location, int | None] = {}
    return Content(_plain(mapping, (), lines, name), lines, name)


def _plain(value: Any, at: Location, lines: dict[Location, int | None], name: str) -> Any:
    if len(at) > MAX_DEPTH:
        refuse(name, f"more than {MAX_DEPTH} levels", "flatter content")
    if isinstance(value, str | int | float | None):
        return value
    if isinstance(value, BaseModel):
        value = value.model_dump()
    if isinstance(value, Mapping):
        keys: Iterable[str | int] = map(str, value)
        inner: Iterable[Any] = value.values()
    elif isinstance(value, list | tuple):
        keys, inner = range(len(value)), value
    else:
        return value
    found = []
    for key, each in zip(keys, inner, strict=True):
        here = (*at, key)
        lines[here] = None
        found.append((key, each if type(each) in _VALUES else _plain(each, here, lines, name)))
    if isinstance(value, Mapping):
        return dict(found)
    return tuple(each for _, each in found)
