"""Why a run is, or is not, computed: what it is made of, against what a folder holds."""

from __future__ import annotations

import json
from math import prod
from typing import NamedTuple

import pyarrow as pa
import pyarrow.compute as pc

from yieldkit.base.errors import refuse
from yieldkit.config.reading.wording import shown
from yieldkit.study.batch.combined import Runs
from yieldkit.study.batch.row_columns import MADE
from yieldkit.study.batch.run import Run

_LEAST_DIGITS = 4
_WORDS = {
    "site": "the site file (beside its wirings, remarks and the names of its files)",
    "wiring": "the wiring's strings",
    "sources": "yieldkit's own sources",
    "versions": "the versions of what computes",
    "weather": "the bytes of the weather file",
}
COLUMNS = ("run", "status", "message", "changes", *(MADE + what for what in _WORDS))


def changes_text(run: Run) -> str:
    """Return a run's changes as rows keep them."""
    return json.dumps(run.changes, default=str, ensure_ascii=False)


class Explanation(NamedTuple):
    """A run and what a folder has of it.

    Parameters
    ----------
    run : Run
        The run.
    status : str
        "ok" or "failed" where the folder has it, else "".
    message : str
        Why it failed.
    differing : tuple of str
        Where the folder has the same change of the same site made of something else: of what.
    """

    run: Run
    status: str
    message: str
    differing: tuple[str, ...]


def run_named(runs: Runs, asked: str) -> Run:
    """Return a run of a plan.

    Parameters
    ----------
    runs : Runs
        The plan's runs.
    asked : str
        Its name or the first digits of it, or its number in the plan.

    Raises
    ------
    InputError
        If there is none, or several begin so.
    """
    found: Run | None = None
    for run in runs:
        if asked == str(run.number) or (
            len(asked) >= _LEAST_DIGITS and run.name.startswith(asked.lower())
        ):
            if asked == str(run.number) and len(asked) < len(run.name):
                return run
            if found is not None and found.name != run.name:
                refuse(
                    "the run", f"{shown(asked)}, with which several names begin", "more of its name"
                )
            found = found or run
    if found is None:
        every = prod(dimension.size for dimension in runs.dimensions)
        left_out = asked.isdecimal() and int(asked) < every
        refuse(
            "the run",
            shown(asked) + (", which the plan leaves out" if left_out else ""),
            "a run of this plan: its number, or its name or the first digits of it",
            remedy="`--dry-run` lists the first runs; the table of results has all.",
        )
    return found


def explained(run: Run, rows: pa.Table | None) -> Explanation:
    """Return whether a folder has a run, and else what keeps the nearest there from being it.

    Parameters
    ----------
    run : Run
        The run.
    rows : Table or None
        The folder's rows with the columns of `COLUMNS`, as far as they are there; None where no
        folder is named.
    """
    if rows is None:
        return Explanation(run, "", "", ())
    own = rows.filter(pc.equal(rows["run"], run.name))
    if own.num_rows:
        row = own.slice(0, 1).to_pylist()[0]
        return Explanation(run, str(row["status"]), str(row.get("message") or ""), ())
    if "changes" not in rows.column_names:
        return Explanation(run, "", "", ())
    alike = rows.filter(pc.equal(rows["changes"], changes_text(run)))
    nearest: tuple[str, ...] = ()
    for row in alike.to_pylist():
        differing = tuple(
            _WORDS.get(what, f"the bytes of {what}")
            for what, said in run.made_of
            if row.get(MADE + what) != said
        )
        if not nearest or len(differing) < len(nearest):
            nearest = differing
    return Explanation(run, "", "", nearest)
