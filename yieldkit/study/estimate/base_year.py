"""The base case's overlap with the load in a year at hand, its blocks of days in any place."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import xarray as xr

from yieldkit.base.arrays import FloatArray, IntArray
from yieldkit.study.estimate.booking import Booking, month_sums
from yieldkit.study.estimate.day_blocks import Blocks, moved_on
from yieldkit.study.estimate.overlap import overlap
from yieldkit.study.estimate.runs import Metered, Subject, drawn_prepared, metered
from yieldkit.study.estimate.weather_years import DrawnYear
from yieldkit.study.simulation.load import load_power
from yieldkit.study.simulation.soiling import months
from yieldkit.study.uncertainty.drawn_weather import Drawable

MONTHS = 12
_STEP, _MOST = 0.02, 3.0
"""Scales of the power at which overlaps are tabled: between them they are nearly straight lines,
and beyond the last one no draw's month lies."""
_NODES = np.arange(0.0, _MOST + _STEP / 2.0, _STEP)


class MonthOverlap(NamedTuple):
    """Overlap of load and power in one month, as it follows the scale of the power.

    Columns are self-use by period of purchase, then self-use by period of feed-in.

    Parameters
    ----------
    blocks : ndarray
        At each place with each block's weather [kWh] (place, block, column, node).
    rest : ndarray
        In steps that never change places [kWh] (column, node).
    arriving : ndarray
        What arrives at the meter [kWh] (place, block, period of feed-in).
    rest_arriving : ndarray
        The same in steps that never change places [kWh] (period of feed-in,).
    """

    blocks: FloatArray
    rest: FloatArray
    arriving: FloatArray
    rest_arriving: FloatArray

    def given(self, chosen: IntArray) -> FloatArray:
        """Return what arrives unscaled with blocks chosen (draw, place) [kWh] (draw, period)."""
        place = np.arange(self.arriving.shape[0])
        found: FloatArray = self.arriving[place, chosen].sum(axis=1) + self.rest_arriving
        return found

    def at(self, scale: FloatArray, chosen: IntArray) -> FloatArray:
        """Return the overlap with power scaled [kWh] (draw, column).

        Parameters
        ----------
        scale : ndarray
            Of each draw [1] (draw,).
        chosen : ndarray of int
            Block at each place (draw, place).
        """
        node = np.minimum((scale / _STEP).astype(np.int64), _NODES.size - 2)
        beyond = (scale / _STEP - node)[:, None]
        at = [np.arange(size) for size in (self.arriving.shape[0], self.rest.shape[0])]
        place, column = at[0][:, None], at[1][None, :]
        low, high = (
            self.blocks[place, chosen[:, :, None], column, each[:, None, None]].sum(axis=1)
            + self.rest[:, each].T
            for each in (node, node + 1)
        )
        found: FloatArray = low + beyond * (high - low)
        return found


class BaseYear(NamedTuple):
    """The base case in one year at hand.

    Parameters
    ----------
    overlaps : tuple of MonthOverlap
        Of each month.
    load : ndarray
        Consumption [kWh] (period of purchase,).
    taken : ndarray
        What the plant itself takes at night [kWh] (month, period of purchase).
    self_use : ndarray
        As the chain books it [kWh] (month, period of purchase).
    """

    overlaps: tuple[MonthOverlap, ...]
    load: FloatArray
    taken: FloatArray
    self_use: FloatArray


class _Steps(NamedTuple):
    """Energies of a run's steps.

    Parameters
    ----------
    wanted, offered : ndarray
        Of the load while the plant is up, and of the plant [kWh] (time, part of the step).
    """

    wanted: FloatArray
    offered: FloatArray

    def overlap(self, steps: IntArray, shares: FloatArray) -> FloatArray:
        """Return overlaps of some steps at all nodes [kWh] (column, node)."""
        rows = []
        for share in shares[steps].T:
            own = steps[share > 0.0]
            part = share[share > 0.0][:, None]
            both = overlap((part * self.wanted[own]).ravel(), (part * self.offered[own]).ravel())
            rows.append(both.at(_NODES))
        return np.array(rows)

    def arriving(self, steps: IntArray, shares: FloatArray) -> FloatArray:
        """Return what arrives at the meter in some steps [kWh] (period of feed-in,)."""
        found: FloatArray = self.offered[steps].sum(axis=1) @ shares[steps]
        return found


