"""YAML read safely, with the line of every key.

The parser's events are turned into plain values one by one, so nothing a file says can build an
object, point back at itself or grow: anchors, aliases, tags, merge keys, directives and repeated
keys are refused, each with its line, and so are files of more than a stated size, number of keys
or depth. None of them is needed in a site file, and each has been a way to make a reader hang or
guess.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any, NamedTuple

from ruamel.yaml import YAML
from ruamel.yaml.error import MarkedYAMLError
from ruamel.yaml.events import (
    CollectionEndEvent,
    CollectionStartEvent,
    DocumentStartEvent,
    MappingStartEvent,
    NodeEvent,
    ScalarEvent,
)
from ruamel.yaml.nodes import ScalarNode
from ruamel.yaml.reader import ReaderError

from yieldkit.base.errors import InputError, Problem, nearest, refuse
from yieldkit.base.readable_files import other_than_file
from yieldkit.config.reading.content import MAX_DEPTH, Content, Location
from yieldkit.config.reading.wording import shown, shown_path
from yieldkit.config.reading.yaml_messages import explained

_MAX_BYTES = 256_000
_MAX_SCALAR = 4_000
_MAX_ENTRIES = 12_000
_MAX_PROBLEMS = 50
_RESOLVED = ("int", "float", "bool", "null")


class FileKind(NamedTuple):
    """What a file is meant to be, for messages.

    Parameters
    ----------
    noun : str
        Such as "a site file".
    what : str
        What is saved in it.
    start : str
        The command that writes one to start from.
    """

    noun: str
    what: str
    start: str


SITE_FILE = FileKind("a site file", "the site", "yieldkit new")
PLAN_FILE = FileKind("a plan", "the plan", "yieldkit sweep --example")
LOG_FILE = FileKind("a log's description", "the description", "yieldkit review TABLE --describe")


def read_yaml(path: Path, meant: FileKind = SITE_FILE) -> Content:
    """Read a YAML file into plain content that knows its lines.

    Parameters
    ----------
    path : Path
        The file.
    meant : FileKind
        What it is meant to be.

    Returns
    -------
    Content
        Keys, values and lines.

    Raises
    ------
    InputError
        If it can't be read, is too large or too deep, uses anchors, aliases, tags, directives
        or merge keys, repeats a key, or isn't a map.
    """
    kind = other_than_file(path)
    if kind:
        refuse(
            shown_path(path),
            f"a path to {kind}",
            meant.noun,
            remedy=f"Save {meant.what} as a file and name that.",
        )
    try:
        with path.open("rb") as stream:
            raw = stream.read(_MAX_BYTES + 1)
    except (OSError, ValueError) as error:
        refuse(
            shown_path(path),
            f"a file that can't be read ({getattr(error, 'strerror', None) or error})",
            meant.noun,
            remedy=_close_file(path, meant),
        )
    if len(raw) > _MAX_BYTES:
        refuse(path.name, "a larger file", f"no more than {_MAX_BYTES} bytes")
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        refuse(
            f"{path.name} line {line}",
            f"a byte that is not UTF-8 (0x{raw[error.start]:02x})",
            "a UTF-8 text file",
            remedy="Save it as UTF-8 in a text editor.",
        )
    return parse_yaml(text, path.name, meant)


def _code(char: int | str) -> str:
    return f"U+{char if isinstance(char, int) else ord(char[:1] or chr(0)):04X}"


def _close_file(path: Path, meant: FileKind) -> str:
    try:
        names = [each.name for each in path.parent.iterdir() if each.suffix in (".yaml", ".yml")]
    except (OSError, ValueError):
        names = []
    close = nearest(path.name, names)
    return f"Did you mean '{close}'?" if close else f"`{meant.start}` writes one to start from."


def parse_yaml(text: str, name: str, meant: FileKind = SITE_FILE) -> Content:
    """Parse YAML text; `name` is what messages call the file.

    Raises
    ------
    InputError
        As `read_yaml`.
    """
    reading = _Reading(name, meant)
    yaml = YAML(typ="safe", pure=True)
    try:
        for event in yaml.parse(text):
            reading.take(event, yaml)
    except MarkedYAMLError as error:
        reading.problems.append(_syntax(error, name))
    except ReaderError as error:
        line = text[: error.position].count("\n") + 1
        reading.note(
            line,
            f"the sign {_code(error.character)}",
            "text without control signs",
            "Remove it.",
        )
    except InputError:
        raise
    except Exception as error:  # the parser fails in many ways; each becomes one sentence
        reading.note(
            reading.line,
            f"text that no YAML reader understands ({type(error).__name__})",
            "valid YAML",
            f"Compare it with the output of `{meant.start}`.",
        )
    reading.finish()
    return Content(reading.root, reading.lines, name)


def _syntax(error: MarkedYAMLError, name: str) -> Problem:
    mark = error.problem_mark or error.context_mark
    where = name if mark is None else f"{name} line {mark.line + 1}, column {mark.column + 1}"
    opened = error.context_mark.line + 1 if error.context_mark is not None else None
    got, needed, remedy = explained(str(error.problem or ""), str(error.context or ""), opened)
    return Problem(where, got, needed, remedy=remedy)


@dataclass
class _Frame:
    """A map or list that is being read."""

    holds: Any
    at: Location
    key: str | None = None


class _Reading:
    """Builds plain values from events and collects what must not be there."""

    def __init__(self, name: str, meant: FileKind) -> None:
        self.name, self.meant = name, meant
        self.root: Any = None
        self.lines: dict[Location, int | None] = {}
        self.problems: list[Problem] = []
        self.line = 1
        self._frames: list[_Frame] = []
        self._documents = 0

    def note(self, line: int, got: str, needed: str, remedy: str = "") -> None:
        """Add a problem; with too many of them, stop."""
        self.problems.append(Problem(f"{self.name} line {line}", got, needed, remedy=remedy))
        if len(self.problems) >= _MAX_PROBLEMS:
            raise InputError(self.problems)

    def finish(self) -> None:
        """Refuse what was found, or a file that holds no keys."""
        if self.problems:
            raise InputError(self.problems)
        if not isinstance(self.root, dict) or not self.root:
            got = "an empty file" if not self.root else f"{shown(self.root)} alone"
            remedy = f"`{self.meant.start}` writes a start."
            refuse(self.name, got, "keys and values", remedy=remedy)

    def take(self, event: Any, yaml: YAML) -> None:
        """Take the next event."""
        self.line = event.start_mark.line + 1
        if len(self.lines) > _MAX_ENTRIES:
            got = f"more than {_MAX_ENTRIES} keys and entries"
            self.note(self.line, got, "a smaller file", "Split it into several.")
            raise InputError(self.problems)
        if isinstance(event, DocumentStartEvent):
            self._documents += 1
            if event.version is not None or event.tags:
                self.note(self.line, "a directive (%)", "plain YAML without directives")
            if self._documents > 1:
                self.note(self.line, "a second document (---)", "one document in a file")
        elif isinstance(event, CollectionEndEvent):
            self._close()
        elif isinstance(event, NodeEvent):
            self._node(event, yaml)

    def _node(self, event: Any, yaml: YAML) -> None:
        if event.anchor is not None:
            self.note(self.line, "an anchor or alias (& or *)", "every value written out")
        tag = getattr(event, "tag", None)
        if tag is not None:
            self.note(self.line, f"the tag {shown(str(tag))}", "plain values without tags (!)")
        if isinstance(event, CollectionStartEvent):
            self._open({} if isinstance(event, MappingStartEvent) else [])
        elif isinstance(event, ScalarEvent):
            self._scalar(event, yaml)
        else:
            self._put(None)

    def _scalar(self, event: ScalarEvent, yaml: YAML) -> None:
        if len(event.value) > _MAX_SCALAR:
            length = f"a text of {len(event.value)} signs"
            self.note(self.line, length, f"no more than {_MAX_SCALAR} signs")
        frame = self._frames[-1] if self._frames else None
        if frame is not None and isinstance(frame.holds, dict) and frame.key is None:
            self._key(frame, event)
        elif event.style is None or event.style == "":
            self._put(self._value(event.value, yaml))
        else:
            self._put(str(event.value))

    def _key(self, frame: _Frame, event: ScalarEvent) -> None:
        key = str(event.value)
        if key == "<<" and not event.style:
            self.note(self.line, "a merge key (<<)", "every value written out")
        if key in frame.holds:
            first = self.lines.get((*frame.at, key))
            self.note(
                self.line,
                f"the key {shown(key)} again, first in line {first}",
                "each key once",
                "Remove one of the two.",
            )
        frame.key = key
        frame.holds[key] = None
        self.lines[(*frame.at, key)] = self.line

    def _value(self, text: str, yaml: YAML) -> Any:
        tag = yaml.resolver.resolve(ScalarNode, text, (True, False))
        if str(tag).rpartition(":")[2] not in _RESOLVED or len(text) > _MAX_SCALAR:
            return str(text)
        try:
            return yaml.constructor.construct_object(ScalarNode(tag, text))
        except (ValueError, LookupError):
            self.note(self.line, shown(text), "a number or text", "Put text in quotes.")

    def _open(self, holds: Any) -> None:
        if len(self._frames) >= MAX_DEPTH:
            self.note(self.line, f"more than {MAX_DEPTH} levels", "a flatter file")
            raise InputError(self.problems)
        above = self._frames[-1] if self._frames else None
        if above is not None and isinstance(above.holds, dict) and above.key is None:
            self.note(self.line, "a list or map as a key", "a word as a key")
            raise InputError(self.problems)
        self._frames.append(_Frame(holds, self._spot()))

    def _close(self) -> None:
        frame = self._frames.pop()
        whole = tuple(frame.holds) if isinstance(frame.holds, list) else frame.holds
        self._put(whole, new=False)

    def _spot(self) -> Location:
        """Return where the next value goes, and note the line of a list's entry."""
        if not self._frames:
            return ()
        frame = self._frames[-1]
        if isinstance(frame.holds, dict):
            return (*frame.at, str(frame.key))
        at = (*frame.at, len(frame.holds))
        self.lines[at] = self.line
        return at

    def _put(self, value: Any, new: bool = True) -> None:
        if new:
            self._spot()
        if not self._frames:
            self.root = value
            return
        frame = self._frames[-1]
        if isinstance(frame.holds, dict):
            frame.holds[str(frame.key)] = value
            frame.key = None
        else:
            frame.holds.append(value)
