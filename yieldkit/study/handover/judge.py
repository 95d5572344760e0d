"""How probable each slip is after the readings: unknowns fitted and integrated out for each."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from scipy.special import gammaln

from yieldkit.base.arrays import BoolArray, FloatArray, IntArray
from yieldkit.study.handover.judged_model import JudgedModel, distances
from yieldkit.study.handover.slips import AS_DRAWN, Slip, priors

_FREEDOM = 5.0
"""Degrees of freedom of Student's t by which unknowns and readings vary: heavier tails than the
normal distribution has, for instruments and sheets are wrong more often than it allows."""
_SCALE = np.sqrt((_FREEDOM - 2.0) / _FREEDOM)
"""Brings Student's t to unit variance."""
_FIRST_ROUNDS, _ROUNDS = 3, 5
"""How often the model is made linear for all slips, and then for those that are still likely."""
_LONGEST_STEP = 2.0
_NEAR = 0.02
"""Steps shorter than this end the fitting [standard deviations]."""
_FAR = 60.0
"""Slips this much less likely than the likeliest, as a logarithm, aren't fitted to the end."""
ALIKE = 1.0
"""Slips whose readings lie nearer than this aren't parted [standard deviations]."""


class Judgement(NamedTuple):
    """What readings say of the slips.

    Parameters
    ----------
    slips : tuple of Slip
        All that they were held against.
    probability : ndarray
        Of each, after the readings [1] (slip,).
    unknowns : ndarray
        The unknowns that fit best under each [standard deviations] (slip, unknown).
    spread : ndarray
        Their covariance under each (slip, unknown, unknown).
    expected : ndarray
        What each slip lets expect with them [V or A] (slip, reading).
    groups : ndarray of int
        Which slips the readings can't part have the same number (slip,).
    distance : ndarray
        How far slips are apart [standard deviations] (slip, slip).
    """

    slips: tuple[Slip, ...]
    probability: FloatArray
    unknowns: FloatArray
    spread: FloatArray
    expected: FloatArray
    groups: IntArray
    distance: FloatArray

    def ranked(self) -> list[tuple[float, IntArray]]:
        """Return groups of slips that the readings can't part, the most probable first."""
        found = []
        for group in np.unique(self.groups):
            members = np.flatnonzero(self.groups == group)
            by_weight = members[np.argsort(-self.probability[members], kind="stable")]
            found.append((float(self.probability[members].sum()), by_weight))
        return sorted(found, key=lambda own: -own[0])

    @property
    def as_drawn(self) -> float:
        """Probability of the group in which all is as drawn [1]."""
        at = next(place for place, own in enumerate(self.slips) if own.kind == AS_DRAWN)
        return float(self.probability[self.groups == self.groups[at]].sum())


def held_against_slips(model: JudgedModel) -> Judgement:
    """Return how probable each of a model's slips is, each as likely beforehand as its kind.

    Parameters
    ----------
    model : JudgedModel
        What was read or written, as functions of the unknowns.
    """
    apart = distances(model)
    return judged(model, priors(model.slips), alike(model.slips, apart), apart)


def judged(model: JudgedModel, prior: FloatArray, groups: IntArray, apart: FloatArray) -> Judgement:
    """Return how probable each slip is after the readings.

    Under each slip the unknowns are fitted to the readings, the model made linear anew in each
    round, and integrated out round the best fit (Laplace's method: MacKay (2003), Information
    Theory, Inference, and Learning Algorithms, chapter 27; from memory).

    Parameters
    ----------
    model : JudgedModel
        The readings as functions of the unknowns.
    prior : ndarray
        Prior probability of each slip [1] (slip,).
    groups : ndarray of int
        From `alike`.
    apart : ndarray
        From `distances`.
    """
    value = model.value
    noise = model.noise_under()
    start = np.zeros((len(model.slips), model.unknowns))
    best, lowest = _fitted(model, noise, start, _FIRST_ROUNDS)
    near = np.flatnonzero(lowest < lowest.min() + _FAR)
    best[near], lowest[near] = _fitted(model.only(near), noise[near], best[near], _ROUNDS)
    expected, slopes = model.at(best)
    hessian, _ = _normal((value - expected) / noise, slopes / noise[..., None], best)
    _, volume = np.linalg.slogdet(hessian)
    logs = np.log(prior) - lowest - 0.5 * volume
    weights = np.exp(logs - logs.max())
    return Judgement(
        model.slips,
        weights / weights.sum(),
        best,
        np.asarray(np.linalg.inv(hessian), dtype=np.float64),
        expected,
        groups,
        apart,
    )


