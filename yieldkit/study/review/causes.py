"""Which causes explain a log's shapes: candidates one by one, the best first, until none pays."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import FloatArray
from yieldkit.study.review import shapes
from yieldkit.study.review import unknowns as right
from yieldkit.study.review.bins import Bins
from yieldkit.study.review.candidates import LIGHT_LATE, LOSES, WHOLE, Candidate, candidates
from yieldkit.study.review.fit import Fit, cost, explained, fitted
from yieldkit.study.review.result import (
    AZIMUTH,
    CLOCK,
    DIRT,
    DIRT_BY_RAIN,
    DRIFT,
    LOSS,
    SENSOR,
    SHADOW,
    STRING,
    SUBSTRING,
    TILT,
)
from yieldkit.study.review.shapes import Probe
from yieldkit.study.review.unknowns import Unknown, matrix

_WIDE = {
    SHADOW: 0.5,
    CLOCK: 40.0,
    TILT: 15.0,
    AZIMUTH: 40.0,
    DIRT: 20.0,
    DIRT_BY_RAIN: 0.5,
    SUBSTRING: 1.0,
    STRING: 1.0,
    SENSOR: 20.0,
    DRIFT: 20.0,
    LOSS: 20.0,
}
"""How large each cause may well be, in its unit."""
_PAYS = 8.0
"""Drop of chi-square that a cause must bring beyond what the number of its candidates does."""
_PAYS_WHOLE = 7.0
"""The same for causes whose size is known before."""
_MOST = 6
_WHOLE_FROM, _WHOLE_TO = 0.6, 1.5
_LEAST_SHADOW = 0.04
"""Direct light that a shadow must take, as a logarithm: less is how models differ by the hour."""


class Chosen(NamedTuple):
    """Causes that explain a log's shapes.

    Parameters
    ----------
    causes : tuple of Candidate
        In the order in which they were found.
    right : tuple of Unknown
        What may be otherwise in a right plant.
    fit : Fit
        All of them fitted: first what may be otherwise, then the causes.
    """

    causes: tuple[Candidate, ...]
    right: tuple[Unknown, ...]
    fit: Fit

    def place(self, at: int) -> slice:
        """Return the positions of a cause among the fit's unknowns."""
        before = sum(each.shapes.shape[1] for each in self.causes[:at])
        start = len(self.right) + before
        return slice(start, start + self.causes[at].shapes.shape[1])


def chosen_causes(probe: Probe, found: tuple[Unknown, ...]) -> Chosen:
    """Return the causes that explain a log, found one after the other.

    Parameters
    ----------
    probe : Probe
        The log's days.
    found : tuple of Unknown
        What may be otherwise in a right plant.
    """
    bins = probe.bins
    columns, spreads = matrix(found)
    fit = fitted(bins, columns, spreads)
    every = {kind: _Family.of(own) for kind, own in candidates(probe, found).items()}
    causes: list[Candidate] = []
    while len(causes) < _MOST:
        best = _best(bins, fit, columns, spreads, every, causes)
        if best is None:
            break
        if best.since:
            best = _begun(bins, columns, spreads, best, every[best.kind].members)
        columns = _freed(columns, found, best)
        last = _sharpened(probe, bins, columns, spreads, best)
        causes.append(last)
        columns = np.hstack([columns, last.shapes])
        spreads = np.append(spreads, [_WIDE[last.kind]] * last.shapes.shape[1])
        fit = fitted(bins, columns, spreads)
    return Chosen(tuple(causes), found, fit)


def no_causes(probe: Probe, found: tuple[Unknown, ...]) -> Chosen:
    """Return a fit of what may be otherwise in a right plant alone.

    Parameters
    ----------
    probe : Probe
        The log's days.
    found : tuple of Unknown
        What may be otherwise.
    """
    return Chosen((), found, fitted(probe.bins, *matrix(found)))


def _freed(columns: FloatArray, found: tuple[Unknown, ...], own: Candidate) -> FloatArray:
    """Return columns without what may be otherwise in a right plant and is now a cause itself."""
    kinds = {TILT: right.TILT, AZIMUTH: right.AZIMUTH, CLOCK: right.CLOCK}
    of = own.of[0] if own.kind in (TILT, AZIMUTH) else -1
    kind = right.TIME if own.kind == CLOCK and own.of == (LIGHT_LATE,) else kinds.get(own.kind)
    taken = [each.kind == kind and each.of == of for each in found]
    freed = columns.copy()
    freed[:, : len(found)][:, taken] = 0.0
    return freed


