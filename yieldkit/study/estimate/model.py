"""The energy of every draw: the whole runs' response times each year's own factor."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import BoolArray, FloatArray
from yieldkit.study.estimate.response import Response, fitted
from yieldkit.study.estimate.unknowns import (
    LEVEL,
    LONG_TERM,
    SKY,
    SNOW_UNSTATED,
    YEAR,
    Unsure,
)
from yieldkit.study.estimate.weather_years import Years
from yieldkit.study.uncertainty.drawn_site import SKIES

_UNIFORM = float(np.sqrt(3.0))
"""Brings a number drawn evenly between -1 and 1 to unit variance."""
_LEVELS = 25.0
"""Brings the logarithm of the light's level, which varies by some 4 %, to about unit variance."""


class Features(NamedTuple):
    """How drawn numbers enter the response.

    Parameters
    ----------
    unsure : Unsure
        What is drawn.
    unused : tuple of str
        Columns that don't matter for the sums fitted.
    """

    unsure: Unsure
    unused: tuple[str, ...] = (SNOW_UNSTATED,)

    def of(self, numbers: FloatArray, level: FloatArray) -> FloatArray:
        """Return features of about unit variance round zero (draw, feature).

        Parameters
        ----------
        numbers : ndarray
            The draws (draw, column); a sky model that is no number stands for the mean of all.
        level : ndarray
            Factor of the year on the light [1] (draw,).
        """
        found = [_LEVELS * np.log(level * self._lasting(numbers))]
        for column, own in zip(self.unsure.columns, numbers.T, strict=True):
            if column.name in (YEAR, LEVEL, LONG_TERM, *self.unused):
                continue
            if column.name == SKY:
                place = np.floor(np.nan_to_num(own, nan=-1.0) * len(SKIES))
                found += [
                    np.where(np.isnan(own), 0.0, (place == sky) - 1.0 / len(SKIES))
                    for sky in range(len(SKIES))
                ]
                continue
            found.append(own * (_UNIFORM if column.unknown.shape == "uniform" else 1.0))
        return np.column_stack(found)

    def _lasting(self, numbers: FloatArray) -> FloatArray:
        """Return the factor on the light of all years [1] (draw,)."""
        factor = np.ones(len(numbers))
        for column, own in zip(self.unsure.columns, numbers.T, strict=True):
            if column.name in (LEVEL, LONG_TERM):
                factor = factor * (1.0 + column.fills[0][2] * own / 100.0)
        return factor


class Model(NamedTuple):
    """Energies of any draw.

    Parameters
    ----------
    features : Features
        How drawn numbers enter.
    nominal : ndarray
        The base case's months [kWh] (month,).
    steady : ndarray of bool
        Months that follow the response; the others, dark ones, keep the runs' mean (month,).
    dark : ndarray
        That mean [kWh] (month,).
    response : Response
        Of the logarithm of each month's energy over the base case's in the same year.
    kept : ndarray
        What is left of each month's energy for all draws alike [1] (month,).
    frosty : ndarray
        1 for months below 0 degC on average (month,).
    """

    features: Features
    nominal: FloatArray
    steady: BoolArray
    dark: FloatArray
    response: Response
    kept: FloatArray
    frosty: FloatArray

    def months(self, numbers: FloatArray, years: Years) -> FloatArray:
        """Return energies by month [kWh] (draw, month)."""
        logs = self.response.at(self.features.of(numbers, years.level))
        return self.booked(self.restored(logs, years.factor), numbers)

    def restored(self, logs: FloatArray, factor: FloatArray) -> FloatArray:
        """Return the energies that logarithms stand for [kWh] (draw, month)."""
        return _restored(logs, factor, self.nominal, self.steady, self.dark)

    def booked(self, months: FloatArray, numbers: FloatArray) -> FloatArray:
        """Return what is left of a chain's energies by month [kWh] (draw, month)."""
        left = self.kept
        for column, own in zip(self.features.unsure.columns, numbers.T, strict=True):
            if column.name == SNOW_UNSTATED:
                _, middle, spread = column.fills[0]
                lost = (middle + spread * own) / 100.0
                left = left * (1.0 - lost[:, None] * self.frosty)
        return np.asarray(months * left)


def fitted_model(
    features: Features,
    nominal: FloatArray,
    runs: tuple[FloatArray, Years, FloatArray],
    kept: FloatArray,
    frosty: FloatArray,
) -> Model:
    """Fit the energies of all draws to whole runs.

    Parameters
    ----------
    features : Features
        How drawn numbers enter.
    nominal : ndarray
        The base case's months [kWh] (month,).
    runs : tuple of (ndarray, Years, ndarray)
        Drawn numbers, years and months [kWh] of the whole runs.
    kept, frosty : ndarray
        As of `Model`.
    """
    numbers, years, months = runs
    base = nominal * years.factor
    steady = (
        (nominal > 1e-3 * nominal.sum()) & (months > 0.0).all(axis=0) & (base > 0.0).all(axis=0)
    )
    dark = months.mean(axis=0)
    logs = np.log(months[:, steady] / base[:, steady])
    annual = months.sum(axis=1)

    def misfit(foretold: FloatArray) -> float:
        found = _restored(foretold, years.factor, nominal, steady, dark).sum(axis=1)
        return residual_percent(found, annual)

    response = fitted(features.of(numbers, years.level), logs, misfit)
    return Model(features, nominal, steady, dark, response, kept, frosty)


def residual_percent(foretold: FloatArray, run: FloatArray) -> float:
    """Return the root mean square gap between foretold and run energies [%]."""
    return float(100.0 * np.sqrt(np.mean(np.square(foretold / run - 1.0))))


def _restored(
    logs: FloatArray, factor: FloatArray, nominal: FloatArray, steady: BoolArray, dark: FloatArray
) -> FloatArray:
    found = np.broadcast_to(dark, (len(logs), dark.size)).copy()
    found[:, steady] = np.exp(logs) * (nominal * factor)[:, steady]
    return found
