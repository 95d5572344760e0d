"""Ways to find a single diode that reproduces a datasheet, in the order they are tried."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import MappingProxyType
from typing import NamedTuple

import numpy as np
import pvlib

from yieldkit.physics.module.fit import Datasheet, Reference, Weights, least_squares


class Method(NamedTuple):
    """A fitting method, the gates it may miss by more, and what the user is told when it is used.

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


def fit_all_points(sheet: Datasheet) -> Reference | None:
    """Fit the diode to all points, the voltage coefficient and low-light figures at once.

    Where low light is known the band gap is free as well, since low light takes the place of
    the voltage coefficient in setting the ideality.
    """
    calibrated = sheet.relative_efficiency_200 is not None or bool(sheet.power_matrix)
    # Many points of a matrix would outweigh the nameplate's own.
    weights = Weights(mpp=3.0) if sheet.power_matrix else Weights()
    return least_squares(sheet, weights, calibrated and sheet.beta_voc is not None)


def fit_power_coefficient(sheet: Datasheet) -> Reference | None:
    """Fit with the power coefficient before the voltage coefficient, and a free band gap.

    For the yield the power coefficient counts; the voltage checks use the datasheet's own.
    """
    if sheet.gamma_pmp is None:
        return None
    return least_squares(sheet, Weights(beta=0.02, gamma=2.0), free_gap=True)


def fit_maximum_power(sheet: Datasheet) -> Reference | None:
    """Fit the maximum power point first and let the short-circuit current give way.

    Some datasheets state a fill factor that no single diode has together with their Isc.
    """
    return least_squares(sheet, Weights(isc=0.05, mpp=3.0, beta=0.02, gamma=2.0), free_gap=True)


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