def _fitted(
    model: JudgedModel, noise: FloatArray, start: FloatArray, rounds: int
) -> tuple[FloatArray, FloatArray]:
    """Return the unknowns that fit best under each slip, and minus the logarithm of their density.

    Parameters
    ----------
    model : JudgedModel
        The readings.
    noise : ndarray
        Standard deviation of each reading by itself (slip, reading).
    start : ndarray
        Unknowns to begin with (slip, unknown).
    rounds : int
        How often the model is made linear.
    """
    unknowns, best = start, start.copy()
    lowest = np.full(len(start), np.inf)
    expected, slopes = model.at(unknowns)
    for _ in range(rounds):
        hessian, pull = _normal(
            (model.value - expected) / noise, slopes / noise[..., None], unknowns
        )
        step = np.linalg.solve(hessian, pull[..., None])[..., 0]
        longest = np.abs(step).max(axis=1, keepdims=True)
        unknowns = unknowns + step * np.minimum(1.0, _LONGEST_STEP / np.maximum(longest, 1e-12))
        expected, slopes = model.at(unknowns)
        away = (model.value - expected) / noise
        cost = _cost(away) + _cost(unknowns) + np.log(noise).sum(axis=1)
        better = cost < lowest
        best[better], lowest[better] = unknowns[better], cost[better]
        if longest.max() < _NEAR:
            break
    return best, lowest


def alike(slips: tuple[Slip, ...], apart: FloatArray) -> IntArray:
    """Return numbers that slips have in common which the readings can't part (slip,).

    Parameters
    ----------
    slips : tuple of Slip
        The slips.
    apart : ndarray
        How far they are apart [standard deviations] (slip, slip).
    """
    near: BoolArray = apart < ALIKE
    doubted = np.array([own.doubt is not None for own in slips])
    near[doubted] = near[:, doubted] = False
    found = np.arange(len(slips))
    for one in range(len(slips)):
        for other in np.flatnonzero(near[one]):
            found[found == found[other]] = found[one]
    return found


def _cost(away: FloatArray) -> FloatArray:
    """Return minus the logarithm of Student's density, summed along the last axis."""
    square = np.square(away / _SCALE)
    constant = gammaln((_FREEDOM + 1) / 2) - gammaln(_FREEDOM / 2)
    constant -= 0.5 * np.log(_FREEDOM * np.pi) + np.log(_SCALE)
    found: FloatArray = ((_FREEDOM + 1) / 2 * np.log1p(square / _FREEDOM) - constant).sum(axis=-1)
    return found


def _weight(away: FloatArray) -> FloatArray:
    """Return what each counts in the fit: less, the farther it is off."""
    found: FloatArray = (_FREEDOM + 1) / (_FREEDOM * _SCALE**2 + np.square(away))
    return found


def _normal(
    away: FloatArray, slopes: FloatArray, unknowns: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return matrix and right side of the weighted least squares (slip, ...)."""
    weight, own = _weight(away), _weight(unknowns)
    hessian = slopes.transpose(0, 2, 1) @ (slopes * weight[..., None])
    at = np.arange(unknowns.shape[1])
    hessian[:, at, at] += own
    pull = np.einsum("hmu,hm->hu", slopes, weight * away) - own * unknowns
    return hessian, pull
