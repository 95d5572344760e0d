"""Upper bounds on an inverter's energy that add up over its inputs.

An inverter's losses depend on the power of all its inputs at once. At a known load they have a
tangent; what is left then couples the inputs only by averages weighted with their power, and these
are bounded by sums:

* by a loss curve p = P - c0 - c1 p - c2 p^2 (c averaged), with c2 p^2 above its tangent, p is at
  most (P - A) / B with averages A and B of what each input has. P / B is at most the sum of each
  input's P / B (Cauchy and Schwarz), and A at least the least of all, with the rest by the most
  power that there can be.
* a listed inverter's power is an average of parabolas of P; each lies below its tangent, or its
  chord where it opens upwards.

Either way an hour's power is at most a sum over inputs less a constant. Where that could fall below
nothing, in dim light or on an idle inverter, inputs count for at least the constant, or the line
goes through nothing, whatever is closer at the known wiring.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import BoolArray, FloatArray, IntArray
from yieldkit.physics.ac.input_lines import fill_lines_by_losses
from yieldkit.physics.ac.inverter_totals import OwnPath
from yieldkit.physics.ac.many_wirings import LOSSES
from yieldkit.study.several_inverters.inverter_rows import SolvedKind

_BLOCK = 256
"""Rows worked on at a time, so that memory stays small."""


class InputBounds(NamedTuple):
    """What the inputs of one inverter add to a bound on delivered energy.

    Parameters
    ----------
    constant_kwh : float
        What the inverter adds whatever hangs on it [kWh].
    idle_kwh : float
        What it adds beside that where nothing hangs on it at all [kWh].
    row_kwh : ndarray
        What each row adds, those that are wired already behind the others [kWh] (row,).
    """

    constant_kwh: float
    idle_kwh: float
    row_kwh: FloatArray


class _Lines(NamedTuple):
    """An hour's power is at most the sum of each row's, less a constant.

    Parameters
    ----------
    per_row : ndarray
        [W] (row, time).
    constant : ndarray
        [W] (time,).
    """

    per_row: FloatArray
    constant: FloatArray


def input_bounds(
    own: SolvedKind,
    rows: IntArray,
    dc: FloatArray,
    ac: FloatArray,
    cap: FloatArray,
    night: float,
    weight: FloatArray,
) -> InputBounds:
    """Return the bound that touches what a known wiring puts on an inverter.

    Parameters
    ----------
    own : SolvedKind
        What may hang on it.
    rows : ndarray of int
        What hangs on its inputs in the known wiring, with what is wired already; nothing where the
        powers stand for no wiring.
    dc, ac : ndarray
        Its DC power, and AC power before any limit [W] (lit step,).
    cap : ndarray
        Largest AC power [W] (lit step,).
    night : float
        Power it draws without any DC power [W].
    weight : ndarray
        What its power counts for [kWh/W] (lit step,).
    """
    held = ac >= cap
    constant = float((np.where(held, weight, 0.0) * cap).sum())
    steps = np.flatnonzero(~held & (weight > 0.0))
    counted = weight[steps]
    lines = _lines(own, steps, dc[steps], ac[steps])
    through, share = _through_nothing(own, rows, lines, dc[steps])
    least = np.maximum(lines.constant, 0.0)
    weighted = np.where(through, counted * share, 0.0)
    above = np.where(through, 0.0, counted)
    values = lines.per_row @ weighted
    for first in range(0, values.size, _BLOCK):
        some = lines.per_row[first : first + _BLOCK]
        values[first : first + _BLOCK] += np.maximum(some, least) @ above
    taken_off = float(lines.constant @ above)
    idle = float(least @ above) - night * float(weight.sum())
    return InputBounds(constant - taken_off, idle, values)


def _lines(own: SolvedKind, steps: IntArray, dc: FloatArray, ac: FloatArray) -> _Lines:
    """Return each row's line at the known load."""
    most = np.maximum(_over_inputs(own, own.arrangements.power)[steps], dc)
    if own.path.kind == LOSSES:
        return _lines_by_losses(own, steps, most, ac)
    power = own.arrangements.power[:, steps]
    return _lines_by_list(power, own.arrangements.parts, steps, most, dc, own.path)


def _over_inputs(own: SolvedKind, per_row: FloatArray) -> FloatArray:
    """Return the most that all inputs together can have of something (time,)."""
    classes = np.array([place for place, _ in own.rows], dtype=np.int64)
    found: FloatArray = per_row[own.fixed_rows].sum(axis=0)
    for place, inputs in zip(*np.unique(own.kind.slots, return_counts=True), strict=True):
        first, end = np.searchsorted(classes, (place, place + 1))  # a class's rows lie together
        if end > first:
            found = found + inputs * per_row[first:end].max(axis=0)
    return found


def _lines_by_losses(own: SolvedKind, steps: IntArray, most: FloatArray, ac: FloatArray) -> _Lines:
    nominal = own.path.curve_nominal
    per_row = np.empty((own.arrangements.power.shape[0], steps.size))
    constant = np.empty(steps.size)
    fill_lines_by_losses(
        steps, *own.arrangements, ac / nominal, most / nominal, nominal, per_row, constant
    )
    return _Lines(per_row, constant)


def _lines_by_list(
    power: FloatArray,
    parts: FloatArray,
    steps: IntArray,
    most: FloatArray,
    dc: FloatArray,
    path: OwnPath,
) -> _Lines:
    per_row = np.empty_like(power)
    start = np.empty_like(power)
    for row in range(power.shape[0]):
        a, b, c = parts[row][:, steps]
        above = dc - b
        linear = path.paco / (a - b) - c * (a - b)
        tangent = c <= 0.0
        slope = np.where(tangent, linear + 2.0 * c * above, linear + c * (most - 2.0 * b))
        at = linear * above + c * above * above
        start[row] = np.where(tangent, at - slope * dc, -linear * b + c * b * b)
        per_row[row] = slope
    known = power > 0.0
    highest = np.where(known, start, -np.inf).max(axis=0)
    highest = np.where(np.isfinite(highest), highest, 0.0)
    lower = np.where(known, start - highest, 0.0)
    return _Lines(power * (per_row + lower / np.maximum(most, 1e-9)), -highest)


def _through_nothing(
    own: SolvedKind, rows: IntArray, lines: _Lines, dc: FloatArray
) -> tuple[BoolArray, FloatArray]:
    """Return at which steps the line through nothing is closer, and what it leaves of each row.

    Returns
    -------
    tuple of (ndarray of bool, ndarray)
        (time,), and a share [1] (time,).
    """
    most = np.maximum(_over_inputs(own, lines.per_row), 1e-9)
    share = np.clip(1.0 - lines.constant / most, 0.0, 1.0)
    if rows.size:
        known = lines.per_row[rows]
        straight = np.maximum(known, np.maximum(lines.constant, 0.0)).sum(axis=0) - lines.constant
        closer = known.sum(axis=0) * share < straight
    else:
        closer = dc < 10.0 * lines.constant
    return closer & (lines.constant > 0.0), share
