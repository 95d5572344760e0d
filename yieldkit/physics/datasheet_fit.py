"""Ways to find a single diode that reproduces a datasheet."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import MappingProxyType
from typing import NamedTuple

import numpy as np
import pvlib
from scipy import optimize

_KB_EV = 8.617333262e-5
_T_REF = 298.15
_EG_REF = 1.121
_DEG_DT = -0.0002677
_THERMAL_STEP_K = 10.0


class Datasheet(NamedTuple):
    """What a datasheet says at 1000 W/m2 and 25 degC; None where it is silent.

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
    """A single diode at 1000 W/m2 and 25 degC with its translation's coefficients.

    Currents [A], resistances [ohm], `n_ns_vth` [V], `alpha_sc` [A/K], `eg_ref` [eV],
    `deg_dt` [1/K].
    """

    photocurrent: float
    saturation_current: float
    resistance_series: float
    resistance_shunt: float
    n_ns_vth: float
    alpha_sc: float
    eg_ref: float = _EG_REF
    deg_dt: float = _DEG_DT


class Method(NamedTuple):
    """A fitting method, the gates it is allowed to miss by more, and what to say of it.

    Parameters
    ----------
    fit : callable
        From a datasheet to a diode, or None.
    wider : dict of str to float
        Gates with another limit.
    remark : str
        Added to the assumptions when it is used.
    reads_matrix : bool
        Whether it takes a power matrix into account.
    """

    fit: Callable[[Datasheet], Reference | None]
    wider: Mapping[str, float] = MappingProxyType({})
    remark: str = ""
    reads_matrix: bool = True


def translate(
    reference: Reference, irradiance: float | np.ndarray, temp_cell: float | np.ndarray
) -> tuple[float | np.ndarray, ...]:
    """Return photocurrent, saturation current, R_s, R_sh and n Ns Vth at other conditions.

    Parameters
    ----------
    reference : Reference
        The diode at reference conditions.
    irradiance : float
        [W/m2].
    temp_cell : float
        [degC].

    References
    ----------
    De Soto, Klein and Beckman (2006), eq. 13 to 17, through pvlib.
    """
    return pvlib.pvsystem.calcparams_desoto(
        irradiance,
        temp_cell,
        alpha_sc=reference.alpha_sc,
        a_ref=reference.n_ns_vth,
        I_L_ref=reference.photocurrent,
        I_o_ref=reference.saturation_current,
        R_sh_ref=reference.resistance_shunt,
        R_s=reference.resistance_series,
        EgRef=reference.eg_ref,
        dEgdT=reference.deg_dt,
    )


def maximum_power(reference: Reference, irradiance: float, temp_cell: float) -> float:
    """Return the maximum power of a reference diode at other conditions [W]."""
    point = pvlib.pvsystem.max_power_point(
        *translate(reference, irradiance, temp_cell), method="brentq"
    )
    return float(point["p_mp"])


def matrix_deviations(
    reference: Reference, matrix: tuple[tuple[float, float, float], ...]
) -> np.ndarray:
    """Return how far a diode's power is from a matrix, relative, one value a point (point,).

    The matrix holds irradiance [W/m2], cell temperature [degC] and power [W].
    """
    light, heat, power = np.array(matrix, dtype=float).T
    conditions = translate(reference, light, heat)
    try:
        with np.errstate(all="ignore"):
            found = pvlib.singlediode.bishop88_mpp(*conditions, method="newton")[2]
    except RuntimeError:
        found = pvlib.singlediode.bishop88_mpp(*conditions, method="brentq")[2]
    return np.asarray(found) / power - 1.0


def _unpack(x: np.ndarray, sheet: Datasheet, free_gap: bool) -> Reference:
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
    return (il - i0 * np.expm1(min(vd / a, 200.0)) - vd / rsh - current) / il


class Weights(NamedTuple):
    """How much a deviation counts in the least squares [1]."""

    isc: float = 1.0
    mpp: float = 1.0
    beta: float = 0.5
    gamma: float = 0.0


def _residuals(x: np.ndarray, sheet: Datasheet, free_gap: bool, weights: Weights) -> np.ndarray:
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
    return np.array(gaps)


def _start(sheet: Datasheet) -> np.ndarray:
    """Return a start: ideality near 1.1, R_s and R_sh from the slopes the points allow."""
    a = 1.1 * sheet.cells_in_series * _KB_EV * _T_REF
    knee_drop = a * np.log(max(1.0 - sheet.i_mp / sheet.i_sc, 1e-3))
    rs = max((sheet.v_oc + knee_drop - sheet.v_mp) / sheet.i_mp, 1e-3 * sheet.v_oc / sheet.i_sc)
    rsh = 40.0 * sheet.v_oc / sheet.i_sc
    log_i0 = np.log(sheet.i_sc) - sheet.v_oc / a
    return np.array(
        [np.log(sheet.i_sc * (1 + rs / rsh)), np.log(rs), np.log(rsh), np.log(a), log_i0]
    )


