"""How much of a load a plant covers when its power is scaled: exact, from sorted ratios."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import FloatArray


class Overlap(NamedTuple):
    """Sum of the lesser of load and scaled power, as it follows the scale.

    The sum of min(load, f power) over steps is a line between those f at which a step's power
    reaches its load: below its ratio load / power a step gives f power, above it the load.

    Parameters
    ----------
    ratios : ndarray
        Load over power of each step with any power, rising [1] (step,).
    full : ndarray
        Loads of the first so many steps of these, summed [kWh] (step + 1,).
    rest : ndarray
        Power of the others, summed [kWh] (step + 1,).
    """

    ratios: FloatArray
    full: FloatArray
    rest: FloatArray

    def at(self, scale: FloatArray) -> FloatArray:
        """Return the sum at scales of any shape [kWh]."""
        place = np.searchsorted(self.ratios, scale, side="right")
        found: FloatArray = self.full[place] + scale * self.rest[place]
        return found


def overlap(load: FloatArray, power: FloatArray) -> Overlap:
    """Return how much of a load a plant covers, step by step.

    Parameters
    ----------
    load, power : ndarray
        Energy of each step, both weighed alike [kWh] (step,); power of nothing covers nothing.
    """
    some = power > 0.0
    load, power = load[some], power[some]
    ratios = load / power
    order = np.argsort(ratios)
    before = np.zeros(order.size + 1)
    after = np.zeros(order.size + 1)
    before[1:] = np.cumsum(load[order])
    after[:-1] = np.cumsum(power[order][::-1])[::-1]
    return Overlap(ratios[order], before, after)
