"""Rows of tables brought to every step of one raster: jitter, doubled rows, strangers between."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import NamedTuple

import numpy as np
import pandas as pd

from yieldkit.base.arrays import BoolArray, FloatArray, IntArray
from yieldkit.base.errors import refuse
from yieldkit.weather.quality.gaps import refuse_far_times

_BACK = {"start": 0.0, "middle": 0.5, "end": 1.0}
_SHORTEST_S, _LONGEST_S = 1.0, 3600.0
_LATE = 0.1
"""Share of a step by which a logger may be late and still mean the step."""
_NEAR = 0.05
"""Distances of rows within this share of one another are one step."""
_LONG_RUN = 24
"""So many rows on end at another step are no gaps."""
_MOST_STRANGERS = 0.05
_MOST_DOUBLED = 0.3
_NONE = pd.DatetimeIndex([], dtype="datetime64[ns]")


class Rows(NamedTuple):
    """Rows of tables that hold the same columns.

    Parameters
    ----------
    name : str
        The tables, for errors and what is told.
    values : DataFrame
        By naive UTC as the label has it (row, column); rows without a time are left out.
    unclear : DatetimeIndex
        Instants at which it isn't known which row holds, as labels.
    """

    name: str
    values: pd.DataFrame
    unclear: pd.DatetimeIndex


class Stepped(NamedTuple):
    """Rows brought to the starts of their steps.

    Parameters
    ----------
    values : DataFrame
        By the start of the step, naive UTC, rising, each once; steps in which nothing was
        written are not there.
    unclear : DatetimeIndex
        Starts of steps of which it isn't known which row holds.
    remarks : tuple of str
        What was done.
    """

    values: pd.DataFrame
    unclear: pd.DatetimeIndex
    remarks: tuple[str, ...]


def common_step(groups: Sequence[Rows]) -> int:
    """Return the length of the step of all tables [s].

    Raises
    ------
    InputError
        If there are fewer than two steps, they are longer than an hour, or tables differ.
    """
    found: dict[str, int] = {}
    for group in groups:
        times = np.unique(pd.DatetimeIndex(group.values.index).as_unit("ns").asi8)
        if times.size < 2:
            refuse(group.name, f"{times.size} rows with a time of their own", "two steps at least")
        step = _commonest(np.diff(times) / 1e9)
        if not _SHORTEST_S <= step <= _LONGEST_S:
            told = f"{step / 3600.0:g} hours" if step > _LONGEST_S else f"{step:g} s"
            refuse(
                group.name,
                f"steps of {told}",
                "steps between one second and one hour",
                cause="Totals of hours or days?" if step > _LONGEST_S else "",
            )
        found[group.name] = _rounded(step)
        _refuse_change(times, found[group.name], group.name)
    if len(set(found.values())) > 1:
        told = ", ".join(f"{seconds} s in {name}" for name, seconds in found.items())
        needed = "tables of one step"
        refuse("files", f"steps of {told}", needed, remedy="Export all with the same step")
    return next(iter(found.values()))


def _commonest(apart: FloatArray) -> float:
    """Return the distance that most others lie round: loggers are late by some seconds."""
    rising = np.sort(apart)
    near = [np.searchsorted(rising, rising * (1.0 + off), "right") for off in (-_NEAR, _NEAR)]
    number = near[1] - near[0]
    at = int(np.argmax(number))
    return float(np.median(rising[near[0][at] : near[1][at]]))


def _refuse_change(times: IntArray, step_s: int, where: str) -> None:
    """Refuse rows that for long come at another step: they are means over another time."""
    steps = np.round(np.diff(times) / 1e9 / step_s).astype(int)
    ends = np.flatnonzero(np.diff(np.r_[0, steps, 0]) != 0)
    for begin, end in pairwise(ends.tolist()):
        if steps[begin] > 1 and end - begin >= _LONG_RUN:
            since = pd.Timestamp(int(times[begin]))
            refuse(
                where,
                f"{end - begin} steps of {steps[begin] * step_s:,} s from {since:%Y-%m-%d %H:%M} "
                f"UTC on, and steps of {step_s} s elsewhere",
                "steps of one length",
                cause="A change of step inside the log?",
                remedy="Export it with one step",
            )


def _rounded(seconds: float) -> int:
    """Return the whole number of seconds that goes into an hour, if one lies within 2 %."""
    near = [s for s in range(1, 3601) if 3600 % s == 0 and abs(s - seconds) <= 0.02 * s]
    return min(near, key=lambda s: abs(s - seconds)) if near else round(seconds)


def stepped(rows: Rows, step_s: int, label: str) -> Stepped:
    """Bring rows to the starts of their steps.

    Parameters
    ----------
    rows : Rows
        As written.
    step_s : int
        Length of a step [s].
    label : str
        "start", "middle" or "end".

    Raises
    ------
    InputError
        If times don't lie on a raster, or most are there several times.
    """
    remarks: list[str] = []
    back = pd.Timedelta(seconds=_BACK[label] * step_s)
    index = pd.DatetimeIndex(rows.values.index) - back
    steps, strange, late = _on_raster(index, step_s)
    if strange.mean() > _MOST_STRANGERS:
        refuse(
            rows.name,
            f"{int(strange.sum()):,} of {strange.size:,} times beside a raster of {step_s} s, the "
            f"first {index[int(np.argmax(strange))] + back:%Y-%m-%d %H:%M:%S} UTC",
            "steps of one length",
            cause="A change of step inside the log?",
            remedy="Export it with one step",
        )
    if strange.any():
        remarks.append(
            f"{rows.name}: {int(strange.sum())} rows between the steps of {step_s} s were passed "
            "over."
        )
    if late.any():
        remarks.append(
            f"{rows.name}: {int(late.sum()):,} times up to {_LATE:.0%} of a step beside the raster "
            "of the others were moved onto it."
        )
    values = rows.values.set_axis(steps, axis="index")[~strange]
    values, torn, told = _each_once(values, rows.name)
    remarks += told
    unclear = rows.unclear - back
    both = [_on_raster(unclear, step_s)[0].to_numpy(), torn.to_numpy()]
    unclear = pd.DatetimeIndex(np.unique(np.concatenate(both)))
    if len(values):
        refuse_far_times(pd.DatetimeIndex(values.index).tz_localize("UTC"), rows.name)
    return Stepped(values, unclear, tuple(remarks))


def _on_raster(
    index: pd.DatetimeIndex, step_s: int
) -> tuple[pd.DatetimeIndex, BoolArray, BoolArray]:
    """Return times on their raster, which lie too far from it, and which were moved at all."""
    none = np.zeros(len(index), dtype=bool)
    if not len(index):
        return index, none, none
    step = step_s * 1_000_000_000
    times = index.as_unit("ns").asi8
    origin = _origin(times % step, step)
    beside = (times - origin + step // 2) % step - step // 2
    strange = np.abs(beside) > _LATE * step
    moved = pd.DatetimeIndex((times - beside).astype("datetime64[ns]"))
    return moved, strange, (beside != 0) & ~strange


def _origin(rest: IntArray, step: int) -> int:
    """Return where steps begin [ns]: at what most times leave, else at full steps of UTC."""
    values, counts = np.unique(rest, return_counts=True)
    if counts.max() > 0.5 * rest.size:
        return int(values[np.argmax(counts)])
    near = np.minimum(rest, step - rest) <= _LATE * step
    if near.mean() > 1.0 - _MOST_STRANGERS:
        return 0
    turned = np.exp(2j * np.pi * rest / step)
    return int(np.angle(turned.mean()) / (2.0 * np.pi) * step) % step


def _each_once(
    values: pd.DataFrame, where: str
) -> tuple[pd.DataFrame, pd.DatetimeIndex, list[str]]:
    """Return rows with each time once: rows written again dropped, rows that differ emptied."""
    again = values.index.duplicated(keep=False)
    if not again.any():
        return values.sort_index(), _NONE, []
    doubled = values[again].groupby(level=0)
    differ = (doubled.nunique() > 1).any(axis=1)
    torn = pd.DatetimeIndex(differ.index[differ])
    if len(torn) > _MOST_DOUBLED * values.index.nunique():
        refuse(
            where,
            f"{len(torn):,} of {values.index.nunique():,} times several times with other readings, "
            f"the first {torn[0]:%Y-%m-%d %H:%M} UTC",
            "a row for each step",
            cause="Several inverters below one another?",
            remedy="Export each with columns or a file of its own",
        )
    whole = doubled.first()
    whole.loc[torn] = np.nan
    found = pd.concat([values[~again], whole]).sort_index()
    remarks = []
    same = int(again.sum()) - len(whole) - int(again[values.index.isin(torn)].sum()) + len(torn)
    if same:
        remarks.append(f"{where}: {same:,} rows that were there already count once.")
    if len(torn):
        remarks.append(
            f"{where}: {len(torn):,} times are there twice with other readings, from "
            f"{torn[0]:%Y-%m-%d %H:%M} UTC on, and are left out. A clock that is put back in "
            "autumn, or by hand?"
        )
    return found, torn, remarks