def base_year(
    subject: Subject,
    row: dict[str, float],
    source: Drawable,
    blocks: tuple[Blocks, ...],
    booking: Booking,
) -> BaseYear:
    """Return the base case's overlap with the load in a year at hand.

    Parameters
    ----------
    subject : Subject
        The wiring on its site.
    row : dict of str to float
        The draw in which all is as the site file states it.
    source : Drawable
        The year's weather.
    blocks : tuple of Blocks
        What of it changes places; each block is run once at each place, for the sun's course is
        that of the place.
    booking : Booking
        How what passes the meter is booked.
    """
    weather = source.weather
    size = weather.sizes["time"]
    steps = tuple(own.steps for own in blocks)
    most = max((own.number for own in blocks), default=1)
    runs, load, meter = [], np.zeros((size, 1)), None
    for by in range(most):
        year = DrawnYear(source, moved_on(steps, size, by), 1.0)
        prepared = drawn_prepared(subject, row, year)
        own_meter = metered(prepared, subject.wiring)
        if meter is None:
            load, meter = load_power(prepared), own_meter
        runs.append(_steps_of(weather, own_meter, load))
    if meter is None:
        raise TypeError("a year without a run")
    purchase, feed_in = booking.purchase.shares(weather), booking.feed_in.shares(weather)
    both = np.concatenate([purchase, feed_in], axis=1)
    month = months(weather)
    of_month = {own.month: own for own in blocks}
    overlaps = tuple(
        _month_overlap(np.flatnonzero(month == each), of_month.get(each), runs, both, feed_in)
        for each in range(MONTHS)
    )
    there = np.isfinite(meter.power)
    return BaseYear(
        overlaps,
        month_sums(weather, np.where(there, load.mean(axis=1), 0.0), booking.purchase).sum(axis=0),
        month_sums(weather, np.where(there, meter.taken, 0.0), booking.purchase),
        month_sums(weather, meter.self_use, booking.purchase),
    )


def _steps_of(weather: xr.Dataset, meter: Metered, load: FloatArray) -> _Steps:
    parts = load.shape[1]
    kwh = float(weather.attrs["interval_s"]) / 3.6e6 / parts
    given = np.where(np.isfinite(meter.power), meter.power + meter.taken, 0.0)
    kept = np.divide(given, meter.arriving, out=np.zeros_like(given), where=meter.arriving > 0.0)
    # Switch-off and outages leave a share of the time, in which all of the load is met.
    offered = np.repeat((kwh * given)[:, None], parts, axis=1)
    return _Steps(kept[:, None] * load * kwh, offered)


def _month_overlap(
    steps: IntArray,
    own: Blocks | None,
    runs: list[_Steps],
    both: FloatArray,
    feed_in: FloatArray,
) -> MonthOverlap:
    """Return the overlap of a month, each of its blocks at each place."""
    number = 0 if own is None else own.number
    blocks = np.zeros((number, number, both.shape[1], _NODES.size))
    arriving = np.zeros((number, number, feed_in.shape[1]))
    if own is not None:
        steps = np.setdiff1d(steps, own.steps)
        for place in range(number):
            for by in range(number):
                there, at = own.steps[place], (place, (place + by) % number)
                blocks[at] = runs[by].overlap(there, both)
                arriving[at] = runs[by].arriving(there, feed_in)
    rest = runs[0].overlap(steps, both)
    return MonthOverlap(blocks, rest, arriving, runs[0].arriving(steps, feed_in))
