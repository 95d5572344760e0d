"""Handover sheets saved: everything as JSON, and the table to fill in."""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict
from pathlib import Path

import pandas as pd
from pydantic import TypeAdapter

from yieldkit.base.errors import refuse
from yieldkit.base.files import read_json, recorded, write_json, write_text
from yieldkit.base.staging import staged
from yieldkit.config.site.site import Site
from yieldkit.study.handover.form import blank_table, form_text
from yieldkit.study.handover.sheet import Handover
from yieldkit.study.results.origin import refuse_other_site

HANDOVER = "handover"
HANDOVER_PAGE = "handover.html"
"""Kind of run and name of the page under which sheets are saved."""
HANDOVER_FILE = "handover.json"
TABLE_FILE = "handover.csv"
"""The table that people fill in."""


def save_handover(sheet: Handover, folder: str | Path, run: str | None = None) -> tuple[Path, ...]:
    """Save a handover sheet.

    Parameters
    ----------
    sheet : Handover
        What `handover` returned.
    folder : str or Path
        Where to; made if needed.
    run : str, optional
        The run's id; a new one if left out.

    Returns
    -------
    tuple of Path
        The files, and a manifest with the run's id and their hashes.

    Raises
    ------
    InputError
        If the folder holds a table that somebody has filled in.
    """
    refuse_filled_in(folder)
    with staged(folder, HANDOVER, (HANDOVER_PAGE,), run) as stage:
        write_handover(sheet, stage.folder, stage.run)
        return stage.put()


def write_handover(sheet: Handover, folder: Path, run: str) -> None:
    """Write a sheet's files under the id of a run."""
    write_json(folder / HANDOVER_FILE, {**asdict(sheet), "run": run})
    write_text(folder / TABLE_FILE, form_text(_table(sheet)))


def _table(sheet: Handover) -> pd.DataFrame:
    strings = [each.name for each in sheet.strings]
    planes = [each.name for each in sheet.planes]
    return blank_table(strings, sheet.inputs, planes, sheet.clock, sheet.wiring, sheet.mark)


def refuse_filled_in(folder: str | Path) -> None:
    """Refuse to write over a table that isn't as it was written: it may hold readings.

    Parameters
    ----------
    folder : str or Path
        Where a sheet is to be saved.

    Raises
    ------
    InputError
        If there is such a table.
    """
    path = Path(folder) / TABLE_FILE
    if not path.is_file():
        return
    with path.open("rb") as stream:
        digest = hashlib.file_digest(stream, "sha256").hexdigest()
    if digest not in recorded(folder).get(TABLE_FILE, set()):
        refuse(
            str(path),
            "a table that was changed since it was written, and may hold readings",
            "a folder without readings",
            remedy="Name another folder (--out), or move the table away.",
        )


def saved_handover(folder: str | Path, site: Site | None = None) -> Handover:
    """Return a sheet that was saved.

    Parameters
    ----------
    folder : str or Path
        Where it was saved.
    site : Site, optional
        The site it has to be of; any if left out.

    Raises
    ------
    InputError
        For a file that isn't as it was written, or a sheet of something else.
    """
    path = Path(folder) / HANDOVER_FILE
    content = read_json(path)
    refuse_other_site(path, content, site)
    del content["run"]
    return TypeAdapter(Handover).validate_json(json.dumps(content))
