"""Rankings saved as a table to read and as a file to go on from."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path

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
from yieldkit.design.permitted.wirings import Possible
from yieldkit.study.ranking.propose import Ranking
from yieldkit.study.ranking.sampled_days import Sample
from yieldkit.study.results.origin import Origin, origin_from, refuse_other
from yieldkit.study.results.possible import candidate_places, plain_possible, possible_from
from yieldkit.study.simulation.labels import wiring_text
from yieldkit.study.simulation.prepare import prepare
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


def save_ranking(ranking: Ranking, folder: str | Path, run: str | None = None) -> Path:
    """Write ranked wirings as a table, and all of them as a file to go on from.

    Parameters
    ----------
    ranking : Ranking
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


def write_ranking(ranking: Ranking, folder: Path, run: str) -> None:
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
    possible = plain_possible(ranking.possible)
    write_json(folder / POSSIBLE_FILE, {**origin.content(), "possible": possible, "run": run})


def saved_ranking(
    folder: str | Path,
    site: Site | None = None,
    constraints: Constraints | None = None,
    weather: xr.Dataset | None = None,
) -> Ranking:
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
    kept = possible_from(content["possible"], asked, saved["candidates"].to_numpy())
    if constraints is not None and constraints != kept.constraints:
        refuse_other(file, saved.attrs, {"candidates_sha256": "of other constraints"})
    prepared = prepare(asked, used)
    lacking = prepared.present & (saved["present"].to_numpy() == 0)
    energy, energy_held_back, capped_hours = (saved[name].to_numpy() for name in _COLUMNS)
    sample = json.loads(saved.attrs["sample"])
    ranked = np.flatnonzero(np.isfinite(energy))
    return Ranking(
        kept,
        without_steps(prepared, lacking) if lacking.any() else prepared,
        ranked[np.argsort(-energy[ranked], kind="stable")],
        energy,
        energy_held_back,
        capped_hours,
        solved_whole=int(saved.attrs["solved_whole"]),
        sample=None if sample is None else Sample(**sample),
    )


def _dataset(ranking: Ranking) -> xr.Dataset:
    variables = {
        name: ("candidate", getattr(ranking, name), {"units": unit, "long_name": meaning})
        for name, (unit, meaning) in _COLUMNS.items()
    }
    chosen = candidate_places(ranking.possible)
    uses = {"long_name": "arrangements in use, by input class; -1 for none"}
    sample = None if ranking.sample is None else ranking.sample._asdict()
    made = made_from(ranking.possible, ranking.prepared.weather)
    attrs = {**made, "sample": json.dumps(sample), "solved_whole": ranking.solved_whole}
    present = ranking.prepared.present.astype(np.int8), {"long_name": "1 where there is weather"}
    return xr.Dataset(
        {
            **variables,
            "candidates": (("candidate", "class", "use"), chosen, uses),
            "present": ("time", *present),
        },
        attrs=attrs,
    )


def made_from(possible: Possible, weather: xr.Dataset) -> dict[str, str | int | float]:
    """Return what tells one ranking from another: site, weather, versions and the wirings."""
    wirings = hashlib.sha256(repr(possible.candidates).encode()).hexdigest()
    return {**provenance(possible.site, weather), "candidates_sha256": wirings}
