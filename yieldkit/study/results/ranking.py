"""Rankings saved as a table to read and as a file to go on from."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path

import numpy as np
import pandas as pd
import xarray as xr

from yieldkit.base.errors import refuse
from yieldkit.base.files import read_dataset, write_dataset, write_table
from yieldkit.base.staging import staged
from yieldkit.config.site.site import Site
from yieldkit.design.permitted.constraints import Constraints
from yieldkit.design.permitted.wirings import MOST, Possible, possible_wirings
from yieldkit.study.ranking.propose import Ranking
from yieldkit.study.ranking.sampled_days import Sample
from yieldkit.study.simulation.labels import wiring_words
from yieldkit.study.simulation.prepare import prepare
from yieldkit.study.simulation.provenance import provenance
from yieldkit.study.simulation.weather import site_weather

RANKING_FILE = "ranking.nc"
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


def save_ranking(ranking: Ranking, folder: Path, run: str | None = None) -> Path:
    """Write ranked wirings as a table, and all of them as a file to go on from.

    Parameters
    ----------
    ranking : Ranking
        From `propose`.
    folder : Path
        Where they go; made if needed. The report of an earlier ranking is taken away.
    run : str, optional
        The run's id; a new one if left out.

    Returns
    -------
    Path
        The table; beside it lies `ranking.nc`.
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
            "wiring": wiring_words(ranking.wiring(rank)),
            "run": run,
        }
        for rank, number in enumerate(ranking.order[:_MOST_IN_TABLE])
    ]
    write_table(folder / RANKING_TABLE, pd.DataFrame(rows))
    write_dataset(folder / RANKING_FILE, _dataset(ranking).assign_attrs(run=run))


def saved_ranking(
    path: str | Path,
    site: Site,
    constraints: Constraints | None = None,
    weather: xr.Dataset | None = None,
    most: int = MOST,
) -> Ranking:
    """Return a ranking that was saved, without solving anything again.

    Parameters
    ----------
    path : str or Path
        The file `ranking.nc` that `save_ranking` wrote.
    site, constraints, weather, most
        As for `propose`: what was ranked.

    Raises
    ------
    InputError
        For a file that isn't as it was written, or a ranking of something else.
    """
    saved = read_dataset(path)
    possible = possible_wirings(site, constraints, most)
    used = site_weather(site) if weather is None else weather
    if any(saved.attrs.get(key) != value for key, value in made_from(possible, used).items()):
        refuse(
            str(path),
            "the ranking of another site, weather, version or set of constraints",
            "the ranking of what is asked",
            remedy="Rank again.",
        )
    energy, held_back, capped_hours = (saved[name].to_numpy() for name in _COLUMNS)
    sample = json.loads(saved.attrs["sample"])
    ranked = np.flatnonzero(np.isfinite(energy))
    return Ranking(
        possible,
        prepare(site, used),
        ranked[np.argsort(-energy[ranked], kind="stable")],
        energy,
        held_back,
        capped_hours,
        solved_whole=int(saved.attrs["solved_whole"]),
        sample=None if sample is None else Sample(**sample),
    )


def _dataset(ranking: Ranking) -> xr.Dataset:
    variables = {
        name: ("candidate", getattr(ranking, name), {"units": unit, "long_name": meaning})
        for name, (unit, meaning) in _COLUMNS.items()
    }
    sample = None if ranking.sample is None else ranking.sample._asdict()
    made = made_from(ranking.possible, ranking.prepared.weather)
    attrs = {**made, "sample": json.dumps(sample), "solved_whole": ranking.solved_whole}
    return xr.Dataset(variables, attrs=attrs)


def made_from(possible: Possible, weather: xr.Dataset) -> dict[str, str | int | float]:
    """Return what tells one ranking from another: site, weather, versions and the wirings."""
    wirings = hashlib.sha256(repr(possible.candidates).encode()).hexdigest()
    return {**provenance(possible.site, weather), "candidates_sha256": wirings}
