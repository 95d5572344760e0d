"""Measured over expected in bins: by month, hour of the day, input and quantity."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import BoolArray, FloatArray, IntArray
from yieldkit.study.review.beside import Beside

POWER, CURRENT, VOLTAGE = 0, 1, 2
_FLOOR = {POWER: 0.012, CURRENT: 0.012, VOLTAGE: 0.006}
"""How well a right model hits a bin in good light, relative; common practice, no source."""
_DIM = 0.15
"""Power by rated power at which that is doubled [1]."""
_FEWEST = 3
"""Steps that a bin needs."""
_MOSTLY = 0.8
"""Share of an input's steps that need volts and amperes, for both to be looked at [1]."""


class Bins(NamedTuple):
    """Bins in which measured and expected are held beside each other, each (bin,).

    Parameters
    ----------
    month, hour, tracker, quantity : ndarray of int
        Where each bin belongs.
    log_ratio : ndarray
        Logarithm of measured over expected.
    spread : ndarray
        Standard deviation of that by itself.
    energy : ndarray
        Expected energy of the bin [kWh].
    """

    month: IntArray
    hour: IntArray
    tracker: IntArray
    quantity: IntArray
    log_ratio: FloatArray
    spread: FloatArray
    energy: FloatArray


class Series(NamedTuple):
    """Power, current and voltage of the inputs, each (time, tracker) [W], [A], [V]."""

    power: FloatArray
    current: FloatArray
    voltage: FloatArray


class Grid(NamedTuple):
    """Steps and the bins that they fall into.

    Parameters
    ----------
    code : ndarray of int
        Bin of each step without its input (time,).
    hours : int
        Bins of a month.
    months : int
        Months.
    used : ndarray of bool
        Which steps of which input are used (time, tracker).
    weight : ndarray
        Expected power, by which voltages are weighed (time, tracker) [W].
    """

    code: IntArray
    hours: int
    months: int
    used: BoolArray
    weight: FloatArray

    def sums(self, values: FloatArray) -> FloatArray:
        """Return sums of values over the used steps (time, tracker), as (tracker, bin)."""
        size = self.months * self.hours
        kept = np.where(self.used, values, 0.0)
        each = [np.bincount(self.code, column, size) for column in kept.T]
        return np.stack(each)

    def totals(self, series: Series) -> FloatArray:
        """Return each quantity's weighted sums (quantity, tracker, bin)."""
        return np.stack(
            [
                self.sums(series.power),
                self.sums(series.current),
                self.sums(series.voltage * self.weight),
            ]
        )


def expected_series(own: Beside) -> Series:
    """Return what is expected of the inputs."""
    points = own.simulated.inputs.points
    return Series(points.p_dc, points.i_dc, points.v_dc)


def measured_series(own: Beside) -> Series:
    """Return what the log has of the inputs; nan where it has nothing."""
    shape = own.power.shape
    nothing = np.full(shape, np.nan)
    data = own.log.data
    volts, amperes = (
        data[name].transpose("time", "tracker").to_numpy().astype(float)
        if name in data
        else nothing
        for name in ("v_dc", "i_dc")
    )
    with np.errstate(divide="ignore", invalid="ignore"):
        amperes = np.where(np.isfinite(amperes), amperes, own.power / volts)
    return Series(own.power, amperes, volts)


def grid_of(own: Beside, steps: IntArray, used: BoolArray, expected: Series) -> Grid:
    """Return the bins of some steps.

    Parameters
    ----------
    own : Beside
        The log beside its expectation.
    steps : ndarray of int
        Positions in time (step,).
    used : ndarray of bool
        Which of them are used (step, tracker).
    expected : Series
        Expected at these steps (step, tracker).
    """
    code = own.month[steps] * 24 + own.hour[steps]
    there = used & np.isfinite(expected.power)
    return Grid(code, 24, len(own.months), there, expected.power)


def bins_of(own: Beside) -> Bins:
    """Return a log in bins: volts and amperes where it has both, else power.

    Parameters
    ----------
    own : Beside
        The log beside its expectation.
    """
    expected, measured = expected_series(own), measured_series(own)
    usable = own.bright & ~own.dead & (own.power > 0.0)
    steps = np.arange(own.power.shape[0])
    both = np.isfinite(measured.voltage) & np.isfinite(measured.current)
    share = (both & usable).sum(axis=0) / np.maximum(usable.sum(axis=0), 1)
    split = np.atleast_1d(share > _MOSTLY)
    usable &= both | ~split
    grid = grid_of(own, steps, usable, expected)
    over, under = grid.totals(measured), grid.totals(expected)
    count = grid.sums(np.ones(own.power.shape))
    energy = under[POWER] * own.hours / 1000.0
    scatter = _scatter(grid, measured, expected, over, under, 1.0 / own.hours)
    rated = own.rated.sum(axis=1)[:, None]
    found = []
    for quantity in (POWER, CURRENT, VOLTAGE):
        wanted = split if quantity != POWER else ~split
        with np.errstate(divide="ignore", invalid="ignore"):
            logs = np.log(over[quantity] / under[quantity])
            mean = under[POWER] / np.maximum(count, 1.0) / rated
            floor = _FLOOR[quantity] * (1.0 + _DIM / mean)
        there = wanted[:, None] & (count >= _FEWEST) & np.isfinite(logs)
        tracker, code = np.nonzero(there)
        found.append(
            (
                code // 24,
                code % 24,
                tracker,
                np.full(code.size, quantity),
                logs[there],
                np.hypot(floor, scatter[quantity])[there],
                energy[there],
            )
        )
    return Bins(*(np.concatenate(parts) for parts in zip(*found, strict=True)))


def _scatter(
    grid: Grid,
    measured: Series,
    expected: Series,
    over: FloatArray,
    under: FloatArray,
    per_hour: float,
) -> FloatArray:
    """Return the standard error of bins' ratios (quantity, tracker, bin).

    Steps of one hour go together, so that the days of a bin count, not its steps.
    """
    weight = np.ones_like(grid.weight), np.ones_like(grid.weight), grid.weight
    found = []
    pairs = zip(measured, expected, weight, over, under, strict=True)
    for one, other, own, above, below in pairs:
        with np.errstate(divide="ignore", invalid="ignore"):
            ratio = (above / below)[:, grid.code].T
            off = own * (one - ratio * other)
            square = grid.sums(np.where(np.isfinite(off), off, 0.0) ** 2)
            found.append(np.sqrt(square * max(per_hour, 1.0)) / above)
    return np.asarray(np.nan_to_num(np.stack(found), nan=0.0, posinf=0.0))


def log_change(bins: Bins, before: FloatArray, after: FloatArray) -> FloatArray:
    """Return how the logarithm of what is expected changes in each bin (bin,).

    Parameters
    ----------
    bins : Bins
        The bins.
    before, after : ndarray
        `Grid.totals` of two expectations (quantity, tracker, bin).

    Returns
    -------
    ndarray
        nan where nothing is expected.
    """
    at = bins.quantity, bins.tracker, bins.month * 24 + bins.hour
    with np.errstate(divide="ignore", invalid="ignore"):
        logs = np.log(after[at] / before[at])
    found: FloatArray = np.where(np.isfinite(logs), logs, np.nan)
    return found
