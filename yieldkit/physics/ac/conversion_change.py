"""Conversion losses with another level of efficiency and other slopes over voltage and load."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import FloatArray
from yieldkit.physics.ac.conversion_curves import ConversionCurve, ListedConversion

# A conversion keeps at least this loss at every load [1]: the best inverters lose half a percent.
_LEAST_LOSS = 0.003
_LOADS = np.linspace(0.05, 1.0, 20)


class EfficiencyChange(NamedTuple):
    """How an inverter's efficiency differs from what is known of it.

    Parameters
    ----------
    level : float
        Added at every voltage and load [1].
    per_100_v : float
        Added for every 100 V of DC voltage above the middle of what is known [1].
    per_load : float
        Added from no load to full load, nothing at half [1].
    """

    level: float = 0.0
    per_100_v: float = 0.0
    per_load: float = 0.0


def changed_conversion(
    curve: ConversionCurve | ListedConversion,
    change: EfficiencyChange,
    lowest_v: float,
    highest_v: float,
) -> ConversionCurve | ListedConversion:
    """Return conversion losses with another efficiency.

    Parameters
    ----------
    curve : ConversionCurve or ListedConversion
        The conversion as known.
    change : EfficiencyChange
        What is added to its efficiency.
    lowest_v, highest_v : float
        Span of the trackers' voltages [V]: the slope goes on to its ends, also where
        efficiencies were stated for fewer voltages, or one.

    Returns
    -------
    ConversionCurve or ListedConversion
        Of the same kind. The slopes are met to first order; the level gives way where the
        efficiency would come too near to 1.
    """
    if isinstance(curve, ListedConversion):
        return _changed_row(curve, change)
    return _changed_curve(curve, change, lowest_v, highest_v)


def _changed_curve(
    curve: ConversionCurve, change: EfficiencyChange, lowest_v: float, highest_v: float
) -> ConversionCurve:
    known = curve.voltages
    one = known.size == 1
    # Weighted figures may belong to no stated voltage: then the span's middle is theirs.
    stated = not one or lowest_v < known[0] < highest_v
    middle = 0.5 * (known[0] + known[-1]) if stated else 0.5 * (lowest_v + highest_v)
    voltages = np.unique(np.concatenate([[lowest_v, highest_v], known if stated else [middle]]))
    at = np.clip(voltages, known[0], known[-1])
    before = np.stack([np.interp(at, known, curve.coefficients[:, c]) for c in range(3)], axis=1)
    after = before.copy()
    added = change.level + change.per_100_v * (voltages - middle) / 100.0
    # 1 / efficiency is 1 + c0 / p + c1 + c2 p: c1 moves all of it, c2 its slope over load.
    squared = _efficiency_at_half(before) ** 2
    after[:, 1] -= (added - 0.5 * change.per_load) / squared
    after[:, 2] -= change.per_load / squared
    rest = after[:, [0]] / _LOADS + after[:, [2]] * _LOADS
    # Where that would leave no loss the whole level gives way, so that the slopes stay.
    after[:, 1] += max(float((_LEAST_LOSS - rest.min(axis=1) - after[:, 1]).max()), 0.0)
    return curve._replace(voltages=voltages, coefficients=after)


def _efficiency_at_half(coefficients: FloatArray) -> FloatArray:
    found: FloatArray = 0.5 / (0.5 + coefficients @ np.array([1.0, 0.5, 0.25]))
    return found


def _changed_row(row: ListedConversion, change: EfficiencyChange) -> ListedConversion:
    """Move King et al.'s coefficients: Pdco by the level, C1 by voltage and C0 by load."""
    at_full = row.paco / row.pdco
    level = 1.0 - (change.level + 0.5 * change.per_load) / at_full
    return row._replace(
        pdco=max(row.pdco * level, row.paco / (1.0 - _LEAST_LOSS)),
        c0=row.c0 + change.per_load / row.pdco,
        c1=row.c1 - change.per_100_v / 100.0 / at_full,
    )
