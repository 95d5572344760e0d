"""Weather tables: our own plain form, and anybody's columns in CSV or Parquet."""

from __future__ import annotations

import io
import json
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

import pandas as pd

from yieldkit.base.errors import InputError, Problem, nearest, refuse
from yieldkit.base.measured_planes import measured_part
from yieldkit.base.time_zones import utc_offset
from yieldkit.weather.readers.canonical import Sampling, Station
from yieldkit.weather.readers.dates import Dates, find_dates, read_times
from yieldkit.weather.readers.dialect import Dialect, find_decimal, find_dialect
from yieldkit.weather.readers.encodings import decoded, found_encoding
from yieldkit.weather.readers.source import STATION_WIND_M, Read, Source, own_names, rezoned
from yieldkit.weather.readers.stated_units import energy_columns, unit_problems
from yieldkit.weather.readers.time_columns import TimeColumns, find_time_columns, joined

_MAGIC = "# canonical weather: "


def read_canonical(path: Path, said: Source) -> Read:
    """Read our own plain form: a line of facts, then a table."""
    text = decoded(path.read_bytes(), said.encoding, path.name)
    first = text.partition("\n")[0]
    if not first.startswith(_MAGIC):
        refuse(path.name, "another first line", f"a first line that begins with '{_MAGIC.strip()}'")
    meta = json.loads(first[len(_MAGIC) :])
    frame = pd.read_csv(io.StringIO(text), comment="#", index_col="time", parse_dates=["time"])
    offset_s = utc_offset(meta["time_zone"])
    clock = pd.DatetimeIndex(frame.index)
    frame.index = (clock - pd.Timedelta(seconds=offset_s)).tz_localize("UTC")
    frame = frame.rename(columns=_measured_on_planes(path.name, frame, said))
    return Read(
        rezoned(own_names(frame), offset_s, said),
        Station(
            meta["latitude"],
            meta["longitude"],
            meta["altitude_m"],
            offset_s,
            meta["wind_height_m"],
        ),
        Sampling(meta["sampling"], meta.get("label", "start"), meta.get("sun_offset_s", 0.0)),
        bool(meta.get("typical", False)),
        meta["title"],
        meta.get("attribution", ""),
    )


def _measured_on_planes(where: str, frame: pd.DataFrame, said: Source) -> dict[str, str]:
    """Return our names of the columns that the user says were measured on planes."""
    named = {name: at for name, at in (said.columns or {}).items() if measured_part(name)}
    lacking = [column for column in named.values() if column not in frame]
    if lacking:
        refuse(
            f"{where}, columns",
            ", ".join(map(str, frame.columns)),
            ", ".join(f"'{column}'" for column in lacking),
            remedy="Change weather.columns.",
        )
    return {column: name for name, column in named.items()}


def canonical_head(path: Path) -> dict[str, object]:
    """Return the facts of a file in our own plain form; none where it isn't one."""
    try:
        with path.open(encoding="utf-8") as stream:
            first = stream.readline(65_536)
        return dict(json.loads(first[len(_MAGIC) :])) if first.startswith(_MAGIC) else {}
    except (OSError, ValueError):
        return {}


def canonical_text(frame: pd.DataFrame, meta: dict[str, object]) -> str:
    """Return a weather table in our own plain form: one line of facts, then a CSV table.

    Parameters
    ----------
    frame : DataFrame
        Columns by pvlib's names, naive local index.
    meta : dict
        Facts: title, attribution, place, zone, sampling, wind height, typical.
    """
    table = frame.to_csv(index_label="time", date_format="%Y-%m-%dT%H:%M", lineterminator="\n")
    return f"{_MAGIC}{json.dumps(meta)}\n{table}"


def read_table(path: Path, said: Source) -> Read:
    """Read anybody's table, by the columns the user named; all questions are asked at once."""
    table, asked = _looked_into(path, said)
    asked = [*_unsaid(path.name, said), *asked]
    if asked:
        raise InputError(asked)
    times = table.times
    problems = [*table.time_problems, *_not_hourly(path.name, table)]
    if problems:
        raise InputError(problems)
    offset_s = utc_offset(said.zone, "weather.zone") if said.zone else 0
    if times.tz is None:
        index = (times - pd.Timedelta(seconds=offset_s)).tz_localize("UTC")
    else:
        index = times.tz_convert("UTC")
    place = (said.latitude or 0.0, said.longitude or 0.0, said.altitude_m or 0.0)
    return Read(
        table.values.set_axis(index, axis="index"),
        Station(*place, offset_s, said.wind_height_m or STATION_WIND_M, named=False),
        Sampling(said.sampling or "mean", said.label or "start", 0.0),
        False,
        path.name,
    )


