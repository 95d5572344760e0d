"""A log brought to longer steps, those of weather that has no shorter ones."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import xarray as xr

from yieldkit.study.logs.plant_log import PlantLog


def coarser(log: PlantLog, weather: xr.Dataset) -> PlantLog:
    """Return a log in the steps of weather: means of steps that are all there.

    Parameters
    ----------
    log : PlantLog
        The log.
    weather : Dataset
        Weather whose steps are a whole number of the log's.

    Returns
    -------
    PlantLog
        Without weather of its own. A step of which a part is left out is left out for the reason
        of that part, the last of `REASONS` where there are several.
    """
    step_s, own_s = (float(each.attrs["interval_s"]) for each in (weather, log.data))
    count = round(step_s / own_s)
    times = pd.DatetimeIndex(log.data.indexes["time"])
    first = pd.DatetimeIndex(weather.indexes["time"])[0]
    at = np.floor((times - first).total_seconds().to_numpy() / step_s).astype(np.int64)
    steps, begins, sizes = np.unique(at, return_index=True, return_counts=True)
    whole = np.flatnonzero(sizes == count)
    rows = begins[whole][:, None] + np.arange(count)
    variables = {}
    for name, variable in log.data.data_vars.items():
        parts = variable.transpose("time", ...).to_numpy()[rows]
        values = parts.max(axis=1) if name == "left_out" else parts.mean(axis=1)
        dims = ("time", *(dim for dim in variable.dims if dim != "time"))
        variables[name] = (dims, values, variable.attrs)
    starts = first + pd.to_timedelta(steps[whole] * step_s, unit="s")
    coords = {str(name): own for name, own in log.data.coords.items() if name != "time"}
    data = xr.Dataset(variables, {**coords, "time": starts}, log.data.attrs)
    remark = (
        f"The weather has steps of {step_s / 60.0:g} min: {count} of the log's make one, where "
        "all of them are there."
    )
    data = data.assign_attrs(interval_s=step_s)
    return replace(log, data=data, weather=None, remarks=(*log.remarks, remark))
