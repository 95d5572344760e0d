"""A second opinion on modules: the single diode of a datasheet by equations of its own."""

import re
from functools import lru_cache

import numpy as np
from pvlib import pvsystem
from scipy import optimize

_KELVIN = 298.15
_BOLTZMANN_EV = 8.617333262e-5
_GAP_EV = 1.121
_IDEALITY = 1.1  # where a sheet states nothing that sets it; common practice, no source
_UNITS = {"%": 0.01, "mV": 1e-3, "V": 1.0, "mA": 1e-3, "A": 1.0}


def coefficient(text: str | None, at_stc: float) -> float | None:
    """Return a coefficient such as "-0.29 %/K" or "-112 mV/K" in its unit per kelvin."""
    if text is None:
        return None
    number, unit = re.match(r"([-+.\d]+)\s*(%|mV|V|mA|A)/", text).groups()
    return float(number) * _UNITS[unit] * (at_stc if unit == "%" else 1.0)


@lru_cache(maxsize=64)
def _fit(key: tuple) -> dict:
    """Solve a datasheet for its diode: Isc, Voc, the maximum and its slope, Voc when warm.

    Photocurrent and saturation current follow from Isc and Voc by two linear equations; ideality
    and the two resistances from the rest. Where the efficiency at 200 W/m2 is known it sets the
    ideality and the band gap is left free for the voltage coefficient. A sheet without a voltage
    coefficient is met by a diode of any ideality; a usual one is taken.
    """
    sheet = dict(key)
    alpha = coefficient(sheet.get("alpha_sc"), sheet["i_sc_a"])
    alpha = 0.0005 * sheet["i_sc_a"] if alpha is None else alpha
    beta = coefficient(sheet.get("beta_voc"), sheet["v_oc_v"])
    low_light = sheet.get("relative_efficiency_200")
    ideal = sheet["cells_in_series"] * _BOLTZMANN_EV * _KELVIN

    def diode(x: np.ndarray) -> dict:
        series, shunt = np.exp(x[0]), np.exp(x[1])
        a = ideal * (_IDEALITY if beta is None else np.exp(x[2]))
        isc, voc = sheet["i_sc_a"], sheet["v_oc_v"]
        system = [
            [1.0, -np.expm1(isc * series / a)],
            [1.0, -np.expm1(voc / a)],
        ]
        light, dark = np.linalg.solve(system, [isc * (1.0 + series / shunt), voc / shunt])
        return {
            "alpha_sc": alpha,
            "a_ref": a,
            "I_L_ref": light,
            "I_o_ref": dark,
            "R_sh_ref": shunt,
            "R_s": series,
            "EgRef": x[3] if low_light else _GAP_EV,
        }

    def gaps(x: np.ndarray) -> list[float]:
        found = diode(x)
        top = pvsystem.singlediode(*_translated(found, 1000.0, 25.0))
        missed = [
            float(top["v_mp"]) / sheet["v_mp_v"] - 1.0,
            float(top["i_mp"]) / sheet["i_mp_a"] - 1.0,
        ]
        if beta is None:
            return missed
        warm = pvsystem.singlediode(*_translated(found, 1000.0, 35.0))
        cold = pvsystem.singlediode(*_translated(found, 1000.0, 15.0))
        slope = (float(warm["v_oc"]) - float(cold["v_oc"])) / 20.0
        missed.append(20.0 * (slope - beta) / sheet["v_oc_v"])
        if low_light:
            dim = pvsystem.singlediode(*_translated(found, 200.0, 25.0))
            missed.append(float(dim["p_mp"]) / (0.2 * float(top["p_mp"])) / low_light - 1.0)
        return missed

    start = [np.log(0.01 * sheet["v_mp_v"] / sheet["i_mp_a"] + 0.1)]
    start.append(np.log(40.0 * sheet["v_oc_v"] / sheet["i_sc_a"]))
    if beta is None:
        others = {"relative_efficiency_200", "gamma_pmp"} & set(sheet)
        assert not others, "these set the ideality"
    else:
        start.append(np.log(_IDEALITY))
    if low_light:
        start.append(_GAP_EV)
    solved = optimize.least_squares(gaps, start, x_scale="jac", xtol=1e-13, ftol=1e-13)
    assert np.abs(solved.fun).max() < 2e-3, f"no diode meets this sheet: {solved.fun}"
    return diode(solved.x)


def module_diode(sheet: dict) -> dict:
    """Return the diode of a datasheet under pvlib's names."""
    known = {k: v for k, v in sheet.items() if isinstance(v, str | int | float)}
    return _fit(tuple(sorted(known.items())))


def _translated(diode: dict, irradiance: object, temp_cell: object) -> tuple:
    """De Soto, Klein and Beckman (2006), through pvlib."""
    return pvsystem.calcparams_desoto(irradiance, temp_cell, **diode)


def conditions(sheet: dict, effective: np.ndarray, temp_cell: np.ndarray) -> tuple:
    """Return photocurrent, saturation current, R_s, R_sh and n Ns Vth of a module (time,)."""
    light = np.maximum(effective, 1e-3)
    parts = _translated(module_diode(sheet), light, temp_cell)
    return tuple(np.broadcast_to(np.asarray(part, dtype=float), light.shape) for part in parts)


def point(sheet: dict, irradiance: float, temp_cell: float, which: str) -> float:
    """Return a figure of a module's curve, such as "v_mp" [V], by its diode."""
    return float(
        pvsystem.singlediode(*_translated(module_diode(sheet), irradiance, temp_cell))[which]
    )
