"""Some hours of one wiring: its inputs' power summed and converted."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import FloatArray
from yieldkit.physics.ac.conversion import power_from_list, power_from_losses
from yieldkit.physics.compiled import compiled, compiled_owning

# Rows of a span's sums: power, and the conversion's three coefficients.
POWER, _FIRST, _SECOND, _THIRD = range(4)
# Hours done for all wirings before the next ones, so that the tables stay in the cache.
SPAN = 128


class Span(NamedTuple):
    """Room for some hours of one wiring, each array by the place in the span.

    Parameters
    ----------
    sums : ndarray
        Power of all inputs [W] and the sums of their coefficients (4, place).
    p_ac, p_limited, p_end : ndarray
        AC power before and after its limits, and at the terminals after the inverter's own
        consumption [W] (place,).
    volts, heat : ndarray
        Voltage at the terminals [V] and the lead's heat [W] (place,).
    """

    sums: FloatArray
    p_ac: FloatArray
    p_limited: FloatArray
    p_end: FloatArray
    volts: FloatArray
    heat: FloatArray


@compiled
def fill_sums(inputs, arrangements, first, count, sums):
    """Fill the sums of power and conversion coefficients of a wiring's inputs.

    Parameters
    ----------
    inputs : ndarray of int
        Position of each input's arrangement, -1 for none (input,).
    arrangements : Arrangements
        The solved arrangements.
    first, count : int
        First hour of the span, and how many.
    sums : ndarray
        Filled, as of `Span` [W] (4, place).
    """
    power, parts = arrangements.power, arrangements.parts
    sums[:, :count] = 0.0
    for place in inputs:
        if place < 0:
            continue
        for i in range(count):
            sums[POWER, i] += power[place, first + i]
        for part in range(3):
            for i in range(count):
                sums[_FIRST + part, i] += parts[place, part, first + i]


@compiled
def convert_by_losses(sums, p_nominal, count, p_ac):
    """Fill AC power by a loss curve, its coefficients weighted with the inputs' power.

    Parameters
    ----------
    sums : ndarray
        As of `Span` [W] (4, place).
    p_nominal : float
        Nominal AC power of the curve [W].
    count : int
        How many hours.
    p_ac : ndarray
        Filled [W] (place,).
    """
    for t in range(count):
        total = sums[POWER, t]
        per = 1.0 / max(total, 1e-9)
        c0, c1, c2 = sums[_FIRST, t] * per, sums[_SECOND, t] * per, sums[_THIRD, t] * per
        p_ac[t] = power_from_losses(total, c0, c1, c2, p_nominal)


@compiled
def convert_by_list(inputs, arrangements, sums, path, first, count, p_ac):
    """Fill AC power of a listed inverter, each input weighted with its power.

    Parameters
    ----------
    inputs, arrangements, first, count
        As for `fill_sums`.
    sums : ndarray
        As of `Span` [W] (4, place).
    path : AcPath
        The inverter.
    p_ac : ndarray
        Filled [W] (place,).
    """
    power, parts = arrangements.power, arrangements.parts
    for t in range(count):
        total = sums[POWER, t]
        p_ac[t] = 0.0
        if total < path.least_dc or total <= 0.0:
            continue
        for place in inputs:
            if place >= 0:
                at = first + t
                a, b, c = parts[place, 0, at], parts[place, 1, at], parts[place, 2, at]
                p_ac[t] += power[place, at] / total * power_from_list(total, a, b, c, path.paco)
        p_ac[t] = min(max(p_ac[t], 0.0), total)


@compiled_owning
def new_span():
    """Return room for a span.

    Returns
    -------
    Span
        Not filled.
    """
    return Span(
        np.empty((4, SPAN)),
        np.empty(SPAN),
        np.empty(SPAN),
        np.empty(SPAN),
        np.empty(SPAN),
        np.empty(SPAN),
    )
