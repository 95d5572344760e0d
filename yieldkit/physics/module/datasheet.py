"""Datasheet numbers turned into single-diode parameters by a chain of methods with gates."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from typing import Any, NamedTuple

import numpy as np
import pvlib

from yieldkit.base.arrays import FloatArray
from yieldkit.base.errors import InputError, Problem, nearest, refuse
from yieldkit.physics.module.fit import (
    USUAL_IDEALITY,
    Datasheet,
    Reference,
    leaves_ideality_open,
    translation_arguments,
)
from yieldkit.physics.module.gates import MATRIX, Gate, passes, recompute
from yieldkit.physics.module.methods import BESIDE_A_MATRIX, METHODS

__all__ = [
    "Datasheet",
    "DiodeFit",
    "ModuleConditions",
    "cec_figures",
    "cec_row",
    "diode_parameters",
    "fit_diode",
]

# Measured modules lie between 0.877 and 1.018; common practice, no source.
_USUAL_LOW_LIGHT = (0.93, 1.005)
_ALPHA_DEFAULT_PER_K = 0.0005


class DiodeFit(NamedTuple):
    """A module's single diode at reference conditions, and how it was found.

    Parameters
    ----------
    reference : Reference
        The five parameters, the band gap and the coefficients at 1000 W/m2 and 25 degC.
    p_mp_ref : float
        Nameplate power [W].
    method : str
        The method of the chain that passed.
    gates : tuple of Gate
        What was recomputed from the diode, against the datasheet.
    assumptions : tuple of str
        What the datasheet didn't say, in sentences.
    adjust_percent : float
        Adjustment of the short-circuit coefficient in the CEC translation [%]; 0 in De Soto's.
    """

    reference: Reference
    p_mp_ref: float
    method: str
    gates: tuple[Gate, ...]
    assumptions: tuple[str, ...]
    adjust_percent: float = 0.0


class ModuleConditions(NamedTuple):
    """Single-diode parameters of a module in many conditions.

    Parameters
    ----------
    photocurrent, saturation_current : ndarray
        [A] (time,).
    resistance_series, resistance_shunt : ndarray
        [ohm] (time,).
    n_ns_vth : ndarray
        Ideality times cells in series times thermal voltage [V] (time,).
    """

    photocurrent: FloatArray
    saturation_current: FloatArray
    resistance_series: FloatArray
    resistance_shunt: FloatArray
    n_ns_vth: FloatArray


@lru_cache(maxsize=256)
def fit_diode(sheet: Datasheet) -> DiodeFit:
    """Fit the single diode of a datasheet.

    Each method's diode is put back under standard test conditions and its points and
    coefficients are compared with the datasheet; the first that passes every gate is taken.

    Parameters
    ----------
    sheet : Datasheet
        Values at standard test conditions, coefficients and, where known, low-light figures.

    Returns
    -------
    DiodeFit
        The diode, its gates and assumptions.

    Raises
    ------
    InputError
        When no method passes, with what each got wrong; or when the low-light figure is out of
        its plausible range.
    """
    _check_low_light(sheet)
    known, assumptions = _complete(sheet)
    failures = []
    found: dict[str, Reference | None] = {}
    for name, wider in _chain(known):
        method = METHODS[name]
        if name not in found:
            found[name] = method.fit(known)
        reference = found[name]
        if reference is None:
            failures.append(f"{name}: no solution")
            continue
        gates = recompute(known, reference, wider)
        if passes(gates):
            if method.remark:
                assumptions.append(f"{sheet.name}: {method.remark}.")
            if known.power_matrix:
                assumptions.append(_matrix_sentence(sheet.name, name, gates))
            return DiodeFit(reference, sheet.p_max, name, gates, tuple(assumptions))
        missed = [f"{gate.name} {gate.value:.4g}" for gate in gates if not gate.ok]
        failures.append(f"{name}: " + ", ".join(missed))
    raise InputError(
        (
            Problem(
                f"module type '{sheet.name}'",
                "values that no single diode reproduces (" + "; ".join(failures) + ")",
                "a consistent set of Voc, Isc, Vmp, Imp and temperature coefficients",
                cause="Columns of STC and NMOT mixed, or a coefficient in the wrong unit?",
                remedy="Check the datasheet's column for 1000 W/m2 and 25 degC.",
            ),
        )
    )


def _chain(sheet: Datasheet) -> list[tuple[str, dict[str, float]]]:
    """Return the methods to try and the gates each may miss by more, in order.

    Where a matrix is given, methods that read it are tried with wider gates of the datasheet's
    points before any that doesn't read it.
    """
    own = [(name, dict(method.wider)) for name, method in METHODS.items()]
    if not sheet.power_matrix:
        return own
    reading = [(name, wider) for name, wider in own if METHODS[name].reads_matrix]
    eased = [(name, {**BESIDE_A_MATRIX, **wider}) for name, wider in reading]
    return [*reading, *eased, *(each for each in own if each not in reading)]


def _matrix_sentence(name: str, method: str, gates: tuple[Gate, ...]) -> str:
    missed = 100.0 * next(gate.value for gate in gates if gate.name == MATRIX)
    if METHODS[method].reads_matrix:
        return f"{name}: its power matrix is met within {missed:.2f} % root mean square."
    return (
        f"{name}: fitted by {method}, which doesn't read the power matrix; the diode misses it by "
        f"{missed:.2f} % root mean square."
    )


def _check_low_light(sheet: Datasheet) -> None:
    ratio = sheet.relative_efficiency_200
    if ratio is not None and not 0.85 <= ratio <= 1.03:
        refuse(
            f"module type '{sheet.name}', relative efficiency at 200 W/m2",
            f"{ratio:g}",
            "0.85 to 1.03",
            cause="Is it a loss, or a percentage?",
            remedy="Write 0.97 for 97 % of the efficiency at STC.",
        )


def _complete(sheet: Datasheet) -> tuple[Datasheet, list[str]]:
    """Fill in what may be assumed, and say so."""
    assumptions = []
    if sheet.alpha_sc is None:
        sheet = sheet._replace(alpha_sc=_ALPHA_DEFAULT_PER_K * sheet.i_sc)
        assumptions.append(
            f"{sheet.name}: no coefficient of Isc given; 0.05 %/K assumed (median of a list of "
            "crystalline modules)."
        )
    if sheet.beta_voc is None:
        assumptions.append(
            f"{sheet.name}: no coefficient of Voc given; it follows from the diode for the yield, "
            "and the cold voltage check needs it."
        )
    if leaves_ideality_open(sheet):
        assumptions.append(
            f"{sheet.name}: nothing given that sets the diode's ideality; {USUAL_IDEALITY:g} "
            "assumed (common practice, no source). 0.05 more or less of it is 1.5 % of the power "
            "of cells at 60 degC, and 0.5 % in weak light."
        )
    ratio = sheet.relative_efficiency_200
    if ratio is not None and not _USUAL_LOW_LIGHT[0] <= ratio <= _USUAL_LOW_LIGHT[1]:
        assumptions.append(
            f"{sheet.name}: a relative efficiency at 200 W/m2 of {ratio:g} is unusual (most lie "
            f"between {_USUAL_LOW_LIGHT[0]:g} and {_USUAL_LOW_LIGHT[1]:g}); it was taken as given."
        )
    if ratio is None and not sheet.power_matrix:
        assumptions.append(
            f"{sheet.name}: low-light efficiency follows from the diode fitted at STC; such "
            "diodes were 4 % low to 16 % high at 100 to 200 W/m2 against measured modules. Enter "
            "the relative efficiency at 200 W/m2 or an IEC 61853-1 matrix."
        )
    return sheet, assumptions


@lru_cache(maxsize=1)
def _cec_list() -> Any:
    return pvlib.pvsystem.retrieve_sam("CECMod")


def _row(name: str) -> Any:
    table = _cec_list()
    if name not in table.columns:
        close = nearest(name, table.columns)
        refuse(
            "module row",
            f"'{name}'",
            "a row of the bundled CEC module list",
            remedy=f"Did you mean '{close}'?" if close else "Enter the datasheet values instead.",
        )
    return table[name]


def cec_figures(name: str) -> dict[str, float]:
    """Return Voc, Isc, Vmp, Imp, power and Voc coefficient of a row of the CEC module list.

    Raises
    ------
    InputError
        If there is no such row.
    """
    row = _row(name)
    return {
        "v_oc": float(row["V_oc_ref"]),
        "i_sc": float(row["I_sc_ref"]),
        "v_mp": float(row["V_mp_ref"]),
        "i_mp": float(row["I_mp_ref"]),
        "p_max": float(row["STC"]),
        "beta_voc": float(row["beta_oc"]),
    }


def cec_is_crystalline(name: str) -> bool:
    """Return whether a row of the CEC module list is of crystalline silicon.

    Raises
    ------
    InputError
        If there is no such row.
    """
    return "c-Si" in str(_row(name)["Technology"])


def cec_row(name: str) -> DiodeFit:
    """Return the diode of a row of the CEC module list that pvlib bundles.

    Parameters
    ----------
    name : str
        The row's name.

    Raises
    ------
    InputError
        If there is no such row; the nearest name is suggested.
    """
    row = _row(name)
    reference = Reference(
        photocurrent=float(row["I_L_ref"]),
        saturation_current=float(row["I_o_ref"]),
        resistance_series=float(row["R_s"]),
        resistance_shunt=float(row["R_sh_ref"]),
        n_ns_vth=float(row["a_ref"]),
        alpha_sc=float(row["alpha_sc"]),
    )
    return DiodeFit(
        reference=reference,
        p_mp_ref=float(row["STC"]),
        method="row of the CEC module list",
        gates=(),
        assumptions=(f"{name}: parameters of the bundled CEC module list, 2019.",),
        adjust_percent=float(row["Adjust"]),
    )


def diode_parameters(
    fit: DiodeFit, effective_irradiance: FloatArray, temp_cell: FloatArray
) -> ModuleConditions:
    """Translate a module's diode to irradiance and cell temperature.

    Parameters
    ----------
    fit : DiodeFit
        The diode at reference conditions.
    effective_irradiance : ndarray
        [W/m2] (time,); zero or negative counts as dark, missing stays missing.
    temp_cell : ndarray
        [degC] (time,).

    Returns
    -------
    ModuleConditions

    References
    ----------
    De Soto, Klein and Beckman (2006), Solar Energy 80, 78-88, through pvlib, with the CEC
    adjustment where the list carries one.
    """
    light = np.maximum(effective_irradiance, 0.0)
    calculate: Callable[..., tuple[FloatArray, ...]] = pvlib.pvsystem.calcparams_cec
    with np.errstate(divide="ignore"):
        il, i0, rs, rsh, a = calculate(
            light,
            temp_cell,
            Adjust=fit.adjust_percent,
            **translation_arguments(fit.reference),
        )
    missing = np.isnan(light) | np.isnan(temp_cell)
    return ModuleConditions(
        *(
            np.where(missing, np.nan, np.broadcast_to(part, light.shape))
            for part in (il, i0, rs, rsh, a)
        )
    )
