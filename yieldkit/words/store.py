"""The one way files are written: whole or not at all, with the hash of what was written.

A file is made under a temporary name beside its place, flushed to the disk, renamed over the
old one, and the folder is flushed as well. Whoever opens the name finds the last whole version.
"""

from __future__ import annotations

import hashlib
import json
import os
import uuid
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import pandas as pd
import xarray as xr

_MARK = ".part-"
_FORMULA_SIGNS = ("=", "+", "-", "@", "\t", "\r")
_CONTROL = {code: None for code in (*range(9), 11, 12, *range(14, 32), *range(127, 160))}


def replace_with(path: str | Path, make: Callable[[Path], None]) -> str:
    """Make a file under a temporary name and put it in place when it is whole.

    Parameters
    ----------
    path : str or Path
        Where the file shall be; its folder is made if needed.
    make : callable
        Writes the file at the path it is given.

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
    part = target.with_name(f"{_MARK}{uuid.uuid4().hex}-{target.name[-80:]}")
    try:
        make(part)
        with part.open("rb+") as stream:
            digest = hashlib.file_digest(stream, "sha256").hexdigest()
            os.fsync(stream.fileno())
        part.replace(target)
    except BaseException:
        part.unlink(missing_ok=True)
        raise
    _flush_folder(target.parent)
    return digest


def _flush_folder(folder: Path) -> None:
    try:
        handle = os.open(folder, os.O_RDONLY)
    except OSError:
        # Some systems can't open a folder; the rename itself is then all there is.
        return
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def write_bytes(path: str | Path, data: bytes) -> str:
    """Write bytes whole or not at all; return their SHA-256."""
    return replace_with(path, lambda part: part.write_bytes(data) and None)


def write_text(path: str | Path, text: str) -> str:
    """Write UTF-8 text whole or not at all; return its SHA-256."""
    return write_bytes(path, text.encode("utf-8"))


def write_json(path: str | Path, content: Any) -> str:
    """Write JSON whole or not at all; return its SHA-256."""
    return write_text(path, json.dumps(content, indent=2, sort_keys=True, default=str) + "\n")


def write_dataset(path: str | Path, dataset: xr.Dataset) -> str:
    """Write a Dataset as NetCDF whole or not at all; return its SHA-256."""
    encoding = {
        name: {"zlib": True, "complevel": 1}
        for name, variable in dataset.variables.items()
        if variable.dtype.kind in "fi" and variable.ndim
    }
    return replace_with(
        path,
        lambda part: dataset.to_netcdf(part, engine="h5netcdf", encoding=encoding) and None,
    )


def write_table(path: str | Path, table: pd.DataFrame) -> str:
    """Write a table as CSV that no spreadsheet takes for formulas; return its SHA-256."""
    return write_text(path, table_text(table))


def table_text(table: pd.DataFrame) -> str:
    """Return a table as CSV text that no spreadsheet takes for formulas."""
    safe = table.reset_index() if table.index.name or table.index.nlevels > 1 else table.copy()
    for column in safe.columns:
        if not pd.api.types.is_numeric_dtype(safe[column]):
            safe[column] = [safe_cell(value) for value in safe[column]]
    safe.columns = [safe_cell(str(column)) for column in safe.columns]
    return safe.to_csv(index=False, lineterminator="\n")


def safe_cell(value: Any) -> Any:
    """Return a cell that a spreadsheet shows as text: what looks like a formula is quoted."""
    if not isinstance(value, str):
        return value
    text = value.translate(_CONTROL)
    return "'" + text if text.startswith(_FORMULA_SIGNS) else text


def plain_line(text: str) -> str:
    """Return text for a terminal: on one line and without control characters."""
    return " ".join(text.translate(_CONTROL).split())


def to_attrs(content: Mapping[str, Any]) -> dict[str, str | int | float]:
    """Return attributes that NetCDF keeps: text and numbers, the rest as JSON."""
    return {
        key: value
        if isinstance(value, str | int | float) and not isinstance(value, bool)
        else json.dumps(value, default=str)
        for key, value in content.items()
    }


def sweep(folder: str | Path) -> int:
    """Remove what earlier, killed runs left under temporary names; return how many."""
    left = [path for path in Path(folder).glob(f"{_MARK}*") if path.is_file()]
    for path in left:
        path.unlink(missing_ok=True)
    return len(left)


def safe_name(text: str, longest: int = 60) -> str:
    """Return a file name made from any text."""
    kept = "".join(sign if sign.isalnum() or sign in " -_" else "-" for sign in text)
    return "-".join(kept.split())[:longest].strip("-") or "unnamed"
