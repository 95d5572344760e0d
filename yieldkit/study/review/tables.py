"""Measured beside expected by month, input and hour of the day, each ratio with its band."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import xarray as xr

from yieldkit.base.arrays import BoolArray, FloatArray, IntArray
from yieldkit.base.measured_planes import CELL, MODULE, measured_name
from yieldkit.study.estimate.yields import corrected_ratio, power_coefficient, yields
from yieldkit.study.handover.reference_errors import METER_A, REFERENCE_ERRORS
from yieldkit.study.logs.plant_log import COUNTED, MISSING, NIGHT, REASONS
from yieldkit.study.review.beside import Beside
from yieldkit.study.review.bins import Bins
from yieldkit.study.review.result import Loss, Span
from yieldkit.study.review.unknowns import Unknown, shares, spread_of
from yieldkit.study.uncertainty.unknowns import UNKNOWNS

_NINETY_NINE, _NINE_OF_TEN = 2.576, 1.645
_BOUNDS = ("low", "high")
_LEAST_ENERGY = 0.002
"""Share of an input's expected energy that an hour needs for a ratio [1]."""
Entry = tuple[tuple[str, ...], Any, dict[str, str]]


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
        **_ratios(own, bins, found),
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
        "from": str(own.local[0]),
        "to": str(own.local[-1]),
    }
    return xr.Dataset(variables, coords, attrs)


def _entry(dims: tuple[str, ...], values: Any, units: str, meaning: str) -> Entry:
    return dims, values, {"units": units, "long_name": meaning}


def band(spread: float) -> tuple[float, float]:
    """Return between what 99 of 100 ratios of right plants lie [1]."""
    return math.exp(-_NINETY_NINE * spread), math.exp(_NINETY_NINE * spread)


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
        "dc_measured": _entry(mt, measured, "kWh", "measured energy of the input"),
        "dc_expected": _entry(mt, expected, "kWh", "expected energy of the same steps"),
        "dc_ratio": _entry(mt, ratio, "1", "measured over expected"),
        "dc_band": _entry((*mt, "bound"), bounds, "1", "where 99 of 100 right plants lie"),
    }


def _fed(own: Beside) -> tuple[FloatArray, FloatArray, BoolArray]:
    """Return AC power measured and expected [W], and which steps count (time, inverter)."""
    fed = own.simulated.alternating
    expected = fed.fed.p * (1.0 - np.nan_to_num(fed.off_fraction))
    measured = np.full(expected.shape, np.nan)
    if "p_ac" in own.log.data:
        measured = own.log.data["p_ac"].transpose("time", "inverter").to_numpy().astype(float)
    counts = np.isfinite(measured) & np.isfinite(expected)
    inputs = own.log.counted
    for at in range(expected.shape[1]):
        counts[:, at] &= inputs[:, own.inverter == at].all(axis=1)
    return measured, expected, counts


def meter_spread() -> float:
    """Return how far AC energy may be off beside the DC side [1]: meter and conversion."""
    conversion = next(each.spread for each in UNKNOWNS if each.name == "inverter efficiency")
    return math.hypot(REFERENCE_ERRORS[METER_A].spread, conversion) / 100.0


def _at_the_meter(own: Beside, bins: Bins, found: tuple[Unknown, ...]) -> dict[str, Entry]:
    if "p_ac" not in own.log.data:
        return {}
    power, free, counts = _fed(own)
    measured, expected = _sums(own, power, counts), _sums(own, free, counts)
    bounds = np.full((*measured.shape, 2), np.nan)
    on = own.inverter[bins.tracker]
    for month, inverter in np.ndindex(measured.shape):
        share = shares(bins, (bins.month == month) & (on == inverter))
        bounds[month, inverter] = band(math.hypot(spread_of(found, bins, share), meter_spread()))
    ratio = np.where(np.isfinite(bounds[..., 0]), _ratio(measured, expected), np.nan)
    mi = ("month", "inverter")
    return {
        "ac_measured": _entry(mi, measured, "kWh", "measured energy at the inverter's terminals"),
        "ac_expected": _entry(mi, expected, "kWh", "expected energy of the same steps"),
        "ac_ratio": _entry(mi, ratio, "1", "measured over expected"),
        "ac_band": _entry((*mi, "bound"), bounds, "1", "where 99 of 100 right plants lie"),
    }


def _module_heat(own: Beside) -> FloatArray:
    """Return the modules' temperature where it was measured, else their cells' (time, plane)."""
    heat = own.prepared.planes["temp_cell"].to_numpy().copy()
    for at, plane in enumerate(own.site.planes):
        for quantity in (MODULE, CELL):
            name = measured_name(quantity, plane.name)
            if name in own.weather:
                heat[:, at] = own.weather[name].to_numpy()
    return heat


