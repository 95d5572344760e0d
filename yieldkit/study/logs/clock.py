"""By how much a log's clock is ahead of the sun, day by day, from the shape of clear days.

What an input or a sensor shows follows the light of a cloudless sky, taken earlier or later, times
a gain of its own. Common to a day are, as unknowns with a spread: hazier air, a slow drift of the
light, and how far values bend away from the light (heat, little light). Steps under clouds lie far
off and weigh little.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import BoolArray, FloatArray, IntArray
from yieldkit.study.logs.clock_days import DRIFT_H, Channels, Days, laid_out
from yieldkit.study.logs.plant_log import ClockOffset

WIDEST_MIN = 150.0
"""Clocks farther off than this aren't told: another plane or another day would look alike."""
_COARSE_MIN = np.arange(-160.0, 161.0, 20.0)
_DRIFT, _BENDING, _HAZIER = 0.05, 0.05, 1.0
"""Spreads: drift of the light over four hours [1], exponent of the light [1], and air hazier by
30 % [1]; common practice, no source."""
_COMMON = 4
_DIFFUSE_W_M2 = 15.0
_FLOOR = 0.02
_CLOUD = 0.02
"""Deviations well above this share weigh little in the search [1]."""
_FINEST, _ROUGHEST = 0.003, 0.035
"""Scatter that is believed at least, and at most on a day that tells anything [1]: on days of
broken clouds a fit finds something too, half an hour off."""
_LEAST_H, _LEAST_STEPS = 2.0, 6
_LEAST_GAIN = 0.6
"""A day is overcast below this share of the gain of clear ones [1]."""
_HALF_WIDTH_MIN = 12.0
_Z = 1.645
_WAVES, _WAVE_OF_ALL, _WAVE_OF_ONE = (1.0, 2.0), 0.01, 0.009
"""Waves a day in which light, or that of one plane alone, may drift, and by how much [1]: common
practice, no source."""
_FLOOR_MIN = 0.8
"""Standard deviation that is left at best [min]: the models of sky and glass differ by it."""
_OTHER_SIDE = 0.15
_MOST_CORRELATED = 0.95
_ROUNDS = 6


class _Fit(NamedTuple):
    """A fit to each day: what is left, gains, the offset's step and its variance, and by waves."""

    residual: FloatArray
    weight: FloatArray
    gain: FloatArray
    step: FloatArray
    variance: FloatArray
    by_waves: FloatArray


class _Found(NamedTuple):
    """Offsets and what goes with them, by the day.

    Parameters
    ----------
    late : ndarray
        Offset [min] (day,).
    fit : _Fit
        The last fit.
    scatter : ndarray
        How far values lie from it [1] (day,).
    rises : ndarray of bool
        Where light rises with time (day, slot, channel).
    """

    late: FloatArray
    fit: _Fit
    scatter: FloatArray
    rises: BoolArray


def clock_offsets(
    channels: Channels, times_ns: IntArray, interval_s: float, utc_offset_s: float
) -> tuple[ClockOffset, ...]:
    """Return a clock's offset on every day that tells it.

    Parameters
    ----------
    channels : Channels
        What follows the light.
    times_ns : ndarray of int
        Starts of the steps by the log, nanoseconds since 1970 UTC (step,).
    interval_s : float
        Length of a step [s].
    utc_offset_s : float
        Standard time ahead of UTC [s].

    Returns
    -------
    tuple of ClockOffset
        Cloudy days have none.
    """
    days = laid_out(channels, times_ns, interval_s, utc_offset_s)
    enough = days.used.any(axis=2).sum(axis=1) >= _least_steps(interval_s)
    days = days.only(enough)
    if not days.first.size:
        return ()
    late, fit = _searched(days, channels)
    found = _refined(days, channels, late, fit)
    late = found.late
    half = _Z * np.hypot(np.sqrt(found.fit.variance), _FLOOR_MIN)
    good = _tells(days, channels, found, half)
    return tuple(
        ClockOffset(_name(day), float(at), float(at - wide), float(at + wide))
        for day, at, wide in zip(days.first[good], late[good], half[good], strict=True)
    )


def _least_steps(interval_s: float) -> float:
    return max(_LEAST_STEPS, _LEAST_H * 3600.0 / interval_s)


