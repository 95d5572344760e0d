"""Circuits checked, merged and put into one order, as flat arrays for the kernels."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import BoolArray, FloatArray, IntArray
from yieldkit.physics.circuit.components import (
    Breakdown,
    Bypass,
    CellConditions,
    ReversePath,
    Run,
    StringCircuit,
    default_bypass,
)
from yieldkit.physics.circuit.diode import PHOTOCURRENT
from yieldkit.physics.circuit.refusals import check_strings, impossible
from yieldkit.physics.circuit.tracker_circuit import EVEN, GENERAL, UNEVEN, TrackerCircuit

_FEW = 6


class Layout(NamedTuple):
    """A tracker in the kernels' form.

    Parameters
    ----------
    kind : int
        `EVEN`, `UNEVEN` or `GENERAL`: which solver fits.
    even : ndarray of int
        Row of the light, groups in series and multiplicity of evenly lit strings (string, 3).
    circuit : TrackerCircuit
        The distinct strings.
    original : ndarray of int
        Position of each given string among the distinct ones.
    """

    kind: int
    even: IntArray
    circuit: TrackerCircuit
    original: IntArray


def used_only(
    conditions: CellConditions, strings: Sequence[StringCircuit]
) -> tuple[CellConditions, tuple[StringCircuit, ...]]:
    """Return the conditions that strings use, and the strings by their new numbers.

    Parameters
    ----------
    conditions : CellConditions
        Diode parameters [A, A, ohm, ohm, V] (time, condition).
    strings : sequence of StringCircuit
        Sound strings.
    """
    numbers = {run.condition for string in strings for run in string.runs}
    numbers |= {run.partner for s in strings for run in s.runs if run.partner is not None}
    used = sorted(numbers)
    if len(used) == np.asarray(conditions.photocurrent).shape[1]:
        return conditions, tuple(strings)
    place = {number: index for index, number in enumerate(used)}
    moved = tuple(
        string._replace(
            runs=tuple(
                Run(
                    place[run.condition],
                    run.count,
                    None if run.partner is None else place[run.partner],
                )
                for run in string.runs
            )
        )
        for string in strings
    )
    return CellConditions(*(np.asarray(part)[:, used] for part in conditions)), moved


def pack(conditions: CellConditions) -> FloatArray:
    """Return conditions as one array.

    Negative light counts as dark; a condition with a value that no diode has is missing.

    Parameters
    ----------
    conditions : CellConditions
        Diode parameters [A, A, ohm, ohm, V] (time, condition).

    Returns
    -------
    ndarray
        The same [A, A, ohm, ohm, V] (time, condition, 5).
    """
    return packed_without(conditions, impossible(conditions))


def packed_without(conditions: CellConditions, wrong: BoolArray | None) -> FloatArray:
    """Return conditions as one array, like `pack`, where it is known which are impossible.

    Parameters
    ----------
    conditions : CellConditions
        Diode parameters [A, A, ohm, ohm, V] (time, condition).
    wrong : ndarray of bool, optional
        What `impossible` returned (time, condition).
    """
    # Of one order in memory, so that the kernels are compiled for that one only.
    packed = np.empty((*np.asarray(conditions.photocurrent).shape, len(conditions)))
    for place, part in enumerate(conditions):
        packed[..., place] = part
    np.maximum(packed[..., PHOTOCURRENT], 0.0, out=packed[..., PHOTOCURRENT])
    if wrong is not None:
        packed[wrong] = np.nan
    return packed


class Pattern(NamedTuple):
    """Steps in which the same conditions are identical.

    Parameters
    ----------
    columns : tuple of int
        For each condition the first one that is identical to it.
    steps : ndarray of int, optional
        The steps; all of them if left out.
    """

    columns: tuple[int, ...]
    steps: IntArray | None


def patterns(packed: FloatArray) -> list[Pattern]:
    """Sort steps by which of their lights are identical, looking at each step by itself.

    Identical lights are merged before solving, so that equal planes lose exactly nothing; and as
    every step decides for itself, its result doesn't depend on the block it is solved in.

    Parameters
    ----------
    packed : ndarray
        Diode parameters [A, A, ohm, ohm, V] (time, condition, 5).

    Returns
    -------
    list of Pattern
        The first one covers all steps; further ones replace it in theirs.
    """
    # Columns that lie together in memory are quick to compare.
    light = np.asfortranarray(packed[..., PHOTOCURRENT])
    number = light.shape[1]
    apart = Pattern(tuple(range(number)), None)
    alike = _alike(light)
    if alike.size == 0:
        return [apart]
    first = _first_identical(packed[alike])
    differs = (first != np.arange(number)).any(axis=1)
    merged, first = alike[differs], first[differs]
    if merged.size == 0:
        return [apart]
    kinds, kind = first[:1], np.zeros(merged.size, dtype=int)
    if (first != first[0]).any():
        kinds, kind = np.unique(first, axis=0, return_inverse=True)
    found = [
        Pattern(tuple(columns.tolist()), merged[kind.reshape(-1) == place])
        for place, columns in enumerate(kinds)
    ]
    # The dark has no pattern of its own; a missing value counts as lit.
    lit = light[:, 0] != 0.0
    for column in range(1, number):
        lit |= light[:, column] != 0.0
    if len(found) == 1 and merged.size == np.count_nonzero(lit):
        return [found[0]._replace(steps=None)]
    return [apart, *found]


def _alike(light: FloatArray) -> IntArray:
    """Return the steps in which two conditions have the same photocurrent, not dark."""
    if light.shape[1] > _FEW:
        ordered = np.sort(light, axis=1)
        pairs = [(ordered[:, 1:] == ordered[:, :-1]) & (ordered[:, 1:] > 0.0)]
        return np.flatnonzero(pairs[0].any(axis=1))
    alike = np.zeros(light.shape[0], dtype=bool)
    for column in range(1, light.shape[1]):
        own = light[:, column]
        for other in range(column):
            alike |= (own == light[:, other]) & (own > 0.0)
    return np.flatnonzero(alike)


def _first_identical(packed: FloatArray) -> IntArray:
    """Return for each condition the first one that is identical to it (time, condition)."""
    number = packed.shape[1]
    first = np.tile(np.arange(number), (packed.shape[0], 1))
    for column in range(1, number):
        for other in range(column):
            same = (packed[:, column] == packed[:, other]).all(axis=1)
            first[same, column] = np.minimum(first[same, column], first[same, other])
    return first


def merged_runs(runs: Sequence[Run], columns: Sequence[int]) -> tuple[Run, ...]:
    """Merge runs of the same light and sort them.

    Parameters
    ----------
    runs : sequence of Run
        The runs of a string.
    columns : sequence of int
        For each condition the one it is identical to, its own number if none.
    """
    counts: dict[tuple[int, int], int] = {}
    for run in runs:
        one = columns[run.condition]
        two = one if run.partner is None else columns[run.partner]
        key = (min(one, two), max(one, two))
        counts[key] = counts.get(key, 0) + run.count
    return tuple(
        Run(one, count, None if one == two else two) for (one, two), count in sorted(counts.items())
    )


def reverse_path(bypass: Bypass | None, breakdown: Breakdown | None) -> ReversePath:
    """Return bypass diode and breakdown in plain numbers, the usual ones where left out.

    Parameters
    ----------
    bypass, breakdown : optional
        As for `api.operating_point`.
    """
    diode = bypass or default_bypass()
    cells = breakdown or Breakdown(0.0, -1.0, 1.0)
    return ReversePath(
        Bypass(float(diode.saturation_current), float(diode.n_vth)),
        Breakdown(float(cells.factor), float(cells.voltage), float(cells.exponent)),
    )


def pack_runs(strings: Sequence[StringCircuit]) -> tuple[IntArray, IntArray]:
    """Return the runs of strings as one array, and where each string's begin.

    Parameters
    ----------
    strings : sequence of StringCircuit
        The strings.

    Returns
    -------
    tuple of ndarray of int
        Runs (run, 3) and positions (string + 1,), as of `TrackerCircuit` [1].
    """
    runs = [
        (run.condition, -1 if run.partner is None else run.partner, run.count)
        for string in strings
        for run in string.runs
    ]
    return np.array(runs), np.cumsum([0, *(len(string.runs) for string in strings)])


def lay_out(
    columns: Sequence[int],
    strings: Sequence[StringCircuit],
    bypass: Bypass | None,
    breakdown: Breakdown | None,
) -> Layout:
    """Check a tracker's strings and bring them into the kernels' form.

    Parameters
    ----------
    columns : sequence of int
        For each condition the one it is identical to, its own number if none.
    strings : sequence of StringCircuit
        The strings in parallel.
    bypass, breakdown : optional
        As for `api.operating_point`.

    Raises
    ------
    InputError
        With every problem of every string.
    """
    check_strings(strings, len(columns))
    plain = tuple(
        StringCircuit(tuple(string.runs), float(string.resistance), bool(string.blocking_diode))
        for string in strings
    )
    return _laid_out(tuple(columns), plain, reverse_path(bypass, breakdown))


@lru_cache(maxsize=1024)
def _laid_out(
    columns: tuple[int, ...], strings: tuple[StringCircuit, ...], reverse: ReversePath
) -> Layout:
    """Bring strings into the kernels' form; a tracker is laid out once for all its light."""
    canonical = [string._replace(runs=merged_runs(string.runs, columns)) for string in strings]
    distinct = sorted(set(canonical), key=_order)
    multiplicity = np.array([canonical.count(string) for string in distinct])
    runs, first_run = pack_runs(distinct)
    return Layout(
        kind=_kind(distinct, reverse.breakdown.factor != 0.0),
        even=np.array(
            [
                (string.runs[0].condition, string.runs[0].count, number)
                for string, number in zip(distinct, multiplicity, strict=True)
            ]
        ),
        circuit=TrackerCircuit(
            runs=runs,
            first_run=first_run,
            resistances=np.array([string.resistance for string in distinct]),
            multiplicity=multiplicity,
            blocked=np.array([int(string.blocking_diode) for string in distinct]),
            reverse=reverse,
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
        return EVEN
    return UNEVEN if len(distinct) == 1 else GENERAL
