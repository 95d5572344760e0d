"""What a batch says: the effect of each axis, the best run of each site, and what failed."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pandas as pd
import pyarrow.parquet as pq

from yieldkit.base.arrays import FloatArray
from yieldkit.base.display import Card
from yieldkit.base.errors import refuse
from yieldkit.design.checks.permission import OPEN, PERMITTED
from yieldkit.study.batch.combined import WIRING
from yieldkit.study.batch.effects import (
    Effect,
    Grid,
    Side,
    effect_of,
    grid_of,
    reference_run,
    side_of,
    span,
)
from yieldkit.study.batch.store import FAILED, OK

TABLE = "runs.parquet"
_READ = ("run", "site", "status", "message", "permission", "changes")
_NUMBERS = ("energy_kwh", "kwp", "kwh_per_kwp")
_MOST_FAILURES = 20


class Best(NamedTuple):
    """The run of a site with the most energy of those that may be built.

    Parameters
    ----------
    site : str
        The site.
    run : str
        Its name; "" where none may be built.
    permission : str
        What its wiring is called there.
    values : dict
        Value of every direction, in words.
    energy_kwh, kwh_per_kwp : float
        Its energy.
    """

    site: str
    run: str
    permission: str
    values: Mapping[str, str]
    energy_kwh: float
    kwh_per_kwp: float


class Failure(NamedTuple):
    """Why runs failed: a message, how many have it, and one of them."""

    message: str
    runs: int
    run: str


@dataclass(frozen=True)
class WhatIf:
    """A batch looked at.

    Parameters
    ----------
    plan : str
        The plan's file.
    counts : dict
        Runs by their status, and those left out.
    reference : dict
        Value of every direction at the reference, in words.
    wiring : str
        The reference's wiring.
    reference_kwh : float
        Its energy [kWh].
    effects : tuple of Effect
        Every direction with two values or more, the one that does most first.
    grid : Grid or None
        The two directions that do most, wirings aside; None where there is only one.
    best : tuple of Best
        The best run of every site.
    failures : tuple of Failure
        What failed, the most frequent first.
    invented : bool
        Whether a site is said to be invented.
    lacking : str
        What is not modelled for one of the sites.
    """

    plan: str
    counts: Mapping[str, int]
    reference: Mapping[str, str]
    wiring: str
    reference_kwh: float
    effects: tuple[Effect, ...]
    grid: Grid | None
    best: tuple[Best, ...]
    failures: tuple[Failure, ...]
    invented: bool
    lacking: str

    def __repr__(self) -> str:
        return self._card().text()

    def _repr_html_(self) -> str:
        return self._card().html()

    def _card(self) -> Card:
        rows = [(status, f"{count:,}") for status, count in self.counts.items()]
        rows += [
            (f"best of {best.site}", f"{best.energy_kwh:,.0f} kWh, {best.permission}")
            for best in self.best
            if best.run
        ]
        hint = "Ask it for .effects, .grid, .best, .failures."
        return Card(f"Runs of {self.plan}", tuple(rows), hint)


def what_if(folder: str | Path) -> WhatIf:
    """Look at the runs of a batch.

    Parameters
    ----------
    folder : str or Path
        Where `sweep` wrote its tables.

    Returns
    -------
    WhatIf
        Effects, best runs and failures of the plan that was run there last.

    Raises
    ------
    InputError
        If there is no table of runs.
    """
    file = Path(folder) / TABLE
    if not file.is_file():
        refuse(
            str(file),
            "no table of runs",
            "the folder of a batch",
            remedy="`yieldkit sweep PLAN --out DIR` fills one",
        )
    told = pq.read_schema(file).metadata or {}
    dimensions = json.loads(told.get(b"dimensions", b"{}"))
    columns = [column for own in dimensions.values() for column in own]
    wanted = dict.fromkeys((*columns, *_READ, *_NUMBERS))
    known = pq.read_schema(file).names
    frame = pd.read_parquet(file, columns=[name for name in wanted if name in known])
    counts = {
        **Counter(frame["status"].tolist()),
        "left out": int(told.get(b"left_out", b"0")),
    }
    plan, invented = told.get(b"plan", b"").decode(), told.get(b"invented") == b"true"
    lacking = told.get(b"lacking", b"").decode()
    return looked_at(frame, dimensions, plan, counts, invented, lacking)


def looked_at(
    frame: pd.DataFrame,
    dimensions: Mapping[str, Sequence[str]],
    plan: str,
    counts: Mapping[str, int],
    invented: bool = False,
    lacking: str = "",
) -> WhatIf:
    """Return what the rows of a plan's runs say.

    Parameters
    ----------
    frame : DataFrame
        A row a run.
    dimensions : mapping
        The columns of every direction.
    plan : str
        The plan's file.
    counts : mapping
        Runs by their status.
    invented : bool
        Whether a site is said to be invented.
    lacking : str
        What is not modelled for one of the sites.
    """
    sound = (frame["status"] == OK).to_numpy()
    energy = np.where(sound, frame["energy_kwh"].to_numpy(dtype=float), np.nan)
    sides = [side_of(frame, name, columns, sound) for name, columns in dimensions.items()]
    at = reference_run(sides, sound)
    sides = [side._replace(usual=int(side.at[at])) for side in sides]
    wiring = next(side for side in sides if side.name == WIRING)
    effects = [
        effect_of(side, sides, wiring, energy, float(energy[at]))
        for side in sides
        if len(side.values) > 1
    ]
    own = wiring.values[wiring.usual]
    effects.sort(key=lambda effect: -span(effect, own))
    return WhatIf(
        plan,
        counts,
        {side.name: side.values[side.usual] for side in sides},
        own,
        float(energy[at]),
        tuple(effects),
        grid_of(effects, sides, energy),
        tuple(_best(frame, sides, energy)),
        _failures(frame),
        invented,
        lacking,
    )


def _best(frame: pd.DataFrame, sides: Sequence[Side], energy: FloatArray) -> list[Best]:
    """Return the best run of every site that is permitted, else one with nothing forbidden."""
    found = []
    for site in dict.fromkeys(frame["site"]):
        own = (frame["site"] == site).to_numpy() & np.isfinite(energy)
        for word in (PERMITTED, OPEN):
            allowed = own & (frame["permission"] == word).to_numpy()
            if allowed.any():
                at = int(np.nanargmax(np.where(allowed, energy, np.nan)))
                row = frame.iloc[at]
                values = {side.name: side.values[side.at[at]] for side in sides}
                specific = float(row["kwh_per_kwp"])
                found.append(Best(site, row["run"], word, values, float(energy[at]), specific))
                break
        else:
            found.append(Best(site, "", "", {}, float("nan"), float("nan")))
    return found


def _failures(frame: pd.DataFrame) -> tuple[Failure, ...]:
    failed = frame[frame["status"] == FAILED]
    grouped = failed.groupby("message", sort=False)["run"].agg(["count", "first"])
    rows = grouped.sort_values("count", ascending=False, kind="stable").head(_MOST_FAILURES)
    return tuple(
        Failure(str(message), int(row["count"]), str(row["first"]))
        for message, row in rows.iterrows()
    )
