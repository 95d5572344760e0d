"""A site file with more wirings in it, its comments and order kept."""

from __future__ import annotations

import io
import os
from collections.abc import MutableMapping, MutableSequence, Sequence
from pathlib import Path
from typing import Any

from ruamel.yaml import YAML

from yieldkit.base.patterns import is_pattern
from yieldkit.config.site.files import read_site_text
from yieldkit.config.site.site import Wiring

NAMED_FILES = (
    ("weather", "file"),
    ("weather", "within_hour", "minutes", "file"),
    ("site", "horizon_file"),
    ("grid", "network_voltage", "file"),
    ("grid", "load", "file"),
    ("offer", "logo_file"),
)
"""Where a site file names files of its own, whose paths count from its folder."""


def with_wirings(
    text: str, wirings: Sequence[Wiring], folder: str | Path = "", into: str | Path | None = None
) -> str:
    """Return the text of a site file with wirings added at the end of its own.

    Parameters
    ----------
    text : str
        The site file.
    wirings : sequence of Wiring
        What to add; a name that is taken already gets a number.
    folder : str or Path
        Folder from which its relative paths count.
    into : str or Path, optional
        Folder the text is for, the same one if left out; relative paths are written anew, so
        that they lead to the same files from there.

    Raises
    ------
    InputError
        If the result is no sound site file.
    """
    yaml = YAML()
    yaml.width = 100
    yaml.preserve_quotes = True
    content = yaml.load(text)
    taken = {str(each["name"]) for each in content["wirings"]}
    for wiring in wirings:
        name = wiring.name
        number = 2
        while name in taken:
            name = f"{wiring.name} ({number})"
            number += 1
        taken.add(name)
        content["wirings"].append(_plain(wiring, name))
    read_site_text(_dumped(yaml, content), folder=str(folder))
    if into is not None:
        for path in NAMED_FILES:
            _lead_on(content, path, Path(folder), Path(into))
    return _dumped(yaml, content)


def _dumped(yaml: YAML, content: Any) -> str:
    stream = io.StringIO()
    yaml.dump(content, stream)
    return stream.getvalue()


def _plain(wiring: Wiring, name: str) -> dict[str, object]:
    """Return a wiring as keys and lists, without what is left at its default."""
    plain = wiring.model_dump(mode="json", exclude_defaults=True)
    return {**plain, "name": name}


def _lead_on(content: Any, path: Sequence[str], folder: Path, into: Path) -> None:
    """Write a relative path so that it leads to the same file from another folder."""
    *above, key = path
    for part in above:
        content = content.get(part) if isinstance(content, MutableMapping) else None
    if not isinstance(content, MutableMapping):
        return
    said = content.get(key)
    if isinstance(said, str):
        content[key] = _led_on(said, folder, into)
    elif isinstance(said, MutableSequence):
        for number, each in enumerate(said):
            said[number] = _led_on(str(each), folder, into)


def _led_on(said: str, folder: Path, into: Path) -> str:
    """Return a file or pattern as it is named from another folder; as it is if it leads nowhere."""
    named = Path(said)
    beside = folder / named
    pattern = is_pattern(said, folder)
    # In the reader's order: beside the site file, then from where the command runs.
    found = beside if pattern or beside.is_file() else named
    if named.is_absolute() or not (pattern or found.is_file()):
        return said
    if found is beside and folder.resolve() == into.resolve():
        return said
    try:
        return Path(os.path.relpath(found.resolve(), into.resolve())).as_posix()
    except ValueError:
        # On another drive no relative path leads there.
        return str(found.resolve())
