"""One table of a log: its rows of readings, without headings, totals and pages among them."""

from __future__ import annotations

import csv
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pandas as pd

from yieldkit.base.arrays import BoolArray, FloatArray
from yieldkit.base.errors import InputError, Problem, nearest, refuse
from yieldkit.study.logs.packed import text_table
from yieldkit.study.logs.stamps import IN_SIGNS, MOST_SAMPLES, cells_of, even, time_texts, times_of
from yieldkit.study.logs.units import ELECTRICAL, factor_to_own, stated_unit
from yieldkit.study.logs.wanted import Tables, Wanted
from yieldkit.weather.quality.bounds import MARKS_OF_ALL
from yieldkit.weather.readers.dialect import Dialect, find_decimal, find_dialect
from yieldkit.weather.readers.encodings import found_encoding
from yieldkit.weather.readers.stated_units import energy_columns, unit_problems

_MOST_STRAY = 0.2
"""Share of rows without a time above which the times themselves aren't understood."""
_MOST_TEXT = 0.5
_NOTHING = ("", "-", "--", "---", "n/a", "na", "nan", "null", "none", "\u2013", "\u2014", "#n/a")


class Written(NamedTuple):
    """How tables are written, as far as their description says it.

    Parameters
    ----------
    decimal, date_format, encoding : str or None
        As in the description.
    units : mapping of str to (str or None)
        Quantity to unit.
    """

    decimal: str | None
    date_format: str | None
    encoding: str | None
    units: dict[str, str | None]


STRAY, TEXT, MARK = "stray", "text", "mark"
"""What may be told of a table: rows without a time, cells that are no number, marks of nothing."""


class Told(NamedTuple):
    """What was met in a table and passed over.

    Parameters
    ----------
    kind : str
        `STRAY`, `TEXT` or `MARK`.
    column : str
        The column, nothing for whole rows.
    number : int
        How many rows or cells.
    example : str
        The first.
    """

    kind: str
    column: str
    number: int
    example: str


class Table(NamedTuple):
    """What was read of one table, in the order of its rows.

    Parameters
    ----------
    name : str
        The file.
    stamps : DatetimeIndex
        Times as written: naive, or in UTC where they carry a zone (row,).
    values : DataFrame
        Columns by `Wanted.name`, in V, A, W or Wh and the sensors' own units; nan where nothing
        was written.
    steps : mapping of str to float
        Smallest step in which each electrical column is written, in V, A, W or Wh.
    told : tuple of Told
        What was passed over.
    form : str
        How its times are written.
    """

    name: str
    stamps: pd.DatetimeIndex
    values: pd.DataFrame
    steps: dict[str, float]
    told: tuple[Told, ...]
    form: str


def read_table(path: Path, name: str, tables: Tables, written: Written) -> Table:
    """Read one table of a log.

    Parameters
    ----------
    path : Path
        The file.
    name : str
        What messages call it.
    tables : Tables
        The columns that are asked of it.
    written : Written
        How it is written.

    Raises
    ------
    InputError
        If it is empty, lacks a column, or can't be understood.
    """
    try:
        return _read(path.read_bytes(), name, tables, written)
    except InputError as error:
        raise InputError(map(in_logs_words, error.problems)) from None


def in_logs_words(problem: Problem) -> Problem:
    """Return a problem of the weather's readers in the words of a log's description."""
    remedy = problem.remedy
    for old, new in (
        ("the weather block", "the log's description"),
        ("weather.", ""),
    ):
        remedy = remedy.replace(old, new)
    return replace(problem, where=problem.where.replace("weather.", ""), remedy=remedy)


