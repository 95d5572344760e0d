"""Delivered energy of wirings by calendar month."""

from __future__ import annotations

import numpy as np
import pandas as pd

from yieldkit.study.comparison.compare import Comparison
from yieldkit.study.simulation.limited_hours import covered_steps
from yieldkit.study.simulation.month_weights import result_weights, weighed
from yieldkit.study.simulation.monthly import monthly_energy
from yieldkit.study.simulation.period import MONTHS, local_times, step_hours


def monthly_table(comparison: Comparison) -> pd.DataFrame:
    """Return delivered energy by calendar month and wiring [kWh], of the steps with weather.

    A value that is missing where there is weather makes its month missing.
    """
    columns = {}
    for name, result in comparison.results:
        power = weighed(result["p_delivered"].to_numpy(), result_weights(result))
        columns[name] = monthly_energy(
            power, local_times(result), covered_steps(result), step_hours(result.attrs)
        )
    table = pd.DataFrame(columns, index=pd.Index(MONTHS))
    covered = np.zeros(len(MONTHS), dtype=bool)
    for _, result in comparison.results:
        covered[local_times(result)[covered_steps(result)].month - 1] = True
    return table[covered]
