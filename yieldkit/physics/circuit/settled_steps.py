"""Points written step by step, and at once those that need no more looking at: dark, or settled."""

from __future__ import annotations

import math

from yieldkit.physics.circuit.limits import DARK, FREE
from yieldkit.physics.circuit.tracker_circuit import brightest_photocurrent, is_lit
from yieldkit.physics.compiled import compiled


@compiled
def write_dark(t, photocurrent, outputs):
    """Write a step without light: zero, or missing where its light is.

    Parameters
    ----------
    t : int
        The step.
    photocurrent : float
        Of the brightest light [A]; nan where a value is missing.
    outputs : Outputs
        Filled in this step.
    """
    value = math.nan if math.isnan(photocurrent) else 0.0
    outputs.v_dc[t], outputs.i_dc[t], outputs.p_dc[t] = value, value, value
    outputs.p_lost[t] = value
    for s in range(outputs.i_string.shape[1]):
        outputs.i_string[t, s] = value
    outputs.binding[t] = DARK


@compiled
def write_point(t, volts, power, free_power, currents, outputs):
    """Write a step's point; what it lacks of the free maximum is lost to a limit.

    Parameters
    ----------
    t : int
        The step.
    volts, power : float
        Voltage [V] and power [W] of the point.
    free_power : float
        Power of the free maximum [W].
    currents : ndarray
        The strings' currents [A] (string,).
    outputs : Outputs
        Filled in this step.
    """
    works = power > 0.0
    outputs.v_dc[t] = volts if works else 0.0
    outputs.p_dc[t] = power if works else 0.0
    outputs.i_dc[t] = power / volts if works else 0.0
    outputs.p_lost[t] = free_power - power if works else free_power
    for s in range(currents.shape[0]):
        outputs.i_string[t, s] = currents[s] if works else 0.0


@compiled
def highest_allowed(limits):
    """Return the highest voltage that window and maximum voltage allow.

    Parameters
    ----------
    limits : PointLimits
        The limits.

    Returns
    -------
    float
        [V].
    """
    return min(limits.v_mpp_max, limits.v_max)


@compiled
def is_within(volts, power, limits):
    """Return whether a point lies inside window and input current.

    Parameters
    ----------
    volts, power : float
        Voltage [V] and power [W] of the point.
    limits : PointLimits
        The limits.

    Returns
    -------
    bool
    """
    return limits.v_mpp_min <= volts <= highest_allowed(limits) and power <= limits.i_max * volts


@compiled
def take_settled(free, limits, conditions, runs, outputs, left):
    """Write the steps that are dark, and those whose settled maximum lies inside the limits.

    Parameters
    ----------
    free : FreeMaxima
        The settled maxima; the strings' currents at them are in the outputs.
    limits : PointLimits
        Window, maximum voltage and input current.
    conditions : ndarray
        Diode parameters [A, A, ohm, ohm, V] (time, condition, 5).
    runs : ndarray of int
        As of `TrackerCircuit` (run, 3).
    outputs : Outputs
        Filled in these steps.
    left : ndarray of int
        Filled with the steps that are left, as many as there are (time,).

    Returns
    -------
    int
        How many are left.
    """
    volts, power, settled = free.volts, free.power, free.settled
    count = 0
    for t in range(volts.shape[0]):
        if settled[t] and is_within(volts[t], power[t], limits):
            outputs.v_dc[t] = volts[t]
            outputs.p_dc[t] = power[t]
            outputs.i_dc[t] = power[t] / volts[t]
            outputs.binding[t] = FREE
            continue
        light = brightest_photocurrent(conditions[t], runs)
        if is_lit(light):
            left[count] = t
            count += 1
        else:
            write_dark(t, light, outputs)
    return count
