"""Tables that hold the same columns, read one after the other as one."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

import numpy as np
import pandas as pd

from yieldkit.base.errors import InputError, Problem
from yieldkit.study.logs.raster import Rows
from yieldkit.study.logs.table import MARK, STRAY, Table, Told, Written, read_table
from yieldkit.study.logs.utc_times import Clock, instants
from yieldkit.study.logs.wanted import Tables
from yieldkit.study.simulation.weather import file_labels

_MOST_PROBLEMS = 20
_ORDERS = {"%d": "day-first", "%m": "month-first"}


class Group(NamedTuple):
    """Tables in one.

    Parameters
    ----------
    rows : Rows
        All their rows.
    smallest : dict of str to float
        Smallest step in which each electrical column is written.
    remarks : tuple of str
        What was done.
    """

    rows: Rows
    smallest: dict[str, float]
    remarks: tuple[str, ...]


def read_group(group: Tables, clock: Clock, written: Written) -> Group:
    """Read all tables of a group.

    Parameters
    ----------
    group : Tables
        The tables and the columns that are asked of each.
    clock : Clock
        How their clock goes.
    written : Written
        How they are written.

    Raises
    ------
    InputError
        With what is wrong in all of them.
    """
    tables = _tables(group, written)
    parts, unclear = [], []
    remarks = _sentences(tables)
    smallest: dict[str, float] = {}
    for table in tables:
        found = instants(table.stamps, clock, table.name)
        own = table.values.set_axis(found.times, axis="index")
        parts.append(own[~np.asarray(found.times.isna())])
        unclear.append(found.unclear.to_numpy())
        remarks += found.remarks
        for column, step in table.steps.items():
            smallest[column] = min(step or np.inf, smallest.get(column, np.inf))
    either = pd.DatetimeIndex(np.concatenate(unclear))
    names = _in_short([table.name for table in tables])
    return Group(Rows(names, pd.concat(parts), either), smallest, tuple(remarks))


def _tables(group: Tables, written: Written) -> list[Table]:
    """Return all tables; one whose dates may mean two things is read as the others are."""
    names = file_labels(group.files)
    found: dict[str, Table] = {}
    failed: dict[str, list[Problem]] = {}
    paths = dict(zip(names, group.files, strict=True))
    for name, path in paths.items():
        try:
            found[name] = read_table(path, name, group, written)
        except InputError as error:
            failed[name] = [*error.problems]
    orders = {_ORDERS[table.form[:2]] for table in found.values() if table.form[:2] in _ORDERS}
    if len(orders) == 1 and written.date_format is None:
        like_others = written._replace(date_format=orders.pop())
        for name in [*failed]:
            try:
                found[name] = read_table(paths[name], name, group, like_others)
                del failed[name]
            except InputError:
                continue
    if failed:
        problems = [problem for own in failed.values() for problem in own]
        raise InputError(problems[:_MOST_PROBLEMS])
    return [found[name] for name in names]


def _in_short(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{names[0]} and {len(names) - 1} more"


def _sentences(tables: Sequence[Table]) -> list[str]:
    """Return what was passed over in tables, in a sentence for each kind and column."""
    met: dict[tuple[str, str], dict[str, Told]] = {}
    for table in tables:
        for told in table.told:
            met.setdefault((told.kind, told.column), {})[table.name] = told
    return [_sentence(kind, column, own) for (kind, column), own in met.items()]


def _sentence(kind: str, column: str, own: Mapping[str, Told]) -> str:
    where = _in_short([*own])
    number = sum(told.number for told in own.values())
    example = next(iter(own.values())).example
    if kind == STRAY:
        rows = "1 row without a time was" if number == 1 else f"{number:,} rows without a time were"
        return f"{where}: {rows} passed over, such as '{example}'."
    count = "1 cell" if number == 1 else f"{number:,} cells"
    if kind == MARK:
        return f"{where}, {column}: {count} of {example} left empty: a mark of a missing value."
    are = "is no number and counts" if number == 1 else "are no numbers and count"
    return f"{where}, {column}: {count} {are} as empty, such as '{example}'."
