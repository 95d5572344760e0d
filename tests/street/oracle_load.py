"""A second opinion on a building's load: the same day and clock, whatever the year."""

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
    return np.array(
        [
            [by_clock[(at + k * fine).strftime("%m-%d %H:%M")] for k in range(step // fine)]
            for at in local
        ]
    )
