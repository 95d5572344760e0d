"""Delivered energy of wirings by calendar month."""

from __future__ import annotations

import pandas as pd

from yieldkit.study.comparison.compare import Comparison
from yieldkit.study.comparison.curves import local_times
from yieldkit.study.simulation.limited_hours import covered_steps
from yieldkit.study.simulation.period import step_hours

_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def monthly_table(comparison: Comparison) -> pd.DataFrame:
    """Return delivered energy by calendar month and wiring [kWh], of the steps with weather.

    A value that is missing where there is weather makes its month missing.
    """
    columns = {}
    for name, result in comparison.results:
        hours = step_hours(result.attrs)
        covered = covered_steps(result)
        times = local_times(result)[covered]
        series = pd.Series(result["p_delivered"].to_numpy()[covered], index=times)
        monthly = series.groupby(times.month).agg(lambda part: part.sum(skipna=False))
        columns[name] = monthly * hours / 1000.0
    table = pd.DataFrame(columns)
    table.index = pd.Index([_MONTHS[month - 1] for month in table.index])
    return table
