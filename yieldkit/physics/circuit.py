"""Strings and trackers as circuits, on arrays over time: the public door of the engine.

A cell group is a single diode under a bypass diode; a string is a chain of runs of identical
groups with its cable; a tracker carries strings in parallel. Identical runs and strings are
merged before solving and everything is put into one order, so the result depends on what is
connected and not on how it was written down.
"""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor

import numpy as np

from yieldkit.physics import operating
from yieldkit.physics.circuit_curves import (
    currents_at_open_circuit,
    string_current,
    string_voltage,
    tracker_current,
    tracker_maxima,
)
from yieldkit.physics.circuit_layout import (
    canonical_columns,
    check_limits,
    lay_out,
    pack,
)
from yieldkit.physics.circuit_net import Outputs
from yieldkit.physics.circuit_types import (
    BINDING,
    Breakdown,
    Bypass,
    CellConditions,
    OperatingPoint,
    Run,
    StringCircuit,
    TrackerLimits,
    default_bypass,
)
from yieldkit.physics.dissipation import dissipation
from yieldkit.physics.operating_step import MIXED

__all__ = [
    "BINDING",
    "Breakdown",
    "Bypass",
    "CellConditions",
    "OperatingPoint",
    "Run",
    "StringCircuit",
    "TrackerLimits",
    "canonical_columns",
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
    power_bound: np.ndarray | None = None,
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
        step missing and no other.
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
        Threads that share the steps of a global search.

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
    layout = lay_out(conditions, strings, bypass, breakdown)
    packed = pack(conditions)
    steps = packed.shape[0]
    peaks = np.empty((steps, packed.shape[1] if layout.kind == MIXED else 0, 2))
    window = np.array([limits.v_mpp_min, limits.v_mpp_max, limits.v_max, limits.i_max])
    rules = np.array([*limits[3:9], interval_s], dtype=float)
    outputs = Outputs(
        free=np.zeros((steps, 3)),
        points=np.zeros((steps, operating.POINT_COLUMNS)),
        strings=np.zeros((steps, layout.net.many.size)),
        codes=np.zeros(steps, dtype=np.int8),
        statuses=np.zeros(steps, dtype=np.int8),
    )
    solvable = (layout.kind, packed, peaks, layout.even, layout.net, window)
    if limits.global_search:
        stateful = bool(np.any(rules[:-1] > 0.0))
        _in_blocks(
            steps,
            workers,
            lambda begin, end: operating.solve_block(begin, end, *solvable, stateful, outputs),
        )
        if stateful:
            operating.hold_states(rules, outputs)
    else:
        operating.climb(*solvable, rules, outputs)
    for bound, word in ((limits.p_max, "input power"), (power_bound, "power bound")):
        if bound is None or np.all(np.isinf(bound)):
            continue
        level = np.broadcast_to(np.asarray(bound, dtype=float), (steps,))
        operating.hold_bound(packed, level, BINDING[word], layout.net, window, outputs)
    points = outputs.points
    return OperatingPoint(
        v_dc=points[:, operating.VOLTS].copy(),
        i_dc=points[:, operating.AMPS].copy(),
        p_dc=points[:, operating.WATTS].copy(),
        i_string=outputs.strings[:, layout.original],
        binding=outputs.codes,
        p_lost_to_limit=points[:, operating.LOST].copy(),
        status=outputs.statuses,
    )


def _in_blocks(steps: int, workers: int, solve: object) -> None:
    """Run a solver over blocks of steps, in threads when there are several workers."""
    if workers <= 1 or steps < 2 * workers:
        solve(0, steps)
        return
    blocks = 8 * workers
    edges = np.linspace(0, steps, blocks + 1).astype(int)
    with ThreadPoolExecutor(workers) as pool:
        list(pool.map(solve, edges[:-1], edges[1:]))


def group_maxima(
    conditions: CellConditions,
    bypass: Bypass | None = None,
    breakdown: Breakdown | None = None,
) -> np.ndarray:
    """Return the maximum power of each cell group standing alone [W] (time, condition).

    Parameters
    ----------
    conditions : CellConditions
        Diode parameters (time, condition); dark gives 0, missing stays missing.
    bypass, breakdown : optional
        As for `operating_point`.
    """
    only = lay_out(conditions, (StringCircuit((Run(0, 1),)),), bypass, breakdown)
    packed = pack(conditions)
    peaks = np.empty((*packed.shape[:2], 2))
    operating.fill_peaks(0, packed.shape[0], packed, only.net.diodes, peaks)
    return peaks[..., 0]


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
