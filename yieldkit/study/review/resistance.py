"""The resistance that an inverter sees, from its volts and its power."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd

from yieldkit.base.arrays import FloatArray, IntArray
from yieldkit.config.models.conductors import AcLead
from yieldkit.config.site.site import Site
from yieldkit.design.equipment.cables import ac_lead_impedance
from yieldkit.study.logs.plant_log import PlantLog
from yieldkit.study.review.beside import local_times
from yieldkit.study.review.result import Resistance, Span

_FEWEST = 60
"""Pairs of neighbouring steps in which the current moves, for an estimate."""
_MOVED = 0.02
"""Change of current by the largest one that counts as moving [1]."""
_FREEDOM, _ROUNDS, _PASSES = 4.0, 12, 3
_NINE_OF_TEN = 1.7


def resistances(site: Site, log: PlantLog) -> tuple[Resistance, ...]:
    """Return what each inverter sees of the way to the stiff network.

    A network's own voltage wanders by the hour, so that only differences between neighbouring
    steps count, less their mean at that time of the day: volts follow amperes by the resistance of
    leads and network together. Fitted with Student's tails; the span is that of leaving out each
    day in turn (jackknife: Efron and Tibshirani (1993), An Introduction to the Bootstrap, chapter
    11; from memory).

    Parameters
    ----------
    site : Site
        The site.
    log : PlantLog
        The log; nothing where AC volts or power aren't in it.
    """
    if "v_ac" not in log.data or "p_ac" not in log.data:
        return ()
    volts, power = (
        log.data[name].transpose("time", "inverter").to_numpy().astype(float)
        for name in ("v_ac", "p_ac")
    )
    found = []
    for at, one in enumerate(site.each_inverter()):
        # Volts that wander would move a current reckoned with them: a smooth voltage doesn't.
        smooth = np.full(volts.shape, np.nanmedian(volts, axis=0))
        for _ in range(_PASSES):
            amperes = power / (site.phases * smooth)
            others = np.delete(amperes, at, axis=1).sum(axis=1)
            columns = [amperes[:, at]] if amperes.shape[1] == 1 else [amperes[:, at], others]
            span = _span(log, volts[:, at], np.stack(columns, axis=1))
            if not math.isfinite(span.value):
                break
            rise = span.value * amperes[:, at]
            smooth[:, at] = np.nanmedian(volts[:, at] - rise) + rise
        lead = _lead(site, one.lead)
        found.append(_told(one.name, span, lead + site.grid.network_resistance_ohm, lead, site))
    return tuple(found)


def _lead(site: Site, own: AcLead | None) -> float:
    """Return the resistance of an inverter's leads, its own and the common one [ohm]."""
    leads = [lead for lead in (own, site.grid.lead) if lead is not None]
    return sum(ac_lead_impedance(lead, site.phases)[0] for lead in leads)


def _span(log: PlantLog, volts: FloatArray, amperes: FloatArray) -> Span:
    """Return by what volts follow the first of the currents, the others beside it [ohm]."""
    nothing = Span(math.nan, math.nan, math.nan)
    times = pd.DatetimeIndex(log.data.indexes["time"])
    step = np.timedelta64(round(float(log.data.attrs["interval_s"])), "s")
    near = np.diff(times.to_numpy()) == step
    d_volts, d_amperes = np.diff(volts), np.diff(amperes, axis=0)
    feeds = np.maximum(amperes[1:, 0], amperes[:-1, 0]) > 0.0
    there = near & feeds & np.isfinite(d_volts) & np.isfinite(d_amperes).all(axis=1)
    if there.sum() < _FEWEST:
        return nothing
    local = local_times(log.data)[1:][there]
    slot = (local.hour * 60 + local.minute).to_numpy().astype(np.int64)
    d_volts = _without_daily(d_volts[there], slot)
    d_amperes = np.stack([_without_daily(each, slot) for each in d_amperes[there].T], axis=1)
    moves = np.abs(d_amperes[:, 0]) > _MOVED * float(np.nanmax(np.abs(amperes[:, 0])))
    if moves.sum() < _FEWEST:
        return nothing
    days = (local - local[0].normalize()).days.to_numpy()
    return _fitted(d_volts, d_amperes, days)


def _without_daily(values: FloatArray, slot: IntArray) -> FloatArray:
    """Return values less their mean at that time of the day."""
    _, at = np.unique(slot, return_inverse=True)
    means = np.bincount(at, values) / np.bincount(at)
    less: FloatArray = values - means[at]
    return less


def _fitted(volts: FloatArray, amperes: FloatArray, days: IntArray) -> Span:
    weight = np.ones(volts.size)
    for _ in range(_ROUNDS):
        weighed = weight[:, None] * amperes
        square = weighed.T @ amperes
        slopes = np.linalg.lstsq(square, weighed.T @ volts, rcond=None)[0]
        off = volts - amperes @ slopes
        scale = max(float(np.sqrt(np.mean(weight * off**2))), 1e-9)
        weight = (_FREEDOM + 1.0) / (_FREEDOM + np.square(off / scale))
    # Days left out with weights that stay know nothing of how weights follow what is off.
    square_off = np.square(off / scale)
    bends = (_FREEDOM + 1.0) * (_FREEDOM - square_off) / np.square(_FREEDOM + square_off)
    error = _left_out(volts, amperes, weight, days) * float(weight.mean() / bends.mean())
    slope = float(slopes[0])
    return Span(slope, slope - _NINE_OF_TEN * error, slope + _NINE_OF_TEN * error)


def _left_out(volts: FloatArray, amperes: FloatArray, weight: FloatArray, days: IntArray) -> float:
    """Return the standard error of the first slope by leaving out each day in turn."""
    _, at = np.unique(days, return_inverse=True)
    width, count = amperes.shape[1], int(at.max()) + 1
    squares, rights = np.empty((count, width, width)), np.empty((count, width))
    for one in range(width):
        weighed = weight * amperes[:, one]
        rights[:, one] = np.bincount(at, weighed * volts)
        for other in range(width):
            squares[:, one, other] = np.bincount(at, weighed * amperes[:, other])
    without = squares.sum(axis=0) - squares
    slopes = np.einsum("duv,dv->du", np.linalg.pinv(without), rights.sum(axis=0) - rights)
    off = slopes[:, 0] - slopes[:, 0].mean()
    return math.sqrt((count - 1.0) / count * float(off @ off))


def _told(name: str, span: Span, expected: float, lead: float, site: Site) -> Resistance:
    if not math.isfinite(span.value):
        return Resistance(
            name, span, expected, lead, "The log's volts and power don't tell: too little moves."
        )
    stated = site.grid.network_resistance_ohm > 0.0
    beside = (
        f"The site lets expect {expected:.3f} ohm, {lead:.3f} of them in the leads"
        if stated
        else f"The leads alone have {lead:.3f} ohm; the site states nothing of the network"
    )
    words = (
        f"{span.value:.3f} ohm ({span.low:.3f} to {span.high:.3f}) from the terminals to a stiff "
        f"voltage, leads and network together. {beside}. Neighbours that feed in at the same time "
        "and reactive power that follows the power are in it."
    )
    return Resistance(name, span, expected, lead, words)
