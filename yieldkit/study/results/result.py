"""A simulated wiring saved: everything as NetCDF, its steps and losses as CSV."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import xarray as xr

from yieldkit.base.arrays import FloatArray
from yieldkit.base.files import hashed_name, read_dataset, write_dataset, write_table
from yieldkit.base.staging import staged
from yieldkit.config.site.site import Site
from yieldkit.study.results.origin import refuse_other
from yieldkit.study.simulation.provenance import provenance
from yieldkit.study.simulation.weather import site_weather

LOSSES = "-losses.csv"
"""How the name of a wiring's table of losses ends."""


def save_result(result: xr.Dataset, folder: str | Path, run: str | None = None) -> tuple[Path, ...]:
    """Save a simulated wiring.

    Parameters
    ----------
    result : Dataset
        What `simulate` returned.
    folder : str or Path
        Where to; made if needed.
    run : str, optional
        The run's id; a new one if left out.

    Returns
    -------
    tuple of Path
        The NetCDF file with everything, a CSV table of every step in local standard time and a
        CSV table of the loss budget; their names end in a short hash of the wiring's name.
    """
    with staged(folder, result_kind(str(result.attrs["wiring"])), run=run) as stage:
        write_result(result, stage.folder, stage.run)
        return stage.put()[:-1]


def result_kind(wiring: str) -> str:
    """Return the kind of run under which a wiring's results are saved."""
    return hashed_name(wiring)


def write_result(result: xr.Dataset, folder: Path, run: str) -> None:
    """Write a wiring's files under the id of a run."""
    stem = hashed_name(str(result.attrs["wiring"]))
    losses = result["loss_budget"].to_dataframe().reset_index()
    write_dataset(folder / f"{stem}.nc", result.assign_attrs(run=run))
    write_table(folder / f"{stem}-series.csv", hourly_table(result).assign(run=run))
    write_table(folder / f"{stem}{LOSSES}", losses.assign(run=run))


def hourly_table(result: xr.Dataset) -> pd.DataFrame:
    """Return the series of a result as one flat table; units stand in the columns' names.

    Plain numbers have none, and codes stand as words. An inverter is named where there are several.
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
        suffix = "" if unit == "1" else f" [{unit}]"
        others = [dim for dim in variable.dims if dim != "time"]
        values = _decoded(variable.transpose("time", *others))
        if others == ["inverter"] and variable.sizes["inverter"] == 1:
            others, values = [], values[:, 0]
        if not others:
            columns[f"{name}{suffix}"] = values
            continue
        for place, label in enumerate(variable[others[0]].to_numpy()):
            columns[f"{name} {label}{suffix}"] = values[:, place]
    return pd.DataFrame(columns)


def _decoded(variable: xr.DataArray) -> FloatArray:
    """Return a variable's values; codes as the words they stand for."""
    values = variable.to_numpy()
    if "flag_meanings" not in variable.attrs:
        return values
    meanings = str(variable.attrs["flag_meanings"]).split()
    codes = np.atleast_1d(variable.attrs["flag_values"])
    named = np.empty(values.shape, dtype=object)
    for code, word in zip(codes, meanings, strict=True):
        named[values == code] = word.replace("_", " ")
    return named


def saved_result(
    folder: str | Path, wiring: str, site: Site | None = None, weather: xr.Dataset | None = None
) -> xr.Dataset:
    """Return a simulated wiring that was saved.

    Parameters
    ----------
    folder : str or Path
        Where it was saved.
    wiring : str
        Its name.
    site : Site, optional
        The site it has to be of; any if left out.
    weather : Dataset, optional
        Canonical weather it has to be of; the site's own if left out.

    Raises
    ------
    InputError
        For a file that isn't as it was written, or the result of something else.
    """
    path = Path(folder) / f"{hashed_name(wiring)}.nc"
    result = read_dataset(path)
    wanted: dict[str, str | int | float] = {"wiring": wiring}
    if site is not None:
        wanted |= provenance(site, site_weather(site) if weather is None else weather)
    refuse_other(path, result.attrs, wanted)
    return result
