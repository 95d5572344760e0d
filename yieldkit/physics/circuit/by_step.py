"""Trackers whose strings have other runs in every step: what is merged there is solved together.

Steps with about as many levels are packed into one array and solved by the kernels of all other
strings, each step with its own numbers of groups.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from yieldkit.base.arrays import FloatArray, IntArray
from yieldkit.physics.circuit.components import (
    Breakdown,
    Bypass,
    CellConditions,
    ReversePath,
    Run,
    StringCircuit,
)
from yieldkit.physics.circuit.group_maxima import fill_group_maxima
from yieldkit.physics.circuit.intervals import POWER
from yieldkit.physics.circuit.layout import Layout, lay_out, reverse_path
from yieldkit.physics.circuit.limits import OperatingPoint, TrackerLimits
from yieldkit.physics.circuit.parts import (
    Part,
    assembled,
    bound_power,
    dark_outputs,
    solved_part,
    start_and_stop,
)
from yieldkit.physics.circuit.refusals import check_limits
from yieldkit.physics.circuit.stepped_strings import (
    SteppedString,
    Widths,
    kinds_of_runs,
    packed_lights,
    packed_steps,
    static_runs,
)
from yieldkit.physics.circuit.tracker_circuit import (
    COUNT,
    GENERAL,
    PARTNER,
    UNEVEN,
    TrackerCircuit,
)

_UNLIMITED = TrackerLimits()
_SIZES = np.array([0, 1, 2, 3, 4, 5, 6, 8, 10, 12, 16, 20, 24, 32, 48, 64, 96, 128, 256, 512])
"""Numbers of runs that steps are sorted by."""


def operating_point_by_step(
    lights: CellConditions,
    strings: Sequence[SteppedString],
    limits: TrackerLimits = _UNLIMITED,
    *,
    power_bound: FloatArray | None = None,
    interval_s: float = 3600.0,
    bypass: Bypass | None = None,
    breakdown: Breakdown | None = None,
) -> OperatingPoint:
    """Return a tracker's best point inside its limits at every step, as `operating_point` does.

    Parameters
    ----------
    lights : CellConditions
        Diode parameters of every light of every step, each (light,). A step with a missing one is
        missing.
    strings : sequence of SteppedString
        The strings in parallel, in each step made of some of the lights.
    limits, power_bound, interval_s, bypass, breakdown
        As for `operating_point`.
    """
    check_limits(limits)
    packed = packed_lights(lights)
    reverse = reverse_path(bypass, breakdown)
    steps = strings[0].first.size - 1
    kinds = [kinds_of_runs(string) for string in strings]
    whole, halved = (np.array(part) for part in zip(*kinds, strict=True))
    rules = limits.start_stop(interval_s)

    def part_of(at: IntArray) -> Part:
        widths = Widths(whole[:, at].max(axis=1), halved[:, at].max(axis=1))
        circuit = _circuit(strings, widths, reverse)
        kind = UNEVEN if len(strings) == 1 else GENERAL
        layout = Layout(kind, np.empty((0, 3), dtype=np.int64), circuit, np.arange(len(strings)))
        return Part(layout, at, packed_steps(packed, strings, at, widths))

    if not limits.global_search:
        every = part_of(np.arange(steps))._replace(steps=None)
        parts, solved = [every], [solved_part(every, limits, rules)]
    else:
        first = _even_part(packed, strings, np.arange(0), (bypass, breakdown))
        parts = [first._replace(steps=None)]
        for at, even in _alike_steps(whole, halved):
            parts.append(
                _even_part(packed, strings, at, (bypass, breakdown)) if even else part_of(at)
            )
        solved = [dark_outputs(steps, len(strings))]
        solved += [solved_part(part, limits, rules) for part in parts[1:]]
        if limits.starts_and_stops:
            start_and_stop(parts, solved, rules, lambda at: _packing(part_of(at)))
    bound_power((limits.p_max, power_bound), limits.point_limits.v_max, parts, solved)
    return assembled(parts, solved)


def _packing(part: Part) -> tuple[FloatArray, TrackerCircuit]:
    return part.packed, part.layout.circuit


def _circuit(
    strings: Sequence[SteppedString], widths: Widths, reverse: ReversePath
) -> TrackerCircuit:
    """Return a tracker of strings that are all taken as different."""
    runs, first_run = static_runs(widths)
    return TrackerCircuit(
        runs=runs,
        first_run=first_run,
        resistances=np.array([float(string.resistance) for string in strings]),
        multiplicity=np.ones(len(strings), dtype=np.int64),
        blocked=np.array([int(string.blocking_diode) for string in strings]),
        reverse=reverse,
    )


def _even_part(
    lights: FloatArray,
    strings: Sequence[SteppedString],
    steps: IntArray,
    reverse: tuple[Bypass | None, Breakdown | None],
) -> Part:
    """Return steps in which each string is lit evenly: laid out like strings that never change."""
    firsts = [string.first[:-1][steps] for string in strings]
    counts = [
        int(string.runs[at[0], COUNT]) if steps.size else 1
        for string, at in zip(strings, firsts, strict=True)
    ]
    plain = [
        StringCircuit((Run(place, count),), string.resistance, string.blocking_diode)
        for place, (string, count) in enumerate(zip(strings, counts, strict=True))
    ]
    layout = lay_out(tuple(range(len(strings))), plain, *reverse)
    lit = [string.runs[at, 0] for string, at in zip(strings, firsts, strict=True)]
    return Part(layout, steps, np.ascontiguousarray(lights[np.stack(lit, axis=1)]))


def _alike_steps(whole: IntArray, halved: IntArray) -> list[tuple[IntArray, bool]]:
    """Sort lit steps by their numbers of runs; each with whether all its strings are lit evenly.

    Parameters
    ----------
    whole, halved : ndarray of int
        Runs of whole and of halved groups (string, time).
    """
    lit = (whole + halved).any(axis=0)
    even = lit & (whole == 1).all(axis=0) & ~halved.any(axis=0)
    found = [(np.flatnonzero(even), True)] if even.any() else []
    sizes = [_SIZES[np.searchsorted(_SIZES, part.max(axis=0))] for part in (whole, halved)]
    key = sizes[0] * (_SIZES[-1] + 1) + sizes[1]
    left = np.flatnonzero(lit & ~even)
    kinds, kind = np.unique(key[left], return_inverse=True)
    return found + [(left[kind == place], False) for place in range(kinds.size)]


def run_maxima(
    lights: CellConditions,
    runs: IntArray,
    bypass: Bypass | None = None,
    breakdown: Breakdown | None = None,
) -> FloatArray:
    """Return the maximum power of a group of each run standing alone [W] (run,).

    Parameters
    ----------
    lights : CellConditions
        Diode parameters, each (light,); dark gives 0, missing stays missing.
    runs : ndarray of int
        Positions among lights, as of `SteppedString` (run, 3).
    bypass, breakdown : optional
        As for `operating_point_by_step`.
    """
    packed, reverse = packed_lights(lights), reverse_path(bypass, breakdown)
    found = np.zeros(runs.shape[0])
    halved = runs[:, PARTNER] >= 0
    for chosen, group in ((~halved, (0, -1, 1)), (halved, (0, 1, 1))):
        own = runs[chosen, : 2 if group[1] >= 0 else 1]
        if own.size:
            maxima = np.empty((own.shape[0], 1, 2))
            fill_group_maxima(np.ascontiguousarray(packed[own]), np.array([group]), reverse, maxima)
            found[chosen] = maxima[:, 0, POWER]
    return found
