"""Parts of a series that share one layout: solved, started and stopped, bounded, put together."""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import FloatArray, IntArray
from yieldkit.physics.circuit import operating_series
from yieldkit.physics.circuit.layout import Layout
from yieldkit.physics.circuit.limits import BINDING, DARK, OperatingPoint, StartStop, TrackerLimits
from yieldkit.physics.circuit.power_bound import apply_power_bound
from yieldkit.physics.circuit.start_stop import apply_start_stop, new_state
from yieldkit.physics.circuit.tracker import open_voltages
from yieldkit.physics.circuit.tracker_circuit import Outputs, TrackerCircuit, workspace_for

Packing = Callable[[IntArray], tuple[FloatArray, TrackerCircuit]]
"""Gives the packed conditions of some steps, and the circuit whose columns they are."""


class Part(NamedTuple):
    """Steps that have one layout: the first part all of them, others theirs in its place."""

    layout: Layout
    steps: IntArray | None
    packed: FloatArray


def dark_outputs(steps: int, strings: int) -> Outputs:
    """Return room for points, all of them dark.

    Parameters
    ----------
    steps, strings : int
        How many.
    """
    return Outputs(
        v_dc=np.zeros(steps),
        i_dc=np.zeros(steps),
        p_dc=np.zeros(steps),
        p_lost=np.zeros(steps),
        i_string=np.zeros((steps, strings)),
        binding=np.full(steps, DARK, dtype=np.int8),
        status=np.zeros(steps, dtype=np.int8),
    )


def solved_part(part: Part, limits: TrackerLimits, rules: StartStop) -> Outputs:
    """Solve a part's steps inside window and input current.

    Parameters
    ----------
    part : Part
        The steps.
    limits : TrackerLimits
        What the input allows.
    rules : StartStop
        When it starts and stops, for a local search.
    """
    layout, packed = part.layout, part.packed
    outputs = dark_outputs(packed.shape[0], layout.circuit.multiplicity.size)
    tracker = operating_series.TrackerSteps(layout.kind, packed, layout.even, layout.circuit)
    if limits.global_search:
        operating_series.solve_steps(tracker, limits.point_limits, outputs)
    else:
        operating_series.climb_through_steps(tracker, limits.point_limits, rules, outputs)
    return outputs


def start_and_stop(
    parts: list[Part], solved: list[Outputs], rules: StartStop, packing: Packing
) -> None:
    """Apply start and stop conditions over all steps, in their order.

    Parameters
    ----------
    parts : list of Part
        The parts.
    solved : list of Outputs
        Their points; updated.
    rules : StartStop
        The conditions.
    packing : callable
        Gives the circuit of steps whose open-circuit voltage decides.
    """
    every, *others = solved
    for part, outputs in zip(parts[1:], others, strict=True):
        _put_steps(outputs, every, part.steps)
        every.i_string[part.steps] = 1.0
    highest = _start_voltages(packing, every, rules)
    apply_start_stop(rules, highest, new_state(), every)
    for part, outputs in zip(parts[1:], others, strict=True):
        for own, whole in zip(_points(outputs), _points(every), strict=True):
            own[:] = whole[part.steps]
        outputs.i_string[:] *= every.i_string[part.steps, :1]


def _start_voltages(packing: Packing, outputs: Outputs, rules: StartStop) -> FloatArray:
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
        highest[steps] = open_voltages(*packing(steps), status)
        outputs.status[steps] = np.maximum(outputs.status[steps], status)
    return highest


def _points(outputs: Outputs) -> tuple[FloatArray | IntArray, ...]:
    """Return the arrays of points, each (time,), that don't depend on the number of strings."""
    return (outputs.v_dc, outputs.i_dc, outputs.p_dc, outputs.p_lost, outputs.binding)


def _put_steps(outputs: Outputs, every: Outputs, steps: IntArray | None) -> None:
    """Put the points of some steps into those of all steps."""
    for own, whole in zip(_points(outputs), _points(every), strict=True):
        whole[steps] = own


def bound_power(
    bounds: tuple[FloatArray | float | None, FloatArray | None],
    v_max: float,
    parts: list[Part],
    solved: list[Outputs],
) -> None:
    """Hold points at or below the maximum input power, then at or below what is asked for.

    Parameters
    ----------
    bounds : tuple
        Maximum input power [W], and largest power [W] (time,) or None.
    v_max : float
        Maximum operating voltage [V].
    parts : list of Part
        The parts.
    solved : list of Outputs
        Their points; updated.
    """
    steps = solved[0].p_dc.shape
    for bound, name in zip(bounds, ("input power", "power bound"), strict=True):
        if bound is None or np.all(np.isinf(bound)):
            continue
        level = np.broadcast_to(np.asarray(bound, dtype=float), steps)
        for part, outputs in zip(parts, solved, strict=True):
            own = level if part.steps is None else level[part.steps]
            if not (outputs.p_dc > own).any():
                continue
            circuit, code = part.layout.circuit, BINDING[name]
            workspace = workspace_for(circuit)
            apply_power_bound(own, code, v_max, part.packed, circuit, workspace, outputs)


def assembled(parts: list[Part], solved: list[Outputs]) -> OperatingPoint:
    """Return the parts' points as one series.

    Parameters
    ----------
    parts : list of Part
        The parts.
    solved : list of Outputs
        Their points; the first one's are updated.
    """
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
