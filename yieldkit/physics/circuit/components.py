"""What a circuit is made of: conditions, diodes, runs of cell groups, and strings."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import FloatArray


class CellConditions(NamedTuple):
    """Diode parameters of one cell group that carries the module's whole current.

    Parameters
    ----------
    photocurrent, saturation_current : ndarray
        [A] (time, condition).
    resistance_series, resistance_shunt : ndarray
        [ohm] (time, condition): the module's over its number of bypass diodes.
    n_ns_vth : ndarray
        Ideality times cells in series times thermal voltage [V] (time, condition), likewise.
    """

    photocurrent: FloatArray
    saturation_current: FloatArray
    resistance_series: FloatArray
    resistance_shunt: FloatArray
    n_ns_vth: FloatArray


class Bypass(NamedTuple):
    """A Shockley bypass diode at a fixed junction temperature.

    Parameters
    ----------
    saturation_current : float
        [A].
    n_vth : float
        Ideality times thermal voltage [V].
    """

    saturation_current: float
    n_vth: float


class Breakdown(NamedTuple):
    """Reverse term of Bishop (1988), eq. 2, for one cell group.

    Parameters
    ----------
    factor : float
        Share of the shunt current involved in avalanche breakdown [1]; 0 for none.
    voltage : float
        Breakdown voltage of the group, negative [V].
    exponent : float
        [1].
    """

    factor: float
    voltage: float
    exponent: float


class ReversePath(NamedTuple):
    """What carries a group's current when its voltage is reversed.

    Parameters
    ----------
    bypass : Bypass
        The bypass diode across the group.
    breakdown : Breakdown
        The cells' own breakdown; factor 0 for none.
    """

    bypass: Bypass
    breakdown: Breakdown


class Run(NamedTuple):
    """Identical cell groups in series.

    Parameters
    ----------
    condition : int
        Column of the conditions that lights them.
    count : int
        How many.
    partner : int, optional
        Column that lights the other half of half-cut groups; the same light if left out.
    """

    condition: int
    count: int  # type: ignore[assignment]  # hides the tuple's own count, which nobody needs
    partner: int | None = None


class StringCircuit(NamedTuple):
    """Runs in series.

    Parameters
    ----------
    runs : tuple of Run
        The cell groups.
    resistance : float
        Resistance of the cable, out and back [ohm].
    blocking_diode : bool
        Whether reverse current is blocked (without voltage drop).
    """

    runs: tuple[Run, ...]
    resistance: float = 0.0
    blocking_diode: bool = False


def default_bypass() -> Bypass:
    """Return a bypass diode that drops 0.45 V at 9 A and 60 degC, ideality 1.

    References
    ----------
    Common practice for Schottky bypass diodes (0.4 to 0.5 V), from memory; the saturation
    current 1.38e-6 A follows from I = I_s (exp(V / V_th) - 1) with V_th = 28.71 mV.
    """
    n_vth = 1.380649e-23 * 333.15 / 1.602176634e-19
    return Bypass(9.0 / np.expm1(0.45 / n_vth), n_vth)
