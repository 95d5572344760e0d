"""The tables of a plan: one row a run, joined to the plan by the runs' names, in slices."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from itertools import islice
from pathlib import Path
from typing import TextIO

import pandas as pd
import pyarrow as pa
import pyarrow.parquet as pq

from yieldkit.base.files import table_text
from yieldkit.study.batch.combined import WIRING, Runs
from yieldkit.study.batch.grids import Grid
from yieldkit.study.batch.row_columns import INPUT, LOSS, MADE, MONTH, UNITS, unit_of
from yieldkit.study.batch.run import Run
from yieldkit.study.batch.store import FAILED
from yieldkit.study.simulation.budget_steps import STEPS, left_out
from yieldkit.study.simulation.period import MONTHS

NOT_COMPUTED = "not computed"
"""The status of a run that has no row yet."""
NAMES = ("runs.parquet", "runs.nc", "runs.csv")
_ABOUT = ("status", "message", "permission")
_BEHIND = ("period", "site_sha256", "weather_sha256", "weather_title", "time_zone")
_OF_PARTS = ("changes", "hourly_variables")
_SLICE = 2_000
"""Runs that are put together and written at a time: a table may hold millions of them."""
_TEXT_ROWS = 200
"""Rows that are made text at a time."""


def write_tables(runs: Runs, rows: pa.Table, batch: str, folder: str | Path) -> int:
    """Write the tables of a plan.

    Parameters
    ----------
    runs : Runs
        The plan's runs.
    rows : Table
        Rows by the names of runs, maybe of other plans too.
    batch : str
        An id that all three files bear.
    folder : str or Path
        Where `NAMES` are written.

    Returns
    -------
    int
        How many of the runs failed.
    """
    told = {
        "batch": batch,
        "plan": runs.file.name,
        "runs": str(len(runs)),
        "left_out": str(runs.left_out),
        "lacking": ", ".join(left_out(*(base.site for base in runs.bases))),
        "invented": json.dumps(any(base.site.invented for base in runs.bases)),
        "dimensions": json.dumps({each.name: list(each.coordinates) for each in runs.dimensions}),
    }
    joining = Joining(runs, rows)
    grid = Grid(runs, joining.schema.names)
    parquet, netcdf, csv = (Path(folder) / name for name in NAMES)
    failed = 0
    schema = joining.schema.with_metadata(told)
    with (
        # A file of ours, so that a full disk is told as by any other.
        parquet.open("wb") as binary,
        pq.ParquetWriter(binary, schema, compression="zstd") as writer,
        csv.open("w", encoding="utf-8", newline="") as text,
    ):
        for plan_runs in slices(runs):
            table = joining.rows_of(plan_runs)
            writer.write_table(table.replace_schema_metadata(told))
            frame = table.to_pandas()
            failed += int((frame["status"] == FAILED).sum())
            grid.put(plan_runs, frame)
            _write_text(text, frame)
    netcdf.write_bytes(grid.dataset().assign_attrs(told).to_netcdf(None, engine="h5netcdf"))
    return failed


def slices(runs: Runs) -> Iterator[tuple[Run, ...]]:
    """Give the runs in the order of the plan, some of them at a time."""
    every = iter(runs)
    while chosen := tuple(islice(every, _SLICE)):
        yield chosen


def _write_text(text: TextIO, frame: pd.DataFrame) -> None:
    """Write rows for spreadsheets, the first ones below their head."""
    frame.columns = pd.Index(
        [
            f"{name} [{unit_of(name)}]" if name.startswith((MONTH, LOSS, INPUT)) else name
            for name in frame.columns
        ]
    )
    for begin in range(0, len(frame), _TEXT_ROWS):
        head, _, body = table_text(frame.iloc[begin : begin + _TEXT_ROWS]).partition("\n")
        text.write(body if text.tell() else f"{head}\n{body}")


class Joining:
    """A plan's runs joined to rows by their names: axes from the plan, results from the rows.

    A run without a row is "not computed", and like that of a failure its results are missing.

    Parameters
    ----------
    runs : Runs
        The plan.
    rows : Table
        Rows by the names of runs.
    """

    def __init__(self, runs: Runs, rows: pa.Table):
        self._runs, self._rows = runs, rows
        self._place = {name: at for at, name in enumerate(rows["run"].to_pylist())}
        self._about = self._about_runs()
        self._results = self._chosen()
        fields = [pa.field(name, kind) for name, kind in self._about.items()]
        for name in self._results:
            unit = unit_of(name)
            kind = pa.float64() if unit else pa.string()
            known = f"result: {name}" if name in self._about else name
            fields.append(pa.field(known, kind, metadata={"unit": unit} if unit else None))
        self.schema = pa.schema(fields)

    def rows_of(self, plan_runs: Sequence[Run]) -> pa.Table:
        """Return one row for each of some runs."""
        chosen = pa.array([self._place.get(run.name) for run in plan_runs], type=pa.int64())
        found = self._rows.take(chosen)
        values = self._values(plan_runs)
        arrays = [pa.array(values[name], type=kind) for name, kind in self._about.items()]
        for name in self._results:
            kind = pa.float64() if unit_of(name) else pa.string()
            column = pa.nulls(len(plan_runs), kind)
            if name in found.column_names:
                column = found[name].combine_chunks().cast(kind)
            arrays.append(column.fill_null(NOT_COMPUTED) if name == "status" else column)
        return pa.Table.from_arrays(arrays, schema=self.schema)

    def _about_runs(self) -> dict[str, pa.DataType]:
        """Return the columns that tell what a run is, with their types."""
        found = {"run": pa.string()}
        for dimension in self._runs.dimensions:
            for name, values in dimension.coordinates.items():
                found[name] = pa.array(list(values)).type
        found[WIRING] = pa.string()
        found.setdefault("site", pa.string())
        found.setdefault("weather", pa.string())
        return found

    def _values(self, plan_runs: Sequence[Run]) -> Mapping[str, list[object]]:
        found: dict[str, list[object]] = {
            "site": [self._runs.bases[run.base].label for run in plan_runs],
            "weather": [run.weather_file.stem for run in plan_runs],
            "run": [run.name for run in plan_runs],
            WIRING: [run.wiring for run in plan_runs],
        }
        for number, (name, _) in enumerate(plan_runs[0].axes):
            found[name] = [run.axes[number][1] for run in plan_runs]
        return found

    def _chosen(self) -> list[str]:
        """Return the columns of results that the plan keeps, in an order no other run decides."""
        keep = self._runs.keep
        chosen = [*_ABOUT, *UNITS]
        chosen += [MONTH + month for month in MONTHS] if keep.monthly else []
        chosen += [LOSS + step for step in STEPS] if keep.loss_budget else []
        starts = (INPUT, MADE) if keep.trackers else (MADE,)
        maybe = sorted(name for name in self._rows.column_names if name.startswith(starts))
        used = self._used(maybe)
        chosen += [name for name in used if name.startswith(INPUT)]
        return [*chosen, *_BEHIND, *_OF_PARTS, *(name for name in used if name.startswith(MADE))]

    def _used(self, maybe: Sequence[str]) -> list[str]:
        """Return the columns in which one of the runs has something: other plans have others."""
        used: set[str] = set()
        for plan_runs in slices(self._runs):
            chosen = pa.array([self._place.get(run.name) for run in plan_runs], type=pa.int64())
            found = self._rows.select(maybe).take(chosen)
            used |= {name for name in maybe if found[name].null_count < found.num_rows}
            if len(used) == len(maybe):
                break
        return [name for name in maybe if name in used]