def table_questions(path: Path, said: Source) -> list[Problem]:
    """Return what only a look into a table shows to be unclear.

    Parameters
    ----------
    path : Path
        The table.
    said : Source
        What the user says of it so far.

    Raises
    ------
    InputError
        If it can't be read at all.
    """
    table, asked = _looked_into(path, said)
    return asked or [*table.time_problems, *_not_hourly(path.name, table)]


def _looked_into(path: Path, said: Source) -> tuple[Table, list[Problem]]:
    """Return what was read of a table, and what its looks leave unclear."""
    typed = path.suffix.lower() in (".parquet", ".pq")
    columns = {name: column for name, column in (said.columns or {}).items() if column is not None}
    table = _typed_table(path, columns) if typed else csv_table(path, said, columns)
    asked = [*_lacking(path.name, said, columns, table.columns), *table.problems]
    if said.zone is None and not table.zoned:
        asked.append(
            Problem(
                path.name,
                "times without a time zone",
                "weather.zone, or times with an offset",
                remedy="Write zone: UTC+01:00 for a clock one hour ahead of UTC.",
            )
        )
    return table, asked


class Table(NamedTuple):
    """What was read of a table: all its columns' names, times and values, and what is asked."""

    columns: tuple[str, ...]
    zoned: bool = True
    times: pd.DatetimeIndex = pd.DatetimeIndex([])
    values: pd.DataFrame = pd.DataFrame()
    problems: tuple[Problem, ...] = ()
    time_problems: tuple[Problem, ...] = ()
    hourly: tuple[str, ...] = ()
    """Columns that state Wh/m2, which is W/m2 in hourly steps only."""


def _typed_table(path: Path, columns: dict[str, str]) -> Table:
    raw = pd.read_parquet(path)
    if columns.get("time") not in raw and raw.index.name == columns.get("time"):
        raw = raw.reset_index()
    names = tuple(map(str, raw.columns))
    if not columns or set(columns.values()) - set(names):
        return Table(names)
    numbers = {name: column for name, column in columns.items() if name not in ("time", "clock")}
    unclear = unit_problems(numbers, {}, path.name)
    if unclear:
        return Table(names, problems=tuple(unclear))
    times = TimeColumns(columns["time"], columns.get("clock"))
    return _split(path.name, names, raw, numbers, times, None)


def csv_table(path: Path, said: Source, columns: dict[str, str]) -> Table:
    """Read a CSV file with the fast reader, once it is known how it is written.

    Parameters
    ----------
    path : Path
        The file.
    said : Source
        Decimal sign, order of dates and encoding, where they can't be found.
    columns : dict of str to str
        Our name to the file's column, `time` among them; empty: only the names are read.

    Raises
    ------
    InputError
        For an encoding that isn't known; what else is unclear stands in the table's problems.
    """
    content = path.read_bytes()
    encoding = found_encoding(content, said.encoding, path.name)
    dialect = find_dialect(content, encoding, columns)
    present = {name: column for name, column in columns.items() if column in dialect.columns}
    numbers = {name: column for name, column in present.items() if name not in ("time", "clock")}
    decimal, grouped, unclear = find_decimal(
        dialect, list(numbers.values()), said.decimal, path.name
    )
    times = find_time_columns(dialect.cells(), present, path.name)
    unclear = [*times.problems, *unclear, *unit_problems(numbers, dialect.under(), path.name)]
    if times.date is None:
        return Table(dialect.columns, problems=tuple(unclear))
    where = f"{path.name}, {times.date}"
    samples = _time_samples(dialect, times.date, times.clock)
    dates = find_dates(samples, said.date_format, where)
    unclear = [*(() if times.problems else dates.problems), *unclear]
    if unclear or present != columns or not columns:
        return Table(dialect.columns, dates.zoned, problems=tuple(unclear))
    hourly = energy_columns(numbers, dialect.under())
    at = {column: dialect.columns.index(column) for column in numbers.values()}
    at |= {column: dialect.columns.index(column) for column in times.names()}
    raw = pd.read_csv(
        io.BytesIO(content),
        engine="c",
        sep=dialect.separator,
        decimal=decimal,
        thousands=grouped,
        encoding=encoding,
        skiprows=dialect.body_line,
        header=None,
        names=list(range(len(dialect.columns))),
        usecols=sorted(set(at.values())),
        dtype={at[column]: str for column in times.names()},
        index_col=False,
        comment="#",
        skipinitialspace=True,
        low_memory=False,
    )
    raw = raw.rename(columns={place: column for column, place in at.items()})
    return _split(path.name, dialect.columns, raw, numbers, times, dates)._replace(
        hourly=tuple(hourly)
    )


