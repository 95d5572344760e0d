"""Files of several invented years of one place: the shipped year's days, brighter or darker."""

import json
from functools import cache

import pandas as pd

from yieldkit.base.shipped import shipped


@cache
def shipped_year():
    """Return the shipped typical year by its local clock, and what its first line tells."""
    path = shipped("weather", "typical-year-45n-8e.csv")
    head = path.read_text(encoding="utf-8").split("\n", 1)[0].split(":", 1)[1]
    return pd.read_csv(path, comment="#", index_col="time", parse_dates=True), json.loads(head)


def year_table(year, brighter=1.0):
    """Return the days of a year; 29 February is the day before once more."""
    table, _ = shipped_year()
    index = pd.date_range(f"{year}-01-01", f"{year + 1}-01-01", freq="h", inclusive="left")
    like = [
        f"2018-02-28T{at:%H}:00" if (at.month, at.day) == (2, 29) else f"2018-{at:%m-%dT%H}:00"
        for at in index
    ]
    found = table.loc[pd.DatetimeIndex(like)].set_axis(index, axis="index")
    return found.assign(**{name: found[name] * brighter for name in ("ghi", "dni", "dhi")})


def put_year(folder, year, brighter=1.0, gone=(), name=None, columns=(), **facts):
    """Write a year into a folder; `gone` are rows to leave out, as (from, to) by the local clock.

    Returns
    -------
    str
        The file's name.
    """
    return put_table(
        folder, year_table(year, brighter), gone, name or f"{year}.csv", columns, facts
    )


def put_table(folder, table, gone=(), name="years.csv", without=(), facts=None):
    """Write a table in the plain form of our own."""
    for begin, end in gone:
        away = (table.index >= pd.Timestamp(begin)) & (table.index < pd.Timestamp(end))
        table = table[~away]
    head = {**shipped_year()[1], "title": "Invented years", "typical": False, **(facts or {})}
    rows = table.drop(columns=list(without)).to_csv(
        index_label="time", date_format="%Y-%m-%dT%H:%M"
    )
    (folder / name).write_text(f"# canonical weather: {json.dumps(head)}\n{rows}")
    return name
