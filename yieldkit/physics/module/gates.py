"""A fitted diode put back under the datasheet's conditions, and how far off its figures are."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

import pvlib

from yieldkit.physics.module.fit import (
    Datasheet,
    Reference,
    matrix_deviations,
    maximum_power,
    translate,
)

MATRIX = "matrix (root mean square)"
"""The gate about an IEC 61853-1 power matrix."""


class Gate(NamedTuple):
    """One recomputed figure.

    Parameters
    ----------
    name : str
        What was compared.
    value : float
        Deviation of the diode from the datasheet, relative unless the name says a unit.
    limit : float
        Largest deviation allowed.
    ok : bool
        Whether the deviation is within its limit.
    """

    name: str
    value: float
    limit: float
    ok: bool


def _gate(name: str, value: float, limit: float) -> Gate:
    return Gate(name, value, limit, abs(value) <= limit)


def passes(gates: Sequence[Gate]) -> bool:
    """Return whether every deviation is within its limit; a missing one is not.

    Parameters
    ----------
    gates : sequence of Gate
        The recomputed figures.
    """
    return all(gate.ok for gate in gates)


def recompute(
    sheet: Datasheet, reference: Reference, wider: Mapping[str, float]
) -> tuple[Gate, ...]:
    """Compare a diode with its datasheet.

    Parameters
    ----------
    sheet : Datasheet
        The datasheet.
    reference : Reference
        The diode.
    wider : mapping of str to float
        Gates whose limit is another than usual.

    Returns
    -------
    tuple of Gate
        Points at STC within 0.5 % (power 0.2 %), cold Voc within 0.5 % of the linear coefficient,
        the power coefficient within 0.06 %/K, low light within 0.3 % where it is known and a
        matrix within 3 % root mean square.
    """
    stc = translate(reference, 1000.0, 25.0)
    points = pvlib.pvsystem.singlediode(*stc, method="brentq")
    gates = [
        _gate("Isc", float(points["i_sc"]) / sheet.i_sc - 1.0, 0.005),
        _gate("Voc", float(points["v_oc"]) / sheet.v_oc - 1.0, 0.005),
        _gate("Imp", float(points["i_mp"]) / sheet.i_mp - 1.0, 0.005),
        _gate("Vmp", float(points["v_mp"]) / sheet.v_mp - 1.0, 0.005),
        _gate("Pmp", float(points["p_mp"]) / (sheet.v_mp * sheet.i_mp) - 1.0, 0.002),
    ]
    if sheet.beta_voc is not None:
        cold = pvlib.pvsystem.singlediode(*translate(reference, 1000.0, -10.0), method="brentq")
        linear = sheet.v_oc - 35.0 * sheet.beta_voc
        gates.append(_gate("Voc at -10 degC", float(cold["v_oc"]) / linear - 1.0, 0.005))
    if sheet.gamma_pmp is not None:
        hot = maximum_power(reference, 1000.0, 50.0)
        gamma = (hot / float(points["p_mp"]) - 1.0) / 25.0
        gates.append(_gate("power coefficient (%/K)", 100.0 * (gamma - sheet.gamma_pmp), 0.06))
    if sheet.relative_efficiency_200 is not None:
        ratio = maximum_power(reference, 200.0, 25.0) / (0.2 * float(points["p_mp"]))
        gates.append(
            _gate(
                "relative efficiency at 200 W/m2",
                ratio / sheet.relative_efficiency_200 - 1.0,
                0.003,
            )
        )
    if sheet.power_matrix:
        deviations = matrix_deviations(reference, sheet.power_matrix)
        gates.append(_gate(MATRIX, float((deviations**2).mean() ** 0.5), 0.03))
    return tuple(_gate(gate.name, gate.value, wider.get(gate.name, gate.limit)) for gate in gates)