def _time_samples(dialect: Dialect, date: str, clock: str | None) -> list[str]:
    """Return some times as the file has them, date and time of day in one."""
    dates = dialect.samples(date)
    if clock is None:
        return dates
    both = joined(pd.Series(dates), pd.Series(dialect.samples(clock)))
    return both.dropna().tolist()


def _split(
    where: str,
    names: tuple[str, ...],
    raw: pd.DataFrame,
    numbers: dict[str, str],
    at: TimeColumns,
    dates: Dates | None,
) -> Table:
    """Part times from values."""
    spot = f"{where}, {at.date}"
    column = raw[at.date] if at.clock is None else joined(raw[at.date], raw[at.clock])
    if dates is None and not pd.api.types.is_datetime64_any_dtype(column.dtype):
        texts = column.astype("string").dropna()
        dates = find_dates(texts.iloc[:: max(len(texts) // 1000, 1)].tolist(), None, spot)
        if dates.problems:
            return Table(names, problems=dates.problems)
    times, problems = read_times(column, dates or Dates("", False, ()), spot)
    values = raw[list(numbers.values())].set_axis(list(numbers), axis="columns")
    zoned = times.tz is not None or bool(problems)
    return Table(names, zoned, times, values, time_problems=tuple(problems))


def _not_hourly(where: str, table: Table) -> Iterator[Problem]:
    """Give the problem of energies in steps that aren't hours."""
    step_s = pd.Series(table.times).diff().dt.total_seconds().median()
    if step_s == 3600.0:
        return
    for column in table.hourly:
        yield Problem(
            f"{where}, {column}",
            f"the unit Wh/m2 in steps of {step_s:g} s",
            "W/m2 (in hourly steps Wh/m2 is the same)",
            remedy=f"Multiply its values by {3600.0 / step_s:g}, and write W/m2 in place of the "
            "unit",
        )


def _lacking(
    where: str, said: Source, columns: dict[str, str], names: tuple[str, ...]
) -> Iterator[Problem]:
    shown = ", ".join(f"'{name}'" for name in names[:40])
    if said.columns is None:
        yield Problem(
            where,
            "no weather.columns",
            "which column holds what, such as columns: {time: Time, ghi: GHI, temp_air: T}",
            remedy=f"The file has the columns {shown}.",
        )
        return
    lacking = [column for column in columns.values() if column not in names]
    if lacking:
        close = nearest(lacking[0], names)
        yield Problem(
            f"{where}, columns",
            ", ".join(names[:40]),
            ", ".join(f"'{column}'" for column in lacking),
            remedy=f"Did you mean '{close}'?" if close else "Change weather.columns.",
        )
    if "temp_air" not in columns:
        yield Problem(
            f"{where}, columns",
            "no air temperature",
            "a column of air temperature in degC, as temp_air in weather.columns",
            remedy=f"The file has the columns {shown}.",
        )


def _unsaid(where: str, said: Source) -> Iterator[Problem]:
    """Give the questions that no look into the file answers."""
    if said.sampling == "mean" and said.label is None:
        yield Problem(where, "means without a label", "weather.label: start, middle or end")
    if said.sampling is None:
        yield Problem(
            where,
            "no weather.sampling",
            "sampling: mean (with label) or snapshot (with sun_offset_min)",
            cause="Half an hour of doubt moves an east plane by 5 % one way, a west the other",
        )
    if said.latitude is None or said.longitude is None:
        yield Problem(where, "no place", "latitude and longitude of the weather")
