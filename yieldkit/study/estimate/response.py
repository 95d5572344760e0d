"""What whole runs say of the runs that were not made: logarithms that follow the drawn numbers."""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import FloatArray

Misfit = Callable[[FloatArray], float]
"""Gives a figure for how far predicted logarithms (run, sum) lie from those of the runs."""
_RIDGES = (0.003, 0.01, 0.03, 0.1, 0.3, 1.0, 3.0)
_PASSES = 2
_CONSTANT = 1e4
"""Variance of the constant term against that of a slope: it is free."""
_LEAST_WEIGHT = 1e-3


class Response(NamedTuple):
    """Logarithms of booked sums as they follow the drawn numbers.

    Parameters
    ----------
    constant : ndarray
        (sum,).
    slopes : ndarray
        (feature, sum).
    direction : ndarray
        Along which all bend, as clipping does; zero where nothing bends (feature,).
    bend : ndarray
        (sum,).
    left_out : ndarray
        Logarithms of each run as all other runs foretell them (run, sum).
    """

    constant: FloatArray
    slopes: FloatArray
    direction: FloatArray
    bend: FloatArray
    left_out: FloatArray

    def at(self, features: FloatArray) -> FloatArray:
        """Return the logarithms at other numbers (draw, feature): (draw, sum)."""
        along = features @ self.direction
        found: FloatArray = (
            self.constant + features @ self.slopes + np.square(along)[:, None] * self.bend
        )
        return found


def fitted(features: FloatArray, logs: FloatArray, misfit: Misfit) -> Response:
    """Fit the response to whole runs.

    A straight one by ridge regression, the numbers weighted by what they turned out to do in a
    first pass; then with a bend along its own slope, where that foretells left-out runs better.

    Parameters
    ----------
    features : ndarray
        The runs' numbers, each of about unit variance round zero (run, feature).
    logs : ndarray
        Logarithms of the runs' sums (run, sum).
    misfit : callable
        Judges logarithms foretold by leaving each run out, and so chooses the ridge.

    Returns
    -------
    Response
        The prediction that leaves a run out is exact for given weights: residual over one minus
        leverage (Hastie, Tibshirani and Friedman (2009), equation 7.64; from memory).
    """
    weights = np.ones(features.shape[1])
    for _ in range(_PASSES):
        straight = _best(features, logs, weights, misfit)
        weights = _weights(straight.slopes)
    direction = straight.slopes.mean(axis=1)
    along = features @ direction
    size = float(along.std())
    if size == 0.0:
        return straight
    direction = direction / size
    bent = np.column_stack([features, np.square(features @ direction)])
    found = _best(bent, logs, np.append(weights, 1.0), misfit)
    if misfit(found.left_out) >= misfit(straight.left_out):
        return straight
    return Response(found.constant, found.slopes[:-1], direction, found.slopes[-1], found.left_out)


def _weights(slopes: FloatArray) -> FloatArray:
    """Return how much each number may matter, by what it did (feature,)."""
    square = np.square(slopes.mean(axis=1))
    most = float(square.max(initial=0.0))
    if most == 0.0:
        return np.ones(square.shape)
    return np.asarray(square / most + _LEAST_WEIGHT)


def _best(features: FloatArray, logs: FloatArray, weights: FloatArray, misfit: Misfit) -> Response:
    """Return the ridge regression whose foretold left-out runs are nearest."""
    found = [_ridge(features, logs, weights, ridge) for ridge in _RIDGES]
    return min(found, key=lambda each: misfit(each.left_out))


def _ridge(features: FloatArray, logs: FloatArray, weights: FloatArray, ridge: float) -> Response:
    weighted = features * weights
    alike = _CONSTANT + weighted @ features.T
    inverse = np.linalg.inv(alike + ridge * np.eye(len(alike)))
    dual = inverse @ logs
    return Response(
        _CONSTANT * dual.sum(axis=0),
        weighted.T @ dual,
        np.zeros(features.shape[1]),
        np.zeros(logs.shape[1]),
        logs - dual / np.diag(inverse)[:, None],
    )
