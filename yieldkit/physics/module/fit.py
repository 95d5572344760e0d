"""A single diode fitted to everything that a datasheet states, by least squares."""

from __future__ import annotations

import math
from typing import NamedTuple, TypeVar

import numpy as np
import pvlib
from scipy import optimize

from yieldkit.base.arrays import FloatArray

_KB_EV = 8.617333262e-5
_T_REF = 298.15
_EG_REF = 1.121
_DEG_DT = -0.0002677
_THERMAL_STEP_K = 10.0
USUAL_IDEALITY = 1.1
"""Diode ideality assumed where a datasheet leaves it open; common practice, no source."""
_Quantity = TypeVar("_Quantity", float, FloatArray)
_X_END, _F_END, _G_END, _MOST_TRIES = 1e-12, 1e-14, 1e-14, 400


class Datasheet(NamedTuple):
    """What a datasheet states at 1000 W/m2 and 25 degC; None where it states nothing.

    Parameters
    ----------
    name, technology : str
        Name of the type, and its technology.
    p_max, v_oc, i_sc, v_mp, i_mp : float
        [W], [V], [A].
    cells_in_series : int
        Cells in series.
    alpha_sc : float or None
        [A/K].
    beta_voc : float or None
        [V/K].
    gamma_pmp : float or None
        [1/K].
    relative_efficiency_200 : float or None
        Efficiency at 200 W/m2 over that at 1000 W/m2, both at 25 degC.
    power_matrix : tuple of (float, float, float)
        IEC 61853-1 points: irradiance [W/m2], cell temperature [degC], power [W].
    """

    name: str
    technology: str
    p_max: float
    v_oc: float
    i_sc: float
    v_mp: float
    i_mp: float
    cells_in_series: int
    alpha_sc: float | None = None
    beta_voc: float | None = None
    gamma_pmp: float | None = None
    relative_efficiency_200: float | None = None
    power_matrix: tuple[tuple[float, float, float], ...] = ()


class Reference(NamedTuple):
    """A single diode at 1000 W/m2 and 25 degC, and how it changes with the temperature.

    Parameters
    ----------
    photocurrent, saturation_current : float
        [A].
    resistance_series, resistance_shunt : float
        [ohm].
    n_ns_vth : float
        Ideality times cells in series times thermal voltage [V].
    alpha_sc : float
        Temperature coefficient of the short-circuit current [A/K].
    eg_ref : float
        Band gap [eV].
    deg_dt : float
        Its relative change with the temperature [1/K].
    """

    photocurrent: float
    saturation_current: float
    resistance_series: float
    resistance_shunt: float
    n_ns_vth: float
    alpha_sc: float
    eg_ref: float = _EG_REF
    deg_dt: float = _DEG_DT


def translate(
    reference: Reference, irradiance: _Quantity, temp_cell: _Quantity
) -> tuple[_Quantity, ...]:
    """Return photocurrent, saturation current, R_s, R_sh and n Ns Vth at other conditions.

    Parameters
    ----------
    reference : Reference
        The diode at reference conditions.
    irradiance : float or ndarray
        [W/m2] (condition,).
    temp_cell : float or ndarray
        [degC] (condition,).

    References
    ----------
    De Soto, Klein and Beckman (2006), eq. 13 to 17, through pvlib.
    """
    diode: tuple[_Quantity, ...] = pvlib.pvsystem.calcparams_desoto(
        irradiance, temp_cell, **translation_arguments(reference)
    )
    return diode


def translation_arguments(reference: Reference) -> dict[str, float]:
    """Return a reference diode by the names that pvlib's translations use.

    Parameters
    ----------
    reference : Reference
        The diode at reference conditions.
    """
    return {
        "alpha_sc": reference.alpha_sc,
        "a_ref": reference.n_ns_vth,
        "I_L_ref": reference.photocurrent,
        "I_o_ref": reference.saturation_current,
        "R_sh_ref": reference.resistance_shunt,
        "R_s": reference.resistance_series,
        "EgRef": reference.eg_ref,
        "dEgdT": reference.deg_dt,
    }


