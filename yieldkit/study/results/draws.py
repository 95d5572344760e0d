"""Draws saved, so that the report goes on from those the command made with a bar to watch."""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import xarray as xr

from yieldkit.base.errors import refuse
from yieldkit.base.files import read_dataset, write_dataset
from yieldkit.study.ranking.proposal import Proposal
from yieldkit.study.ranking.propose import Ranking
from yieldkit.study.results.ranking import made_from
from yieldkit.study.uncertainty.draws import Drawn

DRAWS_FILE = "draws.nc"


def write_draws(proposal: Proposal, folder: Path, run: str) -> None:
    """Write a proposal's draws under the id of a run; without draws nothing is written."""
    drawn = proposal.drawn
    if drawn is None:
        return
    energy = ("draw", "wiring"), drawn.energy_kwh, {"units": "kWh", "long_name": "energy delivered"}
    inputs = ("draw", "unknown"), drawn.inputs.to_numpy(float), {"long_name": "what was drawn"}
    ranking = proposal.ranking
    dataset = xr.Dataset(
        {"energy_kwh": energy, "inputs": inputs},
        coords={"wiring": list(drawn.names), "unknown": list(drawn.inputs.columns)},
        attrs={**made_from(ranking.possible, ranking.prepared.weather), "per": drawn.per},
    )
    write_dataset(folder / DRAWS_FILE, dataset.assign_attrs(run=run))


def saved_draws(path: str | Path, ranking: Ranking) -> Drawn:
    """Return draws that were saved.

    Parameters
    ----------
    path : str or Path
        The file that `write_draws` wrote.
    ranking : Ranking
        What they were drawn for.

    Raises
    ------
    InputError
        For a file that isn't as it was written, or draws of something else.
    """
    saved = read_dataset(path)
    made = made_from(ranking.possible, ranking.prepared.weather)
    if any(saved.attrs.get(key) != value for key, value in made.items()):
        refuse(
            str(path),
            "draws of another site, weather, version or set of constraints",
            "draws of what is asked",
            remedy="Draw again.",
        )
    names = [str(name) for name in saved["unknown"].to_numpy()]
    return Drawn(
        tuple(str(name) for name in saved["wiring"].to_numpy()),
        saved["energy_kwh"].to_numpy(),
        pd.DataFrame(saved["inputs"].to_numpy(), columns=names),
        str(saved.attrs["per"]),
    )
