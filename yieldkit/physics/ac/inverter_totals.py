"""What many wirings of one inverter give in all, its own limits met, from solved trackers."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import FloatArray, IntArray
from yieldkit.physics.ac.many_wirings import LOSSES, Arrangements
from yieldkit.physics.ac.wiring_span import SPAN, convert_by_list, convert_by_losses, fill_sums
from yieldkit.physics.compiled import compiled, compiled_owning


class OwnPath(NamedTuple):
    """What the trackers' power passes inside one inverter, for the kernels.

    Parameters
    ----------
    kind : int
        `LOSSES` or `LISTED`: which conversion the tables have coefficients of.
    curve_nominal : float
        Nominal AC power of a loss curve [W].
    least_dc, paco : float
        Of a listed inverter: DC power below which there is no AC power, and reference AC power [W].
    """

    kind: int
    curve_nominal: float
    least_dc: float
    paco: float


@compiled
def fill_converted(inputs, arrangements, path, first, count, sums, p_ac):
    """Fill the AC power of some hours of one wiring, before any limit.

    Parameters
    ----------
    inputs, arrangements, first, count
        As for `fill_sums`.
    path : OwnPath
        The conversion.
    sums : ndarray
        Room for the sums [W] (4, place).
    p_ac : ndarray
        Filled [W] (place,).
    """
    fill_sums(inputs, arrangements, first, count, sums)
    if path.kind == LOSSES:
        convert_by_losses(sums, path.curve_nominal, count, p_ac)
    else:
        convert_by_list(inputs, arrangements, sums, path, first, count, p_ac)


@compiled_owning
def fill_totals(begin, end, wirings, arrangements, path, cap, night, weights, totals):
    """Fill the weighted sums of the AC power of wirings of one inverter, less what it draws idle.

    Parameters
    ----------
    begin, end : int
        Wirings to do.
    wirings : ndarray of int
        Position of each input's arrangement, -1 for none (wiring, input).
    arrangements : Arrangements
        The solved arrangements.
    path : OwnPath
        The conversion.
    cap : ndarray
        Largest AC power [W] (time,).
    night : float
        Power drawn without any DC power [W].
    weights : ndarray
        What each hour's power counts [kWh/W] (weight, time).
    totals : ndarray
        Filled [kWh] (wiring, weight).
    """
    steps = arrangements.power.shape[1]
    sums, p_ac = np.empty((4, SPAN)), np.empty(SPAN)
    totals[begin:end] = 0.0
    for first in range(0, steps, SPAN):
        count = min(SPAN, steps - first)
        for wiring in range(begin, end):
            fill_converted(wirings[wiring], arrangements, path, first, count, sums, p_ac)
            for t in range(count):
                p_ac[t] = min(p_ac[t], cap[first + t])
                if sums[0, t] <= 0.0:
                    p_ac[t] -= night
            for weight in range(weights.shape[0]):
                total = 0.0
                for t in range(count):
                    total += weights[weight, first + t] * p_ac[t]
                totals[wiring, weight] += total


@compiled_owning
def fill_powers(inputs, arrangements, path, p_dc, p_ac):
    """Fill DC power and AC power before any limit of one wiring of one inverter.

    Parameters
    ----------
    inputs : ndarray of int
        Position of each input's arrangement, -1 for none (input,).
    arrangements, path
        As for `fill_totals`.
    p_dc, p_ac : ndarray
        Filled [W] (time,).
    """
    steps = arrangements.power.shape[1]
    sums, power = np.empty((4, SPAN)), np.empty(SPAN)
    for first in range(0, steps, SPAN):
        count = min(SPAN, steps - first)
        fill_converted(inputs, arrangements, path, first, count, sums, power)
        p_ac[first : first + count] = power[:count]
        p_dc[first : first + count] = sums[0, :count]


def own_powers(
    inputs: IntArray, arrangements: Arrangements, path: OwnPath
) -> tuple[FloatArray, FloatArray]:
    """Return DC power and AC power before any limit of one wiring of one inverter [W] (time,).

    Parameters
    ----------
    inputs, arrangements, path
        As for `fill_powers`.
    """
    p_dc, p_ac = np.empty((2, arrangements.power.shape[1]))
    fill_powers(inputs, arrangements, path, p_dc, p_ac)
    return p_dc, p_ac
