"""Looking into plain content of any shape without tripping."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from yieldkit.config.reading.content import Location
from yieldkit.config.reading.wording import is_number


def part(content: Any, *path: str) -> Any:
    """Return what stands at a path of keys, or None."""
    for key in path:
        content = content.get(key) if isinstance(content, dict) else None
    return content


def entries(content: Any, *path: str) -> Iterator[tuple[Location, dict[str, Any]]]:
    """Yield the maps in the list at a path, each with its location."""
    listed = part(content, *path)
    if isinstance(listed, tuple):
        for index, item in enumerate(listed):
            if isinstance(item, dict):
                yield (*path, index), item


def inside(content: Any, at: Location, *path: str) -> Iterator[tuple[Location, dict[str, Any]]]:
    """Yield the maps in the list at a path inside a part, each with its location in the file."""
    for inner, item in entries(content, *path):
        yield (*at, *inner), item


def inverters_in(content: Any) -> Iterator[tuple[Location, dict[str, Any]]]:
    """Yield what describes kinds of inverters: version 1's only one, version 2's list of types."""
    alone = part(content, "inverter")
    if isinstance(alone, dict):
        yield ("inverter",), alone
    yield from entries(content, "inverter_types")


def names(content: Any, *path: str) -> list[str]:
    """Return the names of the entries in the list at a path."""
    found = (item.get("name") for _, item in entries(content, *path))
    return list(dict.fromkeys(name for name in found if isinstance(name, str)))


def number(content: Any, key: str) -> float | None:
    """Return a finite number by its key, or None."""
    value = content.get(key) if isinstance(content, dict) else None
    return float(value) if is_number(value) else None
