"""A run's results as one row: energies, hours, months, losses and inputs, as plain values."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd

from yieldkit.design.checks.limits import check
from yieldkit.design.checks.permission import permission
from yieldkit.study.simulation.budget_steps import STEPS
from yieldkit.study.simulation.monthly import monthly_energy
from yieldkit.study.simulation.period import MONTHS
from yieldkit.study.simulation.simulate import Simulated, attributes

Value = str | float | int | None
Row = dict[str, Value]

UNITS = {
    "energy_kwh": "kWh",
    "kwp": "kW",
    "kwh_per_kwp": "kWh/kW",
    "clipped_hours": "h",
    "derated_hours": "h",
    "load_kwh": "kWh",
    "self_use_kwh": "kWh",
    "export_kwh": "kWh",
    "import_kwh": "kWh",
    "budget_closure": "1",
    "data_coverage": "1",
    "period_days": "d",
    "years_averaged": "1",
    "is_year": "1",
    "unsolved_steps": "1",
    "nameplate_kwh": "kWh",
}
"""Numbers of every run that is no failure, and their units."""
_TEXTS = ("period", "site_sha256", "weather_sha256", "weather_title", "time_zone")
MONTH, LOSS, INPUT = "month: ", "loss: ", "input: "
"""How the names of columns begin that hold energies [kWh] by month, by step and by input."""
MADE = "made: "
"""How the names of columns begin that tell what a run is made of."""


def unit_of(column: str) -> str:
    """Return a column's unit; empty for texts and what is no result."""
    if column.startswith((MONTH, LOSS, INPUT)):
        return "kWh"
    return UNITS.get(column, "")


def row_of(simulated: Simulated) -> Row:
    """Return the results of a run.

    Parameters
    ----------
    simulated : Simulated
        The run's wiring, simulated.

    Returns
    -------
    dict
        Column and value. The numbers are those that `simulate` gives for it, to the last bit; a
        month without weather is missing.
    """
    prepared, wiring, inputs, alternating, budget = simulated
    told = attributes(prepared, wiring, alternating, budget)
    row: Row = {"permission": permission(check(prepared.site, wiring)).word}
    row |= {name: _number(told[name]) for name in UNITS if name in told}
    row["nameplate_kwh"] = budget.nameplate_kwh
    row |= {name: str(told[name]) for name in _TEXTS}
    starts = pd.DatetimeIndex(prepared.weather.indexes["time"])
    local = starts + pd.Timedelta(seconds=int(told["utc_offset_s"]))
    months = monthly_energy(
        alternating.chain.fluctuating, local, prepared.present, prepared.step_hours
    )
    row |= {
        MONTH + month: None if np.isnan(energy) else float(energy)
        for month, energy in zip(MONTHS, months, strict=True)
    }
    row |= {LOSS + step: budget.steps[step] for step in STEPS}
    row |= {
        INPUT + name: prepared.total(power)
        for name, power in zip(inputs.names, inputs.points.p_dc.T, strict=True)
    }
    return row


def _number(value: str | int | float) -> float:
    return float(value)


def failed_row(message: str) -> Row:
    """Return the row of a run that could not be computed: no numbers at all, and why."""
    return {"status": "failed", "message": message}


def with_status(row: Mapping[str, Value]) -> Row:
    """Return the row of a run that was computed."""
    return {"status": "ok", "message": "", **row}
