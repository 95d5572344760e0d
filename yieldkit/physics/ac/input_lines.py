"""Lines above the AC power that each set of strings adds to an inverter with a loss curve."""

from __future__ import annotations

import numpy as np

from yieldkit.physics.compiled import compiled, compiled_owning

_SPAN = 256
"""Steps worked on at a time, so that they stay near the processor."""


@compiled
def fill_parts_and_slopes(first, count, steps, power, parts, load, most, nominal, part, steep):
    """Fill the fixed part of the losses and the slope of the power at a known load.

    Parameters
    ----------
    first, count : int
        Which of the steps.
    steps : ndarray of int
        Positions in time (step,).
    power : ndarray
        DC power of each row [W] (row, time).
    parts : ndarray
        Its coefficients of the losses, weighted with the power [W] (row, 3, time).
    load, most : ndarray
        Known load, and highest DC power by nominal power [1] (step,).
    nominal : float
        Nominal AC power of the curve [W].
    part, steep : ndarray
        Filled: fixed part of the losses [W], and DC power by AC power, 0 without power [1]
        (row, place).
    """
    for row in range(power.shape[0]):
        for t in range(count):
            at, step = first + t, steps[first + t]
            p = power[row, step]
            if not p > 0.0:
                part[row, t], steep[row, t] = 0.0, 0.0
                continue
            per_watt = 1.0 / p
            c0, c1 = parts[row, 0, step] * per_watt, parts[row, 1, step] * per_watt
            c2 = parts[row, 2, step] * per_watt
            if c2 >= 0.0:
                part[row, t] = nominal * (c0 - c2 * load[at] * load[at])
                steep[row, t] = 1.0 + c1 + 2.0 * c2 * load[at]
            else:
                part[row, t] = nominal * c0
                steep[row, t] = 1.0 + c1 + c2 * most[at]


@compiled_owning
def fill_lines_by_losses(steps, power, parts, load, most, nominal, per_row, constant):
    """Fill lines above the AC power of an inverter: the sum of each row's, less a constant.

    Parameters
    ----------
    steps, power, parts, load, most, nominal
        As for `fill_parts_and_slopes`.
    per_row : ndarray
        Filled [W] (row, step).
    constant : ndarray
        Filled [W] (step,).
    """
    rows = power.shape[0]
    part, steep = np.empty((rows, _SPAN)), np.empty((rows, _SPAN))
    least, lowest, highest = np.empty(_SPAN), np.empty(_SPAN), np.empty(_SPAN)
    for first in range(0, steps.size, _SPAN):
        count = min(_SPAN, steps.size - first)
        fill_parts_and_slopes(first, count, steps, power, parts, load, most, nominal, part, steep)
        least[:], lowest[:], highest[:] = np.inf, np.inf, -np.inf
        for row in range(rows):
            for t in range(count):
                if steep[row, t] != 0.0:
                    least[t] = min(least[t], part[row, t])
                    lowest[t] = min(lowest[t], steep[row, t])
                    highest[t] = max(highest[t], steep[row, t])
        for t in range(count):
            if least[t] == np.inf:
                least[t], lowest[t], highest[t] = 0.0, 1.0, 1.0
            constant[first + t] = least[t] / (highest[t] if least[t] > 0.0 else lowest[t])
            highest[t] *= max(nominal * most[first + t], 1e-9)
        for row in range(rows):
            for t in range(count):
                per_row[row, first + t] = 0.0
                if steep[row, t] != 0.0:
                    p = power[row, steps[first + t]]
                    spread = max(part[row, t] - least[t], 0.0)
                    per_row[row, first + t] = p / steep[row, t] - p * spread / highest[t]
