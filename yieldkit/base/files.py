"""The one way files are written: whole or not at all, with the hash of what was written.

A file is made under a temporary name beside its place, flushed to the disk, renamed over the
old one, and the folder is flushed as well. Whoever opens the name finds the last whole version.
Just before the renaming its hash is added to the folder's record, so that a file damaged later
is told from one that is as it was written.
"""

from __future__ import annotations

import contextlib
import hashlib
import io
import json
import os
import re
import time
import uuid
from collections.abc import Callable, Mapping
from functools import lru_cache
from pathlib import Path
from typing import Any

import pandas as pd
import xarray as xr

from yieldkit.base.errors import refuse
from yieldkit.base.plain_text import plain_text

RECORD = "written.sha256"
"""Name of the file in which a folder's hashes are recorded; it is only ever added to."""

PART = ".part-"
"""How the name of what is not yet in place begins."""

_STALE_S = 600.0
_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\uff1d", "\uff0b", "\uff0d", "\uff20")
"""What begins a formula in spreadsheets; the last four are the first in full width."""
_RESERVED = re.compile(r"(?i)^(con|prn|aux|nul|(com|lpt)[0-9\u00b9\u00b2\u00b3])$")
"""Names that mean devices under Windows, whatever stands behind a dot."""
_RECORDED = re.compile(r"^([0-9a-f]{64})  (.+)$")


def replace_with(path: str | Path, make: Callable[[Path], None], *, record: bool = True) -> str:
    """Make a file under a temporary name and put it in place when it is whole.

    Parameters
    ----------
    path : str or Path
        Where the file shall be; its folder is made if needed.
    make : callable
        Writes the file at the path it is given.
    record : bool
        Add the hash to the folder's record; leave it out for files that people edit.

    Returns
    -------
    str
        SHA-256 of what was written.

    Raises
    ------
    OSError
        If anything fails on the way; an older file is then left as it was.
    """
    target = Path(path)
    target.parent.mkdir(parents=True, exist_ok=True)
    part = target.with_name(f"{PART}{uuid.uuid4().hex}{target.suffix[-16:]}")
    try:
        make(part)
        with part.open("rb+") as stream:
            digest = hashlib.file_digest(stream, "sha256").hexdigest()
            os.fsync(stream.fileno())
        if record:
            record_all(target.parent, {target.name: digest})
        part.replace(target)
    except BaseException:
        with contextlib.suppress(OSError):
            part.unlink(missing_ok=True)
        raise
    flush_folder(target.parent)
    return digest


def record_all(folder: Path, hashes: Mapping[str, str]) -> None:
    """Add names and hashes to a folder's record, all in one write.

    It starts with a line feed, so that a torn line before it harms nothing.
    """
    lines = [
        f"\n{digest}  ".encode() + os.fsencode(name) + b"\n" for name, digest in hashes.items()
    ]
    with (folder / RECORD).open("ab", buffering=0) as stream:
        stream.write(b"".join(lines))
        os.fsync(stream.fileno())


def flush_folder(folder: Path) -> None:
    """Flush the renaming; the file is in place by now, so a refusal takes nothing back."""
    try:
        handle = os.open(folder, os.O_RDONLY)
    except OSError:
        # Some systems can't open a folder; the rename itself is then all there is.
        return
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def write_bytes(path: str | Path, data: bytes | memoryview, *, record: bool = True) -> str:
    """Write bytes whole or not at all; return their SHA-256."""

    def make(part: Path) -> None:
        with part.open("xb") as stream:
            stream.write(data)

    return replace_with(path, make, record=record)


def write_text(path: str | Path, text: str, *, record: bool = True) -> str:
    """Write UTF-8 text whole or not at all; return its SHA-256."""
    return write_bytes(path, text.encode("utf-8"), record=record)


def write_json(path: str | Path, content: Any) -> str:
    """Write JSON whole or not at all; return its SHA-256."""
    return write_text(path, json.dumps(content, indent=2, sort_keys=True, default=str) + "\n")


def write_dataset(path: str | Path, dataset: xr.Dataset) -> str:
    """Write a Dataset as NetCDF whole or not at all; return its SHA-256.

    The file is laid out in memory first, so that the disk sees one plain write.
    """
    encoding = {
        name: {"zlib": True, "complevel": 1}
        for name, variable in dataset.variables.items()
        if variable.dtype.kind in "fi" and variable.ndim
    }
    return write_bytes(path, dataset.to_netcdf(None, engine="h5netcdf", encoding=encoding))


