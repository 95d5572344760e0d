"""Likely, cautious and other years: which energy is exceeded in how many of a hundred cases."""

from __future__ import annotations

import numpy as np

from yieldkit.base.arrays import FloatArray

EXCEEDANCE = (50, 75, 90, 95, 99)
"""In how many of a hundred cases a band's energy is exceeded."""
MEAN_YEARS = (1, 5, 10, 20)
"""Years whose mean has a band of its own."""


def exceeded(values: FloatArray) -> FloatArray:
    """Return what is exceeded in `EXCEEDANCE` of a hundred draws, along the first axis.

    Parameters
    ----------
    values : ndarray
        (draw, ...).

    Returns
    -------
    ndarray
        (..., exceedance).
    """
    levels = [1.0 - share / 100.0 for share in EXCEEDANCE]
    return np.moveaxis(np.quantile(values, levels, axis=0), 0, -1)


def means_of_years(energy: FloatArray) -> tuple[tuple[int, ...], FloatArray]:
    """Return the means of the first years of life.

    Parameters
    ----------
    energy : ndarray
        (draw, year).

    Returns
    -------
    tuple of (tuple of int, ndarray)
        How many years, as far as the plant lives so long, and means (draw, mean).
    """
    years = tuple(each for each in MEAN_YEARS if each <= energy.shape[1])
    return years, np.column_stack([energy[:, :each].mean(axis=1) for each in years])


def months_of(months: FloatArray, year: FloatArray) -> FloatArray:
    """Return months of years that end at given sums, each with its own share in what years differ.

    A month's energy in a year of a given sum is its mean plus its regression on the year's sum.
    The regressions of all months add up to one, so that the months add up to the sum.

    Parameters
    ----------
    months : ndarray
        Drawn months (draw, month).
    year : ndarray
        Sums that they are to have (sum,).

    Returns
    -------
    ndarray
        (sum, month).
    """
    annual = months.sum(axis=1)
    mean, apart = months.mean(axis=0), annual - annual.mean()
    variance = float(apart @ apart)
    slopes = apart @ (months - mean) / variance if variance > 0.0 else mean / mean.sum()
    found: FloatArray = mean + np.outer(year - annual.mean(), slopes)
    return found
