"""Estimates saved: everything as NetCDF, what people read as JSON and CSV."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pandas as pd
import xarray as xr

from yieldkit.base.files import read_dataset, write_dataset, write_json
from yieldkit.base.staging import staged
from yieldkit.config.site.site import Site
from yieldkit.study.estimate.result import Estimate
from yieldkit.study.results.named_tables import tables_content, write_tables
from yieldkit.study.results.origin import refuse_other
from yieldkit.study.simulation.provenance import provenance
from yieldkit.study.simulation.weather import site_weather

ESTIMATE = "estimate"
ESTIMATE_PAGES = ("estimate.html", "offer.html", "offer.pdf")
"""Kind of run under which estimates are saved, and names of the reports of one."""
ESTIMATE_FILE = "estimate.nc"
_TEXTS = (
    "assumptions",
    "sentences",
    "versions",
    "coverage_by_month",
    "ages_run",
    "offer",
    "price_assumptions",
)
"""Attributes that hold JSON."""


def save_estimate(
    estimate: Estimate, folder: str | Path, run: str | None = None
) -> tuple[Path, ...]:
    """Save an estimate.

    Parameters
    ----------
    estimate : Estimate
        What `estimate` returned.
    folder : str or Path
        Where to; made if needed.
    run : str, optional
        The run's id; a new one if left out.

    Returns
    -------
    tuple of Path
        The files, and a manifest with the run's id and their hashes.
    """
    with staged(folder, ESTIMATE, ESTIMATE_PAGES, run) as stage:
        write_estimate(estimate, stage.folder, stage.run)
        return stage.put()


def write_estimate(estimate: Estimate, folder: Path, run: str) -> None:
    """Write an estimate's files under the id of a run."""
    write_dataset(folder / ESTIMATE_FILE, estimate.data.assign_attrs(run=run))
    write_json(folder / "estimate.json", {**_content(estimate), "run": run})
    write_tables(tables_of(estimate), ESTIMATE, folder, run)


def tables_of(estimate: Estimate) -> dict[str, pd.DataFrame]:
    """Return an estimate's tables by their names, units in the heads.

    Parameters
    ----------
    estimate : Estimate
        The estimate.
    """
    shares = estimate.contributions.rename(columns={"saved": "saved_kwh"})
    tables = {
        "bands": _in_kwh(estimate.bands, "energy a year"),
        "months": _in_kwh(estimate.months, "month"),
        "years": _in_kwh(estimate.by_year, "year of life"),
        "contributions": shares.reset_index(),
        "way": estimate.way.reset_index(),
        "losses": estimate.losses.reset_index(),
        "yields": estimate.yields.rename("value").reset_index(),
    }
    if estimate.house is not None:
        tables["house"] = estimate.house.rename_axis("first year").reset_index()
    money = estimate.money
    if money is not None:
        flows = money.by_year
        heads = {name: f"{name} [{money.currency}]" for name in flows.columns}
        tables |= {
            "money": money.table.rename_axis("figure").reset_index(),
            "cash-flow": flows.rename(columns=heads).reset_index(),
            "prices": pd.DataFrame(money.assumptions, columns=["assumption", "value"]),
        }
    return tables


def _in_kwh(table: pd.DataFrame, rows: str) -> pd.DataFrame:
    named = table.rename(columns={name: f"{name} [kWh]" for name in table.columns})
    return named.rename_axis(rows).reset_index()


def _content(estimate: Estimate) -> dict[str, Any]:
    """Return an estimate as plain values for JSON."""
    attrs: dict[str, Any] = dict(estimate.data.attrs)
    attrs |= {name: json.loads(attrs[name]) for name in _TEXTS if attrs.get(name)}
    return {
        "likely_kwh": estimate.likely_kwh,
        "cautious_kwh": estimate.cautious_kwh,
        "nominal_kwh": estimate.nominal_kwh,
        **tables_content(tables_of(estimate)),
        "about": attrs,
    }


def saved_estimate(
    folder: str | Path, site: Site | None = None, weather: xr.Dataset | None = None
) -> Estimate:
    """Return an estimate that was saved, without drawing anything again.

    Parameters
    ----------
    folder : str or Path
        Where it was saved.
    site : Site, optional
        The site it has to be of; any if left out.
    weather : Dataset, optional
        Canonical weather it has to be of; the site's own if left out.

    Raises
    ------
    InputError
        For a file that isn't as it was written, or an estimate of something else.
    """
    path = Path(folder) / ESTIMATE_FILE
    data = read_dataset(path)
    wanted: dict[str, str | int | float] = {}
    if site is not None:
        wanted = provenance(site, site_weather(site) if weather is None else weather)
    refuse_other(path, data.attrs, wanted)
    return Estimate(data)
