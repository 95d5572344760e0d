"""Results saved as NetCDF and CSV, whole or not at all."""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import xarray as xr

from yieldkit.study.compare import Comparison
from yieldkit.words.store import safe_name, write_dataset, write_json, write_table


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
        The NetCDF file with everything, an hourly CSV table in local standard time and a CSV
        table of the loss budget.
    """
    stem = safe_name(str(result.attrs["wiring"]))
    paths = (
        folder / f"{stem}.nc",
        folder / f"{stem}-hourly.csv",
        folder / f"{stem}-losses.csv",
    )
    write_dataset(paths[0], result)
    write_table(paths[1], hourly_table(result))
    write_table(paths[2], result["loss_budget"].to_dataframe().reset_index())
    return paths


def hourly_table(result: xr.Dataset) -> pd.DataFrame:
    """Return the series of a result as one flat table; units stand in the columns' names."""
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
        others = [dim for dim in variable.dims if dim != "time"]
        if not others:
            columns[f"{name} [{unit}]"] = variable.to_numpy()
            continue
        for label in variable[others[0]].to_numpy():
            column = variable.sel({others[0]: label}).to_numpy()
            columns[f"{name} {label} [{unit}]"] = column
    return pd.DataFrame(columns)


def save_comparison(comparison: Comparison, folder: Path) -> tuple[Path, ...]:
    """Save a comparison: each wiring's results, the table and the loss budgets.

    Parameters
    ----------
    comparison : Comparison
        What `compare` returned.
    folder : Path
        Where to; made if needed.

    Returns
    -------
    tuple of Path
        The files, with a manifest of their hashes written last.
    """
    paths = [folder / "comparison.csv", folder / "loss-budgets.csv", folder / "verdict.json"]
    hashes = {
        paths[0].name: write_table(paths[0], comparison.table),
        paths[1].name: write_table(paths[1], comparison.budgets.to_dataframe().reset_index()),
        paths[2].name: write_json(
            paths[2], {"best": comparison.best, "verdict": comparison.verdict}
        ),
    }
    for number, (name, result) in enumerate(comparison.results, start=1):
        path = folder / f"{number:02d}-{safe_name(name)}.nc"
        hashes[path.name] = write_dataset(path, result)
        paths.append(path)
    write_json(folder / "manifest.json", hashes)
    return (*paths, folder / "manifest.json")
