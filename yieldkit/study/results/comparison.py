"""Results saved as NetCDF and CSV, every file of a run with its id, whole or not at all."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import xarray as xr

from yieldkit.base.arrays import FloatArray
from yieldkit.base.errors import refuse
from yieldkit.base.files import (
    own_name,
    read_dataset,
    safe_name,
    write_dataset,
    write_json,
    write_table,
)
from yieldkit.base.staging import staged
from yieldkit.config.site.site import Site
from yieldkit.study.comparison.compare import Comparison, compared
from yieldkit.study.simulation.prepare import prepare
from yieldkit.study.simulation.provenance import provenance
from yieldkit.study.simulation.weather import site_weather

COMPARE = "compare"
COMPARE_PAGE = "compare_wirings.html"
"""Kind of run and name of the report under which comparisons are saved."""


def save_result(result: xr.Dataset, folder: Path) -> tuple[Path, ...]:
    """Save a simulated wiring.

    Parameters
    ----------
    result : Dataset
        What `simulate` returned.
    folder : Path
        Where to; made if needed.

    Returns
    -------
    tuple of Path
        The NetCDF file with everything, a CSV table of every step in local standard time and a
        CSV table of the loss budget; their names end in a short hash of the wiring's name.
    """
    with staged(folder, result_kind(str(result.attrs["wiring"]))) as stage:
        write_result(result, stage.folder, stage.run)
        return stage.put()[:-1]


def result_kind(wiring: str) -> str:
    """Return the kind of run under which a wiring's results are saved."""
    return own_name(wiring)


def write_result(result: xr.Dataset, folder: Path, run: str) -> None:
    """Write a wiring's files under the id of a run."""
    stem = own_name(str(result.attrs["wiring"]))
    losses = result["loss_budget"].to_dataframe().reset_index()
    write_dataset(folder / f"{stem}.nc", result.assign_attrs(run=run))
    write_table(folder / f"{stem}-series.csv", hourly_table(result).assign(run=run))
    write_table(folder / f"{stem}-losses.csv", losses.assign(run=run))


def hourly_table(result: xr.Dataset) -> pd.DataFrame:
    """Return the series of a result as one flat table; units stand in the columns' names.

    Plain numbers have none, and codes stand as words.
    """
    offset = pd.Timedelta(seconds=int(result.attrs["utc_offset_s"]))
    local = pd.DatetimeIndex(result.indexes["time"]) + offset
    columns: dict[str, object] = {
        f"start of step (local standard time, {result.attrs['time_zone']})": local.strftime(
            "%Y-%m-%dT%H:%M:%S"
        )
    }
    for name, variable in result.data_vars.items():
        if "time" not in variable.dims:
            continue
        unit = variable.attrs.get("units", "1")
        behind = "" if unit == "1" else f" [{unit}]"
        others = [dim for dim in variable.dims if dim != "time"]
        values = _in_words(variable.transpose("time", *others))
        if not others:
            columns[f"{name}{behind}"] = values
            continue
        for place, label in enumerate(variable[others[0]].to_numpy()):
            columns[f"{name} {label}{behind}"] = values[:, place]
    return pd.DataFrame(columns)


def _in_words(variable: xr.DataArray) -> FloatArray:
    """Return a variable's values; codes as the words they stand for."""
    values = variable.to_numpy()
    if "flag_meanings" not in variable.attrs:
        return values
    words = str(variable.attrs["flag_meanings"]).split()
    codes = np.atleast_1d(variable.attrs["flag_values"])
    named = np.empty(values.shape, dtype=object)
    for code, word in zip(codes, words, strict=True):
        named[values == code] = word.replace("_", " ")
    return named


def save_comparison(
    comparison: Comparison, folder: Path, run: str | None = None
) -> tuple[Path, ...]:
    """Save a comparison: each wiring's results, the table and the loss budgets.

    Parameters
    ----------
    comparison : Comparison
        What `compare` returned.
    folder : Path
        Where to; made if needed. What only an earlier comparison had there is taken away.
    run : str, optional
        The run's id; a new one if left out.

    Returns
    -------
    tuple of Path
        The files, and a manifest with the run's id and their hashes.
    """
    with staged(folder, COMPARE, (COMPARE_PAGE,), run) as stage:
        write_comparison(comparison, stage.folder, stage.run)
        return stage.put()


def write_comparison(comparison: Comparison, folder: Path, run: str) -> None:
    """Write a comparison's files under the id of a run."""
    budgets = comparison.budgets.to_dataframe().reset_index()
    write_table(folder / "comparison.csv", comparison.table.assign(run=run))
    write_table(folder / "loss-budgets.csv", budgets.assign(run=run))
    write_json(
        folder / "verdict.json",
        {"best": comparison.best, "verdict": comparison.verdict, "run": run},
    )
    for number, (name, result) in enumerate(comparison.results):
        write_dataset(folder / _file_name(number, name), result.assign_attrs(run=run))


def saved_comparison(folder: str | Path, site: Site) -> Comparison:
    """Return a comparison that was saved, without simulating anything again.

    Parameters
    ----------
    folder : str or Path
        Where it was saved.
    site : Site
        The site that was compared.

    Raises
    ------
    InputError
        For files that aren't as they were written, or results of something else.
    """
    weather = site_weather(site)
    made_from = provenance(site, weather)
    results = []
    for number, wiring in enumerate(site.wirings):
        path = Path(folder) / _file_name(number, wiring.name)
        result = read_dataset(path)
        own = {**made_from, "wiring": wiring.name}
        if any(result.attrs.get(key) != value for key, value in own.items()):
            refuse(
                str(path),
                "the result of another site, weather or version",
                "the result of what is asked",
                remedy="Compare again.",
            )
        results.append((wiring.name, result))
    return compared(site, prepare(site, weather), results)


def _file_name(number: int, wiring: str) -> str:
    return f"{number + 1:02d}-{safe_name(wiring)}.nc"
