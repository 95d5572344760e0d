"""Which causes explain a log's shapes: candidates one by one, the best first, until none pays."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import BoolArray, FloatArray, IntArray
from yieldkit.study.review import shapes
from yieldkit.study.review import unknowns as right
from yieldkit.study.review.bins import POWER, VOLTAGE, Bins
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
from yieldkit.study.review.unknowns import LIGHT, PLANE, Unknown, matrix

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
_LOSES = (SHADOW, DIRT, DIRT_BY_RAIN, SUBSTRING, STRING, LOSS)
"""Causes that only take."""
_WHOLE = (SUBSTRING, STRING)
"""Causes that are there or not: their size is one."""
_WHOLE_FROM, _WHOLE_TO = 0.6, 1.5
_LEAST_SHADOW = 0.04
"""Direct light that a shadow must take, as a logarithm: less is how models differ by the hour."""
LIGHT_LATE, SUN = 1, 0


class Candidate(NamedTuple):
    """A cause that may explain a shape.

    Parameters
    ----------
    kind : str
        Of `KINDS`.
    of : tuple of int
        Plane; input; input and string; nothing for all.
    shapes : ndarray
        How bins follow it, by its unit (bin, 1 or 2); two where volts and amperes follow apart.
    hours, months : ndarray of int
        In which hours and months (positions) it shows; empty for all.
    since : int
        Month (position) with which it begins.
    """

    kind: str
    of: tuple[int, ...]
    shapes: FloatArray
    hours: IntArray
    months: IntArray
    since: int = 0


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


_ALL = np.empty(0, dtype=np.int64)


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
    every = candidates(probe, found)
    causes: list[Candidate] = []
    while len(causes) < _MOST:
        best = _best(bins, fit, columns, spreads, every, causes)
        if best is None:
            break
        best = _begun(bins, columns, spreads, best, every[best.kind])
        columns = _freed(columns, found, best)
        last = _sharpened(probe, bins, columns, spreads, best)
        causes.append(last)
        columns = np.hstack([columns, last.shapes])
        spreads = np.append(spreads, [_WIDE[last.kind]] * last.shapes.shape[1])
        fit = fitted(bins, columns, spreads)
    return Chosen(tuple(causes), found, fit)


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
    every: dict[str, list[Candidate]],
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
            if gains[at] > 0.0 and (own[at].kind, own[at].of) not in told:
                tried.append((own[at], 2.0 * float(np.log(len(own)))))
    fits = [_with(bins, columns, spreads, each, penalty) for each, penalty in tried]
    if not fits:
        return None
    inflation = min(own.fit.inflation for own in fits)
    for tried_one in sorted(fits, key=lambda own: own.cost(inflation)):
        each, penalty, own = tried_one.cause, tried_one.penalty, tried_one.fit
        size = own.values[-each.shapes.shape[1] :]
        pays = _PAYS_WHOLE if each.kind in _WHOLE else _PAYS
        if _drop(own, each) > penalty + pays and _possible(each, size):
            return each
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
    alike = [each for each in every if each.of == best.of] if best.since else []
    if len(alike) < 2:
        return best
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
    if own.kind in _WHOLE:
        return bool(_WHOLE_FROM < size[0] < _WHOLE_TO)
    if own.kind == SHADOW:
        return float(size.sum()) > _LEAST_SHADOW and size[0] > -_LEAST_SHADOW
    return own.kind not in _LOSES or float(size.sum()) > 0.0


def _gains(fit: Fit, columns: FloatArray, own: list[Candidate]) -> FloatArray:
    """Return what each candidate alone would explain (candidate,); nothing if of wrong sign."""
    total, net = np.zeros(len(own)), np.zeros(len(own))
    for part in range(max(each.shapes.shape[1] for each in own)):
        stacked = np.stack([each.shapes[:, min(part, each.shapes.shape[1] - 1)] for each in own], 1)
        gain, size = explained(fit, columns, stacked)
        there = np.array([each.shapes.shape[1] > part for each in own])
        total += np.where(there, gain, 0.0)
        net += np.where(there, size, 0.0)
    if own[0].kind in _LOSES:
        total = np.where(net > 0.0, total, 0.0)
    return total


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


def candidates(probe: Probe, found: tuple[Unknown, ...]) -> dict[str, list[Candidate]]:
    """Return all candidates by their kind; kinds without any are left out.

    Parameters
    ----------
    probe : Probe
        The log's days.
    found : tuple of Unknown
        What may be otherwise in a right plant, whose shapes are taken.
    """
    own, bins = probe.own, probe.bins
    of = {(each.kind, each.of): each.shape for each in found}
    planes = range(len(own.site.planes))
    months = range(len(own.months))

    def plain(kind: str, shape: FloatArray, *which: int, since: int = 0) -> Candidate:
        return Candidate(kind, which, shape[:, None], _ALL, _ALL, since)

    made: dict[str, list[Candidate]] = {
        TILT: [plain(TILT, of[right.TILT, plane], plane) for plane in planes],
        AZIMUTH: [plain(AZIMUTH, of[right.AZIMUTH, plane], plane) for plane in planes],
        CLOCK: [
            plain(CLOCK, of[right.CLOCK, -1], SUN),
            plain(CLOCK, of[right.TIME, -1], LIGHT_LATE),
        ],
        DIRT: [plain(DIRT, of[PLANE, plane], plane) for plane in planes],
        SENSOR: [plain(SENSOR, of[LIGHT, -1])],
        DRIFT: [plain(DRIFT, of[LIGHT, -1] * (bins.month - bins.month.mean()) / 12.0)],
        LOSS: [
            plain(LOSS, of[PLANE, plane] * (bins.month >= since), plane, since=since)
            for plane in planes
            for since in months[1:]
        ],
    }
    rains = [(plane, shapes.dirtied_by_rain(probe, plane)) for plane in planes]
    made[DIRT_BY_RAIN] = [plain(DIRT_BY_RAIN, own, at) for at, own in rains if own is not None]
    for kind, substring in ((SUBSTRING, True), (STRING, False)):
        made[kind] = []
        for tracker, wired in enumerate(own.wiring.trackers):
            for string in _different(wired.strings):
                shape = shapes.lacking(probe, tracker, string, substring)
                if shape is None:
                    continue
                for since in months:
                    later = shape * (bins.month >= since)
                    made[kind].append(plain(kind, later, tracker, string, since=since))
    made[SHADOW] = [each for tracker in range(len(own.names)) for each in _shadows(probe, tracker)]
    # Those that were there from the beginning are fewer, so that each is likelier.
    for kind in _WHOLE:
        made[f"{kind} always"] = [each for each in made[kind] if each.since == 0]
        made[kind] = [each for each in made[kind] if each.since]
    return {kind: own for kind, own in made.items() if own}


def _different(strings: tuple[object, ...]) -> list[int]:
    """Return positions of strings that differ; those alike can't be told apart by their input."""
    return [at for at, own in enumerate(strings) if own not in strings[:at]]


