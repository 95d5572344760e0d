"""A company's mark: a picture that can be put into a page as it is, and isn't too large for one."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

from yieldkit.base.errors import Problem
from yieldkit.base.readable_files import other_than_file
from yieldkit.config.reading.content import Content, Location
from yieldkit.config.reading.wording import shown

MOST_BYTES = 1_000_000
_PICTURES = {
    "image/png": (b"\x89PNG\r\n\x1a\n", b"IEND\xaeB`\x82"),
    "image/jpeg": (b"\xff\xd8\xff", b"\xff\xd9"),
}
"""How files begin and end (ISO/IEC 15948, 5.2 and 11.2.5; ITU-T T.81, B.1.1.3; from memory)."""
_TAIL = 64
"""Within so many bytes of the end some programs leave blanks or zeros behind a picture."""


def media_type(data: bytes) -> str:
    """Return the media type of a picture that is whole; nothing for anything else.

    Parameters
    ----------
    data : bytes
        The file. A drawing in SVG is none: it may hold programs.
    """
    return next(
        (
            kind
            for kind, (begins, ends) in _PICTURES.items()
            if data.startswith(begins) and ends in data[-_TAIL:]
        ),
        "",
    )


def logo_path(named: str, folder: str) -> Path:
    """Return where a logo lies: beside the site file, else from where the command runs."""
    beside = Path(folder, named)
    return beside if beside.is_file() else Path(named)


def logo_problem(content: Content, at: Location, named: Any, folder: str) -> Iterator[Problem]:
    """Give what keeps a logo from being put into a page.

    Parameters
    ----------
    content : Content
        The file's content, of any shape.
    at : Location
        Where it is named.
    named : object
        The path, or nothing.
    folder : str
        Folder from which relative paths count.
    """
    if not isinstance(named, str) or not named:
        return
    try:
        path = logo_path(named, folder)
        kind = other_than_file(Path(folder, named)) or other_than_file(path)
        size = path.stat().st_size if path.is_file() else -1
        data = path.read_bytes() if 0 <= size <= MOST_BYTES else b""
    except (OSError, ValueError) as error:
        kind, size, data = f"not readable: {error}", -1, b""
    needed = "a PNG or JPEG picture of at most 1 MB"
    where = content.where(at)
    if size < 0:
        got = f"which is {kind or 'not there'}"
        yield Problem(
            where,
            f"{shown(named)}, {got}",
            needed,
            remedy="Paths count from the site file's folder.",
        )
    elif size > MOST_BYTES:
        yield Problem(
            where,
            f"{shown(named)} of {size / 1e6:.1f} MB",
            needed,
            cause="It is put into every page as a whole.",
            remedy="Save it smaller: some hundred pixels are plenty in print",
        )
    elif not media_type(data):
        yield Problem(
            where,
            f"{shown(named)}, which is no whole PNG or JPEG picture",
            needed,
            cause="Another format under that name, or a part of a file?",
            remedy="Save it as PNG; a drawing in SVG may hold programs and isn't taken",
        )
