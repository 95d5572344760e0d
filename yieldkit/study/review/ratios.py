"""Energy at the meter and performance ratios of IEC 61724-1, measured beside expected."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from yieldkit.base.arrays import BoolArray, FloatArray
from yieldkit.base.measured_planes import CELL, MODULE, measured_name
from yieldkit.study.estimate.yields import (
    REFERENCE_TEMPERATURE,
    PlantYields,
    corrected_ratio,
    power_coefficient,
    yields,
)
from yieldkit.study.handover.reference_errors import METER_A, REFERENCE_ERRORS
from yieldkit.study.review.beside import Beside
from yieldkit.study.review.bins import Bins
from yieldkit.study.review.unknowns import Unknown, shares, spread_of
from yieldkit.study.uncertainty.unknowns import UNKNOWNS

_NINETY_NINE = 2.576
Entry = tuple[tuple[str, ...], Any, dict[str, str]]
"""Dimensions, values and attributes of a variable."""


def entry(dims: tuple[str, ...], values: Any, units: str, meaning: str) -> Entry:
    """Return a variable of a Dataset with its unit and meaning."""
    return dims, values, {"units": units, "long_name": meaning}


def band(spread: float) -> tuple[float, float]:
    """Return between what 99 of 100 ratios of right plants lie [1].

    Parameters
    ----------
    spread : float
        Standard deviation of their logarithms [1].
    """
    return math.exp(-_NINETY_NINE * spread), math.exp(_NINETY_NINE * spread)


def fed_in(own: Beside) -> tuple[FloatArray, FloatArray, BoolArray]:
    """Return AC power measured and expected [W], and which steps count (time, inverter).

    Parameters
    ----------
    own : Beside
        The log beside its expectation.
    """
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


def _module_heat(own: Beside) -> FloatArray:
    """Return the modules' temperature where it was measured, else their cells' (time, plane)."""
    heat = own.prepared.planes["temp_cell"].to_numpy().copy()
    for at, plane in enumerate(own.site.planes):
        for quantity in (MODULE, CELL):
            name = measured_name(quantity, plane.name)
            if name in own.weather:
                heat[:, at] = own.weather[name].to_numpy()
    return heat


def performance(
    power: FloatArray,
    light: FloatArray,
    heat: FloatArray,
    rated: FloatArray,
    gamma: FloatArray,
    step_h: float,
    at_temperature: float = REFERENCE_TEMPERATURE,
) -> PlantYields:
    """Return the yields and performance ratios of some steps (IEC 61724-1).

    Parameters
    ----------
    power : ndarray
        AC power [W] (time,).
    light : ndarray
        Light in the planes [W/m2] (time, plane).
    heat : ndarray
        Temperature of the modules [degC] (time, plane).
    rated : ndarray
        Rated power of each plane's wired modules [W] (plane,).
    gamma : ndarray
        Their relative change of power with temperature [1/K] (plane,).
    step_h : float
        Length of a step [h].
    at_temperature : float
        To which the corrected ratio is referred [degC].
    """
    irradiation = float(light.sum(axis=0) @ rated / rated.sum()) * step_h / 1000.0
    corrected = corrected_ratio(power, light, heat, rated, gamma, at_temperature)
    kwh = float(power.sum()) * step_h / 1000.0
    return yields(kwh, math.nan, irradiation, float(rated.sum()) / 1000.0, corrected)


def ratios(own: Beside, bins: Bins, found: tuple[Unknown, ...]) -> dict[str, Entry]:
    """Return performance ratios by month, of steps in which all inputs and the light are there.

    Parameters
    ----------
    own : Beside
        The log beside its expectation.
    bins : Bins
        Its bins.
    found : tuple of Unknown
        What may be otherwise in a right plant.
    """
    power, free, counts = fed_in(own)
    light = own.prepared.planes["poa_global"].to_numpy()
    heat = _module_heat(own)
    there = counts.all(axis=1) & np.isfinite(light).all(axis=1) & np.isfinite(heat).all(axis=1)
    rated = own.rated.sum(axis=0)
    types = {module.name: module for module in own.site.module_types}
    gamma = np.array([power_coefficient(types[each.module_type]) for each in own.site.planes])
    size = len(own.months)
    values, bounds = np.full((5, size), np.nan), np.full((2, size, 2), np.nan)
    for month in range(size):
        chosen = there & (own.month == month)
        if not chosen.any():
            continue
        around = light[chosen], heat[chosen], rated, gamma, own.hours
        each = [performance(fed[chosen].sum(axis=1), *around) for fed in (power, free)]
        values[:4, month] = [part for both in each for part in (both.ratio, both.corrected_ratio)]
        values[4, month] = each[0].reference
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
    told = {name: entry(("month",), values[at], "1", text) for at, (name, text) in enumerate(words)}
    mb = ("month", "bound")
    return {
        **told,
        "pr_irradiation": entry(("month",), values[4], "kWh/m2", "in-plane irradiation, Y_r in h"),
        "pr_band": entry(mb, bounds[0], "1", "where 99 of 100 right plants' PR lie"),
        "pr_stc_band": entry(mb, bounds[1], "1", "where 99 of 100 right plants' PR'STC lie"),
    }
