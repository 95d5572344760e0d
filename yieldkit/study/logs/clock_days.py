"""What a log's clock is read from, laid out by the day."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import BoolArray, FloatArray, IntArray
from yieldkit.study.logs.cloudless_light import Skies

DRIFT_H = 4.0
_DAY_NS = 86_400_000_000_000
_LEAST_SHARE = 0.25
"""Values below this share of the day's highest are left out: near the horizon little is known."""
_GIVES_NOTHING = 0.03


class Channels(NamedTuple):
    """What is held against a cloudless sky.

    Parameters
    ----------
    values : ndarray
        In proportion to the light, nan where nothing counts (step, channel).
    per_light : ndarray
        What one W/m2 should give, nan where that isn't known (channel,).
    skies : Skies
        Light on each channel.
    lost_hot : ndarray
        Share that cells' heat takes at 1000 W/m2 [1] (channel,).
    """

    values: FloatArray
    per_light: FloatArray
    skies: Skies
    lost_hot: FloatArray


class Days(NamedTuple):
    """Channels laid out by the day.

    Parameters
    ----------
    first : ndarray of int
        Number of each day since 1970, by standard time (day,).
    starts_ns : ndarray of int
        Starts of their steps, nanoseconds since 1970 UTC (day, slot).
    logs : ndarray
        Logarithms of the values, zero where nothing counts (day, slot, channel).
    used : ndarray of bool
        Where something counts (day, slot, channel).
    hours : ndarray
        Hours from noon in units of the drift (slot,).
    interval_s : float
        Length of a step [s].
    """

    first: IntArray
    starts_ns: IntArray
    logs: FloatArray
    used: BoolArray
    hours: FloatArray
    interval_s: float

    def only(self, which: BoolArray) -> Days:
        """Return some of the days."""
        return self._replace(
            first=self.first[which],
            starts_ns=self.starts_ns[which],
            logs=self.logs[which],
            used=self.used[which],
        )


def laid_out(
    channels: Channels, times_ns: IntArray, interval_s: float, utc_offset_s: float
) -> Days:
    """Return channels by day and place in the day.

    Parameters
    ----------
    channels : Channels
        What follows the light.
    times_ns, interval_s, utc_offset_s
        As for `clock_offsets`.
    """
    step_ns = round(interval_s * 1e9)
    local = times_ns + round(utc_offset_s * 1e9)
    day, slot = local // _DAY_NS, (local % _DAY_NS) // step_ns
    first, at = np.unique(day, return_inverse=True)
    slots = int(slot.max()) + 1
    values = np.full((first.size, slots, channels.values.shape[1]), np.nan)
    values[at, slot] = channels.values
    beyond = int((local[0] % _DAY_NS) % step_ns)
    starts = first[:, None] * _DAY_NS + np.arange(slots) * step_ns + beyond
    starts = starts - round(utc_offset_s * 1e9)
    with np.errstate(invalid="ignore"):
        highest = np.nanmax(np.where(np.isfinite(values), values, 0.0), axis=1, keepdims=True)
        used = values > np.maximum(_LEAST_SHARE * highest, 0.0)
    # Inputs that give nothing all day say nothing.
    used &= highest > _GIVES_NOTHING * np.nan_to_num(channels.per_light) * 1000.0
    lit = used.any(axis=(0, 2))
    logs = np.log(np.where(used, values, 1.0))
    hours = (np.arange(slots) * interval_s / 3600.0 - 12.0) / DRIFT_H
    return Days(first, starts[:, lit], logs[:, lit], used[:, lit], hours[lit], interval_s)
