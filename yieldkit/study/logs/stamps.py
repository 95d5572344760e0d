"""The times of a table as texts and as times, without the rows that have none."""

from __future__ import annotations

import numpy as np
import pandas as pd

from yieldkit.base.arrays import BoolArray
from yieldkit.base.errors import InputError, refuse
from yieldkit.weather.readers.dates import (
    ISO,
    Dates,
    find_dates,
    looks_like_date,
    times_or_nothing,
)
from yieldkit.weather.readers.dialect import Dialect
from yieldkit.weather.readers.time_columns import find_time_columns, joined

MOST_SAMPLES = 4000
_SECONDS = 9
_YEARS = (1990, 2200)
IN_SIGNS = "Write date_format in signs, such as '%d.%m.%Y %H:%M', into the log's description"


def time_texts(
    name: str, rows: list[list[str]], dialect: Dialect, asked: dict[str, str]
) -> tuple[pd.Series, str]:
    """Return each row's time as it is written, date and time of day in one, and its column.

    Parameters
    ----------
    name : str
        The table.
    rows : list of list of str
        Its rows.
    dialect : Dialect
        How it is written.
    asked : dict of str to str
        Our name to the table's column, `time` among them.

    Raises
    ------
    InputError
        If the date and the time of day stand in columns that can't be told.
    """
    present = {key: column for key, column in asked.items() if column in dialect.columns}
    sample = even(rows[:: max(len(rows) // MOST_SAMPLES, 1)], dialect)
    at_date = dialect.columns.index(asked["time"])
    dated = tuple(row for row in sample if looks_like_date(row[at_date].strip()))
    columns = find_time_columns(dialect._replace(rows=dated or sample).cells(), present, name)
    if columns.problems:
        raise InputError(columns.problems)
    date = columns.date or asked["time"]
    texts = pd.Series(cells_of(rows, dialect.columns.index(date)), dtype="string").str.strip()
    if columns.clock is not None:
        clocks = pd.Series(cells_of(rows, dialect.columns.index(columns.clock)), dtype="string")
        texts = joined(texts, clocks)
    return texts, f"{name}, {date}"


def times_of(
    texts: pd.Series, date_format: str | None, where: str
) -> tuple[BoolArray, pd.DatetimeIndex, str]:
    """Return which rows have a time, the time of each row (or none), and how they are written.

    Parameters
    ----------
    texts : Series
        Each row's time as it is written (row,).
    date_format : str or None
        As in the description.
    where : str
        Table and column, for errors.

    Raises
    ------
    InputError
        If no row has a date, dates may mean two things, or are of no year of ours.
    """
    signs = date_format is not None and "%" in date_format
    like = np.array([signs or looks_like_date(each) for each in texts])
    if not like.any():
        example = next((each for each in texts if each), "nothing")
        counted = example.isdigit() and len(example) >= _SECONDS
        refuse(
            where,
            f"no row with a date, but '{example[:40]}'",
            "dates with times of day, such as 2026-05-02 10:10",
            cause="Seconds since 1970?" if counted else "",
            remedy="Export times as dates" if counted else IN_SIGNS,
        )
    chosen = texts[like]
    shown = chosen.iloc[:: max(len(chosen) // MOST_SAMPLES, 1)]
    dates = find_dates(shown.tolist(), date_format, where)
    if dates.problems:
        raise InputError(dates.problems)
    stamps = _stamps(texts.where(pd.Series(like), ""), dates, where)
    timed = ~np.asarray(stamps.isna())
    outside = timed & ~np.asarray((stamps.year >= _YEARS[0]) & (stamps.year <= _YEARS[1]))
    if outside.any():
        row = int(np.argmax(outside))
        got = f"'{texts.iloc[row][:40]}', a time of the year {stamps[row].year}"
        refuse(where, got, f"times of the years {_YEARS[0]} to {_YEARS[1]}", remedy=IN_SIGNS)
    return timed, stamps, dates.form


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


def even(rows: list[list[str]], dialect: Dialect) -> tuple[tuple[str, ...], ...]:
    """Return rows with as many cells as there are names.

    Parameters
    ----------
    rows : list of list of str
        Of any length.
    dialect : Dialect
        How their table is written.
    """
    number = len(dialect.columns)
    return tuple(tuple([*row, *[""] * number][:number]) for row in rows)


def cells_of(rows: list[list[str]], at: int) -> list[str]:
    """Return a column's cells, empty ones where a row is too short.

    Parameters
    ----------
    rows : list of list of str
        The rows.
    at : int
        Place of the column.
    """
    return [row[at] if at < len(row) else "" for row in rows]
