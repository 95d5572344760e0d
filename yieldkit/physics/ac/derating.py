"""Derating: the inverter's largest AC power in hot and in thin air."""

from __future__ import annotations

import numpy as np

from yieldkit.base.arrays import FloatArray


def thin_air_factor(altitude: float, above_m: float, percent_per_100_m: float) -> float:
    """Return what altitude leaves of an inverter's power [1], from 1 down to 0.

    Parameters
    ----------
    altitude, above_m : float
        Altitude, and that from which power falls [m].
    percent_per_100_m : float
        Loss per 100 m above it, in percent of the power lower down [%].
    """
    lost = max(altitude - above_m, 0.0) / 100.0 * percent_per_100_m / 100.0
    return max(1.0 - lost, 0.0)


def derated_power(
    temp_inlet: FloatArray,
    v_dc: FloatArray,
    table: FloatArray,
    p_nominal: float,
    thin_air: float = 1.0,
) -> FloatArray:
    """Return the largest AC power at an inlet temperature, DC voltage and altitude.

    Parameters
    ----------
    temp_inlet : ndarray
        [degC] (time,).
    v_dc : ndarray
        Highest DC voltage of the inputs [V] (time,).
    table : ndarray
        Temperature [degC], DC voltage [V] (nan where it is for all) and power [W] (point, 3).
    p_nominal : float
        Nominal AC power [W], which thin air lowers where there is no table.
    thin_air : float
        What altitude leaves of the power [1], from `thin_air_factor`.

    Returns
    -------
    ndarray
        [W] (time,): linear between points, and that of the nearest point outside them; times the
        factor of altitude. Without a table the nominal power times that factor, or unlimited where
        altitude takes nothing.
    """
    if table.size == 0:
        return np.full(temp_inlet.shape, p_nominal * thin_air if thin_air < 1.0 else np.inf)
    voltages = np.unique(table[~np.isnan(table[:, 1]), 1])
    if voltages.size == 0:
        return np.interp(temp_inlet, table[:, 0], table[:, 2]) * thin_air
    by_voltage = np.stack(
        [
            np.interp(temp_inlet, *table[table[:, 1] == voltage][:, [0, 2]].T)
            for voltage in voltages
        ],
        axis=1,
    )
    place = np.clip(np.interp(v_dc, voltages, np.arange(voltages.size)), 0, voltages.size - 1)
    below = np.floor(np.nan_to_num(place)).astype(int)
    upper = np.minimum(below + 1, voltages.size - 1)
    rows = np.arange(temp_inlet.size)
    part = place - below
    found: FloatArray = (1 - part) * by_voltage[rows, below] + part * by_voltage[rows, upper]
    return found * thin_air
