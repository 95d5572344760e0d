"""Measured beside expected by month, input and hour of the day, each ratio with its band."""

from __future__ import annotations

import math

import numpy as np
import xarray as xr

from yieldkit.base.arrays import BoolArray, FloatArray, IntArray
from yieldkit.study.logs.plant_log import COUNTED, MISSING, NIGHT, REASONS
from yieldkit.study.review.beside import Beside
from yieldkit.study.review.bins import Bins
from yieldkit.study.review.ratios import Entry, band, entry, fed_in, meter_spread, ratios
from yieldkit.study.review.result import Loss, Span
from yieldkit.study.review.unknowns import Unknown, shares, spread_of

_NINE_OF_TEN = 1.645
_BOUNDS = ("low", "high")
_LEAST_ENERGY = 0.002
"""Share of an input's expected energy that an hour needs for a ratio [1]."""


def tables(own: Beside, bins: Bins, found: tuple[Unknown, ...]) -> xr.Dataset:
    """Return the Dataset of a review; `Review` says what is in it.

    Parameters
    ----------
    own : Beside
        The log beside its expectation.
    bins : Bins
        Its bins.
    found : tuple of Unknown
        What may be otherwise in a right plant.
    """
    variables = {
        **_by_month(own, bins, found),
        **_at_the_meter(own, bins, found),
        **ratios(own, bins, found),
        **_hours(own),
        **_by_hour(own, bins, found),
        **_between(own, bins, found),
    }
    coords = {
        "month": list(own.months),
        "tracker": list(own.names),
        "other": list(own.names),
        "inverter": [one.name for one in own.site.each_inverter()],
        "hour": np.arange(24),
        "reason": list(REASONS),
        "bound": list(_BOUNDS),
    }
    attrs = {
        "site": own.site.site.name,
        "wiring": own.wiring.name,
        "log": own.log.name,
        "light": own.light,
        "rated_kw": float(own.rated.sum()) / 1000.0,
        "time_zone": str(own.log.data.attrs.get("time_zone", "UTC")),
        "utc_offset_s": float(own.log.data.attrs.get("utc_offset_s", 0.0)),
        "interval_s": 3600.0 * own.hours,
        "from": f"{own.local[0]:%Y-%m-%d %H:%M}",
        "to": f"{own.local[-1]:%Y-%m-%d %H:%M}",
    }
    return xr.Dataset(variables, coords, attrs)


def _sums(own: Beside, values: FloatArray, counts: BoolArray) -> FloatArray:
    """Return energies by month [kWh] (month, column); nan where nothing counts."""
    size = len(own.months)
    kept = np.where(counts, values, 0.0)
    sums = np.stack([np.bincount(own.month, column, size) for column in kept.T], axis=1)
    any_there = np.stack([np.bincount(own.month, column, size) for column in counts.T], axis=1)
    return np.where(any_there > 0, sums, np.nan) * own.hours / 1000.0


def _ratio(over: FloatArray, below: FloatArray) -> FloatArray:
    found: FloatArray = np.divide(over, below, out=np.full_like(over, np.nan), where=below > 0.0)
    return found


def _by_month(own: Beside, bins: Bins, found: tuple[Unknown, ...]) -> dict[str, Entry]:
    measured = _sums(own, own.power, own.counts)
    expected = _sums(own, own.expected, own.counts)
    bounds = np.full((*measured.shape, 2), np.nan)
    for month, tracker in np.ndindex(measured.shape):
        there = (bins.month == month) & (bins.tracker == tracker)
        bounds[month, tracker] = band(spread_of(found, bins, shares(bins, there)))
    known = np.isfinite(bounds[..., 0])
    ratio = np.where(known, _ratio(measured, expected), np.nan)
    mt = ("month", "tracker")
    return {
        "dc_measured": entry(mt, measured, "kWh", "measured energy of the input"),
        "dc_expected": entry(mt, expected, "kWh", "expected energy of the same steps"),
        "dc_ratio": entry(mt, ratio, "1", "measured over expected"),
        "dc_band": entry((*mt, "bound"), bounds, "1", "where 99 of 100 right plants lie"),
    }


def _at_the_meter(own: Beside, bins: Bins, found: tuple[Unknown, ...]) -> dict[str, Entry]:
    if "p_ac" not in own.log.data:
        return {}
    power, free, counts = fed_in(own)
    measured, expected = _sums(own, power, counts), _sums(own, free, counts)
    bounds = np.full((*measured.shape, 2), np.nan)
    on = own.inverter[bins.tracker]
    for month, inverter in np.ndindex(measured.shape):
        share = shares(bins, (bins.month == month) & (on == inverter))
        bounds[month, inverter] = band(math.hypot(spread_of(found, bins, share), meter_spread()))
    ratio = np.where(np.isfinite(bounds[..., 0]), _ratio(measured, expected), np.nan)
    mi = ("month", "inverter")
    return {
        "ac_measured": entry(mi, measured, "kWh", "measured energy at the inverter's terminals"),
        "ac_expected": entry(mi, expected, "kWh", "expected energy of the same steps"),
        "ac_ratio": entry(mi, ratio, "1", "measured over expected"),
        "ac_band": entry((*mi, "bound"), bounds, "1", "where 99 of 100 right plants lie"),
    }


