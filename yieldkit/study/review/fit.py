"""Unknowns fitted to bins with heavy tails, and what a further cause would explain."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import FloatArray
from yieldkit.study.review.bins import Bins

_FREEDOM = 4.0
"""Degrees of freedom of Student's t by which bins vary: single bins are off more often than a
normal distribution allows."""
_ROUNDS, _OUTER = 10, 3
_LEAST_BEND = 0.5
_BLOCK = 64
_LEAST_SCALE, _MOST_INFLATED = 0.25, 25.0
"""No model hits bins better than by a quarter of what is said of them, whatever one log is."""


class Fit(NamedTuple):
    """Unknowns as bins let them be.

    Parameters
    ----------
    values : ndarray
        Best estimates (unknown,).
    covariance : ndarray
        (unknown, unknown).
    residual : ndarray
        What they leave of the logarithms (bin,).
    weight : ndarray
        What each bin counts: one over its variance, by its tails, scale and likeness to its
        neighbours (bin,).
    scale : float
        Standard deviation of the bins by what was said of it [1].
    inflation : float
        By how much neighbours' likeness widens variances [1].
    logs : ndarray
        -2 times the logarithm of each bin's likelihood, but for a constant (bin,).
    """

    values: FloatArray
    covariance: FloatArray
    residual: FloatArray
    weight: FloatArray
    scale: float
    inflation: float
    logs: FloatArray


def fitted(bins: Bins, columns: FloatArray, spreads: FloatArray, robust: bool = True) -> Fit:
    """Return unknowns fitted to bins: least squares, weighed anew in each round by Student's t.

    Neighbours in hour and month are alike in what a model doesn't know of, so that they count as
    fewer; by how much follows from the residuals' correlation of neighbours, as of a series of
    first order (von Storch and Zwiers (1999), Statistical Analysis in Climate Research, chapter 6;
    from memory).

    Parameters
    ----------
    bins : Bins
        The bins.
    columns : ndarray
        How their logarithms follow the unknowns (bin, unknown).
    spreads : ndarray
        Standard deviations of the unknowns before the log is looked at (unknown,).
    robust : bool
        Whether bins that are far off count less.
    """
    prior = np.diag(1.0 / np.square(spreads))
    own = 1.0 / np.square(bins.spread)
    tails, scale, inflation = np.ones(own.size), 1.0, 1.0
    values: FloatArray = np.zeros(columns.shape[1])
    for _ in range(_OUTER):
        for _ in range(_ROUNDS):
            weight = own * tails / (scale**2 * inflation)
            information = _products(columns, weight) + prior
            values = np.asarray(np.linalg.solve(information, columns.T @ (weight * bins.log_ratio)))
            residual = bins.log_ratio - columns @ values
            square = np.square(residual) * own
            if robust:
                tails = (_FREEDOM + 1.0) / (_FREEDOM + square / scale**2)
            before = scale
            scale = max(float(np.sqrt(np.mean(tails * square))), _LEAST_SCALE)
            if abs(scale - before) < 1e-3 * scale:
                break
        inflation = _inflation(bins, residual * np.sqrt(own * tails))
    bends = (_FREEDOM + 1.0) * (_FREEDOM - square / scale**2) / (_FREEDOM + square / scale**2) ** 2
    # Where weights follow what is off, bins tell less than their weights say.
    less = min(float(bends.mean() / tails.mean()), 1.0) if robust else 1.0
    weight = own * tails * max(less, _LEAST_BEND) / (scale**2 * inflation)
    information = _products(columns, weight) + prior
    logs = 2.0 * np.log(scale) + (_FREEDOM + 1.0) * np.log1p(square / scale**2 / _FREEDOM)
    covariance = np.asarray(np.linalg.inv(information), dtype=np.float64)
    return Fit(values, covariance, residual, weight, scale, inflation, logs)


def _products(columns: FloatArray, weight: FloatArray) -> FloatArray:
    """Return weighed products of columns with each other (unknown, unknown).

    In blocks of rows: products this small are made several times faster by one thread than by
    many that wait for each other.
    """
    rows, width = columns.shape
    blocks = -(-rows // _BLOCK)
    padded = np.zeros((blocks * _BLOCK, width))
    padded[:rows] = columns * np.sqrt(weight)[:, None]
    parts = padded.reshape(blocks, _BLOCK, width)
    found: FloatArray = (parts.transpose(0, 2, 1) @ parts).sum(axis=0)
    return found


def _inflation(bins: Bins, white: FloatArray) -> float:
    """Return by how much the likeness of neighbours widens variances [1]."""
    months, hours = int(bins.month.max()) + 1, 24
    trackers = int(bins.tracker.max()) + 1
    whole = np.full((3, trackers, months, hours), np.nan)
    whole[bins.quantity, bins.tracker, bins.month, bins.hour] = white
    found = 1.0
    for one, other in (
        (whole[..., 1:], whole[..., :-1]),
        (whole[..., 1:, :], whole[..., :-1, :]),
    ):
        there = np.isfinite(one) & np.isfinite(other)
        if there.sum() < 10:
            continue
        a, b = one[there], other[there]
        rho = float(np.mean(a * b) / np.sqrt(np.mean(a * a) * np.mean(b * b)))
        rho = min(max(rho, 0.0), 0.9)
        found *= (1.0 + rho) / (1.0 - rho)
    return min(found, _MOST_INFLATED)


def explained(fit: Fit, columns: FloatArray, further: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return what further columns alone would explain, and how large each would be.

    Parameters
    ----------
    fit : Fit
        What was fitted without them.
    columns : ndarray
        Its columns (bin, unknown).
    further : ndarray
        The others (bin, candidate).

    Returns
    -------
    tuple of ndarray
        Drop of chi-square [1] and estimate (candidate,).
    """
    weighed = fit.weight[:, None] * further
    across = columns.T @ weighed
    own = np.einsum("bc,bc->c", further, weighed)
    own -= np.einsum("uc,uc->c", across, fit.covariance @ across)
    pull = weighed.T @ fit.residual
    safe = np.maximum(own, 1e-12)
    return pull**2 / safe, pull / safe


def cost(fit: Fit, spreads: FloatArray, inflation: float) -> float:
    """Return -2 times the logarithm of likelihood and prior, but for a constant.

    Parameters
    ----------
    fit : Fit
        The fit.
    spreads : ndarray
        Standard deviations of its unknowns before (unknown,).
    inflation : float
        By which bins count as fewer: one for all fits that are compared.
    """
    return float(fit.logs.sum() / inflation + np.square(fit.values / spreads).sum())
