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
_MOST_BENDS = 4
_WORTH_A_BEND = 0.95
"""Share of the misfit above which a further bend isn't worth it."""
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
    directions : ndarray
        Along which they bend: of one number, or of all together as clipping does (bend, feature).
    bends : ndarray
        (bend, sum).
    left_out : ndarray
        Logarithms of each run as all other runs foretell them (run, sum).
    """

    constant: FloatArray
    slopes: FloatArray
    directions: FloatArray
    bends: FloatArray
    left_out: FloatArray

    def at(self, features: FloatArray) -> FloatArray:
        """Return the logarithms at other numbers (draw, feature): (draw, sum)."""
        bent = np.square(features @ self.directions.T) @ self.bends
        found: FloatArray = self.constant + features @ self.slopes + bent
        return found


def fitted(features: FloatArray, logs: FloatArray, misfit: Misfit, free: bool = True) -> Response:
    """Fit the response to whole runs.

    A straight one by ridge regression, the numbers weighted by what they turned out to do in a
    first pass; then bends one by one, each that which foretells left-out runs best, as long as
    they are foretold better.

    Parameters
    ----------
    features : ndarray
        The runs' numbers, each of about unit variance round zero (run, feature).
    logs : ndarray
        Logarithms of the runs' sums (run, sum).
    misfit : callable
        Judges logarithms foretold by leaving each run out, and so chooses the ridge.
    free : bool
        Whether there is a constant; without one nothing is foretold where all numbers are zero.

    Returns
    -------
    Response
        The prediction that leaves a run out is exact for given weights: residual over one minus
        leverage (Hastie, Tibshirani and Friedman (2009), equation 7.64; from memory).
    """
    weights = np.ones(features.shape[1])
    constant = _CONSTANT if free else 0.0
    for _ in range(_PASSES):
        found = _best(features, logs, weights, misfit, constant)
        weights = _weights(found.slopes)
    directions = _directions(features, found.slopes)
    taken: list[int] = []
    while len(taken) < _MOST_BENDS:
        bent = {
            at: _bent(features, logs, weights, directions[[*taken, at]], misfit, constant)
            for at in range(len(directions))
            if at not in taken
        }
        next_one = min(bent, key=lambda at: misfit(bent[at].left_out), default=None)
        if next_one is None:
            break
        if misfit(bent[next_one].left_out) > _WORTH_A_BEND * misfit(found.left_out):
            break
        found = bent[next_one]
        taken.append(next_one)
    return found


def _directions(features: FloatArray, slopes: FloatArray) -> FloatArray:
    """Return along what a response may bend: each number, and its own slope (bend, feature)."""
    own = slopes.mean(axis=1)
    size = float((features @ own).std())
    each = np.eye(features.shape[1])
    return np.vstack([own / size, each]) if size > 0.0 else each


def _bent(
    features: FloatArray,
    logs: FloatArray,
    weights: FloatArray,
    directions: FloatArray,
    misfit: Misfit,
    constant: float,
) -> Response:
    """Return the best response that bends along some directions."""
    squares = np.square(features @ directions.T)
    every = np.append(weights, np.ones(len(directions)))
    found = _best(np.column_stack([features, squares]), logs, every, misfit, constant)
    number = features.shape[1]
    return Response(
        found.constant, found.slopes[:number], directions, found.slopes[number:], found.left_out
    )


def _weights(slopes: FloatArray) -> FloatArray:
    """Return how much each number may matter, by what it did (feature,)."""
    square = np.square(slopes.mean(axis=1))
    most = float(square.max(initial=0.0))
    if most == 0.0:
        return np.ones(square.shape)
    return np.asarray(square / most + _LEAST_WEIGHT)


def _best(
    features: FloatArray, logs: FloatArray, weights: FloatArray, misfit: Misfit, constant: float
) -> Response:
    """Return the ridge regression whose foretold left-out runs are nearest."""
    found = [ridge_response(features, logs, weights, ridge, constant) for ridge in _RIDGES]
    return min(found, key=lambda each: misfit(each.left_out))


def ridge_response(
    features: FloatArray, logs: FloatArray, weights: FloatArray, ridge: float, constant: float
) -> Response:
    """Return a ridge regression, and each run as all others foretell it.

    Parameters
    ----------
    features, logs : ndarray
        As for `fitted`.
    weights : ndarray
        How much each number may matter [1] (feature,).
    ridge : float
        Variance of what is left unexplained, against that of a slope.
    constant : float
        Variance of the constant against that of a slope; 0 for none.
    """
    weighted = features * weights
    alike = constant + weighted @ features.T
    inverse = np.linalg.inv(alike + ridge * np.eye(len(alike)))
    dual = inverse @ logs
    return Response(
        constant * dual.sum(axis=0),
        weighted.T @ dual,
        np.zeros((0, features.shape[1])),
        np.zeros((0, logs.shape[1])),
        logs - dual / np.diag(inverse)[:, None],
    )