def _sky_logs(days: Days, channels: Channels, late: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return logarithms of light on each channel, and of hazier over usual air, by day."""
    shape = days.starts_ns.shape
    flat, ahead = days.starts_ns.ravel(), np.repeat(late, shape[1])
    found = []
    for sky in channels.skies:
        light = sky.mean(flat, days.interval_s, ahead).reshape(*shape, -1)
        found.append(
            np.log(np.maximum(light, _FLOOR * 1000.0) * (1.0 - channels.lost_hot * light / 1000.0))
        )
    return found[0], found[1] - found[0]


def _searched(days: Days, channels: Channels) -> tuple[FloatArray, _Fit]:
    """Return the best of some offsets apart for each day, and the fit there."""
    best = np.full(days.first.size, np.inf)
    late = np.zeros(days.first.size)
    chosen: _Fit | None = None
    for minutes in _COARSE_MIN:
        ahead = np.full(days.first.size, minutes)
        columns = _columns(days, *_sky_logs(days, channels, ahead))
        weight = days.used.astype(float)
        fit = None
        for _ in range(2):
            fit = _fitted(days, columns, weight, np.full(days.first.size, _CLOUD), False)
            weight = fit.weight
        assert fit is not None
        cost = np.log1p(np.square(fit.residual / (2.0 * _CLOUD))) * days.used
        total = cost.sum(axis=(1, 2))
        better = total < best
        late[better], best[better] = minutes, total[better]
        chosen = fit if chosen is None else _mixed(better, fit, chosen)
    assert chosen is not None
    return late, chosen


def _mixed(which: BoolArray, one: _Fit, other: _Fit) -> _Fit:
    return _Fit(
        *(
            np.where(which.reshape(-1, *[1] * (a.ndim - 1)), a, b)
            for a, b in zip(one, other, strict=True)
        )
    )


def _columns(days: Days, sky: FloatArray, haze: FloatArray) -> FloatArray:
    """Return what values are made of: light, and what is common (5, day, slot, channel)."""
    drift = np.broadcast_to(days.hours[:, None], sky.shape)
    more = _DIFFUSE_W_M2 * np.exp(-sky)
    return np.stack([sky, drift * _DRIFT, haze * _HAZIER, sky * _BENDING, more])


def _fitted(
    days: Days, columns: FloatArray, weight: FloatArray, scatter: FloatArray, moving: bool
) -> _Fit:
    """Fit gains and common unknowns, and the offset itself if its slope stands last.

    Unknowns but the offset are in standard deviations. Gains are taken out by their means.
    """
    total = np.maximum(weight.sum(axis=1, keepdims=True), 1e-12)
    own = days.logs - columns[0]
    mean = (weight * own).sum(axis=1, keepdims=True) / total
    apart = own - mean
    used = columns[1:]
    middle = (weight * used).sum(axis=2, keepdims=True) / total
    centred = used - middle
    square = np.einsum("adsc,bdsc->dab", centred * weight, centred)
    right = np.einsum("adsc,dsc->da", centred * weight, apart)
    prior = np.zeros(square.shape[1])
    prior[:_COMMON] = 1.0
    square += np.square(scatter)[:, None, None] * np.diag(np.maximum(prior, 1e-12))
    inverse = np.linalg.inv(square)
    found = np.einsum("dab,db->da", inverse, right)
    residual = apart - np.einsum("da,adsc->dsc", found, centred)
    cauchy = days.used / (1.0 + np.square(residual / (2.0 * scatter)[:, None, None]))
    gain = mean[:, 0] - np.einsum("da,adc->dc", found, middle[:, :, 0])
    last = np.zeros(len(found)) if not moving else found[:, _COMMON]
    if not moving:
        return _Fit(residual, cauchy, gain, last, np.zeros(len(found)), np.zeros(len(found)))
    variance = inverse[:, _COMMON, _COMMON] * np.square(scatter)
    moves = np.einsum("da,adsc->dsc", inverse[:, _COMMON], centred * weight)
    return _Fit(residual, cauchy, gain, last, variance, _by_waves(days, moves))


def _by_waves(days: Days, moves: FloatArray) -> FloatArray:
    """Return the offset's variance by slow waves of the day and of each channel [min2] (day,).

    Parameters
    ----------
    days : Days
        The days.
    moves : ndarray
        By how much a value moves the offset [min] (day, slot, channel).
    """
    turn = 2.0 * np.pi * DRIFT_H * days.hours / 24.0
    found = np.zeros(len(moves))
    for often in _WAVES:
        for wave in (np.sin(often * turn), np.cos(often * turn)):
            each = np.einsum("dsc,s->dc", moves, wave)
            found += np.square(_WAVE_OF_ALL * each.sum(axis=1))
            found += np.square(_WAVE_OF_ONE * each).sum(axis=1)
    return found


def _refined(days: Days, channels: Channels, late: FloatArray, fit: _Fit) -> _Found:
    """Return offsets, fits and scatter by Gauss and Newton, each day from its own beginning."""
    late = late.copy()
    scatter = _scatter(days, fit)
    slope = np.zeros(days.used.shape)
    for _ in range(_ROUNDS):
        sky, haze = _sky_logs(days, channels, late)
        before, _ = _sky_logs(days, channels, late - 2.0)
        after, _ = _sky_logs(days, channels, late + 2.0)
        slope = (after - before) / 4.0
        columns = np.concatenate([_columns(days, sky, haze), slope[None]])
        fit = _fitted(days, columns, fit.weight, scatter, True)
        late += np.clip(fit.step, -10.0, 10.0)
        scatter = _scatter(days, fit)
    wider = fit._replace(variance=fit.variance * _together(days, fit) + fit.by_waves)
    return _Found(late, wider, scatter, slope < 0.0)


def _scatter(days: Days, fit: _Fit) -> FloatArray:
    """Return how far a day's values lie from the fit, by the middle one of them (day,)."""
    apart = np.where(days.used, np.abs(fit.residual), np.nan).reshape(len(days.first), -1)
    found: FloatArray = 1.4826 * np.nanmedian(apart, axis=1)
    return np.clip(found, _FINEST, 10.0)


def _together(days: Days, fit: _Fit) -> FloatArray:
    """Return by how much deviations that are alike widen the variance (day,).

    Neighbouring steps and the channels of a step deviate together where a veil passes.
    """
    root = np.where(days.used, np.sqrt(fit.weight) * fit.residual, 0.0)
    each = root.sum(axis=2)
    square = np.maximum(np.square(each).sum(axis=1), 1e-12)
    beside = square / np.maximum(np.square(root).sum(axis=(1, 2)), 1e-12)
    alike = np.clip((each[:, 1:] * each[:, :-1]).sum(axis=1) / square, 0.0, _MOST_CORRELATED)
    found: FloatArray = np.maximum(beside, 1.0) * (1.0 + alike) / (1.0 - alike)
    return found


def _tells(days: Days, channels: Channels, found: _Found, half: FloatArray) -> BoolArray:
    """Return which days tell anything (day,).

    They are clear for hours, bright, and seen both in rising and in falling light: one side of a
    curve alone may be a veil of cloud as well.
    """
    fit, scatter = found.fit, found.scatter
    close = days.used & (np.abs(fit.residual) < 3.0 * np.maximum(scatter, 0.01)[:, None, None])
    steps = close.any(axis=2).sum(axis=1)
    rising = (close & found.rises).sum(axis=(1, 2)) / np.maximum(close.sum(axis=(1, 2)), 1)
    seen = np.where(close.any(axis=1), fit.gain, -np.inf)
    with np.errstate(divide="ignore"):
        drawn = np.log(channels.per_light)
    bright = seen - np.where(np.isfinite(drawn), drawn, 0.0)
    level = bright.max(axis=1)
    good: BoolArray = steps >= _least_steps(days.interval_s)
    good &= (scatter < _ROUGHEST) & (half < _HALF_WIDTH_MIN) & (np.abs(found.late) <= WIDEST_MIN)
    good &= np.abs(rising - 0.5) < 0.5 - _OTHER_SIDE
    if good.any():
        usual = float(np.quantile(level[good], 0.9))
        if np.isfinite(drawn).all():
            usual = max(usual, float(np.log(_LEAST_GAIN)))
        good &= level > usual + np.log(_LEAST_GAIN)
    return good


def _name(day: int) -> str:
    return str(np.datetime64(int(day), "D"))