def _read(content: bytes, name: str, tables: Tables, written: Written) -> Table:
    content, typed = text_table(content, name)
    if typed:
        written = written._replace(decimal=".", date_format=None, encoding="utf-8")
    encoding = found_encoding(content, written.encoding, name)
    asked = {"time": tables.time} | ({"clock": tables.clock} if tables.clock else {})
    asked |= {each.name: each.column for each in tables.wanted}
    dialect = find_dialect(content, encoding, asked)
    _refuse_missing(name, asked, dialect)
    rows = _rows(content.decode(encoding).splitlines()[dialect.body_line :], dialect)
    if not rows:
        refuse(name, "names of columns and no row under them", "rows of readings")
    texts, spot = time_texts(name, rows, dialect, asked)
    timed, stamps, form = times_of(texts, written.date_format, spot)
    told = _stray(texts, rows, timed, dialect, spot)
    kept = [row for row, own in zip(rows, timed, strict=True) if own]
    sample = kept[:: max(len(kept) // MOST_SAMPLES, 1)]
    sampled = dialect._replace(rows=even(sample, dialect))
    columns = [each.column for each in tables.wanted]
    decimal, grouped, unclear = find_decimal(sampled, columns, written.decimal, name)
    factors = _factors(name, tables.wanted, dialect, written)
    problems = [*unclear, *(each for each in factors.values() if isinstance(each, Problem))]
    problems += _sensor_units(name, tables.wanted, dialect)
    if problems:
        raise InputError(problems)
    values, steps = {}, {}
    for each in tables.wanted:
        cells = cells_of(kept, dialect.columns.index(each.column))
        own, met = _numbers(cells, decimal, grouped, name, each.column)
        told += met
        factor = factors.get(each.name, 1.0)
        values[each.name] = own * (factor if isinstance(factor, float) else 1.0)
        if each.quantity in ELECTRICAL and isinstance(factor, float):
            steps[each.name] = _written_step(own) * factor
    frame = pd.DataFrame(values, index=stamps[timed])
    return Table(name, stamps[timed], frame, steps, tuple(told), form)


def _refuse_missing(where: str, asked: dict[str, str], dialect: Dialect) -> None:
    """Refuse columns that aren't there, or are there twice."""
    names = dialect.columns
    problems = []
    for column in dict.fromkeys(asked.values()):
        number = names.count(column)
        if number == 1:
            continue
        close = nearest(column, names) if number == 0 else None
        shown = ", ".join(f"'{name}'" for name in names[:40])
        problems.append(
            Problem(
                where,
                f"no column '{column}'" if number == 0 else f"{number} columns '{column}'",
                f"one of its columns: {shown}" if number == 0 else "each name once",
                remedy=_twice_or(number, close),
            )
        )
    if problems:
        raise InputError(problems)


def _twice_or(number: int, close: str | None) -> str:
    if number:
        return "Rename them in the table's head"
    return f"Did you mean '{close}'?" if close else ""


def _rows(lines: list[str], dialect: Dialect) -> list[list[str]]:
    """Return the cells of all rows that hold anything and are no comment."""
    plain = (line for line in lines if line.strip() and line[0] != "#")
    cells = csv.reader(plain, delimiter=dialect.separator, skipinitialspace=True)
    return [row for row in cells if any(row)]


def _stray(
    texts: pd.Series, rows: list[list[str]], timed: BoolArray, dialect: Dialect, where: str
) -> list[Told]:
    """Return what is told of rows without a time; refuse where they are many."""
    number = int((~timed).sum())
    if not number:
        return []
    first = int(np.argmin(timed))
    if number > _MOST_STRAY * timed.size:
        example = f", such as '{texts.iloc[int(np.argmax(timed))][:40]}'" if timed.any() else ""
        refuse(
            where,
            f"{number:,} of {timed.size:,} rows without a time that can be read, such as "
            f"'{texts.iloc[first][:40]}'",
            f"times{example}",
            remedy=IN_SIGNS,
        )
    return [Told(STRAY, "", number, dialect.separator.join(rows[first])[:60])]


def _factors(
    where: str, wanted: Sequence[Wanted], dialect: Dialect, written: Written
) -> dict[str, float | Problem]:
    """Return by what each electrical column is multiplied, or what is wrong with its unit."""
    under = dialect.under()
    return {
        each.name: factor_to_own(
            each.quantity,
            each.column,
            stated_unit(each.column, under),
            written.units.get(each.quantity),
            f"{where}, {each.column}",
        )
        for each in wanted
        if each.quantity in ELECTRICAL
    }


def _sensor_units(where: str, wanted: Sequence[Wanted], dialect: Dialect) -> list[Problem]:
    columns = {each.name: each.column for each in wanted if each.quantity not in ELECTRICAL}
    problems = unit_problems(columns, dialect.under(), where)
    for column in energy_columns(columns, dialect.under()):
        problems.append(
            Problem(
                f"{where}, {column}",
                "the unit Wh/m2, an energy",
                "W/m2, means over the step",
                remedy="Multiply its values by the steps of an hour, and write W/m2",
            )
        )
    return problems


def _numbers(
    cells: list[str], decimal: str, grouped: str | None, name: str, column: str
) -> tuple[FloatArray, list[Told]]:
    """Return a column's numbers, nan where there is none, and what is told of it."""
    texts = pd.Series(cells, dtype="string").str.strip()
    plain = texts.str.replace(grouped, "", regex=False) if grouped else texts
    plain = plain.str.replace(",", ".", regex=False) if decimal == "," else plain
    found = pd.to_numeric(plain, errors="coerce").to_numpy(dtype=float, na_value=np.nan)
    # An overflow is no reading.
    found = np.where(np.isfinite(found), found, np.nan)
    given = ~texts.str.casefold().isin(_NOTHING).to_numpy(dtype=bool)
    text = given & np.isnan(found)
    told = []
    if text.any():
        example, number = texts.iloc[int(np.argmax(text))][:40], int(text.sum())
        if number > _MOST_TEXT * int(given.sum()):
            refuse(
                f"{name}, {column}",
                f"'{example}' and others that are no numbers, {number:,} of {int(given.sum()):,}",
                "a column of numbers",
                cause="Another decimal sign, or another column?",
            )
        told.append(Told(TEXT, column, number, example))
    marks = np.isin(found, MARKS_OF_ALL)
    if marks.any():
        told.append(Told(MARK, column, int(marks.sum()), f"{found[int(np.argmax(marks))]:g}"))
        found = np.where(marks, np.nan, found)
    return found, told


def _written_step(values: FloatArray) -> float:
    """Return the smallest power of ten of which all values are whole multiples, 1e-6 at least."""
    given = values[np.isfinite(values) & (values != 0.0)]
    if given.size == 0:
        return 0.0
    for power in range(3, -6, -1):
        step = 10.0**power
        if np.allclose(given / step, np.round(given / step), rtol=0.0, atol=1e-6 / step + 1e-9):
            return step
    return 1e-6
