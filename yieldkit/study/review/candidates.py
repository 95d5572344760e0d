"""Causes that may explain a log's shapes, each with its shape in the bins."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import BoolArray, FloatArray, IntArray
from yieldkit.study.review import shapes
from yieldkit.study.review import unknowns as right
from yieldkit.study.review.bins import POWER, VOLTAGE
from yieldkit.study.review.reckoned import told_planes
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
from yieldkit.study.review.unknowns import LIGHT, PLANE, Unknown

LOSES = (SHADOW, DIRT, DIRT_BY_RAIN, SUBSTRING, STRING, LOSS)
"""Causes that only take."""
WHOLE = (SUBSTRING, STRING)
"""Causes that are there or not: their size is one."""
LIGHT_LATE, SUN = 1, 0
"""Which clock: that of light and power beside the sun, or that of power beside the light."""
_ALL = np.empty(0, dtype=np.int64)


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
    planes = told_planes(own)
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
    alone = np.setdiff1d(np.arange(len(own.site.planes)), planes)
    lit = [tracker for tracker in range(len(own.names)) if not own.rated[tracker, alone].any()]
    made[SHADOW] = [each for tracker in lit for each in _shadows(probe, tracker)]
    # Those that were there from the beginning are fewer, so that each is likelier.
    for kind in WHOLE:
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
        found += [(calendar - first) % 12 < length for length in (4, 7) for first in range(12)]
    return [each for each in found if each.any()]
