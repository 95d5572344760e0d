"""From the trackers' power to AC power, before any limit."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import BoolArray, FloatArray
from yieldkit.physics.ac.conversion_curves import ConversionCurve, ListedConversion
from yieldkit.physics.compiled import compiled


class Conversion(NamedTuple):
    """AC power before any limit.

    Parameters
    ----------
    p_ac : ndarray
        AC power [W] (time,).
    clamped : ndarray of bool
        Whether a voltage lay outside those that the efficiencies were stated for, so that the
        nearest one was used (time,).
    """

    p_ac: FloatArray
    clamped: BoolArray


@compiled
def power_from_losses(p_dc, c0, c1, c2, p_nominal):
    """Return AC power from p_dc = p + c0 + c1 p + c2 p2, neither negative nor above p_dc.

    Parameters
    ----------
    p_dc : float
        Power of all trackers [W].
    c0, c1, c2 : float
        Coefficients of the loss curve at the trackers' voltages, weighted with their power [1].
    p_nominal : float
        Nominal AC power [W].

    Returns
    -------
    float
        [W].
    """
    load = max(p_dc / p_nominal - c0, 0.0)
    linear = 1.0 + c1
    root = math.sqrt(linear * linear + 4.0 * c2 * load)
    return min(2.0 * load / (linear + root) * p_nominal, max(p_dc, 0.0))


@compiled
def power_from_list(p_dc, a, b, c, paco):
    """Return AC power of a listed inverter above its least DC power.

    Parameters
    ----------
    p_dc : float
        Power of all trackers [W].
    a, b, c : float
        Coefficients A [W], B [W] and C [1/W] at a tracker's voltage.
    paco : float
        Reference AC power [W].

    Returns
    -------
    float
        [W].

    References
    ----------
    King et al. (2007), Performance model for grid-connected inverters, eq. 1.
    """
    above = p_dc - b
    return (paco / (a - b) - c * (a - b)) * above + c * above * above


@compiled
def fill_from_losses(p_dc, coefficients, p_nominal, p_ac):
    """Fill `power_from_losses` of all steps.

    Parameters
    ----------
    p_dc : ndarray
        Power of all trackers [W] (time,).
    coefficients : ndarray
        c0, c1, c2 weighted with the trackers' power [1] (3, time).
    p_nominal : float
        Nominal AC power [W].
    p_ac : ndarray
        Filled [W] (time,).
    """
    for t in range(p_dc.size):
        p_ac[t] = power_from_losses(
            p_dc[t], coefficients[0, t], coefficients[1, t], coefficients[2, t], p_nominal
        )


@compiled
def fill_from_list(p_dc, share, coefficients, least, paco, p_ac):
    """Fill AC power of a listed inverter, the whole power converted at each tracker's voltage.

    Parameters
    ----------
    p_dc : ndarray
        Power of all trackers [W] (time,).
    share : ndarray
        Each tracker's share of it [1] (time, tracker).
    coefficients : ndarray
        A [W], B [W] and C [1/W] from `list_coefficients` (3, time, tracker).
    least, paco : float
        DC power below which there is no AC power, and reference AC power [W].
    p_ac : ndarray
        Filled [W] (time,).
    """
    for t in range(p_dc.size):
        p_ac[t] = 0.0
        if p_dc[t] < least:
            continue
        for n in range(share.shape[1]):
            a, b, c = coefficients[0, t, n], coefficients[1, t, n], coefficients[2, t, n]
            p_ac[t] += share[t, n] * power_from_list(p_dc[t], a, b, c, paco)


def loss_coefficients(curve: ConversionCurve, v_dc: FloatArray) -> FloatArray:
    """Return the coefficients of a loss curve at DC voltages.

    Parameters
    ----------
    curve : ConversionCurve
        The losses.
    v_dc : ndarray
        DC voltages [V] (any shape).

    Returns
    -------
    ndarray
        c0, c1 and c2 [1] (3, shape of the voltages); those of the nearest voltage outside the
        curve's own.
    """
    return np.stack(
        [np.interp(v_dc, curve.voltages, curve.coefficients[:, column]) for column in range(3)]
    )


def list_coefficients(curve: ListedConversion, v_dc: FloatArray) -> FloatArray:
    """Return the coefficients of a listed inverter at DC voltages.

    Parameters
    ----------
    curve : ListedConversion
        The inverter.
    v_dc : ndarray
        DC voltages [V] (any shape).

    Returns
    -------
    ndarray
        A [W], B [W] and C [1/W] (3, shape of the voltages).

    References
    ----------
    King et al. (2007), Performance model for grid-connected inverters, eq. 2 to 4.
    """
    off = np.clip(v_dc, curve.v_low, curve.v_high) - curve.vdco
    return np.stack(
        [
            curve.pdco * (1.0 + curve.c1 * off),
            curve.pso * (1.0 + curve.c2 * off),
            curve.c0 * (1.0 + curve.c3 * off),
        ]
    )


def ac_power(
    curve: ConversionCurve | ListedConversion, p_dc: FloatArray, v_dc: FloatArray
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
    p_ac = np.empty_like(total)
    if isinstance(curve, ListedConversion):
        low, high = curve.v_low, curve.v_high
        fill_from_list(total, share, list_coefficients(curve, v_dc), curve.pso, curve.paco, p_ac)
        several = True
    else:
        low, high = float(curve.voltages[0]), float(curve.voltages[-1])
        several = curve.voltages.size > 1
        weighted = np.sum(share * loss_coefficients(curve, v_dc), axis=2)
        fill_from_losses(total, weighted, curve.p_nominal, p_ac)
    outside = (p_dc > 0.0) & ((v_dc < low) | (v_dc > high))
    clamped = np.any(outside, axis=1) if several else np.zeros(total.shape, dtype=bool)
    return Conversion(np.minimum(np.maximum(p_ac, 0.0), np.maximum(total, 0.0)), clamped)
