"""A ranking weighed, saved: what to tell of it as JSON, the draws behind it as NetCDF."""

from __future__ import annotations

import json
from dataclasses import asdict
from pathlib import Path
from typing import Any

import pandas as pd
import xarray as xr

from yieldkit.base.files import read_dataset, read_json, write_dataset, write_json
from yieldkit.base.staging import staged
from yieldkit.config.site.site import Site, Wiring
from yieldkit.design.permitted.constraints import Constraints
from yieldkit.design.roof.layout import StringRun
from yieldkit.study.ranking.proposal import Proposal
from yieldkit.study.results.details import plain_table, table_from
from yieldkit.study.results.origin import refuse_other
from yieldkit.study.results.ranking import (
    PROPOSE,
    PROPOSE_PAGE,
    made_from,
    saved_ranking,
    write_ranking,
)
from yieldkit.study.uncertainty.unknowns import Drawn
from yieldkit.study.uncertainty.verdict import Judgement

PROPOSAL_FILE = "proposal.json"
DRAWS_FILE = "draws.nc"


def save_proposal(
    proposal: Proposal, folder: str | Path, run: str | None = None
) -> tuple[Path, ...]:
    """Save a ranking that was weighed, with its draws and the ranking itself.

    Parameters
    ----------
    proposal : Proposal
        From `weigh`.
    folder : str or Path
        Where to; made if needed.
    run : str, optional
        The run's id; a new one if left out.

    Returns
    -------
    tuple of Path
        The files, and a manifest with the run's id and their hashes.
    """
    with staged(folder, PROPOSE, (PROPOSE_PAGE,), run) as stage:
        write_ranking(proposal.ranking, stage.folder, stage.run)
        write_proposal(proposal, stage.folder, stage.run)
        return stage.put()


def write_proposal(proposal: Proposal, folder: Path, run: str) -> None:
    """Write what to tell of a ranking, and the draws, under the id of a run."""
    ranking = proposal.ranking
    made = made_from(ranking)
    content = {
        "made_from": made,
        "best": [wiring.model_dump(mode="json") for wiring in proposal.best],
        "layouts": [
            None if layout is None else [run_of._asdict() for run_of in layout]
            for layout in proposal.layouts
        ],
        "table": plain_table(proposal.table),
        "judgements": [asdict(each) for each in proposal.judgements],
        "drawn": proposal.drawn is not None,
        "shadow": proposal.shadow,
        "run": run,
    }
    write_json(folder / PROPOSAL_FILE, content)
    drawn = proposal.drawn
    if drawn is None:
        return
    energy = ("draw", "wiring"), drawn.energy_kwh, {"units": "kWh", "long_name": "energy delivered"}
    inputs = ("draw", "unknown"), drawn.inputs.to_numpy(float), {"long_name": "what was drawn"}
    dataset = xr.Dataset(
        {"energy_kwh": energy, "inputs": inputs},
        coords={"wiring": list(drawn.names), "unknown": list(drawn.inputs.columns)},
        attrs={**made, "per": drawn.per},
    )
    write_dataset(folder / DRAWS_FILE, dataset.assign_attrs(run=run))


def saved_proposal(
    folder: str | Path,
    site: Site | None = None,
    constraints: Constraints | None = None,
    weather: xr.Dataset | None = None,
) -> Proposal:
    """Return a weighed ranking that was saved, without ranking or drawing anything again.

    Parameters
    ----------
    folder, site, constraints, weather
        As for `saved_ranking`.

    Raises
    ------
    InputError
        For files that aren't as they were written, or a ranking of something else.
    """
    ranking = saved_ranking(folder, site, constraints, weather)
    made = made_from(ranking)
    path, draws = Path(folder) / PROPOSAL_FILE, Path(folder) / DRAWS_FILE
    content = read_json(path)
    refuse_other(path, content["made_from"], made)
    return Proposal(
        ranking,
        best=tuple(Wiring.model_validate_json(json.dumps(each)) for each in content["best"]),
        layouts=tuple(_layout(each) for each in content["layouts"]),
        table=table_from(content["table"]),
        judgements=tuple(_judgement(each) for each in content["judgements"]),
        drawn=_drawn(draws, made) if content["drawn"] else None,
        shadow=str(content["shadow"]),
    )


def _layout(content: list[dict[str, Any]] | None) -> tuple[StringRun, ...] | None:
    if content is None:
        return None
    return tuple(StringRun(**(each | {"modules": tuple(each["modules"])})) for each in content)


def _judgement(content: dict[str, Any]) -> Judgement:
    decided = tuple((name, share) for name, share in content["decided_by"])
    return Judgement(**(content | {"decided_by": decided}))


def _drawn(path: Path, made: dict[str, str | int | float]) -> Drawn:
    """Return draws that were saved."""
    saved = read_dataset(path)
    refuse_other(path, saved.attrs, made)
    return Drawn(
        tuple(str(name) for name in saved["wiring"].to_numpy()),
        saved["energy_kwh"].to_numpy(),
        pd.DataFrame(
            saved["inputs"].to_numpy(), columns=[str(name) for name in saved["unknown"].to_numpy()]
        ),
        str(saved.attrs["per"]),
    )