def _ratios(own: Beside, bins: Bins, found: tuple[Unknown, ...]) -> dict[str, Entry]:
    """Return performance ratios by month, of steps in which all inputs and the light are there."""
    power, free, counts = _fed(own)
    light = own.prepared.planes["poa_global"].to_numpy()
    heat = _module_heat(own)
    there = counts.all(axis=1) & np.isfinite(light).all(axis=1) & np.isfinite(heat).all(axis=1)
    rated = own.rated.sum(axis=0)
    types = {module.name: module for module in own.site.module_types}
    gamma = np.array([power_coefficient(types[each.module_type]) for each in own.site.planes])
    size = len(own.months)
    values = np.full((5, size), np.nan)
    bounds = np.full((2, size, 2), np.nan)
    for month in range(size):
        chosen = there & (own.month == month)
        if not chosen.any():
            continue
        irradiation = float(light[chosen].sum(axis=0) @ rated / rated.sum()) * own.hours / 1000.0
        for at, each in enumerate((power, free)):
            fed = each[chosen].sum(axis=1)
            at_heat = corrected_ratio(fed, light[chosen], heat[chosen], rated, gamma)
            kwh = float(fed.sum()) * own.hours / 1000.0
            both = yields(kwh, math.nan, irradiation, float(rated.sum()) / 1000.0, at_heat)
            values[2 * at : 2 * at + 2, month] = both.ratio, both.corrected_ratio
        values[4, month] = irradiation
        share = shares(bins, bins.month == month)
        spread = math.hypot(spread_of(found, bins, share), meter_spread())
        for at, middle in enumerate(values[2:4, month]):
            bounds[at, month] = np.array(band(spread)) * middle
    words = (
        ("pr", "performance ratio, measured (IEC 61724-1)"),
        ("pr_stc", "performance ratio at 25 degC, measured (IEC 61724-1)"),
        ("pr_expected", "performance ratio, expected"),
        ("pr_stc_expected", "performance ratio at 25 degC, expected"),
    )
    told = {
        name: _entry(("month",), values[at], "1", text) for at, (name, text) in enumerate(words)
    }
    mb = ("month", "bound")
    return {
        **told,
        "pr_irradiation": _entry(("month",), values[4], "kWh/m2", "in-plane irradiation, Y_r in h"),
        "pr_band": _entry(mb, bounds[0], "1", "where 99 of 100 right plants' PR lie"),
        "pr_stc_band": _entry(mb, bounds[1], "1", "where 99 of 100 right plants' PR'STC lie"),
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
        "hours": _entry(("month", "tracker", "reason"), hours * own.hours, "h", meaning),
        "coverage": _entry(
            ("month", "tracker"),
            _ratio(counted * 1.0, daylight * 1.0),
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
        "hour_ratio": _entry(mht[1:], ratio, "1", "measured over expected by hour of the day"),
        "hour_band": _entry((*mht[1:], "bound"), bounds, "1", "where 99 of 100 right plants lie"),
        "month_hour_ratio": _entry(mht, by_month, "1", "measured over expected"),
        "month_hour_expected": _entry(mht, expected, "kWh", "expected energy"),
    }


def _between(own: Beside, bins: Bins, found: tuple[Unknown, ...]) -> dict[str, Entry]:
    count = len(own.names)
    ratio, bounds = np.full((count, count), np.nan), np.full((count, count, 2), np.nan)
    year, year_bounds = np.full(count, np.nan), np.full((count, 2), np.nan)
    each = [shares(bins, bins.tracker == tracker) for tracker in range(count)]
    for one, other in np.ndindex(count, count):
        both = own.counts[:, one] & own.counts[:, other]
        ratios = [
            float(own.power[both, at].sum()) / float(own.expected[both, at].sum())
            if own.expected[both, at].sum() > 0.0
            else math.nan
            for at in (one, other)
        ]
        if one == other:
            spread = spread_of(found, bins, each[one])
            year[one], year_bounds[one] = ratios[0], band(spread)
        elif ratios[1] and math.isfinite(ratios[0] / ratios[1]):
            ratio[one, other] = ratios[0] / ratios[1]
            bounds[one, other] = band(spread_of(found, bins, each[one] - each[other]))
    to = ("tracker", "other")
    return {
        "between": _entry(to, ratio, "1", "one input's ratio over another's"),
        "between_band": _entry((*to, "bound"), bounds, "1", "where 99 of 100 right plants lie"),
        "year_ratio": _entry(to[:1], year, "1", "measured over expected, all months"),
        "year_band": _entry((*to[:1], "bound"), year_bounds, "1", "where 99 of 100 lie"),
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
