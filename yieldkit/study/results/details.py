"""Details of a comparison saved: curves as NetCDF, the rest as JSON, tables to read as CSV."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from yieldkit.base.files import read_dataset, read_json, write_dataset, write_json, write_table
from yieldkit.config.site.site import Wiring
from yieldkit.study.comparison.better import Better
from yieldkit.study.comparison.details import Details
from yieldkit.study.comparison.mounting_spread import Neighbour
from yieldkit.study.simulation.module_shadows import plain_shadows, shadows_from

DETAILS_FILE = "details.json"


def write_details(details: Details, folder: Path, run: str) -> None:
    """Write a comparison's details under the id of a run."""
    better = details.better
    wiring = None if better.wiring is None else better.wiring.model_dump(mode="json")
    content = {
        "wirings": details.wirings,
        "better": better._asdict() | {"wiring": wiring},
        "days": [(kind, steps.tolist()) for kind, steps in details.days],
        "leads": None if details.leads is None else plain_table(details.leads),
        "mountings": [each._asdict() for each in details.mountings],
        "shadows": plain_shadows(details.shadows),
        "run": run,
    }
    write_json(folder / DETAILS_FILE, content)
    for number, (name, curves) in enumerate(details.curves):
        own = curves.assign_attrs(wiring=name, run=run)
        write_dataset(folder / _file_name(number), own)
    if details.leads is not None:
        write_table(folder / "lead-sizes.csv", details.leads.assign(run=run))
    if details.mountings:
        mountings = pd.DataFrame(details.mountings)
        write_table(folder / "mountings.csv", mountings.assign(run=run))


def saved_details(folder: Path) -> Details | None:
    """Return details that were saved beside a comparison; None where there are none.

    Raises
    ------
    InputError
        For files that aren't as they were written.
    """
    if not (folder / DETAILS_FILE).is_file():
        return None
    content = read_json(folder / DETAILS_FILE)
    better = content["better"]
    found = better["wiring"]
    wiring = None if found is None else Wiring.model_validate_json(json.dumps(found))
    curves = []
    for number, name in enumerate(content["wirings"]):
        own = read_dataset(folder / _file_name(number))
        curves.append((name, own.drop_attrs(deep=False).assign_attrs(tracker=own.attrs["tracker"])))
    return Details(
        wirings=tuple(content["wirings"]),
        better=Better(**(better | {"wiring": wiring})),
        days=tuple((kind, np.array(steps, dtype=np.intp)) for kind, steps in content["days"]),
        curves=tuple(curves),
        leads=None if content["leads"] is None else table_from(content["leads"]),
        mountings=tuple(Neighbour(**each) for each in content["mountings"]),
        shadows=shadows_from(content["shadows"]),
    )


def plain_table(table: pd.DataFrame) -> dict[str, Any]:
    """Return a table as plain values for JSON; its columns keep their order."""
    columns = [str(name) for name in table.columns]
    return {"columns": columns, "values": [table[name].tolist() for name in columns]}


def table_from(content: dict[str, Any]) -> pd.DataFrame:
    """Return the table that `plain_table` made plain."""
    return pd.DataFrame(dict(zip(content["columns"], content["values"], strict=True)))


def _file_name(number: int) -> str:
    return f"curves-{number + 1:02d}.nc"