def _best(
    bins: Bins,
    fit: Fit,
    columns: FloatArray,
    spreads: FloatArray,
    every: dict[str, _Family],
    causes: list[Candidate],
) -> Candidate | None:
    """Return the candidate that explains most, where it pays; None where none does."""
    tried: list[tuple[Candidate, float]] = []
    # Heavy tails play down just those bins that a cause would explain: both fits propose.
    plain = fitted(bins, columns, spreads, robust=False)
    told = {(each.kind, each.of) for each in causes if each.kind != SHADOW}
    for own in every.values():
        for proposing in (fit, plain):
            gains = _gains(proposing, columns, own)
            at = int(np.argmax(gains))
            one = own.members[at]
            if gains[at] > 0.0 and (one.kind, one.of) not in told:
                tried.append((one, 2.0 * float(np.log(len(own.members)))))
    fits = [_with(bins, columns, spreads, each, penalty) for each, penalty in tried]
    if not fits:
        return None
    inflation = min(own.fit.inflation for own in fits)
    for fitted_one in sorted(fits, key=lambda each: each.cost(inflation)):
        cause, own_fit = fitted_one.cause, fitted_one.fit
        size = own_fit.values[-cause.shapes.shape[1] :]
        pays = _PAYS_WHOLE if cause.kind in WHOLE else _PAYS
        if _drop(own_fit, cause) > fitted_one.penalty + pays and _possible(cause, size):
            return cause
    return None


class _Tried(NamedTuple):
    """A candidate fitted beside all that is there already."""

    cause: Candidate
    penalty: float
    fit: Fit
    spreads: FloatArray

    def cost(self, inflation: float) -> float:
        return cost(self.fit, self.spreads, inflation) + self.penalty


def _with(
    bins: Bins, columns: FloatArray, spreads: FloatArray, own: Candidate, penalty: float
) -> _Tried:
    wider = np.hstack([columns, own.shapes])
    wide = np.append(spreads, [_WIDE[own.kind]] * own.shapes.shape[1])
    return _Tried(own, penalty, fitted(bins, wider, wide), wide)


def _begun(
    bins: Bins, columns: FloatArray, spreads: FloatArray, best: Candidate, every: list[Candidate]
) -> Candidate:
    """Return a cause with the month of its beginning that fits best."""
    alike = [each for each in every if each.of == best.of]
    fits = [_with(bins, columns, spreads, each, 0.0) for each in alike]
    inflation = min(own.fit.inflation for own in fits)
    return min(fits, key=lambda own: own.cost(inflation)).cause


def _drop(fit: Fit, own: Candidate) -> float:
    """Return the chi-square by which a fitted cause lies off nothing [1]."""
    count = own.shapes.shape[1]
    values, covariance = fit.values[-count:], fit.covariance[-count:, -count:]
    return float(values @ np.linalg.solve(covariance, values))


def _possible(own: Candidate, size: FloatArray) -> bool:
    """Return whether a cause can be as large as it was fitted."""
    if own.kind in WHOLE:
        return bool(_WHOLE_FROM < size[0] < _WHOLE_TO)
    if own.kind == SHADOW:
        return float(size.sum()) > _LEAST_SHADOW and size[0] > -_LEAST_SHADOW
    return own.kind not in LOSES or float(size.sum()) > 0.0


class _Family(NamedTuple):
    """Candidates of a kind, with their shapes side by side.

    Parameters
    ----------
    members : list of Candidate
        The candidates.
    parts : tuple of ndarray
        Their first shapes, and their second (bin, candidate); zero where there is none.
    """

    members: list[Candidate]
    parts: tuple[FloatArray, ...]

    @classmethod
    def of(cls, members: list[Candidate]) -> _Family:
        width = max(each.shapes.shape[1] for each in members)
        parts = np.zeros((width, members[0].shapes.shape[0], len(members)))
        for at, each in enumerate(members):
            parts[: each.shapes.shape[1], :, at] = each.shapes.T
        return cls(members, tuple(parts))


def _gains(fit: Fit, columns: FloatArray, own: _Family) -> FloatArray:
    """Return what each candidate alone would explain (candidate,); nothing if of wrong sign."""
    found = [explained(fit, columns, part) for part in own.parts]
    total = np.sum([gain for gain, _ in found], axis=0)
    net = np.sum([size for _, size in found], axis=0)
    if own.members[0].kind in LOSES:
        total = np.where(net > 0.0, total, 0.0)
    return np.asarray(total)


def _sharpened(
    probe: Probe, bins: Bins, columns: FloatArray, spreads: FloatArray, own: Candidate
) -> Candidate:
    """Return a cause whose shape is that of its size, not of a small step."""
    remade = {
        TILT: shapes.tilted,
        AZIMUTH: shapes.turned,
    }
    wide = np.append(spreads, [_WIDE[own.kind]] * own.shapes.shape[1])
    for _ in range(2):
        size = float(fitted(bins, np.hstack([columns, own.shapes]), wide).values[-1])
        if own.kind in remade and abs(size) > 1.0:
            own = own._replace(shapes=remade[own.kind](probe, own.of[0], size)[:, None])
        elif own.kind == CLOCK and abs(size) > 5.0:
            remake = shapes.light_ahead if own.of == (LIGHT_LATE,) else shapes.clock_ahead
            own = own._replace(shapes=remake(probe, size)[:, None])
    return own
