"""Rankings saved as a table to read and as a file to go on from."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import xarray as xr

from yieldkit.base.files import (
    read_dataset,
    read_json,
    write_dataset,
    write_json,
    write_table,
)
from yieldkit.base.staging import staged
from yieldkit.config.site.site import Site
from yieldkit.design.permitted.constraints import Constraints
from yieldkit.study.ranking.propose import Ranking
from yieldkit.study.ranking.sampled_days import Sample
from yieldkit.study.results.origin import Origin, origin_from, refuse_other
from yieldkit.study.results.possible import candidate_places, plain_possible, possible_from
from yieldkit.study.results.shared_out import plain_shared_out, shared_out_from
from yieldkit.study.several_inverters.shared_out import SharedOut
from yieldkit.study.simulation.labels import wiring_text
from yieldkit.study.simulation.prepare import Prepared, prepare
from yieldkit.study.simulation.provenance import provenance
from yieldkit.study.simulation.unsolved import without_steps
from yieldkit.study.simulation.weather import site_weather

RANKING_FILE = "ranking.nc"
POSSIBLE_FILE = "ranking.json"
RANKING_TABLE = "ranking.csv"
PROPOSE = "propose"
PROPOSE_PAGE = "propose_wirings.html"
"""Kind of run and name of the report under which rankings are saved."""
_MOST_IN_TABLE = 50_000
_COLUMNS = {
    "energy_kwh": ("kWh", "energy delivered"),
    "held_back_kwh": ("kWh", "energy held back by the AC limit"),
    "capped_hours": ("h", "hours at the AC limit"),
}


def save_ranking(ranking: Ranking | SharedOut, folder: str | Path, run: str | None = None) -> Path:
    """Write ranked wirings as a table, and all of them as a file to go on from.

    Parameters
    ----------
    ranking : Ranking or SharedOut
        From `propose`.
    folder : str or Path
        Where they go; made if needed. The report of an earlier ranking is taken away.
    run : str, optional
        The run's id; a new one if left out.

    Returns
    -------
    Path
        The table; beside it lie `ranking.nc` and `ranking.json`.
    """
    with staged(folder, PROPOSE, (PROPOSE_PAGE,), run) as stage:
        write_ranking(ranking, stage.folder, stage.run)
        stage.put()
    return Path(folder) / RANKING_TABLE


def write_ranking(ranking: Ranking | SharedOut, folder: Path, run: str) -> None:
    """Write a ranking's files under the id of a run."""
    best = float(ranking.energy_kwh[ranking.order[0]])
    rows = [
        {
            "rank": rank + 1,
            "energy_kwh": round(float(ranking.energy_kwh[number]), 3),
            "difference_percent": round(100.0 * (float(ranking.energy_kwh[number]) / best - 1), 5),
            "held_back_kwh": round(float(ranking.held_back_kwh[number]), 3),
            "wiring": wiring_text(ranking.wiring(rank)),
            "run": run,
        }
        for rank, number in enumerate(ranking.order[:_MOST_IN_TABLE])
    ]
    write_table(folder / RANKING_TABLE, pd.DataFrame(rows))
    write_dataset(folder / RANKING_FILE, _dataset(ranking).assign_attrs(run=run))
    prepared = ranking.prepared
    origin = Origin(prepared.site, prepared.period, prepared.remarks, prepared.assumptions)
    found = (
        {"shared_out": plain_shared_out(ranking)}
        if isinstance(ranking, SharedOut)
        else {"possible": plain_possible(ranking.possible)}
    )
    write_json(folder / POSSIBLE_FILE, {**origin.content(), **found, "run": run})


def saved_ranking(
    folder: str | Path,
    site: Site | None = None,
    constraints: Constraints | None = None,
    weather: xr.Dataset | None = None,
) -> Ranking | SharedOut:
    """Return a ranking that was saved, without searching or solving anything again.

    Parameters
    ----------
    folder : str or Path
        Where it was saved.
    site, constraints : Site, Constraints, optional
        What has to have been ranked; what it was saved with if left out.
    weather : Dataset, optional
        Canonical weather it has to be of; read from the site's own source if left out.

    Raises
    ------
    InputError
        For files that aren't as they were written, or a ranking of something else.
    """
    file, path = Path(folder) / RANKING_FILE, Path(folder) / POSSIBLE_FILE
    saved, content = read_dataset(file), read_json(path)
    origin = origin_from(content, path)
    asked = origin.site if site is None else site
    used = site_weather(asked) if weather is None else weather
    refuse_other(file, saved.attrs, provenance(asked, used))
    prepared = prepare(asked, used)
    lacking = prepared.present & (saved["present"].to_numpy() == 0)
    prepared = without_steps(prepared, lacking) if lacking.any() else prepared
    ranking = _ranking(content, saved, asked, prepared)
    if constraints is not None and constraints != ranking.constraints:
        refuse_other(file, saved.attrs, {"candidates_sha256": "of other constraints"})
    return ranking


def _ranking(
    content: Mapping[str, Any], saved: xr.Dataset, site: Site, prepared: Prepared
) -> Ranking | SharedOut:
    energy, energy_held_back, capped_hours = (saved[name].to_numpy() for name in _COLUMNS)
    if "shared_out" in content:
        return shared_out_from(
            content["shared_out"], site, prepared, energy, energy_held_back, capped_hours
        )
    kept = possible_from(content["possible"], site, saved["candidates"].to_numpy())
    sample = json.loads(saved.attrs["sample"])
    ranked = np.flatnonzero(np.isfinite(energy))
    return Ranking(
        kept,
        prepared,
        ranked[np.argsort(-energy[ranked], kind="stable")],
        energy,
        energy_held_back,
        capped_hours,
        solved_whole=int(saved.attrs["solved_whole"]),
        sample=None if sample is None else Sample(**sample),
    )


def _dataset(ranking: Ranking | SharedOut) -> xr.Dataset:
    variables = {
        name: ("candidate", getattr(ranking, name), {"units": unit, "long_name": meaning})
        for name, (unit, meaning) in _COLUMNS.items()
    }
    sample = None if ranking.sample is None else ranking.sample._asdict()
    made = made_from(ranking)
    attrs = {**made, "sample": json.dumps(sample), "solved_whole": ranking.solved_whole}
    present = ranking.prepared.present.astype(np.int8), {"long_name": "1 where there is weather"}
    found = xr.Dataset({**variables, "present": ("time", *present)}, attrs=attrs)
    if isinstance(ranking, SharedOut):
        return found
    uses = {"long_name": "arrangements in use, by input class; -1 for none"}
    chosen = candidate_places(ranking.possible)
    return found.assign(candidates=(("candidate", "class", "use"), chosen, uses))


def made_from(ranking: Ranking | SharedOut) -> dict[str, str | int | float]:
    """Return what tells one ranking from another: site, weather, versions and the wirings."""
    wirings: object = (
        [wiring.model_dump_json() for wiring in ranking.wirings]
        if isinstance(ranking, SharedOut)
        else ranking.possible.candidates
    )
    found = hashlib.sha256(repr(wirings).encode()).hexdigest()
    return {**provenance(ranking.site, ranking.prepared.weather), "candidates_sha256": found}
