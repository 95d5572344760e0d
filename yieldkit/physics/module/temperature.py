"""Cell temperature by mounting, wind at another height, and the inverter's inlet air."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import pandas as pd
from pvlib import temperature

from yieldkit.base.arrays import FloatArray
from yieldkit.base.errors import nearest, refuse

_WINDOW_S = 1200.0
"""The last 20 minutes have an influence on a cell's temperature [s] (Prilliman et al. 2020)."""
_RATE = (0.0046, 0.00046, -0.00023, -1.6e-5)
_UNIT_MASS = 11.1
"""How fast a module follows [1/s], by wind [m/s] and mass by area [kg/m2], and the mass of modules
of glass and foil: Prilliman et al. (2020), table II; read in pvlib."""
_STEPS_AT_ONCE = 8192
"""Steps whose arrays stay together in a processor's own memory."""


class MountingModel(NamedTuple):
    """Heat loss of modules in one way of mounting.

    Parameters
    ----------
    u0, u1 : float
        Heat-loss coefficients [W/m2/K] and [W s/m3/K] of IEC 61853-2.
    wind_height_m : float
        Height at which their wind was measured [m].
    neighbours : tuple of str
        The next cooler and warmer ways of mounting, for the reported spread.
    source : str
        Where the figures come from, with the mark of how they were known.
    cell_above_back_k : float
        How much warmer cells are than the modules' back at 1000 W/m2 [K].
    """

    u0: float
    u1: float
    wind_height_m: float
    neighbours: tuple[str, ...]
    source: str
    cell_above_back_k: float


_FAIMAN = "Faiman (2008), Prog. Photovolt. 16, 307-315: free-standing modules; read"
_KING = "King et al. (2004), SAND2004-3535, linearised in wind and brought to 2 m; computed"
_SCALED = (
    "assumed between free-standing (Faiman 2008) and close to a roof; common practice, no source"
)
MOUNTING: dict[str, MountingModel] = {
    "open-rack": MountingModel(25.0, 6.84, 2.0, ("flat-roof-rack",), _FAIMAN, 3.0),
    "flat-roof-rack": MountingModel(
        25.0, 4.5, 2.0, ("open-rack", "roof-parallel"), _SCALED + " (sheltered wind)", 3.0
    ),
    "roof-parallel": MountingModel(
        19.3, 1.26, 2.0, ("flat-roof-rack", "integrated"), _KING + ": close to a roof", 1.0
    ),
    "integrated": MountingModel(
        16.6, 1.0, 2.0, ("roof-parallel",), _KING + ": insulated back", 0.0
    ),
    "facade": MountingModel(
        20.0, 3.2, 2.0, ("open-rack", "integrated"), _SCALED + " (vertical, gap behind)", 3.0
    ),
}
"""Ways of mounting, their heat loss and its source; keys as in the configuration. Cells above the
modules' back: King et al. (2004), SAND2004-3535, table 1, by mounting; read in pvlib."""

_ROUGHNESS_EXPONENT = 1.0 / 7.0


def mounting_model(mounting: str) -> MountingModel:
    """Return the heat loss of a way of mounting; there is no default.

    Parameters
    ----------
    mounting : str
        A key of `MOUNTING`.

    Raises
    ------
    InputError
        For an unknown one.
    """
    if mounting in MOUNTING:
        return MOUNTING[mounting]
    close = nearest(mounting, MOUNTING)
    refuse(
        "mounting",
        f"'{mounting}'",
        "one of " + ", ".join(MOUNTING),
        remedy=f"Did you mean '{close}'?" if close else "",
    )


def wind_at_height(wind_speed: FloatArray, from_m: float, to_m: float) -> FloatArray:
    """Convert wind speed between heights by the power law.

    Parameters
    ----------
    wind_speed : ndarray
        [m/s] (time,).
    from_m, to_m : float
        Heights above ground [m].

    References
    ----------
    Power law with exponent 1/7 (open terrain); common practice, from memory.
    """
    factor = float((to_m / from_m) ** _ROUGHNESS_EXPONENT)
    return wind_speed * factor


