"""Runs that one worker computes together, what is told of them, and how their failure is kept."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import NamedTuple

from yieldkit.study.batch.bases import Base
from yieldkit.study.batch.row_columns import MADE, Row, failed_row
from yieldkit.study.batch.run import Run
from yieldkit.study.batch.store import Store


class Part(NamedTuple):
    """Runs that one worker computes and writes together.

    Parameters
    ----------
    folder : str
        Where to.
    runs : tuple of Run
        The runs.
    bases : dict of int to Base
        The plan's sites that they are variants of.
    hourly : tuple of str
        Variables kept for every step.
    """

    folder: str
    runs: tuple[Run, ...]
    bases: Mapping[int, Base]
    hourly: tuple[str, ...] = ()


class Done(NamedTuple):
    """What is told of a part: no results, for they are in the store.

    Parameters
    ----------
    runs, failed : int
        How many, and how many of them failed.
    seconds : float
        How long it took [s].
    """

    runs: int
    failed: int
    seconds: float


def failed_part(part: Part, message: str) -> Done:
    """Write the failure of every run of a part, where computing it isn't tried any more."""
    store = Store(part.folder)
    store.write([{**about(run), **failed_row(message)} for run in part.runs])
    return Done(len(part.runs), len(part.runs), 0.0)


def about(run: Run) -> Row:
    """Return what a row tells of its run beside results."""
    return {
        "run": run.name,
        "changes": json.dumps(run.changes, default=str, ensure_ascii=False),
        "wiring": run.wiring,
        "site": run.site_file.name,
        "weather": run.weather_file.name,
        **{MADE + what: said for what, said in run.made_of},
    }
