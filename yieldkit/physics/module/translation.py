"""Measured curves carried over to other light and temperature, by the procedures of a standard."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import FloatArray


class State(NamedTuple):
    """Under what a curve was measured, or what it is carried over to.

    Parameters
    ----------
    poa_global : float
        In-plane irradiance [W/m2].
    temp_module : float
        Temperature of the modules [degC].
    """

    poa_global: float
    temp_module: float


STC = State(1000.0, 25.0)
"""Standard test conditions."""


class Coefficients(NamedTuple):
    """What the procedures need to know of a module or string.

    Parameters
    ----------
    alpha : float
        Of the short-circuit current: [A/K] for procedure 1, [1/K] for procedure 2.
    beta : float
        Of the open-circuit voltage: [V/K] for procedure 1, [1/K] for procedure 2.
    r_s : float
        Series resistance, of its modules and cable [ohm].
    kappa : float
        Change of that resistance with temperature [ohm/K].
    a : float
        Change of the open-circuit voltage with the logarithm of irradiance, by that voltage
        (procedure 2 only) [1].
    """

    alpha: float
    beta: float
    r_s: float = 0.0
    kappa: float = 0.0
    a: float = 0.0


def procedure_1(
    v: FloatArray, i: FloatArray, i_sc: float, own: Coefficients, measured: State, wanted: State
) -> tuple[FloatArray, FloatArray]:
    """Carry a curve over by shifting it: for changes of light of a fifth and less.

    Parameters
    ----------
    v, i : ndarray
        Voltages [V] and currents [A] of the measured curve (point,).
    i_sc : float
        Its short-circuit current [A].
    own : Coefficients
        Of the module or string, with alpha in A/K and beta in V/K.
    measured, wanted : State
        What it was measured under, and what it is carried over to.

    Returns
    -------
    tuple of ndarray
        Voltages [V] and currents [A] (point,). Where the light rises the curve ends short of its
        open circuit.

    References
    ----------
    IEC 60891:2009, 3.2 (procedure 1), equations (1) and (2); from memory.
    """
    warmer = wanted.temp_module - measured.temp_module
    light = wanted.poa_global / measured.poa_global
    current = i + i_sc * (light - 1.0) + own.alpha * warmer
    drop = own.r_s * (current - i) + own.kappa * current * warmer
    return v - drop + own.beta * warmer, current


def procedure_2(
    v: FloatArray, i: FloatArray, v_oc: float, own: Coefficients, measured: State, wanted: State
) -> tuple[FloatArray, FloatArray]:
    """Carry a curve over by scaling its current.

    Parameters
    ----------
    v, i : ndarray
        Voltages [V] and currents [A] of the measured curve (point,).
    v_oc : float
        Its open-circuit voltage [V].
    own : Coefficients
        Of the module or string, with alpha and beta in 1/K.
    measured, wanted : State
        What it was measured under, and what it is carried over to.

    Returns
    -------
    tuple of ndarray
        Voltages [V] and currents [A] (point,).

    References
    ----------
    IEC 60891:2009, 3.3 (procedure 2), equations (3) and (4); from memory. The edition of 2021
    changed its details.
    """
    warmer = wanted.temp_module - measured.temp_module
    light = wanted.poa_global / measured.poa_global
    current = i * (1.0 + own.alpha * warmer) * light
    rise = v_oc * (own.beta * warmer + own.a * np.log(light))
    drop = own.r_s * (current - i) + own.kappa * current * warmer
    return v + rise - drop, current