def _least_squares(sheet: Datasheet, weights: Weights, free_gap: bool) -> Reference | None:
    """Fit the diode to all that is known at once; None when the least squares don't end.

    Unknowns are logarithms, so that they stay positive and comparable.
    """
    start = _start(sheet)
    low = start - np.array([0.2, 6.0, 5.0, 0.8, 40.0])
    high = start + np.array([0.2, 4.0, 9.0, 0.8, 40.0])
    if free_gap:
        start = np.append(start, _EG_REF)
        low = np.append(low, 0.7)
        high = np.append(high, 1.8)
    try:
        solution = optimize.least_squares(
            _residuals,
            start,
            bounds=(low, high),
            x_scale="jac",
            args=(sheet, free_gap, weights),
            xtol=1e-12,
            ftol=1e-14,
            gtol=1e-14,
            max_nfev=400,
        )
    except (ValueError, FloatingPointError):
        return None
    return _unpack(solution.x, sheet, free_gap)


def fit_all_points(sheet: Datasheet) -> Reference | None:
    """Fit the diode to all points, the voltage coefficient and low-light figures at once.

    Where low light is known the band gap is free as well, since low light takes the place of
    the voltage coefficient in setting the ideality.
    """
    calibrated = sheet.relative_efficiency_200 is not None or bool(sheet.power_matrix)
    # Many points of a matrix would outweigh the nameplate's own.
    weights = Weights(mpp=3.0) if sheet.power_matrix else Weights()
    return _least_squares(sheet, weights, calibrated and sheet.beta_voc is not None)


def fit_power_coefficient(sheet: Datasheet) -> Reference | None:
    """Fit with the power coefficient before the voltage coefficient, and a free band gap.

    For the yield the power coefficient counts; the voltage checks use the datasheet's own.
    """
    if sheet.gamma_pmp is None:
        return None
    return _least_squares(sheet, Weights(beta=0.02, gamma=2.0), free_gap=True)


def fit_maximum_power(sheet: Datasheet) -> Reference | None:
    """Fit the maximum power point first and let the short-circuit current give way.

    Some datasheets state a fill factor that no single diode has together with their Isc.
    """
    return _least_squares(sheet, Weights(isc=0.05, mpp=3.0, beta=0.02, gamma=2.0), free_gap=True)


def fit_explicit(sheet: Datasheet) -> Reference | None:
    """Fit the diode by the explicit equations of Batzelis and Papathanassiou (2016)."""
    if sheet.beta_voc is None:
        return None
    with np.errstate(all="ignore"):
        found = pvlib.ivtools.sdm.fit_desoto_batzelis(
            sheet.v_mp, sheet.i_mp, sheet.v_oc, sheet.i_sc, sheet.alpha_sc, sheet.beta_voc
        )
    return _reference(found, sheet)


def fit_iterative(sheet: Datasheet) -> Reference | None:
    """Fit the diode by De Soto's five equations from a quadratic start (Levenberg-Marquardt)."""
    if sheet.beta_voc is None:
        return None
    try:
        found, _result = pvlib.ivtools.sdm.fit_desoto(
            sheet.v_mp,
            sheet.i_mp,
            sheet.v_oc,
            sheet.i_sc,
            sheet.alpha_sc,
            sheet.beta_voc,
            sheet.cells_in_series,
            root_kwargs={"method": "lm"},
        )
    except RuntimeError:
        return None
    return _reference(found, sheet)


def _reference(found: dict[str, float], sheet: Datasheet) -> Reference | None:
    reference = Reference(
        photocurrent=float(found["I_L_ref"]),
        saturation_current=float(found["I_o_ref"]),
        resistance_series=float(found["R_s"]),
        resistance_shunt=float(found["R_sh_ref"]),
        n_ns_vth=float(found["a_ref"]),
        alpha_sc=float(sheet.alpha_sc or 0.0),
    )
    positive = all(value > 0.0 and np.isfinite(value) for value in reference[:5])
    return reference if positive else None


METHODS: dict[str, Method] = {
    "least squares on all points": Method(fit_all_points),
    "explicit equations": Method(fit_explicit, reads_matrix=False),
    "five equations": Method(fit_iterative, reads_matrix=False),
    "power coefficient before voltage coefficient": Method(
        fit_power_coefficient,
        {"Voc at -10 degC": 0.03},
        "its voltage and power coefficients fit no single diode together; the power coefficient "
        "was kept (voltage checks use the datasheet's own)",
    ),
    "maximum power point before short-circuit current": Method(
        fit_maximum_power,
        {"Voc at -10 degC": 0.03, "Isc": 0.05},
        "its short-circuit current fits no single diode with its maximum power point; the "
        "maximum power point was kept (current checks use the datasheet's own)",
    ),
}
"""The chain, in the order it is tried; with a matrix those that don't read it come last."""

BESIDE_A_MATRIX: Mapping[str, float] = MappingProxyType(
    {"Isc": 0.02, "Voc": 0.01, "Imp": 0.02, "Vmp": 0.02, "Pmp": 0.01, "Voc at -10 degC": 0.03}
)
"""Gates of the datasheet's points where a measured matrix is met: the two may differ a little."""
