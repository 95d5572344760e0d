"""An inverter's conversion losses, from efficiency tables, weighted figures or a listed row."""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple

import numpy as np
import pandas as pd
import pvlib
from scipy import optimize

from yieldkit.base.arrays import FloatArray
from yieldkit.base.errors import nearest, refuse

_EUROPEAN = ((0.05, 0.03), (0.1, 0.06), (0.2, 0.13), (0.3, 0.1), (0.5, 0.48), (1.0, 0.2))
_CEC = ((0.1, 0.04), (0.2, 0.05), (0.3, 0.12), (0.5, 0.21), (0.75, 0.53), (1.0, 0.05))


class ConversionCurve(NamedTuple):
    """Conversion losses c0 + c1 p + c2 p2 of the AC load p, by DC voltage.

    Parameters
    ----------
    voltages : ndarray
        DC voltages, rising [V] (voltage,).
    coefficients : ndarray
        c0, c1, c2, none negative, as shares of nominal power (voltage, 3).
    p_nominal : float
        Nominal AC power [W].
    worst_residual : float
        Largest deviation of the curve from the efficiencies it was made from [1].
    shape_assumed : bool
        True when only weighted figures were known.
    """

    voltages: FloatArray
    coefficients: FloatArray
    p_nominal: float
    worst_residual: float
    shape_assumed: bool


class ListedConversion(NamedTuple):
    """Coefficients of an inverter list's row; its limits are never used.

    Parameters
    ----------
    paco, pdco, vdco, pso, c0, c1, c2, c3 : float
        As in King et al. (2007), [W] and [V].
    v_low, v_high : float
        Span of DC voltage that was tested [V].
    """

    paco: float
    pdco: float
    vdco: float
    pso: float
    c0: float
    c1: float
    c2: float
    c3: float
    v_low: float
    v_high: float


def curve_from_table(
    loads: FloatArray, voltages: FloatArray, efficiency: FloatArray, p_nominal: float
) -> ConversionCurve:
    """Fit the loss curve to a table of efficiencies.

    Parameters
    ----------
    loads : ndarray
        AC power over nominal (load,).
    voltages : ndarray
        DC voltages, rising [V] (voltage,).
    efficiency : ndarray
        (voltage, load).
    p_nominal : float
        Nominal AC power [W].

    Returns
    -------
    ConversionCurve
        By non-negative least squares on the efficiency, so that it never exceeds 1.
    """
    loads = np.asarray(loads, dtype=float)
    coefficients = []
    worst = 0.0
    for row in np.asarray(efficiency, dtype=float):
        p_dc = loads / row
        matrix = np.stack([np.ones_like(loads), loads, loads**2], axis=1) / p_dc[:, None]
        found, _norm = optimize.nnls(matrix, 1.0 - row)
        worst = max(worst, float(np.max(np.abs(_efficiency(found, loads) - row))))
        coefficients.append(found)
    return ConversionCurve(
        np.asarray(voltages, dtype=float), np.array(coefficients), p_nominal, worst, False
    )


def _efficiency(coefficients: FloatArray, loads: FloatArray) -> FloatArray:
    c0, c1, c2 = coefficients
    found: FloatArray = loads / (loads + c0 + c1 * loads + c2 * loads**2)
    return found


def weighted_efficiency(
    coefficients: FloatArray, weights: tuple[tuple[float, float], ...]
) -> float:
    """Return the weighted efficiency of a loss curve.

    Parameters
    ----------
    coefficients : ndarray
        c0, c1 and c2 [1] (3,).
    weights : tuple of (float, float)
        AC load over nominal, and its share of the energy [1].

    Returns
    -------
    float
        [1].
    """
    loads = np.array([load for load, _ in weights])
    shares = np.array([share for _, share in weights])
    return float(_efficiency(coefficients, loads) @ shares)


def curve_from_weighted(
    european: float,
    cec: float | None,
    maximum: float,
    load_at_maximum: float,
    p_nominal: float,
    voltage: float | None,
) -> ConversionCurve:
    """Find a loss curve that has the weighted and maximum efficiencies; its shape is assumed.

    Parameters
    ----------
    european, maximum : float
        European weighted and maximum efficiency [1].
    cec : float or None
        CEC weighted efficiency [1], where known.
    load_at_maximum : float
        AC load at which the maximum lies [1].
    p_nominal : float
        Nominal AC power [W].
    voltage : float or None
        DC voltage of the figures [V]; one voltage stands for all.

    References
    ----------
    Weights: EN 50530 (European) and the CEC test protocol; read.
    """

    def gaps(x: FloatArray) -> FloatArray:
        at_maximum = _efficiency(x, np.array([load_at_maximum]))[0]
        found = [
            weighted_efficiency(x, _EUROPEAN) - european,
            at_maximum - maximum,
            0.1 * (x[0] - x[2] * load_at_maximum**2),
        ]
        if cec is not None:
            found.append(weighted_efficiency(x, _CEC) - cec)
        return np.array(found)

    loss = 1.0 / maximum - 1.0
    start = np.array([0.25 * loss * load_at_maximum, 0.5 * loss, 0.25 * loss / load_at_maximum])
    solution = optimize.least_squares(gaps, start, bounds=(0.0, 0.5), xtol=1e-14, ftol=1e-14)
    return ConversionCurve(
        np.array([voltage or 1.0]),
        solution.x[None, :],
        p_nominal,
        float(np.max(np.abs(gaps(solution.x)))),
        True,
    )


@lru_cache(maxsize=1)
def _listed_inverters() -> pd.DataFrame:
    table: pd.DataFrame = pvlib.pvsystem.retrieve_sam("CECInverter")
    return table


def curve_from_list_row(row: str) -> ListedConversion:
    """Return the conversion coefficients of a row of the inverter list that pvlib bundles.

    Parameters
    ----------
    row : str
        The row's name.

    Raises
    ------
    InputError
        If there is no such row; the nearest name is suggested.
    """
    table = _listed_inverters()
    if row not in table.columns:
        close = nearest(row, table.columns)
        refuse(
            "inverter row",
            f"'{row}'",
            "a row of the bundled inverter list",
            remedy=f"Did you mean '{close}'?" if close else "Enter the datasheet's efficiencies.",
        )
    values = table[row]
    keys = ("Paco", "Pdco", "Vdco", "Pso", "C0", "C1", "C2", "C3", "Mppt_low", "Mppt_high")
    return ListedConversion(*(float(values[key]) for key in keys))
