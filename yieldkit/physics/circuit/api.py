"""Strings and trackers as circuits, on arrays over time: what other rooms call.

A cell group is a single diode under a bypass diode; a string is a chain of runs of identical
groups with its cable; a tracker carries strings in parallel. Identical runs and strings are
merged before solving and everything is put into one order, so the result depends on what is
connected and not on how it was written down.
"""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor

import numpy as np

from yieldkit.base.arrays import FloatArray
from yieldkit.physics.circuit.components import (
    Breakdown,
    Bypass,
    CellConditions,
    Run,
    StringCircuit,
    default_bypass,
)
from yieldkit.physics.circuit.curves import (
    currents_at_open_circuit,
    string_current,
    string_voltage,
    tracker_current,
    tracker_maxima,
)
from yieldkit.physics.circuit.dissipation import dissipation
from yieldkit.physics.circuit.group_maxima import fill_group_maxima
from yieldkit.physics.circuit.intervals import POWER
from yieldkit.physics.circuit.layout import (
    Pattern,
    lay_out,
    pack,
    packed_without,
    patterns,
    reverse_path,
    used_only,
)
from yieldkit.physics.circuit.limits import BINDING, OperatingPoint, TrackerLimits
from yieldkit.physics.circuit.parts import (
    Part,
    assembled,
    bound_power,
    solved_part,
    start_and_stop,
)
from yieldkit.physics.circuit.refusals import check_limits, check_strings, impossible

__all__ = [
    "BINDING",
    "Breakdown",
    "Bypass",
    "CellConditions",
    "OperatingPoint",
    "Run",
    "StringCircuit",
    "TrackerLimits",
    "currents_at_open_circuit",
    "default_bypass",
    "dissipation",
    "group_maxima",
    "operating_point",
    "string_current",
    "string_maximum",
    "string_voltage",
    "tracker_current",
    "tracker_maxima",
]

_UNLIMITED = TrackerLimits()


def operating_point(
    conditions: CellConditions,
    strings: Sequence[StringCircuit],
    limits: TrackerLimits = _UNLIMITED,
    *,
    power_bound: FloatArray | None = None,
    interval_s: float = 3600.0,
    bypass: Bypass | None = None,
    breakdown: Breakdown | None = None,
    workers: int = 1,
) -> OperatingPoint:
    """Return a tracker's best point inside its limits at every step.

    Parameters
    ----------
    conditions : CellConditions
        Diode parameters of the cell groups (time, condition); a missing value makes its own
        step missing and no other, and so does one that no diode has (a negative or infinite
        series resistance, a shunt resistance of zero or less), with status 1.
    strings : sequence of StringCircuit
        The strings in parallel.
    limits : TrackerLimits
        What the input allows; unlimited if left out.
    power_bound : ndarray, optional
        Largest power the inverter takes [W] (time,). The point then moves towards open circuit;
        the upper end of the window gives way to the maximum voltage.
    interval_s : float
        Length of a step [s], for the delays.
    bypass : Bypass, optional
        Bypass diode across each group; `default_bypass` if left out.
    breakdown : Breakdown, optional
        Reverse breakdown of the cell groups; none if left out.
    workers : int
        Threads that share the steps where none depends on the one before: a global search
        without start or stop conditions.

    Returns
    -------
    OperatingPoint
        Global search: the best point that window and currents allow, at each step by itself.
        Local search: the maximum reached by climbing from the last point.

    Raises
    ------
    InputError
        For an empty string, a run without groups, a window upside down, a negative resistance,
        or a condition that doesn't exist.
    """
    check_limits(limits)
    steps, columns = np.asarray(conditions.photocurrent).shape
    check_strings(strings, columns)
    conditions, strings = used_only(conditions, strings)
    stateless = limits.global_search and not limits.starts_and_stops
    if workers > 1 and stateless and steps >= 64 * workers:
        return _in_parts(
            conditions, strings, limits, power_bound, interval_s, bypass, breakdown, workers
        )
    wrong = impossible(conditions)
    packed = packed_without(conditions, wrong)
    apart = Pattern(tuple(range(packed.shape[1])), None)
    # A local search goes from step to step, so that all of them need one layout.
    parts = [
        Part(
            lay_out(pattern.columns, strings, bypass, breakdown),
            pattern.steps,
            packed if pattern.steps is None else packed[pattern.steps],
        )
        for pattern in (patterns(packed) if limits.global_search else [apart])
    ]
    rules = limits.start_stop(interval_s)
    solved = [solved_part(part, limits, rules) for part in parts]
    if limits.global_search and limits.starts_and_stops:
        start_and_stop(parts, solved, rules, lambda at: (packed[at], parts[0].layout.circuit))
    bound_power((limits.p_max, power_bound), limits.point_limits.v_max, parts, solved)
    point = assembled(parts, solved)
    if wrong is not None:
        point.status[wrong.any(axis=1)] = 1
    return point


def _in_parts(
    conditions: CellConditions,
    strings: Sequence[StringCircuit],
    limits: TrackerLimits,
    power_bound: FloatArray | None,
    interval_s: float,
    bypass: Bypass | None,
    breakdown: Breakdown | None,
    workers: int,
) -> OperatingPoint:
    """Solve steps that don't depend on one another in parts, each packed by its own thread."""
    steps = conditions.photocurrent.shape[0]
    edges = np.linspace(0, steps, 4 * workers + 1).astype(int)
    bound = None if power_bound is None else np.broadcast_to(power_bound, (steps,))

    def solve(begin: int, end: int) -> OperatingPoint:
        return operating_point(
            CellConditions(*(part[begin:end] for part in conditions)),
            strings,
            limits,
            power_bound=None if bound is None else bound[begin:end],
            interval_s=interval_s,
            bypass=bypass,
            breakdown=breakdown,
        )

    with ThreadPoolExecutor(workers) as pool:
        points = list(pool.map(solve, edges[:-1], edges[1:]))
    return OperatingPoint(*(np.concatenate(parts) for parts in zip(*points, strict=True)))


def group_maxima(
    conditions: CellConditions,
    bypass: Bypass | None = None,
    breakdown: Breakdown | None = None,
) -> FloatArray:
    """Return the maximum power of each cell group standing alone [W] (time, condition).

    Parameters
    ----------
    conditions : CellConditions
        Diode parameters (time, condition); dark gives 0, missing stays missing.
    bypass, breakdown : optional
        As for `operating_point`.
    """
    packed = pack(conditions)
    maxima = np.empty((*packed.shape[:2], 2))
    runs = np.array([(column, -1, 1) for column in range(packed.shape[1])])
    fill_group_maxima(packed, runs, reverse_path(bypass, breakdown), maxima)
    return maxima[..., POWER]


def string_maximum(
    conditions: CellConditions,
    string: StringCircuit,
    bypass: Bypass | None = None,
    breakdown: Breakdown | None = None,
) -> OperatingPoint:
    """Return a string's own maximum at its ends, without its cable.

    Parameters
    ----------
    conditions : CellConditions
        Diode parameters of the cell groups (time, condition).
    string : StringCircuit
        The string; its cable is left out.
    bypass, breakdown : optional
        As for `operating_point`.
    """
    bare = string._replace(resistance=0.0)
    return operating_point(conditions, (bare,), bypass=bypass, breakdown=breakdown)