def maximum_power(reference: Reference, irradiance: float, temp_cell: float) -> float:
    """Return the maximum power of a reference diode at other conditions.

    Parameters
    ----------
    reference : Reference
        The diode at reference conditions.
    irradiance : float
        [W/m2].
    temp_cell : float
        [degC].

    Returns
    -------
    float
        [W].

    Notes
    -----
    The search is that of pvlib's `max_power_point` by the method of Brent, over the diode's
    voltage [V], with the same ends; plain numbers make it eight times faster. A last digit of `exp`
    decides where a fit by many such searches ends: up to 3e-7 elsewhere in the saturation current,
    along which all points agree, so that a year's energy differs by less than 1e-9.
    """
    il, i0, rs, rsh, a = (float(p) for p in translate(reference, irradiance, temp_cell))

    def at(volts: float) -> tuple[float, float, float]:
        """Return current, terminal voltage and what one ampere less adds to it."""
        amps = il - i0 * math.expm1(volts / a) - volts / rsh
        conductance = i0 / a * math.exp(volts / a) + 1.0 / rsh
        return amps, volts - amps * rs, 1.0 / conductance + rs

    def slope(volts: float) -> float:
        """Return the power's slope over the terminal voltage."""
        amps, terminal, ohms = at(volts)
        return amps - terminal / ohms

    amps, terminal, _ = at(optimize.brentq(slope, 0.0, a * math.log(il / i0 + 1.0)))
    return amps * terminal


def matrix_deviations(
    reference: Reference, matrix: tuple[tuple[float, float, float], ...]
) -> FloatArray:
    """Return how far a diode's power is from a matrix.

    Parameters
    ----------
    reference : Reference
        The diode at reference conditions.
    matrix : tuple of (float, float, float)
        Irradiance [W/m2], cell temperature [degC] and power [W] of each point.

    Returns
    -------
    ndarray
        Relative deviation of the power [1] (point,).
    """
    light, heat, power = np.array(matrix, dtype=float).T
    conditions = translate(reference, light, heat)
    try:
        with np.errstate(all="ignore"):
            found = pvlib.singlediode.bishop88_mpp(*conditions, method="newton")[2]
    except RuntimeError:
        found = pvlib.singlediode.bishop88_mpp(*conditions, method="brentq")[2]
    deviations: FloatArray = np.asarray(found) / power - 1.0
    return deviations


def _unpack(x: FloatArray, sheet: Datasheet, free_gap: bool) -> Reference:
    il, rs, rsh, a = np.exp(x[:4])
    return Reference(
        photocurrent=float(il),
        saturation_current=float(np.exp(x[4])),
        resistance_series=float(rs),
        resistance_shunt=float(rsh),
        n_ns_vth=float(a),
        alpha_sc=float(sheet.alpha_sc or 0.0),
        eg_ref=float(x[5]) if free_gap else _EG_REF,
    )


def _current_gap(parameters: tuple[float, ...], volts: float, current: float) -> float:
    il, i0, rs, rsh, a = (float(p) for p in parameters)
    vd = volts + current * rs
    return float((il - i0 * np.expm1(min(vd / a, 200.0)) - vd / rsh - current) / il)


class Weights(NamedTuple):
    """How much a deviation counts in the least squares.

    Parameters
    ----------
    isc, mpp, beta, gamma : float
        Of the short-circuit current, the maximum power point, and the temperature coefficients of
        the open-circuit voltage and of the power [1].
    """

    isc: float = 1.0
    mpp: float = 1.0
    beta: float = 0.5
    gamma: float = 0.0