def read_dataset(path: str | Path) -> xr.Dataset:
    """Read a Dataset that `write_dataset` wrote.

    Raises
    ------
    InputError
        If the file is missing, was never recorded as written, or has changed since.
    """
    return xr.load_dataset(io.BytesIO(_as_written(Path(path))), engine="h5netcdf")


def read_json(path: str | Path) -> Any:
    """Read what `write_json` wrote.

    Raises
    ------
    InputError
        As `read_dataset`.
    """
    return json.loads(_as_written(Path(path)))


def _as_written(target: Path) -> bytes:
    """Return the content of a recorded file; refuse one that isn't as it was written."""
    if not target.is_file():
        refuse(str(target), "no such file", "a saved result")
    data = target.read_bytes()
    if hashlib.sha256(data).hexdigest() not in recorded(target.parent).get(target.name, set()):
        refuse(
            str(target),
            f"content that {RECORD} beside it doesn't know",
            "a file as it was written",
            cause="It was changed, damaged or copied without the record.",
            remedy="Make it again.",
        )
    return data


def recorded(folder: str | Path) -> dict[str, set[str]]:
    """Return the hashes recorded in a folder.

    Parameters
    ----------
    folder : str or Path
        A folder written to.

    Returns
    -------
    dict of str to set of str
        File name, and the SHA-256 of each version written; torn lines are left out.
    """
    return hashes_in(Path(folder) / RECORD)


def hashes_in(path: Path) -> dict[str, set[str]]:
    """Return the hashes that a file lists with names, one a line; other lines are left out."""
    hashes: dict[str, set[str]] = {}
    if not path.is_file():
        return hashes
    for line in path.read_bytes().split(b"\n")[:-1]:
        match = _RECORDED.match(os.fsdecode(line))
        if match:
            hashes.setdefault(match[2], set()).add(match[1])
    return hashes


def damaged(folder: str | Path) -> tuple[str, ...]:
    """Return the names of recorded files whose content is none that was written."""
    found = []
    for name, hashes in recorded(folder).items():
        path = Path(folder) / name
        if not path.is_file():
            continue
        with path.open("rb") as stream:
            if hashlib.file_digest(stream, "sha256").hexdigest() not in hashes:
                found.append(name)
    return tuple(sorted(found))


def write_table(path: str | Path, table: pd.DataFrame) -> str:
    """Write a table as CSV that no spreadsheet takes for formulas; return its SHA-256."""
    return write_text(path, table_text(table))


def table_text(table: pd.DataFrame) -> str:
    """Return a table as CSV text that no spreadsheet takes for formulas."""
    counted = isinstance(table.index, pd.RangeIndex) and table.index.name is None
    safe = table.copy() if counted else table.reset_index()
    for column in safe.columns:
        if not pd.api.types.is_numeric_dtype(safe[column]):
            safe[column] = [safe_cell(value) for value in safe[column]]
    safe.columns = [safe_cell(str(column)) for column in safe.columns]
    return safe.to_csv(index=False, lineterminator="\n")


def safe_cell(value: Any) -> Any:
    """Return a cell that a spreadsheet shows as text: what looks like a formula is quoted."""
    return _safe_text(value) if isinstance(value, str) else value


@lru_cache(maxsize=1024)
def _safe_text(value: str) -> str:
    """Return text that no spreadsheet takes for a formula; a column often repeats one."""
    text = plain_text(value)
    return "'" + text if text.lstrip().startswith(_FORMULA_STARTS) else text


def clear_leftovers(folder: str | Path) -> int:
    """Remove what killed runs left under temporary names.

    Parameters
    ----------
    folder : str or Path
        Where to look. What was touched in the last ten minutes may be another run's and stays.

    Returns
    -------
    int
        How many were removed.
    """
    oldest = time.time() - _STALE_S
    left = 0
    for path in Path(folder).glob(f"{PART}*"):
        # Another run may put it in place, or take it away, between two looks.
        with contextlib.suppress(OSError):
            if path.is_file() and path.stat().st_mtime < oldest:
                path.unlink()
                left += 1
    return left


def safe_name(text: str, longest: int = 60) -> str:
    """Return a file name made from any text; different texts may give the same one."""
    kept = "".join(char if char.isalnum() or char in " -_" else "-" for char in text)
    name = "-".join(kept.split())[:longest].strip("-") or "unnamed"
    return f"{name}_" if _RESERVED.match(name) else name


def hashed_name(text: str) -> str:
    """Return a file name made from any text, with a short hash: no two texts share one."""
    digest = hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()
    return f"{safe_name(text, 51)}-{digest[:8]}"
