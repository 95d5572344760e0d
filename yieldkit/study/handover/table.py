"""A filled-in table as rows of named cells, however a spreadsheet wrote it."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path

from yieldkit.base.errors import refuse
from yieldkit.base.readable_files import other_than_file
from yieldkit.study.handover.cells import decimal_sign, month_first
from yieldkit.study.handover.form import (
    COLUMNS,
    DATE,
    HEAT,
    LIGHT,
    QUANTITY,
    READING,
    WHAT,
)

_SEPARATORS = (";", "\t", ",")
_HEADER_WITHIN = 20
_LARGEST = 50_000_000
_ENCODINGS = ("utf-8-sig", "cp1252")


@dataclass(frozen=True)
class Row:
    """One filled-in line.

    Parameters
    ----------
    line : int
        Its number in the file, from 1.
    cells : mapping of str to str
        Its cells by our names of the columns; one that isn't there is empty.
    """

    line: int
    cells: Mapping[str, str]

    def __getitem__(self, column: str) -> str:
        return self.cells.get(column, "")


@dataclass(frozen=True)
class Table:
    """The lines of a file, and how its numbers and dates are written.

    Parameters
    ----------
    name : str
        The file, for problems.
    rows : tuple of Row
        Lines that hold anything.
    decimal : str
        The decimal sign.
    by_month : bool or None
        Whether dates with slashes begin with the month; None where nobody can tell.
    """

    name: str
    rows: tuple[Row, ...]
    decimal: str
    by_month: bool | None


def read_table(path: str | Path) -> Table:
    """Return the lines of a filled-in table.

    Parameters
    ----------
    path : str or Path
        A CSV file with our heads, its cells separated by commas, semicolons or tabs.

    Raises
    ------
    InputError
        If there is no such file, it can't be read as text, or lacks a column.
    """
    name = str(path)
    lines = _text(Path(path)).splitlines(keepends=True)
    for at, line in enumerate(lines[:_HEADER_WITHIN]):
        separator = max(_SEPARATORS, key=line.count)
        heads = next(csv.reader([line], delimiter=separator), [])
        columns = _columns(heads)
        if WHAT in columns and QUANTITY in columns and READING in columns:
            rows = tuple(_rows(lines[at + 1 :], separator, columns, at + 1))
            numbers = [row[each] for row in rows for each in (READING, LIGHT, HEAT)]
            dates = [row[DATE].split(" ")[0] for row in rows]
            return Table(name, rows, decimal_sign(numbers, separator), month_first(dates))
    refuse(
        name,
        "no line of heads with the columns what, quantity and reading",
        "the table that `yieldkit handover` wrote, filled in",
        remedy="Keep its heads; columns may be moved, and lines added",
    )


def _text(path: Path) -> str:
    other = other_than_file(path)
    if other or not path.is_file():
        refuse(str(path), other or "no such file", "a filled-in table (CSV)")
    if path.stat().st_size > _LARGEST:
        refuse(str(path), "a file of more than 50 MB", "a filled-in table (CSV)")
    content = path.read_bytes()
    if content.startswith((b"\xff\xfe", b"\xfe\xff")):
        return content.decode("utf-16", errors="replace")
    for encoding in _ENCODINGS:
        if b"\x00" not in content:
            try:
                return content.decode(encoding)
            except UnicodeDecodeError:
                continue
    refuse(
        str(path),
        "signs that are no text",
        "a filled-in table (CSV)",
        cause="A spreadsheet's own file?",
        remedy="Save it as CSV, in UTF-8",
    )


def _columns(heads: Iterable[str]) -> dict[str, int]:
    """Return our columns' places: a head is known by how it begins."""
    found: dict[str, int] = {}
    for at, head in enumerate(heads):
        word = " ".join(head.split()).casefold()
        for key in COLUMNS:
            if key not in found and (word == key or word.startswith((f"{key} ", f"{key}("))):
                found[key] = at
    return found


def _rows(
    lines: list[str], separator: str, columns: Mapping[str, int], before: int
) -> Iterable[Row]:
    """Give the lines that hold anything."""
    reader = csv.reader(io.StringIO("".join(lines)), delimiter=separator)
    last = before
    for cells in reader:
        line, last = last + 1, before + reader.line_num
        own = {key: cells[at].strip() for key, at in columns.items() if at < len(cells)}
        if any(own.values()):
            yield Row(line, own)
