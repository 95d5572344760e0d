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
from yieldkit.study.logs.units import ELECTRICAL, factor_to_own, stated_unit
from yieldkit.study.logs.wanted import Tables, Wanted
from yieldkit.weather.quality.bounds import MARKS_OF_ALL
from yieldkit.weather.readers.dates import ISO, Dates, find_dates, looks_like_date, times_or_nothing
from yieldkit.weather.readers.dialect import Dialect, find_decimal, find_dialect
from yieldkit.weather.readers.encodings import found_encoding
from yieldkit.weather.readers.stated_units import energy_columns, unit_problems
from yieldkit.weather.readers.time_columns import find_time_columns, joined

_MOST_SAMPLES = 4000
_MOST_STRAY = 0.2
"""Share of rows without a time above which the times themselves aren't understood."""
_MOST_TEXT = 0.5
_NOTHING = ("", "-", "--", "---", "n/a", "na", "nan", "null", "none", "\u2013", "\u2014", "#n/a")
_YEARS = (1990, 2200)


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
    remarks : tuple of str
        What was done to it.
    """

    name: str
    stamps: pd.DatetimeIndex
    values: pd.DataFrame
    steps: dict[str, float]
    remarks: tuple[str, ...]


def read_table(path: Path, tables: Tables, written: Written) -> Table:
    """Read one table of a log.

    Parameters
    ----------
    path : Path
        The file.
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
        return _read(path, tables, written)
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


def _read(path: Path, tables: Tables, written: Written) -> Table:
    content = path.read_bytes()
    if not content.strip():
        refuse(path.name, "an empty file", "a table with a line of names and rows of readings")
    encoding = found_encoding(content, written.encoding, path.name)
    asked = {"time": tables.time} | ({"clock": tables.clock} if tables.clock else {})
    asked |= {each.name: each.column for each in tables.wanted}
    dialect = find_dialect(content, encoding, asked)
    _refuse_missing(path.name, asked, dialect)
    lines = content.decode(encoding).splitlines()[dialect.body_line :]
    rows = _rows(lines, dialect)
    if not rows:
        refuse(path.name, "names of columns and no row under them", "rows of readings")
    timed, stamps, stray = _times(path.name, rows, dialect, asked, written)
    kept = [row for row, own in zip(rows, timed, strict=True) if own]
    stamps = stamps[timed]
    remarks = _stray_told(path.name, stray)
    sample = kept[:: max(len(kept) // _MOST_SAMPLES, 1)]
    sampled = dialect._replace(rows=_even(sample, dialect))
    columns = [each.column for each in tables.wanted]
    decimal, grouped, unclear = find_decimal(sampled, columns, written.decimal, path.name)
    factors = _factors(path.name, tables.wanted, dialect, written)
    problems = [*unclear, *(each for each in factors.values() if isinstance(each, Problem))]
    problems += _sensor_units(path.name, tables.wanted, dialect)
    if problems:
        raise InputError(problems)
    values, steps = {}, {}
    for each in tables.wanted:
        at = dialect.columns.index(each.column)
        spot = f"{path.name}, {each.column}"
        cells = [row[at] if at < len(row) else "" for row in kept]
        own, told = _numbers(cells, decimal, grouped, spot)
        remarks += told
        factor = factors.get(each.name, 1.0)
        values[each.name] = own * (factor if isinstance(factor, float) else 1.0)
        if each.quantity in ELECTRICAL and isinstance(factor, float):
            steps[each.name] = _written_step(own) * factor
    frame = pd.DataFrame(values, index=stamps)
    return Table(path.name, stamps, frame, steps, tuple(dict.fromkeys(remarks)))


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
                remedy=f"Did you mean '{close}'?" if close else "",
            )
        )
    if problems:
        raise InputError(problems)


def _rows(lines: list[str], dialect: Dialect) -> list[list[str]]:
    """Return the cells of all rows that hold anything and are no comment."""
    plain = (line for line in lines if line.strip() and line[0] != "#")
    cells = csv.reader(plain, delimiter=dialect.separator, skipinitialspace=True)
    return [row for row in cells if any(row)]


