"""A second opinion on a building's load: the nearest like day and the same clock, in any year."""

import numpy as np
import pandas as pd


def load(site: dict, table: pd.DataFrame) -> np.ndarray:
    """Return the load behind the meter [W] (time, part of the step).

    Parameters
    ----------
    site : dict
        The site file; a series has its readings beside it under `load`.
    table : DataFrame
        Its weather, with `offset_h` and, of a measured load, its `load` among the attributes: a
        series by the local clock, rows at the start of each step.
    """
    grid = site["grid"]
    told = grid.get("load", {"kind": "constant", "power_w": grid.get("load_w", 0.0)})
    local = table.index.tz_convert(None) + pd.Timedelta(hours=table.attrs["offset_h"])
    if told["kind"] == "constant":
        return np.full((local.size, 1), float(told["power_w"]))
    step = local[1] - local[0]
    if told["kind"] == "day":
        assert step == pd.Timedelta("1h"), "finer weather is not foreseen here"
        return np.array(told["hours_w"], dtype=float)[local.hour][:, None]
    measured = table.attrs["load"]
    by_clock = dict(zip(measured.index.strftime("%m-%d %H:%M"), measured, strict=True))
    fine = measured.index[1] - measured.index[0]
    year = measured.index[0].year
    days = {each: _like_day(each, year) for each in local.normalize().unique()}
    return np.array(
        [
            [by_clock[f"{days[at.normalize()]} {at + k * fine:%H:%M}"] for k in range(step // fine)]
            for at in local
        ]
    )


def _like_day(day: pd.Timestamp, year: int) -> str:
    """Return month and day of the nearest date of a year that has the day's name."""
    same = pd.Timestamp(year, day.month, min(day.day, 28 if day.month == 2 else 31))
    for away in (0, 1, -1, 2, -2, 3, -3):
        near = same + pd.Timedelta(days=away)
        if near.day_name() == day.day_name():
            return f"{near:%m-%d}"
    raise AssertionError(day)
