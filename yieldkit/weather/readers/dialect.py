"""How a CSV file is written: separator, header, decimal sign; found, or asked where it can't be."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Mapping
from typing import NamedTuple

from yieldkit.base.errors import Problem
from yieldkit.weather.readers.dates import looks_like_date

_SEPARATORS = (";", "\t", ",", "|")
_HEADER_WITHIN = 60
_HEAD_BYTES = 65_536
_PIECES, _PIECE_BYTES = 24, 4096
_GROUPED = {mark: re.compile(rf"^-?[1-9]\d{{0,2}}(?:\{mark}\d{{3}})+$") for mark in ".,"}
_NUMBER = re.compile(r"^-?[\d.,]+$")
_NUMBER_OR_GAP = re.compile(
    r"^(?:[-+]?[\d.,]+(?:[eE][-+]?\d+)?|[-#]*|n/?an?|null|none)$", re.IGNORECASE
)
_MOST_UNIT_ROWS = 3


class Dialect(NamedTuple):
    """How a CSV file is written.

    Parameters
    ----------
    separator : str
        Between cells.
    header_line : int
        Number of the line that names the columns, from zero.
    columns : tuple of str
        Its cells.
    rows : tuple of tuple of str
        Some rows, from the file's head and spread over it.
    units : tuple of tuple of str
        Rows of units and the like between the names and the values.
    body_line : int
        Number of the line of the first values, from zero.
    """

    separator: str
    header_line: int
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    units: tuple[tuple[str, ...], ...]
    body_line: int

    def under(self) -> dict[str, str]:
        """Return the units: every column's cell of the first row of units."""
        return dict(zip(self.columns, self.units[0], strict=False)) if self.units else {}

    def cells(self) -> dict[str, list[str]]:
        """Return some cells of every column."""
        return {column: self.samples(column) for column in self.columns}

    def samples(self, column: str) -> list[str]:
        """Return some cells of a column."""
        at = self.columns.index(column)
        return [row[at].strip() for row in self.rows]


def find_dialect(content: bytes, encoding: str, wanted: Mapping[str, str]) -> Dialect:
    """Return how a CSV file is written.

    Parameters
    ----------
    content : bytes
        The whole file.
    encoding : str
        Its encoding.
    wanted : mapping of str to str
        Our name to the file's column: the separator and the header line are those with which
        all of these are found.
    """
    head = content[:_HEAD_BYTES].decode(encoding, errors="ignore")
    lines = head.splitlines()
    for separator in _SEPARATORS:
        for number, line in enumerate(lines[:_HEADER_WITHIN]):
            cells = _cells(line, separator)
            if wanted and not set(wanted.values()) - set(cells):
                return _dialect(content, encoding, separator, number, cells, wanted)
    # Not all are there: the line and separator that give most names a person would know again.
    plain = [n for n, line in enumerate(lines[:_HEADER_WITHIN]) if line and line[0] != "#"]
    number = plain[0] if plain else 0
    line = lines[number] if lines else ""
    separator = max(_SEPARATORS, key=lambda mark: len(_cells(line, mark)))
    return _dialect(content, encoding, separator, number, _cells(line, separator), wanted)


def _cells(line: str, separator: str) -> tuple[str, ...]:
    found = next(csv.reader(io.StringIO(line), delimiter=separator), [])
    return tuple(cell.strip() for cell in found)


def _dialect(
    content: bytes,
    encoding: str,
    separator: str,
    number: int,
    columns: tuple[str, ...],
    wanted: Mapping[str, str],
) -> Dialect:
    lines = content[:_HEAD_BYTES].decode(encoding, errors="ignore").splitlines()
    body_line, units = _units(lines, separator, number + 1, columns, wanted)
    lines = lines[body_line:]
    whole = len(content) <= _HEAD_BYTES
    texts = lines if whole else lines[:-1]
    if not whole and not encoding.lower().replace("_", "-").startswith("utf-16"):
        step = (len(content) - _HEAD_BYTES) // _PIECES
        for piece in range(1, _PIECES + 1):
            begin = _HEAD_BYTES + piece * step - _PIECE_BYTES
            part = content[begin : begin + _PIECE_BYTES].decode(encoding, errors="ignore")
            texts = [*texts, *part.splitlines()[1:-1]]
    cells = (_cells(text, separator) for text in texts if text and text[0] != "#")
    rows = tuple(row for row in cells if len(row) >= len(columns))
    return Dialect(separator, number, columns, rows, units, body_line)


def _units(
    lines: list[str],
    separator: str,
    line: int,
    columns: tuple[str, ...],
    wanted: Mapping[str, str],
) -> tuple[int, tuple[tuple[str, ...], ...]]:
    """Return the line at which values begin, and the rows of units before it.

    A row of units stands right under the names: its cells under columns of numbers are neither
    numbers nor missing ones, and its time is no time.
    """
    names = {name: column for name, column in wanted.items() if column in columns}
    times = [columns.index(names.pop(name)) for name in ("time", "clock") if name in names]
    numbers = [columns.index(column) for column in names.values()]
    units: list[tuple[str, ...]] = []
    while line < len(lines) and len(units) < _MOST_UNIT_ROWS:
        if not lines[line].strip() or lines[line][0] == "#":
            line += 1
            continue
        row = _cells(lines[line], separator)
        if not numbers or not times or not set(range(len(row))) >= {*times, *numbers}:
            break
        values = [row[at] for at in numbers]
        timed = any(looks_like_date(row[at]) or row[at][:1].isdigit() for at in times)
        empty = not any(row)
        if timed or not (empty or any(not _NUMBER_OR_GAP.match(each) for each in values)):
            break
        units.append(row)
        line += 1
    return line, tuple(row for row in units if any(row))


def find_decimal(
    dialect: Dialect, columns: list[str], said: str | None, where: str
) -> tuple[str, str | None, list[Problem]]:
    """Return the decimal sign, the sign between thousands (None: there is none), and problems.

    Parameters
    ----------
    dialect : Dialect
        How the file is written.
    columns : list of str
        Columns of numbers.
    said : str or None
        What the user says.
    where : str
        File name, for problems.
    """
    cells = [
        cell
        for column in columns
        for cell in dialect.samples(column)
        if _NUMBER.match(cell) and ("," in cell or "." in cell)
    ]
    both = [cell for cell in cells if "," in cell and "." in cell]
    if said is not None:
        other = "," if said == "." else "."
        return said, other if any(other in cell for cell in cells) else None, []
    if both:
        mark = max(both[0].rfind(","), both[0].rfind("."))
        decimal = both[0][mark]
        return decimal, "," if decimal == "." else ".", []
    marks = {mark for mark in ",." if any(mark in cell for cell in cells)}
    if not marks or (marks == {"."} and dialect.separator == ","):
        return ".", None, []
    decimal = marks.pop()
    if not marks and not all(_GROUPED[decimal].match(cell) for cell in cells):
        return decimal, None, []
    got = (
        f"'{cells[0]}', which may be a decimal or thousands"
        if not marks
        else ("numbers with a comma and numbers with a point")
    )
    return (
        ".",
        None,
        [
            Problem(
                f"{where}, numbers",
                got,
                "one decimal sign",
                remedy="Write decimal: ',' or decimal: '.' into the weather block",
            )
        ],
    )
