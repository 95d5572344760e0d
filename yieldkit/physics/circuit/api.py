"""Strings and trackers as circuits, on arrays over time: what other rooms call.

A cell group is a single diode under a bypass diode; a string is a chain of runs of identical
groups with its cable; a tracker carries strings in parallel. Identical runs and strings are
merged before solving and everything is put into one order, so the result depends on what is
connected and not on how it was written down.
"""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import FloatArray, IntArray
from yieldkit.physics.circuit import operating_series
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
    Layout,
    Pattern,
    lay_out,
    pack,
    packed_without,
    patterns,
    reverse_path,
    used_only,
)
from yieldkit.physics.circuit.limits import BINDING, OperatingPoint, StartStop, TrackerLimits
from yieldkit.physics.circuit.power_bound import apply_power_bound
from yieldkit.physics.circuit.refusals import check_limits, check_strings, impossible
from yieldkit.physics.circuit.start_stop import apply_start_stop
from yieldkit.physics.circuit.tracker import open_voltages
from yieldkit.physics.circuit.tracker_circuit import Outputs

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
        _Part(
            lay_out(pattern.columns, strings, bypass, breakdown),
            pattern.steps,
            packed if pattern.steps is None else packed[pattern.steps],
        )
        for pattern in (patterns(packed) if limits.global_search else [apart])
    ]
    rules = limits.start_stop(interval_s)
    solved = [_solved(part, limits, rules) for part in parts]
    if limits.global_search and limits.starts_and_stops:
        _apply_start_stop(parts, solved, rules)
    for bound, name in ((limits.p_max, "input power"), (power_bound, "power bound")):
        if bound is None or np.all(np.isinf(bound)):
            continue
        level = np.broadcast_to(np.asarray(bound, dtype=float), packed.shape[:1])
        for part, outputs in zip(parts, solved, strict=True):
            own = level if part.steps is None else level[part.steps]
            v_max, circuit = limits.point_limits.v_max, part.layout.circuit
            apply_power_bound(own, BINDING[name], v_max, part.packed, circuit, outputs)
    point = _assembled(parts, solved)
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


class _Part(NamedTuple):
    """Steps that have one layout: the first part all of them, others theirs in its place."""

    layout: Layout
    steps: IntArray | None
    packed: FloatArray


def _solved(part: _Part, limits: TrackerLimits, rules: StartStop) -> Outputs:
    """Solve a part's steps inside window and input current."""
    layout, packed = part.layout, part.packed
    steps = packed.shape[0]
    outputs = Outputs(
        v_dc=np.zeros(steps),
        i_dc=np.zeros(steps),
        p_dc=np.zeros(steps),
        p_lost=np.zeros(steps),
        i_string=np.zeros((steps, layout.circuit.multiplicity.size)),
        binding=np.zeros(steps, dtype=np.int8),
        status=np.zeros(steps, dtype=np.int8),
    )
    tracker = operating_series.TrackerSteps(layout.kind, packed, layout.even, layout.circuit)
    if limits.global_search:
        operating_series.solve_steps(tracker, limits.point_limits, outputs)
    else:
        operating_series.climb_through_steps(tracker, limits.point_limits, rules, outputs)
    return outputs


def _apply_start_stop(parts: list[_Part], solved: list[Outputs], rules: StartStop) -> None:
    """Apply start and stop conditions over all steps, in their order."""
    every, *others = solved
    for part, outputs in zip(parts[1:], others, strict=True):
        _put_steps(outputs, every, part.steps)
        every.i_string[part.steps] = 1.0
    apply_start_stop(rules, _start_voltages(parts[0], every, rules), every)
    for part, outputs in zip(parts[1:], others, strict=True):
        for own, whole in zip(_points(outputs), _points(every), strict=True):
            own[:] = whole[part.steps]
        outputs.i_string[:] *= every.i_string[part.steps, :1]


def _start_voltages(part: _Part, outputs: Outputs, rules: StartStop) -> FloatArray:
    """Return the voltage that decides on a start [V] (time,).

    The open-circuit voltage is looked for only where a start depends on it: where all else would
    allow one, and the operating voltage, which lies below it, is not enough already.
    """
    highest, power = outputs.v_dc.copy(), outputs.p_dc
    depends = (highest < rules.v_start) & (highest >= rules.v_stop)
    depends &= (power > 0.0) & (power >= rules.p_start) & (power >= rules.p_stop)
    steps = np.flatnonzero(depends)
    if steps.size:
        status = np.zeros(steps.size, dtype=np.int8)
        highest[steps] = open_voltages(part.packed[steps], part.layout.circuit, status)
        outputs.status[steps] = np.maximum(outputs.status[steps], status)
    return highest


def _points(outputs: Outputs) -> tuple[FloatArray | IntArray, ...]:
    """Return the arrays of points, each (time,), that don't depend on the number of strings."""
    return (outputs.v_dc, outputs.i_dc, outputs.p_dc, outputs.p_lost, outputs.binding)


def _put_steps(outputs: Outputs, every: Outputs, steps: IntArray | None) -> None:
    """Put the points of some steps into those of all steps."""
    for own, whole in zip(_points(outputs), _points(every), strict=True):
        whole[steps] = own


def _assembled(parts: list[_Part], solved: list[Outputs]) -> OperatingPoint:
    """Return the parts' points as one series."""
    every, *others = solved
    i_string = every.i_string[:, parts[0].layout.original]
    for part, outputs in zip(parts[1:], others, strict=True):
        _put_steps(outputs, every, part.steps)
        every.status[part.steps] = outputs.status
        i_string[part.steps] = outputs.i_string[:, part.layout.original]
    return OperatingPoint(
        v_dc=every.v_dc,
        i_dc=every.i_dc,
        p_dc=every.p_dc,
        i_string=i_string,
        binding=every.binding,
        p_lost_to_limit=every.p_lost,
        status=every.status,
    )


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
