"""The tables of a plan: one row a run, joined to the plan by the runs' names."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from math import prod
from typing import Any, NamedTuple

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.parquet as pq
import xarray as xr

from yieldkit.base.arrays import FloatArray
from yieldkit.base.files import table_text
from yieldkit.config.models.plan import Keep
from yieldkit.study.batch.combined import Dimension, Runs
from yieldkit.study.batch.rows import INPUT, LOSS, MADE, MONTH, UNITS, unit_of
from yieldkit.study.batch.run import Run
from yieldkit.study.simulation.loss_budget import STEPS
from yieldkit.study.simulation.period import MONTHS

NOT_COMPUTED = "not computed"
"""The status of a run that has no row yet."""
_ABOUT = ("status", "message", "permission")
_BEHIND = ("period", "site_sha256", "weather_sha256", "weather_title", "time_zone")
_OF_PARTS = ("changes", "hourly_variables")
_SPARSE = 4
"""A grid with more cells a run than this is written as a list of runs instead."""
_STACKED = {"month": (MONTH, MONTHS), "loss_step": (LOSS, STEPS)}


class Written(NamedTuple):
    """The tables of a plan as the bytes of their files."""

    parquet: bytes
    netcdf: bytes
    csv: bytes

    def files(self) -> dict[str, bytes]:
        """Return them by their file names."""
        return {"runs.parquet": self.parquet, "runs.nc": self.netcdf, "runs.csv": self.csv}


def written_tables(runs: Runs, rows: pa.Table, batch: str) -> Written:
    """Return the tables of a plan.

    Parameters
    ----------
    runs : Runs
        The plan's runs.
    rows : Table
        Rows by the names of runs, maybe of other plans too.
    batch : str
        An id that all three files bear.
    """
    plan_runs = tuple(runs)
    table = joined(runs, plan_runs, rows)
    told = {
        "batch": batch,
        "plan": runs.file.name,
        "runs": str(len(plan_runs)),
        "left_out": str(runs.left_out),
        "invented": json.dumps(any(base.site.invented for base in runs.bases)),
        "dimensions": json.dumps({each.name: list(each.coordinates) for each in runs.dimensions}),
    }
    sink = pa.BufferOutputStream()
    pq.write_table(table.replace_schema_metadata(told), sink, compression="zstd")
    frame = table.to_pandas()
    units = [unit_of(name) for name in frame.columns]
    grid = gridded(runs.dimensions, plan_runs, frame).assign_attrs(told)
    buffer = grid.to_netcdf(None, engine="h5netcdf")
    frame.columns = pd.Index(
        [
            f"{name} [{unit}]" if name.startswith((MONTH, LOSS, INPUT)) else name
            for name, unit in zip(frame.columns, units, strict=True)
        ]
    )
    return Written(sink.getvalue().to_pybytes(), bytes(buffer), table_text(frame).encode())


def joined(runs: Runs, plan_runs: Sequence[Run], rows: pa.Table) -> pa.Table:
    """Return one row for every run of a plan: its axes from the plan, its results by its name.

    Parameters
    ----------
    runs : Runs
        The plan.
    plan_runs : sequence of Run
        Its runs.
    rows : Table
        Rows by the names of runs.

    Returns
    -------
    Table
        A run without a row is "not computed", and like that of a failure its results are missing.
    """
    place = {name: at for at, name in enumerate(rows["run"].to_pylist())}
    found = rows.take(pa.array([place.get(run.name) for run in plan_runs], type=pa.int64()))
    columns: dict[str, pa.Array] = {"run": pa.array([run.name for run in plan_runs], pa.string())}
    for number, (axis, _) in enumerate(plan_runs[0].axes):
        columns[axis] = pa.array([run.axes[number][1] for run in plan_runs])
    columns["wiring"] = pa.array([run.wiring for run in plan_runs])
    about = {
        "site": [runs.bases[run.base].label for run in plan_runs],
        "weather": [run.weather_file.stem for run in plan_runs],
    }
    for name, values in about.items():
        if name not in columns:
            columns[name] = pa.array(values)
    for name in _chosen(found, runs.keep):
        kind = pa.float64() if unit_of(name) else pa.string()
        values = pa.nulls(len(plan_runs), kind)
        if name in found.column_names:
            values = found[name].combine_chunks()
        if name == "status":
            values = values.fill_null(NOT_COMPUTED)
        columns[f"result: {name}" if name in columns else name] = values
    fields = [
        pa.field(name, each.type, metadata={"unit": unit_of(name)} if unit_of(name) else None)
        for name, each in columns.items()
    ]
    return pa.Table.from_arrays(list(columns.values()), schema=pa.schema(fields))


def _chosen(found: pa.Table, keep: Keep) -> list[str]:
    """Return the columns of results that a plan keeps, in an order that no other run decides."""
    chosen = [*_ABOUT, *UNITS]
    chosen += [MONTH + month for month in MONTHS] if keep.monthly else []
    chosen += [LOSS + step for step in STEPS] if keep.loss_budget else []
    if keep.trackers:
        chosen += sorted(name for name in _used(found) if name.startswith(INPUT))
    made = sorted(name for name in _used(found) if name.startswith(MADE))
    return [*chosen, *_BEHIND, *_OF_PARTS, *made]


def _used(found: pa.Table) -> list[str]:
    """Return the columns in which one of the runs has something: other plans have others."""
    return [name for name in found.column_names if found[name].null_count < found.num_rows]


def gridded(
    dimensions: Sequence[Dimension], plan_runs: Sequence[Run], frame: pd.DataFrame
) -> xr.Dataset:
    """Return the runs' numbers along the plan's axes; what was left out is missing.

    Parameters
    ----------
    dimensions : sequence of Dimension
        The plan's directions.
    plan_runs : sequence of Run
        Its runs.
    frame : DataFrame
        Their rows, in the same order.

    Returns
    -------
    Dataset
        Axes as coordinates, those that go together along one dimension; of a plan that leaves
        out most of its combinations, all of them along the runs.
    """
    shape = tuple(dimension.size for dimension in dimensions)
    if prod(shape) > _SPARSE * len(plan_runs):
        axes = {name: ("run", frame[name].to_numpy()) for name, _ in plan_runs[0].axes}
        axes["wiring"] = ("run", frame["wiring"].to_numpy())
        dims: tuple[str, ...] = ("run",)
        places: tuple[Any, ...] = (np.arange(len(plan_runs)),)
        shape = (len(plan_runs),)
    else:
        axes = {
            column: (dimension.name, np.array(values))
            for dimension in dimensions
            for column, values in dimension.coordinates.items()
        }
        dims = tuple(dimension.name for dimension in dimensions)
        places = tuple(np.array([run.at for run in plan_runs]).T)
    variables: dict[str, Any] = {}
    for name in ("run", "status", "permission"):
        if name in frame:
            texts = np.full(shape, "", dtype=object)
            texts[places] = frame[name].fillna("").to_numpy()
            variables["name" if name == "run" else name] = (dims, texts)
    for name in frame.columns:
        if unit_of(name) and not name.startswith((MONTH, LOSS, INPUT)):
            variables[name] = (dims, _laid(frame[[name]], shape, places)[..., 0], _unit(name))
    coords: dict[str, Any] = dict(axes)
    for dim, (start, known) in _STACKED.items():
        names = [start + each for each in known if start + each in frame]
        if names:
            coords[dim] = [name.removeprefix(start) for name in names]
            what = "month_energy" if dim == "month" else "loss"
            variables[what] = ((*dims, dim), _laid(frame[names], shape, places), _unit(names[0]))
    inputs = [name for name in frame.columns if name.startswith(INPUT)]
    if inputs:
        coords["input"] = [name.removeprefix(INPUT) for name in inputs]
        values = _laid(frame[inputs], shape, places)
        variables["input_energy"] = ((*dims, "input"), values, _unit(inputs[0]))
    return xr.Dataset(variables, coords=coords)


def _laid(frame: pd.DataFrame, shape: tuple[int, ...], places: tuple[Any, ...]) -> FloatArray:
    laid = np.full((*shape, frame.shape[1]), np.nan)
    laid[places] = frame.to_numpy(dtype=float, na_value=np.nan)
    return laid


def _unit(name: str) -> Mapping[str, str]:
    return {"units": unit_of(name)}
