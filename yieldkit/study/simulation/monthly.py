"""Energy by calendar month."""

from __future__ import annotations

import numpy as np
import pandas as pd

from yieldkit.base.arrays import BoolArray, FloatArray


def monthly_energy(
    power: FloatArray, local: pd.DatetimeIndex, covered: BoolArray, step_hours: float
) -> FloatArray:
    """Return the energy of a power series by calendar month [kWh] (12,).

    Parameters
    ----------
    power : ndarray
        Mean power of each step [W] (time,).
    local : DatetimeIndex
        Starts of the steps in local standard time.
    covered : ndarray of bool
        Steps that have weather (time,).
    step_hours : float
        Hours a step counts in totals [h].

    Returns
    -------
    ndarray
        Of the steps with weather; nan for a month without any, and for one with a missing value
        where there is weather.
    """
    month = local.month.to_numpy()
    energy = np.full(12, np.nan)
    for number in range(12):
        own = covered & (month == number + 1)
        if own.any():
            energy[number] = power[own].sum() * step_hours / 1000.0
    return energy
