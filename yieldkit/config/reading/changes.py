"""Replacing parts of a site's content by their path."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from yieldkit.base.errors import nearest, refuse
from yieldkit.config.reading.wording import one_of, shown


def changed(content: dict[str, Any], changes: Mapping[str, Any]) -> dict[str, Any]:
    """Return content with parts replaced; the given content stays as it is.

    Parameters
    ----------
    content : dict
        Plain content of a site.
    changes : mapping
        Keys or paths of keys, and the new values.

    Raises
    ------
    InputError
        If a path leads nowhere.
    """
    for path, value in changes.items():
        content = _replaced(content, path.split("."), value, path)
    return content


def _replaced(node: Any, parts: list[str], value: Any, path: str) -> Any:
    if not parts:
        return value
    if isinstance(node, Mapping):
        key = _within(parts[0], list(node), path)
        return {**node, key: _replaced(node[key], parts[1:], value, path)}
    if isinstance(node, list | tuple):
        names = [each.get("name") if isinstance(each, Mapping) else None for each in node]
        known = [str(name) for name in names if name is not None]
        if parts[0] in known:
            index = names.index(parts[0])
        elif parts[0].isdecimal() and int(parts[0]) < len(node):
            index = int(parts[0])
        else:
            index = names.index(_within(parts[0], known, path))
        entries = list(node)
        entries[index] = _replaced(node[index], parts[1:], value, path)
        return tuple(entries)
    refuse(f"change of {shown(path)}", f"a path through {shown(node)}", "a path of keys")


def _within(part: str, known: list[str], path: str) -> str:
    if part in known:
        return part
    close = nearest(part, known)
    refuse(
        f"change of {shown(path)}",
        f"the key {shown(part)}",
        one_of(known) if known else "an entry of the list",
        remedy=f"Did you mean '{close}'?" if close else "",
    )
