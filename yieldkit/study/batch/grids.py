"""A plan's numbers along its axes, filled in slice by slice."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import prod
from typing import Any

import numpy as np
import pandas as pd
import xarray as xr

from yieldkit.study.batch.combined import WIRING, Runs
from yieldkit.study.batch.row_columns import INPUT, LOSS, MONTH, unit_of
from yieldkit.study.batch.run import Run
from yieldkit.study.simulation.budget_steps import STEPS
from yieldkit.study.simulation.period import MONTHS

_SPARSE = 4
"""A grid with more cells a run than this is written as a list of runs instead."""
_STACKED = {"month": (MONTH, MONTHS), "loss_step": (LOSS, STEPS)}
_TEXTS = {"run": "name", "status": "status", "permission": "permission"}


class Grid:
    """Axes as coordinates, those that go together along one dimension; missing is missing.

    Of a plan that leaves out most of its combinations all axes lie along the runs.

    Parameters
    ----------
    runs : Runs
        The plan's runs.
    columns : sequence of str
        The table's columns.
    """

    def __init__(self, runs: Runs, columns: Sequence[str]):
        self._runs, self._columns = runs, columns
        self._shape = tuple(dimension.size for dimension in runs.dimensions)
        self._dims = tuple(dimension.name for dimension in runs.dimensions)
        self._listed = prod(self._shape) > _SPARSE * len(runs)
        if self._listed:
            self._shape, self._dims = (len(runs),), ("run",)
        self._numbers = {name: np.full(self._shape, np.nan) for name in columns if unit_of(name)}
        self._texts = {
            name: np.full(self._shape, "", dtype=object) for name in _TEXTS if name in columns
        }
        self._axes: dict[str, list[Any]] = {}
        self._filled = 0

    def put(self, plan_runs: Sequence[Run], frame: pd.DataFrame) -> None:
        """Fill in some runs, which follow those before in the order of the plan.

        Parameters
        ----------
        plan_runs : sequence of Run
            The runs.
        frame : DataFrame
            Their rows.
        """
        places: tuple[Any, ...] = tuple(np.array([run.at for run in plan_runs]).T)
        if self._listed:
            places = (np.arange(self._filled, self._filled + len(plan_runs)),)
            for name in (*(name for name, _ in plan_runs[0].axes), WIRING):
                self._axes.setdefault(name, []).extend(frame[name].tolist())
        self._filled += len(plan_runs)
        for name, laid in self._numbers.items():
            laid[places] = frame[name].to_numpy(dtype=float, na_value=np.nan)
        for name, texts in self._texts.items():
            texts[places] = frame[name].fillna("").to_numpy()

    def dataset(self) -> xr.Dataset:
        """Return all of it."""
        if self._listed:
            axes = {name: ("run", np.array(values)) for name, values in self._axes.items()}
        else:
            axes = {
                column: (dimension.name, np.array(values))
                for dimension in self._runs.dimensions
                for column, values in dimension.coordinates.items()
            }
        variables: dict[str, Any] = {
            _TEXTS[name]: (self._dims, texts) for name, texts in self._texts.items()
        }
        for name, laid in self._numbers.items():
            if not name.startswith((MONTH, LOSS, INPUT)):
                variables[name] = (self._dims, laid, _unit(name))
        coords: dict[str, Any] = dict(axes)
        inputs = [name.removeprefix(INPUT) for name in self._columns if name.startswith(INPUT)]
        for dim, (start, known) in {**_STACKED, "input": (INPUT, inputs)}.items():
            names = [start + each for each in known if start + each in self._numbers]
            if names:
                coords[dim] = [name.removeprefix(start) for name in names]
                what = {"month": "month_energy", "loss_step": "loss"}.get(dim, "input_energy")
                together = np.stack([self._numbers[name] for name in names], axis=-1)
                variables[what] = ((*self._dims, dim), together, _unit(names[0]))
        return xr.Dataset(variables, coords=coords)


def _unit(name: str) -> Mapping[str, str]:
    return {"units": unit_of(name)}
