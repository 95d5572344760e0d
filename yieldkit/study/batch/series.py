"""Series of runs, every step of the weather: one row for each variable and what it is of."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
import pyarrow as pa
import xarray as xr

_FIELDS = (
    ("run", pa.string()),
    ("variable", pa.string()),
    ("of", pa.string()),
    ("unit", pa.string()),
    ("start", pa.string()),
    ("interval_s", pa.float64()),
    ("values", pa.list_(pa.float64())),
)


def series_of(results: Sequence[tuple[str, xr.Dataset]]) -> pa.Table:
    """Return series of runs as a table.

    Parameters
    ----------
    results : sequence of (str, Dataset)
        Run and its variables by time, those of planes, inputs, strings or inverters beside one
        another.

    Returns
    -------
    Table
        Run, variable, what it is of, unit, the first step's start (UTC), its length, and a value
        for every step.
    """
    rows = [row for name, result in results for row in _rows(name, result)]
    arrays = [pa.array([row[at] for row in rows], kind) for at, (_, kind) in enumerate(_FIELDS)]
    return pa.Table.from_arrays(arrays, names=[name for name, _ in _FIELDS])


def _rows(name: str, result: xr.Dataset) -> Iterator[tuple[object, ...]]:
    times = result["time"].to_numpy()
    start = np.datetime_as_string(times[0], unit="s")
    interval = float(result.attrs["interval_s"])
    for variable in result.data_vars:
        values = result[variable]
        unit = values.attrs["units"]
        others = [dim for dim in values.dims if dim != "time"]
        data = values.transpose(*others, "time").to_numpy().astype(float)
        labels = values[others[0]].to_numpy() if others else [""]
        for label, one in zip(labels, data.reshape(len(labels), -1), strict=True):
            yield name, str(variable), str(label), unit, str(start), interval, one
