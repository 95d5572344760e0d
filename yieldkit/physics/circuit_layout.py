"""Circuits checked, merged and put into one order, as flat arrays for the kernels."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from yieldkit.physics.circuit_net import Net
from yieldkit.physics.circuit_types import (
    Breakdown,
    Bypass,
    CellConditions,
    Run,
    StringCircuit,
    TrackerLimits,
    default_bypass,
)
from yieldkit.physics.operating_step import CONCAVE, GENERAL, MIXED
from yieldkit.words.errors import InputError, Problem


class Layout(NamedTuple):
    """A tracker in the kernels' form.

    Parameters
    ----------
    kind : int
        Which solver fits: evenly lit strings, one mixed string, or anything.
    even : ndarray of int
        Condition, groups and multiplicity of evenly lit strings (string, 3).
    net : Net
        The distinct strings.
    original : ndarray of int
        Position of each given string among the distinct ones.
    """

    kind: int
    even: np.ndarray
    net: Net
    original: np.ndarray


def pack(conditions: CellConditions) -> np.ndarray:
    """Return conditions as one array (time, condition, 5); negative light counts as dark."""
    packed = np.stack([np.asarray(part, dtype=float) for part in conditions], axis=-1)
    packed[..., 0] = np.maximum(packed[..., 0], 0.0)
    return packed


def canonical_columns(conditions: CellConditions) -> tuple[int, ...]:
    """Return for each condition the first one that is identical to it at all times."""
    packed = pack(conditions)
    # A sample of steps tells most conditions apart without looking at all of them.
    sample = packed[:: max(packed.shape[0] // 8, 1)]
    columns: list[int] = []
    for column in range(packed.shape[1]):
        match = column
        for other in range(column):
            if (
                columns[other] == other
                and np.array_equal(sample[:, column], sample[:, other], equal_nan=True)
                and np.array_equal(packed[:, column], packed[:, other], equal_nan=True)
            ):
                match = other
                break
        columns.append(match)
    return tuple(columns)


def merged_runs(runs: Sequence[Run], columns: Sequence[int]) -> tuple[Run, ...]:
    """Merge runs of the same light and sort them."""
    counts: dict[tuple[int, int], int] = {}
    for run in runs:
        one = columns[run.condition]
        two = one if run.partner is None else columns[run.partner]
        key = (min(one, two), max(one, two))
        counts[key] = counts.get(key, 0) + run.count
    return tuple(
        Run(one, count, None if one == two else two) for (one, two), count in sorted(counts.items())
    )


def lay_out(
    conditions: CellConditions,
    strings: Sequence[StringCircuit],
    bypass: Bypass | None,
    breakdown: Breakdown | None,
) -> Layout:
    """Check a tracker's strings and bring them into the kernels' form.

    Raises
    ------
    InputError
        With every problem of every string.
    """
    check_strings(strings, np.asarray(conditions.photocurrent).shape[1])
    columns = canonical_columns(conditions)
    canonical = [
        string._replace(runs=merged_runs(string.runs, columns), resistance=float(string.resistance))
        for string in strings
    ]
    distinct = sorted(set(canonical), key=_order)
    many = np.array([canonical.count(string) for string in distinct])
    runs = np.array(
        [
            (run.condition, -1 if run.partner is None else run.partner, run.count)
            for string in distinct
            for run in string.runs
        ]
    )
    first = np.cumsum([0, *(len(string.runs) for string in distinct)])
    diode = bypass or default_bypass()
    reverse = breakdown or Breakdown(0.0, -1.0, 1.0)
    return Layout(
        kind=_kind(distinct, reverse.factor != 0.0),
        even=np.array(
            [
                (string.runs[0].condition, string.runs[0].count, number)
                for string, number in zip(distinct, many, strict=True)
            ]
        ),
        net=Net(
            runs=runs,
            first=first,
            resistances=np.array([string.resistance for string in distinct]),
            many=many,
            blocked=np.array([int(string.blocking_diode) for string in distinct]),
            diodes=np.array([*diode, *reverse]),
        ),
        original=np.array([distinct.index(string) for string in canonical]),
    )


def _order(string: StringCircuit) -> tuple[object, ...]:
    runs = tuple((run.condition, run.partner or -1, run.count) for run in string.runs)
    return runs, string.resistance, string.blocking_diode


def _kind(distinct: list[StringCircuit], breaks_down: bool) -> int:
    even = all(len(string.runs) == 1 and string.runs[0].partner is None for string in distinct)
    blocked = any(string.blocking_diode for string in distinct)
    if even and not breaks_down and (len(distinct) == 1 or not blocked):
        return CONCAVE
    return MIXED if len(distinct) == 1 else GENERAL


def check_strings(strings: Sequence[StringCircuit], conditions: int) -> None:
    """Refuse strings that can't be circuits.

    Raises
    ------
    InputError
        Naming every string and run at fault.
    """
    problems = []
    if not strings:
        problems.append(Problem("tracker", "no string", "at least one string"))
    for number, string in enumerate(strings, start=1):
        where = f"string {number}"
        if not string.runs:
            problems.append(Problem(where, "no cell groups", "at least one run of cell groups"))
        if not 0.0 <= string.resistance < np.inf:
            problems.append(
                Problem(where, f"a cable of {string.resistance} ohm", "zero or more ohm")
            )
        for place, run in enumerate(string.runs, start=1):
            spot = f"{where}, run {place}"
            if run.count < 1:
                problems.append(Problem(spot, f"{run.count} cell groups", "one or more"))
            for column in (run.condition, 0 if run.partner is None else run.partner):
                if not 0 <= column < conditions:
                    problems.append(
                        Problem(spot, f"condition {column}", f"one of 0 to {conditions - 1}")
                    )
    if problems:
        raise InputError(problems)


def check_limits(limits: TrackerLimits) -> None:
    """Refuse limits that contradict one another.

    Raises
    ------
    InputError
        Naming each of them.
    """
    problems = []
    if not limits.v_mpp_min <= limits.v_mpp_max:
        problems.append(
            Problem(
                "MPP window",
                f"{limits.v_mpp_min} V to {limits.v_mpp_max} V",
                "the lower voltage first",
                remedy="Swap the two.",
            )
        )
    for name, value in limits._asdict().items():
        if name != "global_search" and not value >= 0.0:
            problems.append(Problem(f"tracker limit {name}", f"{value}", "zero or more"))
    if problems:
        raise InputError(problems)
