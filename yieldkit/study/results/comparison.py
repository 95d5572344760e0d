"""Comparisons saved as NetCDF, CSV and JSON, every file of a run with its id, whole or not."""

from __future__ import annotations

import math
from dataclasses import asdict
from pathlib import Path
from typing import Any

import xarray as xr

from yieldkit.base.files import (
    read_dataset,
    read_json,
    safe_name,
    write_dataset,
    write_json,
    write_table,
)
from yieldkit.base.staging import staged
from yieldkit.config.site.site import Site
from yieldkit.design.checks.findings import Finding, Findings
from yieldkit.study.comparison.compare import Asked, Comparison
from yieldkit.study.comparison.side_by_side import side_by_side
from yieldkit.study.results.details import saved_details, write_details
from yieldkit.study.results.origin import Origin, origin_from, refuse_other
from yieldkit.study.simulation.provenance import provenance
from yieldkit.study.simulation.weather import site_weather

COMPARE = "compare"
COMPARE_PAGE = "compare_wirings.html"
"""Kind of run and name of the report under which comparisons are saved."""
COMPARISON_FILE = "comparison.json"
_NUMBERS = ("value", "limit")


def save_comparison(
    comparison: Comparison, folder: str | Path, run: str | None = None
) -> tuple[Path, ...]:
    """Save a comparison: each wiring's results, the table, the loss budgets, details if known.

    Parameters
    ----------
    comparison : Comparison
        What `compare` returned.
    folder : str or Path
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
    origin = Origin(comparison.site, comparison.period, comparison.remarks, comparison.assumptions)
    findings = {name: [_plain(each) for each in found] for name, found in comparison.findings}
    write_json(folder / COMPARISON_FILE, {**origin.content(), "findings": findings, "run": run})
    for number, (name, result) in enumerate(comparison.results):
        write_dataset(folder / _file_name(number, name), result.assign_attrs(run=run))
    if comparison.asked.details is not None:
        write_details(comparison.asked.details, folder, run)


def saved_comparison(
    folder: str | Path, site: Site | None = None, weather: xr.Dataset | None = None
) -> Comparison:
    """Return a comparison that was saved, without computing anything again.

    Parameters
    ----------
    folder : str or Path
        Where it was saved.
    site : Site, optional
        The site it has to be of; the one it was saved with if left out.
    weather : Dataset, optional
        Canonical weather it has to be of; read from the site's own source if left out.

    Returns
    -------
    Comparison
        As it was saved, with its details if they had been computed.

    Raises
    ------
    InputError
        For files that aren't as they were written, or results of something else.
    """
    path = Path(folder) / COMPARISON_FILE
    content = read_json(path)
    origin = origin_from(content, path)
    asked = origin.site if site is None else site
    used = site_weather(asked) if weather is None else weather
    made_from = provenance(asked, used)
    refuse_other(path, provenance(origin.site, used), {"site_sha256": made_from["site_sha256"]})
    results = []
    for number, wiring in enumerate(asked.wirings):
        file = Path(folder) / _file_name(number, wiring.name)
        result = read_dataset(file)
        refuse_other(file, result.attrs, {**made_from, "wiring": wiring.name})
        results.append((wiring.name, result))
    findings = tuple(
        (wiring.name, Findings(map(_finding, content["findings"][wiring.name])))
        for wiring in asked.wirings
    )
    return Comparison(
        site=asked,
        weather=used,
        period=origin.period,
        remarks=origin.remarks,
        assumptions=origin.assumptions,
        findings=findings,
        asked=_asked_before(Path(folder)),
        **side_by_side(asked.wirings, results, findings, origin.period.per)._asdict(),
    )


def _asked_before(folder: Path) -> Asked:
    """Return what had been computed on request when a comparison was saved."""
    details = saved_details(folder)
    return Asked() if details is None else Asked(better=details.better, details=details)


def _plain(finding: Finding) -> dict[str, Any]:
    """Return a finding as plain values for JSON, missing numbers as None."""
    content = asdict(finding)
    missing = {name: None for name in _NUMBERS if math.isnan(content[name])}
    return content | missing


def _finding(content: dict[str, Any]) -> Finding:
    missing = {name: math.nan for name in _NUMBERS if content[name] is None}
    return Finding(**(content | missing))


def _file_name(number: int, wiring: str) -> str:
    return f"{number + 1:02d}-{safe_name(wiring)}.nc"