def cell_temperature(
    mounting: str,
    poa_global: FloatArray,
    temp_air: FloatArray,
    wind_speed: FloatArray,
    wind_height_m: float,
) -> FloatArray:
    """Return the steady-state cell temperature.

    Parameters
    ----------
    mounting : str
        A key of `MOUNTING`.
    poa_global : ndarray
        In-plane irradiance, with any rear gain [W/m2] (time,).
    temp_air : ndarray
        Ambient temperature [degC] (time,).
    wind_speed : ndarray
        [m/s] (time,).
    wind_height_m : float
        Height of the wind's measurement [m].

    Returns
    -------
    ndarray
        Cell temperature [degC] (time,).

    References
    ----------
    IEC 61853-2 / Faiman (2008): T = T_amb + G / (u0 + u1 v).
    """
    model = mounting_model(mounting)
    wind = wind_at_height(wind_speed, wind_height_m, model.wind_height_m)
    return np.asarray(temperature.faiman(poa_global, temp_air, wind, model.u0, model.u1))


def transient_cell_temperature(
    mounting: str,
    poa_global: FloatArray,
    temp_air: FloatArray,
    wind_speed: FloatArray,
    wind_height_m: float,
    times: pd.DatetimeIndex,
) -> FloatArray:
    """Return the cell temperature with the module's thermal mass, for steps below 15 minutes.

    Parameters
    ----------
    mounting, poa_global, temp_air, wind_speed, wind_height_m
        As for `cell_temperature`.
    times : DatetimeIndex
        When each step begins (time,).

    Returns
    -------
    ndarray
        Cell temperature [degC] (time,); the steady one where the last 20 minutes have a gap.

    References
    ----------
    Prilliman et al. (2020), IEEE J. Photovolt. 10, 1053-1060.
    """
    steady = cell_temperature(mounting, poa_global, temp_air, wind_speed, wind_height_m)
    model = mounting_model(mounting)
    wind = wind_at_height(wind_speed, wind_height_m, model.wind_height_m)
    if times.size < 2:
        return steady
    step_s = (times[1] - times[0]).total_seconds()
    lags = int(_WINDOW_S / step_s)
    smoothed = np.empty(times.size)
    for begin in range(0, times.size, _STEPS_AT_ONCE):
        early = max(begin - lags, 0)
        block = slice(early, begin + _STEPS_AT_ONCE)
        smoothed[begin : begin + _STEPS_AT_ONCE] = _smoothed(
            steady[block], wind[block], step_s, lags
        )[begin - early :]
    return np.where(np.isnan(smoothed) | np.isnan(steady), steady, smoothed)


def _smoothed(steady: FloatArray, wind: FloatArray, step_s: float, lags: int) -> FloatArray:
    """Return the mean of the last steps, each counting less by one factor than the one after it.

    The library weighs a whole window with an exponential for every step of it; as the weights are
    powers of one number, the sum is a polynomial of that number.
    """
    rate = _RATE[0] + _RATE[1] * wind + _RATE[2] * _UNIT_MASS + _RATE[3] * wind * _UNIT_MASS
    factor = np.exp(-rate * step_s)
    there = np.isfinite(steady)
    known = np.where(there, steady, 0.0)
    weight = there.astype(float)
    total, weights = np.zeros_like(steady), np.zeros_like(steady)
    for lag in range(min(lags, steady.size - 1), 0, -1):
        total[lag:] += known[:-lag]
        weights[lag:] += weight[:-lag]
        total *= factor
        weights *= factor
    with np.errstate(invalid="ignore"):  # a window without any value is missing, no fault
        smoothed: FloatArray = total / weights
    return smoothed


def inlet_temperature(temp_air: FloatArray, offset_k: float) -> FloatArray:
    """Return the temperature of the inverter's inlet air [degC] (time,).

    Parameters
    ----------
    temp_air : ndarray
        Ambient temperature [degC] (time,).
    offset_k : float
        Assumed rise of the inlet air over ambient at the place on the wall [K].
    """
    return temp_air + offset_k
