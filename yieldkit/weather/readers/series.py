"""One column of numbers over time, from anybody's CSV file."""

from __future__ import annotations

from pathlib import Path

import pandas as pd

from yieldkit.base.errors import InputError, nearest, refuse
from yieldkit.base.time_zones import utc_offset, wall_clock
from yieldkit.weather.readers.source import Source
from yieldkit.weather.readers.tables import csv_table


def read_series(
    path: Path,
    time: str | None,
    column: str | None,
    key: str,
    label: str,
    zone: str,
    wall: bool | None = None,
) -> pd.Series:
    """Read a series by its times.

    Parameters
    ----------
    path : Path
        A CSV file, written as any spreadsheet does.
    time, column : str or None
        The columns of times and of values; by default the first and the last.
    key : str
        Key of the site file that describes it, for errors.
    label : str
        "start", "middle" or "end": which part of its step a time marks.
    zone : str
        Zone of the times, where they carry none.
    wall : bool or None
        Whether they are then those of a clock on the wall, with summer time; None where the site
        file has no key that says so.

    Returns
    -------
    Series
        Values at the starts of their steps, naive UTC, sorted.

    Raises
    ------
    InputError
        If a column isn't there, times or numbers can't be read, times are doubled or fewer than
        two, or values are missing.
    """
    names = csv_table(path, Source(), {}).columns
    chosen = {"time": time or names[0], "value": column or names[-1]}
    for part, name in (("time", chosen["time"]), ("column", chosen["value"])):
        if name not in names:
            close = nearest(name, names)
            refuse(
                f"{key}.{part}",
                f"'{name}'",
                "one of " + ", ".join(names[:40]),
                remedy=f"Did you mean '{close}'?" if close else "",
            )
    if chosen["time"] == chosen["value"]:
        refuse(
            path.name,
            f"one column, '{names[0]}'",
            "a column of times and one of values",
            cause="A series is joined by its times, not by its rows.",
        )
    table = csv_table(path, Source(), chosen)
    problems = [*table.problems, *table.time_problems]
    if problems:
        raise InputError(problems)
    values = pd.to_numeric(table.values["value"], errors="coerce")
    times = table.times
    if times.tz is None and wall:
        index = _from_wall_clock(times, zone, key, f"{path.name}, {chosen['time']}")
    elif times.tz is None:
        index = times - pd.Timedelta(seconds=utc_offset(zone, f"{key}.zone"))
    else:
        index = times.tz_convert("UTC").tz_localize(None)
    series = values.set_axis(index, axis="index").rename(chosen["value"])
    wanted = f"Write {key}.clock: wall, and the zone by its name" if wall is False else ""
    _refuse_gaps(series, f"{path.name}, {chosen['value']}", wanted)
    series = series.sort_index()
    share = {"start": 0.0, "middle": 0.5, "end": 1.0}[label]
    step = pd.Series(series.index).diff().median()
    return series.set_axis(series.index - share * step, axis="index")


def _from_wall_clock(times: pd.DatetimeIndex, zone: str, key: str, where: str) -> pd.DatetimeIndex:
    """Return naive UTC of a clock that skips an hour in spring and repeats one in autumn.

    Where an hour is there twice the first one is that of summer time; where once, it is it too.
    """
    clock = wall_clock(zone, f"{key}.zone")
    again = times.duplicated()
    local = times.tz_localize(clock, ambiguous=~again, nonexistent="NaT")
    skipped = times[local.isna()].dropna()
    if len(skipped):
        refuse(
            where,
            f"{skipped[0]:%Y-%m-%d %H:%M}, which a clock on the wall skips in spring",
            "times that such a clock shows",
            cause="Standard time all year?",
            remedy=f"Write {key}.clock: standard",
        )
    return local.tz_convert("UTC").tz_localize(None)


def _refuse_gaps(series: pd.Series, where: str, wanted: str) -> None:
    empty = series.index.isna() | series.isna().to_numpy()
    if empty.any() or len(series) < 2:
        first = int(empty.argmax()) + 1 if empty.any() else len(series)
        refuse(
            where,
            f"{len(series)} values, {int(empty.sum())} of them missing or no number, the first in "
            f"row {first} of the table",
            "a number and a time in every row",
        )
    doubled = series.index[series.index.duplicated()]
    if len(doubled):
        refuse(
            where,
            f"{len(doubled)} times twice, the first {doubled[0]:%Y-%m-%d %H:%M} UTC",
            "each time once",
            cause=_why_doubled(series),
            remedy=wanted,
        )


def _why_doubled(series: pd.Series) -> str:
    times = len(series) / series.index.nunique()
    if times >= 2.0 and times == round(times):
        return f"Steps of a part of an hour, {times:.0f} of them, written with the same time?"
    return "A clock with daylight saving?"
