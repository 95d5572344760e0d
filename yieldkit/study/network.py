"""The network's voltage at the connection point, as the site file describes it."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd

from yieldkit.config.site import GridConnection
from yieldkit.physics import grid
from yieldkit.study.prepare import Prepared
from yieldkit.words.errors import refuse


def network_voltage(prepared: Prepared) -> np.ndarray:
    """Return the network's mean voltage at every step, without this plant [V] (time,).

    Parameters
    ----------
    prepared : Prepared
        Site and weather.

    Raises
    ------
    InputError
        If a measured series doesn't fit the weather's steps.
    """
    described = prepared.site.grid.network_voltage
    steps = prepared.weather.sizes["time"]
    if described.kind == "constant":
        return np.full(steps, described.voltage_v)
    if described.kind == "series":
        return _measured(prepared, steps)
    attrs = prepared.weather.attrs
    local = pd.DatetimeIndex(prepared.weather.indexes["time"]) + pd.Timedelta(
        seconds=attrs["utc_offset_s"] + attrs["interval_s"] / 2.0
    )
    mean = grid.modelled_voltage(
        np.asarray(local.hour + local.minute / 60.0, dtype=float),
        prepared.weather["ghi"].to_numpy(),
        described.voltage_v,
        described.daily_swing_v,
        described.load_term_v,
        described.neighbours_rise_v,
    )
    return mean + grid.correlated_noise(
        steps,
        attrs["interval_s"],
        described.noise_v,
        described.correlation_time_min,
        described.seed,
    )


def _measured(prepared: Prepared, steps: int) -> np.ndarray:
    described = prepared.site.grid.network_voltage
    path = Path(prepared.site.folder) / str(described.file)
    if described.file is None or not path.is_file():
        refuse(
            "grid.network_voltage.file",
            f"'{described.file}', which is not there",
            "a CSV file with one voltage a step of the weather",
        )
    table = pd.read_csv(path)
    column = described.column or str(table.columns[-1])
    if column not in table:
        refuse(
            "grid.network_voltage.column",
            f"'{column}'",
            "one of " + ", ".join(map(str, table.columns)),
        )
    values = table[column].to_numpy(dtype=float)
    if values.size != steps or np.isnan(values).any():
        refuse(
            f"{path.name}, {column}",
            f"{values.size} values, {int(np.isnan(values).sum())} of them missing",
            f"{steps} voltages, one a step of the weather",
        )
    return values


def within_step_spread(connection: GridConnection) -> float:
    """Return the spread of the voltage's 10-minute mean within a step [V]; zero if not modelled."""
    described = connection.network_voltage
    if described.kind != "modelled":
        return 0.0
    return grid.window_spread(described.noise_v, described.correlation_time_min)
