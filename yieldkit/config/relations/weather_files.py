"""Weather files of a site: there, each once, and patterns that match some."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

from yieldkit.base.errors import Problem
from yieldkit.base.patterns import is_pattern, matching
from yieldkit.base.plain_text import steers
from yieldkit.base.shipped import data_set_names
from yieldkit.config.reading.content import Content, Location
from yieldkit.config.reading.parts import part
from yieldkit.config.reading.wording import shown

_AT: Location = ("weather", "file")
Missing = Callable[[Location, str, list[str]], Problem]
"""Tells of a file that isn't there: where it is named, its name, and the data sets there are."""


def weather_files(
    content: Content, folder: str, there: Callable[[str, str], bool], missing: Missing
) -> Iterator[Problem]:
    """Give the problems of a site's weather files.

    Parameters
    ----------
    content : Content
        The file's content, of any shape.
    folder : str
        Folder from which its relative paths count.
    there : callable
        Tells whether a file of this name is there, seen from a folder.
    missing : callable
        Tells of one that isn't.
    """
    known = data_set_names("weather")
    named: list[Any] = []
    for at, text in _listed(part(content.values, "weather", "file")):
        if not isinstance(text, str) or not text or any(map(steers, text)):
            continue
        pattern = is_pattern(text, folder)
        files: list[Path] = matching(text, folder) if pattern else [Path(folder, text)]
        if pattern and not files:
            yield Problem(
                content.where(at),
                f"the pattern {shown(text)}, which no file matches",
                "a pattern of files that are there",
                remedy=f"It counts from the site file's folder, {Path(folder).resolve()}.",
            )
        elif not pattern and text not in known and not there(text, folder):
            yield missing(at, text, list(known))
        for file in files:
            if file in named:
                yield Problem(
                    content.where(at),
                    f"the file {shown(file.name)} again",
                    "each file once",
                    cause="A pattern matches files that are named as well?",
                )
            named.append(file)


def _listed(said: Any) -> Iterator[tuple[Location, Any]]:
    if isinstance(said, list | tuple):
        yield from (((*_AT, number), text) for number, text in enumerate(said))
    else:
        yield _AT, said