def _residuals(x: FloatArray, sheet: Datasheet, free_gap: bool, weights: Weights) -> FloatArray:
    """Return how far a diode is from the datasheet's points, each relative and weighted."""
    diode = _unpack(x, sheet, free_gap)
    stc = translate(diode, 1000.0, 25.0)
    _il, i0, rs, rsh, a = (float(p) for p in stc)
    vd = sheet.v_mp + sheet.i_mp * rs
    conductance = i0 / a * np.exp(min(vd / a, 200.0)) + 1.0 / rsh
    slope = conductance / (1.0 + rs * conductance)
    gaps = [
        weights.isc * _current_gap(stc, 0.0, sheet.i_sc),
        _current_gap(stc, sheet.v_oc, 0.0),
        weights.mpp * _current_gap(stc, sheet.v_mp, sheet.i_mp),
        weights.mpp * (sheet.v_mp * slope / sheet.i_mp - 1.0),
    ]
    if sheet.beta_voc is not None:
        for kelvin in (-_THERMAL_STEP_K, _THERMAL_STEP_K):
            hot = translate(diode, 1000.0, 25.0 + kelvin)
            volts = sheet.v_oc + sheet.beta_voc * kelvin
            gaps.append(weights.beta * _current_gap(hot, volts, 0.0))
    if sheet.gamma_pmp is not None and weights.gamma > 0.0:
        wanted = sheet.v_mp * sheet.i_mp * (1.0 + 25.0 * sheet.gamma_pmp)
        gaps.append(weights.gamma * (maximum_power(diode, 1000.0, 50.0) / wanted - 1.0))
    if sheet.relative_efficiency_200 is not None:
        wanted = 0.2 * sheet.relative_efficiency_200 * sheet.v_mp * sheet.i_mp
        gaps.append(maximum_power(diode, 200.0, 25.0) / wanted - 1.0)
    if sheet.power_matrix:
        gaps.extend(0.3 * matrix_deviations(diode, sheet.power_matrix))
    if leaves_ideality_open(sheet):
        gaps.append(0.01 * (x[3] - np.log(USUAL_IDEALITY * _thermal_voltage(sheet))))
    return np.array(gaps)


def leaves_ideality_open(sheet: Datasheet) -> bool:
    """Return whether a datasheet states nothing beside its points, which any ideality meets."""
    known = (sheet.beta_voc, sheet.gamma_pmp, sheet.relative_efficiency_200)
    return known == (None, None, None) and not sheet.power_matrix


def _thermal_voltage(sheet: Datasheet) -> float:
    return sheet.cells_in_series * _KB_EV * _T_REF


def _start(sheet: Datasheet) -> FloatArray:
    """Return a start: a usual ideality, R_s and R_sh from the slopes the points allow."""
    a = USUAL_IDEALITY * _thermal_voltage(sheet)
    knee_drop = a * np.log(max(1.0 - sheet.i_mp / sheet.i_sc, 1e-3))
    rs = max((sheet.v_oc + knee_drop - sheet.v_mp) / sheet.i_mp, 1e-3 * sheet.v_oc / sheet.i_sc)
    rsh = 40.0 * sheet.v_oc / sheet.i_sc
    log_i0 = np.log(sheet.i_sc) - sheet.v_oc / a
    return np.array(
        [np.log(sheet.i_sc * (1 + rs / rsh)), np.log(rs), np.log(rsh), np.log(a), log_i0]
    )


def least_squares(sheet: Datasheet, weights: Weights, free_gap: bool) -> Reference | None:
    """Fit the diode to all that is known at once.

    Unknowns are logarithms, so that they stay positive and comparable.

    Parameters
    ----------
    sheet : Datasheet
        The datasheet.
    weights : Weights
        How much each kind of deviation counts.
    free_gap : bool
        Whether the band gap is an unknown, too.

    Returns
    -------
    Reference or None
        None when the least squares don't converge.
    """
    start = _start(sheet)
    low = start - np.array([0.2, 6.0, 5.0, 0.8, 40.0])
    high = start + np.array([0.2, 4.0, 9.0, 0.8, 40.0])
    if free_gap:
        start, low, high = (
            np.append(a, gap) for a, gap in ((start, _EG_REF), (low, 0.7), (high, 1.8))
        )
    try:
        solution = optimize.least_squares(
            _residuals,
            start,
            bounds=(low, high),
            x_scale="jac",
            args=(sheet, free_gap, weights),
            xtol=_X_END,
            ftol=_F_END,
            gtol=_G_END,
            max_nfev=_MOST_TRIES,
        )
    except (ValueError, ArithmeticError):
        return None
    return _unpack(solution.x, sheet, free_gap)