def _hours(own: Beside) -> dict[str, Entry]:
    """Return the hours of each reason; they add up to all hours of the log."""
    codes: IntArray = own.log.data["left_out"].transpose("time", "tracker").to_numpy().astype(int)
    lacking = (codes == REASONS.index(COUNTED)) & ~own.counts
    codes = np.where(lacking, REASONS.index(MISSING), codes)
    size, kinds = len(own.months), len(REASONS)
    hours = np.stack(
        [
            np.bincount(own.month * kinds + column, minlength=size * kinds).reshape(size, kinds)
            for column in codes.T
        ],
        axis=1,
    )
    by_day = (own.light_up & (REASONS.index(NIGHT) != codes.T)).T
    daylight = np.stack([np.bincount(own.month, each, size) for each in by_day.T], axis=1)
    counted = np.stack(
        [np.bincount(own.month, each, size) for each in (by_day & own.counts).T], axis=1
    )
    meaning = "how long each reason held; the first counts"
    return {
        "hours": entry(("month", "tracker", "reason"), hours * own.hours, "h", meaning),
        "coverage": entry(
            ("month", "tracker"),
            _ratio(counted.astype(np.float64), daylight.astype(np.float64)),
            "1",
            "share of daylight that counts",
        ),
    }


def _by_hour(own: Beside, bins: Bins, found: tuple[Unknown, ...]) -> dict[str, Entry]:
    months, inputs = len(own.months), len(own.names)
    code = own.month * 24 + own.hour

    def sums(values: FloatArray) -> FloatArray:
        kept = np.where(own.counts, values, 0.0)
        each = [np.bincount(code, column, months * 24) for column in kept.T]
        total = np.stack(each, axis=1).reshape(months, 24, inputs) * own.hours / 1000.0
        return np.asarray(total)

    measured, expected = sums(own.power), sums(own.expected)
    enough = expected.sum(axis=0) > _LEAST_ENERGY * expected.sum(axis=(0, 1))
    ratio = np.where(enough, _ratio(measured.sum(axis=0), expected.sum(axis=0)), np.nan)
    bounds = np.full((24, inputs, 2), np.nan)
    for hour, tracker in np.argwhere(enough):
        share = shares(bins, (bins.hour == hour) & (bins.tracker == tracker))
        bounds[hour, tracker] = band(spread_of(found, bins, share))
    ratio = np.where(np.isfinite(bounds[..., 0]), ratio, np.nan)
    own_share = expected > _LEAST_ENERGY / 12.0 * expected.sum(axis=(0, 1))
    by_month = np.where(own_share, _ratio(measured, expected), np.nan)
    mht = ("month", "hour", "tracker")
    return {
        "hour_ratio": entry(mht[1:], ratio, "1", "measured over expected by hour of the day"),
        "hour_band": entry((*mht[1:], "bound"), bounds, "1", "where 99 of 100 right plants lie"),
        "month_hour_ratio": entry(mht, by_month, "1", "measured over expected"),
        "month_hour_expected": entry(mht, expected, "kWh", "expected energy"),
    }


def _between(own: Beside, bins: Bins, found: tuple[Unknown, ...]) -> dict[str, Entry]:
    count = len(own.names)
    ratio, bounds = np.full((count, count), np.nan), np.full((count, count, 2), np.nan)
    year, year_bounds = np.full(count, np.nan), np.full((count, 2), np.nan)
    each = [shares(bins, bins.tracker == tracker) for tracker in range(count)]
    for one, other in np.ndindex(count, count):
        both = own.counts[:, one] & own.counts[:, other]
        pair = [
            float(own.power[both, at].sum()) / float(own.expected[both, at].sum())
            if own.expected[both, at].sum() > 0.0
            else math.nan
            for at in (one, other)
        ]
        if one == other:
            spread = spread_of(found, bins, each[one])
            year[one], year_bounds[one] = pair[0], band(spread)
        elif pair[1] and math.isfinite(pair[0] / pair[1]):
            ratio[one, other] = pair[0] / pair[1]
            bounds[one, other] = band(spread_of(found, bins, each[one] - each[other]))
    to = ("tracker", "other")
    return {
        "between": entry(to, ratio, "1", "one input's ratio over another's"),
        "between_band": entry((*to, "bound"), bounds, "1", "where 99 of 100 right plants lie"),
        "year_ratio": entry(to[:1], year, "1", "measured over expected, all months"),
        "year_band": entry((*to[:1], "bound"), year_bounds, "1", "where 99 of 100 lie"),
    }


def losses(own: Beside, bins: Bins, found: tuple[Unknown, ...]) -> tuple[Loss, ...]:
    """Return the one loss that explains each input's energy, and that of all.

    Parameters
    ----------
    own : Beside
        The log beside its expectation.
    bins : Bins
        Its bins.
    found : tuple of Unknown
        What may be otherwise in a right plant, which makes the span.
    """
    told = []
    every = own.counts.all(axis=1)
    for at, name in enumerate((*own.names, "all inputs")):
        last = at == len(own.names)
        there = every if last else own.counts[:, at]
        chosen = slice(None) if last else slice(at, at + 1)
        expected = float(own.expected[there, chosen].sum())
        inside = np.ones(bins.tracker.size, dtype=bool) if last else bins.tracker == at
        spread = spread_of(found, bins, shares(bins, inside))
        ratio = float(own.power[there, chosen].sum()) / expected if expected > 0.0 else math.nan
        low, high = (ratio * math.exp(sign * _NINE_OF_TEN * spread) for sign in (1.0, -1.0))
        told.append(Loss(name, Span(*(100.0 * (1.0 - each) for each in (ratio, low, high)))))
    return tuple(told)
