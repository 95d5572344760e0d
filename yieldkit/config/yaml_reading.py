"""YAML read safely, with the line of every key.

Anchors, aliases, tags and merge keys are refused before anything is built, and so are files of
more than a stated size or depth: none of them is needed in a site file, and each has been a way
to make a reader hang or guess.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from ruamel.yaml import YAML
from ruamel.yaml.comments import CommentedMap, CommentedSeq
from ruamel.yaml.error import MarkedYAMLError, YAMLError
from ruamel.yaml.events import (
    AliasEvent,
    CollectionEndEvent,
    CollectionStartEvent,
    NodeEvent,
    ScalarEvent,
)
from ruamel.yaml.scalarbool import ScalarBoolean
from ruamel.yaml.scalarfloat import ScalarFloat
from ruamel.yaml.scalarint import ScalarInt

from yieldkit.words.errors import refuse

_MAX_BYTES = 256_000
_MAX_DEPTH = 32
_MAX_SCALAR = 4_000


def read_yaml(path: Path) -> CommentedMap:
    """Read a YAML file into a map that knows its lines.

    Parameters
    ----------
    path : Path
        The file.

    Returns
    -------
    CommentedMap
        The top-level map.

    Raises
    ------
    InputError
        If it can't be read, is too large or too deep, uses anchors, aliases, tags or merge
        keys, repeats a key, or isn't a map.
    """
    try:
        raw = path.read_bytes()
    except OSError as error:
        refuse(str(path), f"a file that can't be read ({error.strerror})", "a site file")
    if len(raw) > _MAX_BYTES:
        refuse(path.name, f"{len(raw)} bytes", f"no more than {_MAX_BYTES} bytes")
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        refuse(path.name, f"a byte that is not UTF-8 at {error.start}", "a UTF-8 text file")
    return parse_yaml(text, path.name)


def parse_yaml(text: str, name: str) -> CommentedMap:
    """Parse YAML text; `name` is the file's name for errors.

    Raises
    ------
    InputError
        As `read_yaml`.
    """
    try:
        _look_through(text, name)
        content = _yaml().load(text)
    except YAMLError as error:
        _refuse_syntax(error, name)
    except (ValueError, RecursionError, TypeError, AttributeError, KeyError, IndexError) as error:
        refuse(
            name,
            f"text that no YAML reader understands ({type(error).__name__})",
            "a YAML file",
            remedy="Compare it with the output of `yieldkit new`.",
        )
    if not isinstance(content, CommentedMap):
        got = "an empty file" if content is None else f"a {type(content).__name__}"
        refuse(name, got, "keys and values", remedy="Start from the output of `yieldkit new`.")
    return content


def _yaml() -> YAML:
    yaml = YAML(typ="rt", pure=True)
    yaml.allow_duplicate_keys = False
    return yaml


def _look_through(text: str, name: str) -> None:
    depth = 0
    for event in _yaml().parse(text):
        line = event.start_mark.line + 1
        where = f"{name} line {line}"
        if isinstance(event, AliasEvent) or (
            isinstance(event, NodeEvent) and event.anchor is not None
        ):
            refuse(where, "an anchor or alias", "every value written out")
        if isinstance(event, (ScalarEvent, CollectionStartEvent)) and event.tag is not None:
            refuse(where, f"the tag '{event.tag}'", "plain values without tags")
        if isinstance(event, ScalarEvent):
            if event.value == "<<":
                refuse(where, "a merge key", "every value written out")
            if len(event.value) > _MAX_SCALAR:
                refuse(where, f"a text of {len(event.value)} signs", f"no more than {_MAX_SCALAR}")
        if isinstance(event, CollectionStartEvent):
            depth += 1
            if depth > _MAX_DEPTH:
                refuse(where, f"more than {_MAX_DEPTH} levels", "a flatter file")
        elif isinstance(event, CollectionEndEvent):
            depth -= 1


def _refuse_syntax(error: YAMLError, name: str) -> None:
    where = name
    got = str(error).splitlines()[0] if str(error) else type(error).__name__
    if isinstance(error, MarkedYAMLError):
        mark = error.problem_mark or error.context_mark
        if mark is not None:
            where = f"{name} line {mark.line + 1}, column {mark.column + 1}"
        got = error.problem or got
    if "duplicate key" in got:
        key = got.split("duplicate key", 1)[1].strip().split(" with")[0]
        refuse(where, f"the key {key} twice", "each key once", remedy="Remove one of the two.")
    refuse(where, f"something else ({got})", "valid YAML", remedy="Check indentation, colons and quotes on this line.")


def plain(node: Any) -> Any:
    """Return YAML content as plain dicts, tuples and scalars, as strict models want them."""
    if isinstance(node, CommentedMap):
        return {str(key): plain(value) for key, value in node.items()}
    if isinstance(node, CommentedSeq):
        return tuple(plain(value) for value in node)
    if isinstance(node, ScalarBoolean):
        return bool(node)
    if isinstance(node, ScalarFloat):
        return float(node)
    if isinstance(node, ScalarInt):
        return int(node)
    if isinstance(node, str):
        return str(node)
    return node


def line_of(root: CommentedMap, location: tuple[str | int, ...]) -> int | None:
    """Return the line of a value by its path of keys, or its nearest parent's."""
    node: Any = root
    line = None
    for part in location:
        if isinstance(node, CommentedMap) and part in node:
            line = node.lc.key(part)[0] + 1
        elif isinstance(node, CommentedSeq) and isinstance(part, int) and part < len(node):
            line = node.lc.item(part)[0] + 1
        else:
            continue
        node = node[part]
    return line


def known_path(root: CommentedMap, location: tuple[str | int, ...]) -> tuple[str | int, ...]:
    """Return a path without the parts that only the models know, such as a kind's name."""
    node: Any = root
    path = []
    for place, part in enumerate(location):
        inside = isinstance(node, CommentedMap) and part in node
        counted = isinstance(node, CommentedSeq) and isinstance(part, int) and part < len(node)
        if inside or counted:
            node = node[part]
        elif place + 1 < len(location):
            continue
        path.append(part)
    return tuple(path)
