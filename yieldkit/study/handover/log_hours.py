"""Hours of the day in which an input of a log gives far less than at its others: a shadow."""

from __future__ import annotations

import numpy as np
import pandas as pd

from yieldkit.base.arrays import FloatArray, IntArray
from yieldkit.study.handover.judge import Judgement
from yieldkit.study.handover.log_model import LogModel
from yieldkit.study.handover.slips import MISREAD, NONE_OF_THESE
from yieldkit.study.logs.plant_log import PlantLog

_LESS = 0.15
"""Logarithm by which hours must lie below the input's usual one."""
_ALIKE = 0.06
"""How far its other hours may lie from each other, as a standard deviation of logarithms."""
_FEWEST_ROWS, _FEWEST_OTHERS = 2, 4


def hours_told(log: PlantLog, model: LogModel, found: Judgement) -> list[str]:
    """Return inputs that give far less at some hours than at their others, a sentence each.

    No slip of the wiring does that, but something in their light does. Where another slip is the
    likeliest, such as a plane that faces elsewhere, it tells why hours differ.

    Parameters
    ----------
    log : PlantLog
        The log.
    model : LogModel
        Its model.
    found : Judgement
        What was found.
    """
    best = int(found.ranked()[0][1][0])
    if best != 0 and found.slips[best].kind not in (MISREAD, NONE_OF_THESE):
        return []
    name, utc_offset_s = log.name, float(log.data.attrs["utc_offset_s"])
    drawn = model.only(np.array([0])).at(np.zeros((1, model.unknowns)))[0][0]
    local = model.rows.moments + pd.Timedelta(seconds=utc_offset_s)
    hour: IntArray = local.hour.to_numpy().astype(np.int64)[model.rows.step]
    told = []
    for at, (one, quantity) in enumerate(model.rows.columns):
        if quantity == "v_dc" or not _measured(model, one):
            continue
        there = (model.rows.column == at) & (drawn > 0.0) & (model.value > 0.0)
        ratios = _by_hour(np.log(model.value[there] / drawn[there]), hour[there])
        low, less = _low(ratios)
        if low.size:
            what = "current" if quantity == "i_dc" else "power"
            told.append(
                f"{name}: from {low[0]:02d}:00 to {low[-1] + 1:02d}:00 the {what} of {one} is "
                f"{100.0 * less:.0f} % lower beside the drawing than at its other hours: does "
                "something stand in its light then? No slip explains that; `yieldkit review` of "
                "a longer log tells shadows."
            )
    return told


def _measured(model: LogModel, name: str) -> bool:
    """Return whether light was measured in all planes of an input: what is reckoned differs too."""
    (strings,) = (own.strings for own in model.inputs if own.name == name)
    planes = (model.slips[0].groups[list(strings)] > 0.0).any(axis=0)
    return bool(model.sky.lit_by_sensor[planes].all())


def _by_hour(logs: FloatArray, hour: IntArray) -> FloatArray:
    """Return the mean of logarithms in each hour of the day, nan where rows are few (24,)."""
    count = np.bincount(hour, minlength=24)
    total = np.bincount(hour, logs, minlength=24)
    enough = count >= _FEWEST_ROWS
    return np.where(enough, total / np.maximum(count, 1), np.nan)


def _low(ratios: FloatArray) -> tuple[IntArray, float]:
    """Return hours without a gap that lie far below the others, and by what share [1]."""
    nothing: IntArray = np.empty(0, dtype=np.int64)
    known = np.isfinite(ratios)
    if known.sum() < _FEWEST_OTHERS:
        return nothing, 0.0
    usual = float(np.median(ratios[known]))
    low: IntArray = np.flatnonzero(known & (ratios < usual - _LESS))
    others = ratios[known & (ratios >= usual - _LESS)]
    apart = low.size > 0 and np.ptp(low) != low.size - 1
    # In the last light of a day one hour is off by itself.
    if low.size == 1 and ratios[low[0]] > usual - 2.0 * _LESS:
        return nothing, 0.0
    if not low.size or apart or others.size < _FEWEST_OTHERS or float(np.std(others)) > _ALIKE:
        return nothing, 0.0
    return low, float(-np.expm1(ratios[low].mean() - others.mean()))
