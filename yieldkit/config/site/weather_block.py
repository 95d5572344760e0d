"""A site file whose weather is another, with every other sign of it left as it stands."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

from ruamel.yaml import YAML
from ruamel.yaml.nodes import CollectionNode, MappingNode, Node

from yieldkit.base.errors import refuse
from yieldkit.config.reading.content import Content
from yieldkit.config.reading.parts import number, part
from yieldkit.config.reading.yaml import parse_yaml
from yieldkit.config.site.files import read_site_text
from yieldkit.config.site.starter import GUESS, OWN_REMARKS

_STAYS = ("fill_gaps_up_to_h",)
"""What holds of any weather; every other key speaks of the file that was named before."""
_PLAIN = re.compile(r"^[A-Za-z][\w./-]*\.csv$")


class OwnPlace(NamedTuple):
    """Where a site stands and what its clock is.

    Parameters
    ----------
    latitude, longitude : float
        [deg].
    time_zone : str or None
        As the file has it.
    """

    latitude: float
    longitude: float
    time_zone: str | None


def own_place(text: str, name: str) -> OwnPlace:
    """Return the place a site file tells, whatever else it lacks.

    Parameters
    ----------
    text : str
        The site file.
    name : str
        What messages call it.

    Raises
    ------
    InputError
        If it isn't a map of keys, or has no place on Earth.
    """
    content = parse_yaml(text, name)
    latitude = _degrees(content, "latitude", 90.0)
    longitude = _degrees(content, "longitude", 180.0)
    zone = part(content.values, "site", "time_zone")
    return OwnPlace(latitude, longitude, zone if isinstance(zone, str) else None)


def _degrees(content: Content, key: str, most: float) -> float:
    value = number(part(content.values, "site"), key)
    if value is None or abs(value) > most:
        got = "no number" if value is None else f"{value:g}"
        refuse(content.where(("site", key)), got, f"degrees from -{most:g} to {most:g}")
    return value


def with_weather(
    text: str, file: str, altitude_m: float | None, folder: str | Path, name: str
) -> tuple[str, list[str]]:
    """Return the text of a site file that names another weather file, and what was changed.

    Parameters
    ----------
    text : str
        The site file.
    file : str
        The canonical weather file, as seen from its folder; it must be there.
    altitude_m : float or None
        Height of the place [m], put in where the site's is marked as a guess.
    folder : str or Path
        Folder from which its relative paths count.
    name : str
        What messages call it.

    Raises
    ------
    InputError
        If the block isn't there to be changed, or the result is no sound site file.
    """
    root = YAML(pure=True).compose(text)
    block = _value(root, "weather")
    if not isinstance(block, MappingNode):
        got = "no weather block of keys and values"
        refuse(name, got, "one to write into", remedy="Paste the block that was printed")
    edits, remarks = _edits(text, block, file)
    height = _value(_value(root, "site"), "altitude_m")
    if altitude_m is not None and height is not None and GUESS in _rest(text, height):
        remarks.append(f"site.altitude_m is now {altitude_m:g}, as the weather's source has it.")
        new = f"{altitude_m:g} # as the weather's source has it"
        edits.append((height.start_mark.index, _line_end(text, height), new))
    for begin, end, new in sorted(edits, reverse=True):
        text = text[:begin] + new + text[end:]
    read_site_text(text, name, folder=str(folder))
    return text, remarks


def _edits(
    text: str, block: MappingNode, file: str
) -> tuple[list[tuple[int, int, str]], list[str]]:
    """Return what to put where in the weather block, and the sentences that tell of it."""
    word = file if _PLAIN.match(file) else json.dumps(file, ensure_ascii=False)
    keys = [key.value for key, _ in block.value]
    gone = [key for key in keys if key not in ("file", "format", *_STAYS)]
    remarks = [f"Taken out of the weather block: {', '.join(gone)}."] if gone else []
    if block.flow_style or not {"file", "format"} <= set(keys):
        stays = {key: value for key, value in _scalars(block) if key in _STAYS}
        inner = {"file": word, "format": "canonical", **stays}
        flow = "{" + ", ".join(f"{key}: {value}" for key, value in inner.items()) + "}"
        begin, end = block.start_mark.index, _last(block).end_mark.index
        end = block.end_mark.index if block.flow_style else end
        flow = flow if block.flow_style else "\n  ".join(f"{k}: {v}" for k, v in inner.items())
        return [(begin, end, flow)], remarks
    edits = []
    for key, value in block.value:
        if key.value in ("file", "format"):
            new = word if key.value == "file" else "canonical"
            own = any(f"# {remark}" in _rest(text, value) for remark in OWN_REMARKS)
            last = _last(value).end_mark.index
            end = _line_end(text, value) if own and last <= _line_end(text, value) else last
            # A list of several files begins on the lines below its key.
            below = value.start_mark.line > key.end_mark.line
            begin = key.end_mark.index if below else value.start_mark.index
            edits.append((begin, end, f": {new}" if below else new))
        elif key.value in gone:
            begin = text.rfind("\n", 0, key.start_mark.index) + 1
            end = text.find("\n", _last(value).end_mark.index) + 1
            edits.append((begin, end or len(text), ""))
    return edits, remarks


def _scalars(block: MappingNode) -> Iterator[tuple[str, str]]:
    return ((key.value, value.value) for key, value in block.value)


def _value(node: Node | None, key: str) -> Node | None:
    pairs = node.value if isinstance(node, MappingNode) else ()
    return next((value for name, value in pairs if name.value == key), None)


def _last(node: Node) -> Node:
    """Return the last scalar inside: a block's own end lies behind the comments after it."""
    while isinstance(node, CollectionNode) and node.value and not node.flow_style:
        last = node.value[-1]
        node = last[1] if isinstance(last, tuple) else last
    return node


def _rest(text: str, node: Node) -> str:
    return text[node.start_mark.index : _line_end(text, node)]


def _line_end(text: str, node: Node) -> int:
    """Return where a node's line ends; the carriage return of a file from elsewhere stays."""
    end = text.find("\n", node.start_mark.index)
    end = len(text) if end < 0 else end
    return end - text[:end].endswith("\r")
