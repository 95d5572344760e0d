"""A run's results as one row: energies, hours, months, losses and inputs, as plain values."""

from __future__ import annotations

import numpy as np
import pandas as pd

from yieldkit.design.checks.limits import check
from yieldkit.design.checks.permission import permission
from yieldkit.study.batch.row_columns import INPUT, LOSS, MONTH, TEXTS, UNITS, Row
from yieldkit.study.simulation.budget_steps import STEPS
from yieldkit.study.simulation.month_weights import weighed
from yieldkit.study.simulation.monthly import monthly_energy
from yieldkit.study.simulation.period import MONTHS
from yieldkit.study.simulation.simulate import Simulated, attributes


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
    row |= {name: str(told[name]) for name in TEXTS}
    starts = pd.DatetimeIndex(prepared.weather.indexes["time"])
    local = starts + pd.Timedelta(seconds=int(told["utc_offset_s"]))
    months = monthly_energy(
        weighed(alternating.chain.fluctuating, prepared.weights),
        local,
        prepared.present,
        prepared.step_hours,
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
