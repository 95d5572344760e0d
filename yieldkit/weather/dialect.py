"""How a CSV file is written: separator, header, decimal sign; found, or asked where it can't be."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Mapping
from typing import NamedTuple

from yieldkit.words.errors import Problem

_SEPARATORS = (";", "\t", ",", "|")
_HEADER_WITHIN = 60
_HEAD_BYTES = 65_536
_PIECES, _PIECE_BYTES = 24, 4096
_GROUPED = {mark: re.compile(rf"^-?[1-9]\d{{0,2}}(?:\{mark}\d{{3}})+$") for mark in ".,"}
_NUMBER = re.compile(r"^-?[\d.,]+$")


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
    """

    separator: str
    header_line: int
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]

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
                return _dialect(content, encoding, separator, number, cells)
    # Not all are there: the line and separator that give most names a person would know again.
    plain = [n for n, line in enumerate(lines[:_HEADER_WITHIN]) if line and line[0] != "#"]
    number = plain[0] if plain else 0
    line = lines[number] if lines else ""
    separator = max(_SEPARATORS, key=lambda mark: len(_cells(line, mark)))
    return _dialect(content, encoding, separator, number, _cells(line, separator))


def _cells(line: str, separator: str) -> tuple[str, ...]:
    found = next(csv.reader(io.StringIO(line), delimiter=separator), [])
    return tuple(cell.strip() for cell in found)


def _dialect(
    content: bytes, encoding: str, separator: str, number: int, columns: tuple[str, ...]
) -> Dialect:
    lines = content[:_HEAD_BYTES].decode(encoding, errors="ignore").splitlines()[number + 1 :]
    whole = len(content) <= _HEAD_BYTES
    texts = lines if whole else lines[:-1]
    if not whole and not encoding.lower().replace("_", "-").startswith("utf-16"):
        step = (len(content) - _HEAD_BYTES) // _PIECES
        for piece in range(1, _PIECES + 1):
            begin = _HEAD_BYTES + piece * step - _PIECE_BYTES
            part = content[begin : begin + _PIECE_BYTES].decode(encoding, errors="ignore")
            texts = [*texts, *part.splitlines()[1:-1]]
    rows = (_cells(text, separator) for text in texts if text and text[0] != "#")
    return Dialect(
        separator, number, columns, tuple(row for row in rows if len(row) >= len(columns))
    )


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
