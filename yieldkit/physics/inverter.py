"""The inverter: conversion losses and AC limits, on arrays."""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple

import numpy as np
import pvlib
from scipy import optimize

from yieldkit.words.errors import nearest, refuse

AC_LIMIT: dict[str, int] = {
    "none": 0,
    "maximum power": 1,
    "apparent power": 2,
    "amperes": 3,
    "export": 4,
    "derating": 5,
    "voltage-dependent power": 6,
}
"""What holds the AC power, by code."""

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

    voltages: np.ndarray
    coefficients: np.ndarray
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


class Conversion(NamedTuple):
    """AC power before any limit [W] (time,), and where a voltage was clamped (time,)."""

    p_ac: np.ndarray
    clamped: np.ndarray


class AcCap(NamedTuple):
    """Largest AC power [W] (time,) and which limit it is, codes of `AC_LIMIT` (time,)."""

    power: np.ndarray
    which: np.ndarray


def curve_from_table(
    loads: np.ndarray, voltages: np.ndarray, efficiency: np.ndarray, p_nominal: float
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


def _efficiency(coefficients: np.ndarray, loads: np.ndarray) -> np.ndarray:
    c0, c1, c2 = coefficients
    return loads / (loads + c0 + c1 * loads + c2 * loads**2)


def weighted_efficiency(
    coefficients: np.ndarray, weights: tuple[tuple[float, float], ...]
) -> float:
    """Return the weighted efficiency [1] of a loss curve; weights are load and share [1]."""
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

    def gaps(x: np.ndarray) -> np.ndarray:
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
def _listed_inverters() -> object:
    return pvlib.pvsystem.retrieve_sam("CECInverter")


def curve_from_list_row(row: str) -> ListedConversion:
    """Return the conversion coefficients of a row of the inverter list that pvlib bundles.

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


def ac_power(
    curve: ConversionCurve | ListedConversion, p_dc: np.ndarray, v_dc: np.ndarray
) -> Conversion:
    """Convert the trackers' power to AC, before any limit.

    Parameters
    ----------
    curve : ConversionCurve or ListedConversion
        The losses.
    p_dc, v_dc : ndarray
        Power [W] and voltage [V] of each tracker (time, tracker).

    Returns
    -------
    Conversion
        The whole power converted at each tracker's voltage, weighted with its power. That is
        an approximation: a common DC link follows the highest input. Never negative and never
        above the DC power.
    """
    total = p_dc.sum(axis=1)
    share = p_dc / np.where(total > 0.0, total, 1.0)[:, None]
    if isinstance(curve, ListedConversion):
        low, high = curve.v_low, curve.v_high
        by_tracker = _listed(curve, np.clip(v_dc, low, high), total[:, None])
        p_ac = np.sum(share * by_tracker, axis=1)
        several = True
    else:
        low, high = float(curve.voltages[0]), float(curve.voltages[-1])
        several = curve.voltages.size > 1
        p_ac = _from_losses(curve, share, v_dc, total)
    outside = (p_dc > 0.0) & ((v_dc < low) | (v_dc > high))
    clamped = outside.any(axis=1) if several else np.zeros(total.shape, dtype=bool)
    return Conversion(np.minimum(np.maximum(p_ac, 0.0), np.maximum(total, 0.0)), clamped)


def _from_losses(
    curve: ConversionCurve, share: np.ndarray, v_dc: np.ndarray, total: np.ndarray
) -> np.ndarray:
    """Solve p_dc = p + c0 + c1 p + c2 p2 with coefficients weighted over the trackers."""
    by_voltage = [
        np.sum(share * np.interp(v_dc, curve.voltages, curve.coefficients[:, column]), axis=1)
        for column in range(3)
    ]
    c0, c1, c2 = by_voltage
    load = total / curve.p_nominal - c0
    linear = 1.0 + c1
    root = np.sqrt(linear**2 + 4.0 * c2 * np.maximum(load, 0.0))
    return np.where(load > 0.0, 2.0 * load / (linear + root), 0.0) * curve.p_nominal


def _listed(curve: ListedConversion, v_dc: np.ndarray, p_dc: np.ndarray) -> np.ndarray:
    """King et al. (2007), Performance model for grid-connected inverters, eq. 1 to 4."""
    off = v_dc - curve.vdco
    a = curve.pdco * (1.0 + curve.c1 * off)
    b = curve.pso * (1.0 + curve.c2 * off)
    c = curve.c0 * (1.0 + curve.c3 * off)
    above = p_dc - b
    p_ac = (curve.paco / (a - b) - c * (a - b)) * above + c * above**2
    return np.where(p_dc < curve.pso, 0.0, p_ac)


def ac_cap(limits: dict[str, np.ndarray | float], steps: int) -> AcCap:
    """Return the least of several AC limits, and which it is.

    Parameters
    ----------
    limits : dict of str to float or ndarray
        Largest AC power [W] (number or (time,)) by a word of `AC_LIMIT`.
    steps : int
        Length of time.
    """
    power = np.full(steps, np.inf)
    which = np.zeros(steps, dtype=np.int8)
    for word, value in limits.items():
        level = np.broadcast_to(np.asarray(value, dtype=float), (steps,))
        lower = level < power
        power = np.where(lower, level, power)
        which = np.where(lower, np.int8(AC_LIMIT[word]), which)
    return AcCap(power, which)
