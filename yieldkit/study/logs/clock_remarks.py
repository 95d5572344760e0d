"""What a log's clock is like over its days, in sentences: steady, drifting, or with jumps."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import FloatArray, IntArray
from yieldkit.study.logs.plant_log import ClockOffset

TOLD_MIN = 4.0
"""Smaller offsets aren't told: they lie within what a day's span is good for [min]."""
USUAL_MIN = 30.0
_JUMP_MIN = 40.0
_BESIDE = 3
_DRIFT_MIN, _DRIFT_SIGMA = 4.0, 4.0
_Z = 1.645
_LABEL_MIN = 3.0
_SHORTEST_MIN = 7.0


class Clock(NamedTuple):
    """A log's clock over its days.

    Parameters
    ----------
    remarks : tuple of str
        Sentences.
    late_min : ndarray
        By how much it is ahead on each day, also between days that told it [min] (day,).
    """

    remarks: tuple[str, ...]
    late_min: FloatArray


def clock_of(found: tuple[ClockOffset, ...], days: tuple[str, ...], step_min: float) -> Clock:
    """Return what is told of a clock, and its offset on every day.

    Parameters
    ----------
    found : tuple of ClockOffset
        Days that told it, in order.
    days : tuple of str
        All days.
    step_min : float
        Length of a step [min].
    """
    if not found:
        text = (
            "The log's clock could not be held against the sun: no day was clear for hours; "
            "an hour's error would not show."
        )
        return Clock((text,), np.zeros(len(days)))
    minutes = np.array([own.minutes for own in found])
    number = np.array([days.index(own.day) for own in found])
    jumps = _jumps(minutes)
    pieces = np.split(np.arange(len(found)), jumps)
    late = np.zeros(len(days))
    edges = [0, *(int(number[at]) for at in jumps), len(days)]
    for piece, begin, end in zip(pieces, edges[:-1], edges[1:], strict=True):
        late[begin:end] = np.interp(np.arange(begin, end), number[piece], _calm(minutes[piece]))
    late = np.where(np.abs(late) < TOLD_MIN, 0.0, late)
    remarks = [_of_jump(found, minutes, at) for at in jumps]
    for piece in pieces:
        own = tuple(found[at] for at in piece)
        remarks.append(_of_piece(own, number[piece], step_min, len(pieces) > 1))
    return Clock(tuple(text for text in remarks if text), late)


def _calm(minutes: FloatArray) -> FloatArray:
    """Return each day's offset as the middle one of five days."""
    if minutes.size < 3:
        return minutes
    padded = np.pad(minutes, 2, mode="edge")
    found: FloatArray = np.median(np.lib.stride_tricks.sliding_window_view(padded, 5), axis=1)
    return found


def _jumps(minutes: FloatArray) -> IntArray:
    """Return positions of days from which on the clock goes an hour or so otherwise."""
    size = minutes.size
    steps = np.zeros(size)
    for at in range(1, size):
        before, after = minutes[max(0, at - _BESIDE) : at], minutes[at : at + _BESIDE]
        if min(before.size, after.size) >= min(_BESIDE, max(1, size // 2)):
            steps[at] = np.median(after) - np.median(before)
    found: list[int] = []
    for at in np.flatnonzero(np.abs(steps) > _JUMP_MIN).tolist():
        near = slice(max(0, at - _BESIDE), at + _BESIDE + 1)
        own = abs(minutes[at] - minutes[at - 1])
        rivals = np.abs(np.diff(minutes, prepend=minutes[:1]))[near]
        if own >= rivals.max() and (not found or at - found[-1] > _BESIDE):
            found.append(at)
    return np.array(found, dtype=np.int64)


def _of_jump(found: tuple[ClockOffset, ...], minutes: FloatArray, at: int) -> str:
    turn = float(np.median(minutes[at : at + _BESIDE]) - np.median(minutes[max(0, at - 3) : at]))
    why = " That is what summer time does." if abs(abs(turn) - 60.0) < 12.0 else ""
    return (
        f"The log's clock jumps by {turn:+.0f} min between {found[at - 1].day} and "
        f"{found[at].day}.{why}"
    )


def _of_piece(
    own: tuple[ClockOffset, ...], number: IntArray, step_min: float, one_of_several: bool
) -> str:
    """Return a sentence about days without a jump, empty where the clock is right."""
    minutes = np.array([each.minutes for each in own])
    spread = np.array([(each.high - each.low) / (2.0 * _Z) for each in own])
    when = f" from {own[0].day} to {own[-1].day}" if one_of_several else ""
    if len(own) >= 8:
        slope, error = _slope(number, minutes, spread)
        moved = slope * float(number[-1] - number[0])
        if abs(moved) > _DRIFT_MIN and abs(slope) > _DRIFT_SIGMA * error:
            return (
                f"The log's clock drifts{when}: by {30.0 * slope:+.1f} min in 30 days, from "
                f"{minutes[:5].mean():+.0f} to {minutes[-5:].mean():+.0f} min ahead of the sun."
            )
    middle = float(np.median(minutes))
    wide = float(np.median(_Z * spread))
    if abs(middle) < max(TOLD_MIN, wide):
        return ""
    number_of = f"{len(own)} clear day{'s' if len(own) > 1 else ''}"
    way = "late times: it is ahead of" if middle > 0.0 else "early times: it is behind"
    text = (
        f"The log writes {way} the sun by {abs(middle):.0f} min{when} (by {number_of}; a day's "
        f"span +-{wide:.0f} min), unless the planes lie otherwise than drawn."
    )
    alike = float(np.median(np.abs(minutes - middle))) < _LABEL_MIN
    return text + (_why(middle, step_min) if alike else "")


def _slope(number: IntArray, minutes: FloatArray, spread: FloatArray) -> tuple[float, float]:
    """Return minutes a day and their standard error, without days that lie far off."""
    steep = float(np.polyfit(number, minutes, 1)[0])
    line = steep * number + np.median(minutes - steep * number)
    scatter = 1.4826 * float(np.median(np.abs(minutes - line))) + 0.1
    near = np.abs(minutes - line) < 4.0 * scatter
    fitted, covariance = np.polyfit(number[near], minutes[near], 1, cov="unscaled")
    noise = max(scatter, float(np.median(spread[near])))
    return float(fitted[0]), noise * float(np.sqrt(covariance[0, 0]))


def _why(minutes: float, step_min: float) -> str:
    """Return what usually lies behind an offset, empty where nothing stands out."""
    for share, label in ((1.0, "one step"), (0.5, "half a step")):
        if share * step_min >= _SHORTEST_MIN and abs(abs(minutes) - share * step_min) < _LABEL_MIN:
            other = "the other end" if share == 1.0 else "the middle"
            return f" That is {label}: rows may be labelled by {other} of their steps."
    if abs(minutes) > USUAL_MIN:
        return " More than 30 min are probably summer time or another zone."
    return ""