def _times(
    where: str, rows: list[list[str]], dialect: Dialect, asked: dict[str, str], written: Written
) -> tuple[BoolArray, pd.DatetimeIndex, list[str]]:
    """Return which rows have a time, the time of each row (or none), and those without."""
    present = {key: column for key, column in asked.items() if column in dialect.columns}
    sample = rows[:: max(len(rows) // _MOST_SAMPLES, 1)]
    even = _even(sample, dialect)
    at_date = dialect.columns.index(asked["time"])
    dated = tuple(row for row in even if looks_like_date(row[at_date].strip()))
    columns = find_time_columns(dialect._replace(rows=dated or even).cells(), present, where)
    if columns.problems:
        raise InputError(columns.problems)
    date = columns.date or asked["time"]
    texts = pd.Series(_cells(rows, dialect.columns.index(date)), dtype="string").str.strip()
    if columns.clock is not None:
        clocks = pd.Series(_cells(rows, dialect.columns.index(columns.clock)), dtype="string")
        texts = joined(texts, clocks)
    signs = written.date_format if written.date_format and "%" in written.date_format else None
    like = np.array([looks_like_date(each) for each in texts]) | (signs is not None)
    spot = f"{where}, {date}"
    if not like.any():
        example = next((each for each in texts if each), "nothing")
        refuse(
            spot,
            f"no row with a date, such as '{example[:40]}' in the first",
            "dates with times of day, such as 2026-05-02 10:10",
            remedy="Write date_format in signs, such as '%d.%m.%Y %H:%M', into the log's "
            "description",
        )
    chosen = texts[like]
    shown = chosen.iloc[:: max(len(chosen) // _MOST_SAMPLES, 1)]
    dates = find_dates(shown.tolist(), written.date_format, spot)
    if dates.problems:
        raise InputError(dates.problems)
    stamps = _stamps(texts.where(pd.Series(like), ""), dates, spot)
    timed = ~np.asarray(stamps.isna())
    outside = timed & ~np.asarray((stamps.year >= _YEARS[0]) & (stamps.year <= _YEARS[1]))
    if outside.any():
        got = f"'{texts[int(np.argmax(outside))][:40]}', a time of the year " + str(
            stamps.year[int(np.argmax(outside))]
        )
        refuse(spot, got, f"times of the years {_YEARS[0]} to {_YEARS[1]}")
    stray = [dialect.separator.join(rows[at]) for at in np.flatnonzero(~timed)]
    if len(stray) > _MOST_STRAY * len(rows):
        refuse(
            spot,
            f"{len(stray):,} of {len(rows):,} rows without a time that can be read, such as "
            f"'{texts[int(np.argmin(timed))][:40]}'",
            f"times such as '{chosen.iloc[0][:40]}'",
            remedy="Write date_format in signs, such as '%d.%m.%Y %H:%M', into the log's "
            "description",
        )
    return timed, stamps, stray


def _even(rows: list[list[str]], dialect: Dialect) -> tuple[tuple[str, ...], ...]:
    """Return rows with as many cells as there are names."""
    number = len(dialect.columns)
    return tuple(tuple([*row, *[""] * number][:number]) for row in rows)


def _cells(rows: list[list[str]], at: int) -> list[str]:
    return [row[at] if at < len(row) else "" for row in rows]


def _stamps(texts: pd.Series, dates: Dates, where: str) -> pd.DatetimeIndex:
    """Return each row's time; a date alone is its midnight where no other row is that."""
    try:
        found = times_or_nothing(texts, dates)
    except ValueError:
        refuse(where, f"the format '{dates.form}'", "signs as C's strptime has them")
    bare = ((texts != "") & ~texts.str.contains(":")).to_numpy(dtype=bool)
    if not 0 < bare.sum() < 0.5 * int((texts != "").sum()):
        return found
    day = dates.form if dates.form == ISO else dates.form.partition(" ")[0]
    days = times_or_nothing(texts[bare], Dates(day, dates.zoned, ()))
    others = found[~bare]
    fresh = ~np.asarray(days.isin(others)) & ~np.asarray(days.duplicated(keep=False))
    values = pd.Series(found)
    values[bare] = pd.Series(days).where(fresh).to_numpy()
    return pd.DatetimeIndex(values)


def _stray_told(where: str, stray: Sequence[str]) -> list[str]:
    if not stray:
        return []
    rows = (
        "1 row without a time was" if len(stray) == 1 else f"{len(stray)} rows without a time were"
    )
    return [f"{where}: {rows} passed over, such as '{stray[0][:60]}'."]


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
    cells: list[str], decimal: str, grouped: str | None, where: str
) -> tuple[FloatArray, list[str]]:
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
        example, number = texts[int(np.argmax(text))][:40], int(text.sum())
        if number > _MOST_TEXT * int(given.sum()):
            refuse(
                where,
                f"'{example}' and others that are no numbers, {number:,} of {int(given.sum()):,}",
                "a column of numbers",
                cause="Another decimal sign, or another column?",
            )
        are = "cell is no number and counts" if number == 1 else "cells are no numbers and count"
        told.append(f"{where}: {number} {are} as empty, such as '{example}'.")
    marks = np.isin(found, MARKS_OF_ALL)
    if marks.any():
        mark = found[int(np.argmax(marks))]
        told.append(f"{where}: {int(marks.sum())} cells of {mark:g} count as empty.")
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