def _shadows(probe: Probe, tracker: int) -> list[Candidate]:
    """Return shadows on an input, by windows of hours and of months."""
    bins = probe.bins
    here = bins.tracker == tracker
    if not here.any():
        return []
    hours = np.unique(bins.hour[here])
    amount, volts = here & (bins.quantity != VOLTAGE), here & (bins.quantity == VOLTAGE)
    direct = direct_share(probe, tracker)
    found = []
    calendar = np.array([int(name[5:]) - 1 for name in probe.own.months])
    for length in (1, 2, 3):
        for first in hours:
            in_hours = (bins.hour >= first) & (bins.hour < first + length)
            for in_year in _seasons(calendar):
                there = in_hours & in_year[bins.month]
                if (there & here).sum() < 3:
                    continue
                columns = [np.where(there & part, -direct, 0.0) for part in (amount, volts)]
                kept = [column for column in columns if column.any()]
                months = np.flatnonzero(in_year)
                found.append(
                    Candidate(
                        SHADOW,
                        (tracker,),
                        np.stack(kept, axis=1),
                        np.unique(bins.hour[there & here]),
                        _ALL if in_year.all() else months,
                    )
                )
    return found


def direct_share(probe: Probe, tracker: int) -> FloatArray:
    """Return which share of the light that an input gets is direct (bin,).

    Parameters
    ----------
    probe : Probe
        The log's days.
    tracker : int
        The input.
    """
    own = probe.own
    light = own.prepared.weather
    ghi, dhi = (light[name].to_numpy()[probe.steps] for name in ("ghi", "dhi"))
    with np.errstate(divide="ignore", invalid="ignore"):
        share = np.clip(np.nan_to_num(1.0 - dhi / ghi), 0.0, 1.0)
    every = np.repeat(share[:, None], len(own.names), axis=1)
    over = probe.grid.sums(every * probe.grid.weight)[tracker]
    below = probe.totals[POWER][tracker]
    at = probe.bins.month * 24 + probe.bins.hour
    with np.errstate(divide="ignore", invalid="ignore"):
        found: FloatArray = np.nan_to_num(over[at] / below[at], nan=0.5)
    return np.clip(found, 0.05, 1.0)


def _seasons(calendar: IntArray) -> list[BoolArray]:
    """Return windows of months round the year, as masks of a log's months."""
    found = [np.ones(calendar.size, dtype=bool)]
    if calendar.size > 2:
        found += [(calendar - first) % 12 < length for length in (3, 5, 7) for first in range(12)]
    return [each for each in found if each.any()]
