"""The direct-current side: every tracker of a wiring solved, and moved when it is held back."""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from yieldkit.base.arrays import BoolArray, FloatArray, IntArray
from yieldkit.config.models.inverters import Inverter
from yieldkit.config.site.site import Wiring
from yieldkit.physics.circuit.api import BINDING, TrackerLimits
from yieldkit.study.simulation.in_light import (
    StringsInLight,
    in_light,
    places_in_light,
    with_places,
)
from yieldkit.study.simulation.kept import fingerprint
from yieldkit.study.simulation.labels import string_label
from yieldkit.study.simulation.prepare import Prepared
from yieldkit.study.simulation.trackers import (
    Solutions,
    TrackerStates,
    solve_tracker,
    string_circuit,
    tracker_limits,
)

_Array = npt.NDArray[Any]


class Points(NamedTuple):
    """Operating points of all trackers; arrays (time, tracker), strings (time, string).

    Where the solver failed the point is `unsolved`, and its power is missing: never zero.
    """

    p_dc: FloatArray
    v_dc: FloatArray
    i_dc: FloatArray
    i_string: FloatArray
    binding: IntArray
    p_cable_loss: FloatArray
    unsolved: BoolArray


@dataclass(frozen=True)
class DirectSide:
    """A wiring's trackers, solved, and all that is needed to move them under a bound.

    Parameters
    ----------
    names : tuple of str
        Names of the trackers in use.
    string_names : tuple of str
        Names of the strings.
    string_tracker : ndarray of int
        Position of the tracker each string hangs on (string,).
    string_modules : ndarray of int
        Modules of each string (string,).
    states : tuple of TrackerStates
        The trackers' states for the loss budget.
    circuits : tuple
        Strings and limits of each tracker.
    tracked : ndarray
        Power each tracker finds [W] (time, tracker), before the maximum input power.
    free : Points
        Points with the maximum input powers met.
    interval_s : float
        Length of a step [s].
    content : hashable
        All that the points depend on, where the solutions say what planes are made of.
    """

    names: tuple[str, ...]
    string_names: tuple[str, ...]
    string_tracker: IntArray
    string_modules: IntArray
    states: tuple[TrackerStates, ...]
    circuits: tuple[tuple[StringsInLight, TrackerLimits], ...]
    tracked: FloatArray
    free: Points
    interval_s: float
    content: Hashable = None

    def under(self, bound: FloatArray, steps: IntArray) -> Points:
        """Return the points at some steps with each tracker held at or below a power.

        Parameters
        ----------
        bound : ndarray
            Largest power of each tracker [W] (steps, tracker).
        steps : ndarray of int
            Positions in time.

        Returns
        -------
        Points
            A tracker that finds no more than its bound stays where it is; the others move
            towards open circuit until they meet it.
        """
        return _under(self, self.free, bound, steps)


def direct_sides(
    prepared: Prepared, wiring: Wiring, solutions: Solutions
) -> tuple[DirectSide, ...]:
    """Solve the trackers of a wiring, inverter by inverter, up to the maximum input powers.

    Parameters
    ----------
    prepared : Prepared
        What all wirings share.
    wiring : Wiring
        The wiring.
    solutions : Solutions
        Circuits solved so far.
    """
    wiring = with_places(prepared, wiring)
    if not prepared.site.several_inverters:
        return (direct_side(prepared, wiring, solutions),)
    return tuple(
        direct_side(own, wiring.on(one.name), solutions)
        for own, one in zip(prepared.each_inverter(), prepared.site.each_inverter(), strict=True)
    )


def direct_side(prepared: Prepared, wiring: Wiring, solutions: Solutions) -> DirectSide:
    """Solve the trackers of one inverter up to the maximum input powers.

    Parameters
    ----------
    prepared : Prepared
        What all wirings share.
    wiring : Wiring
        The wiring.
    solutions : Solutions
        Circuits solved so far.
    """
    inverter = prepared.site.single_inverter
    mppts = {mppt.name: mppt for mppt in inverter.mppts}
    states = []
    circuits: list[tuple[StringsInLight, TrackerLimits]] = []
    made_of: list[Hashable] = []
    string_names: list[str] = []
    string_tracker: list[int] = []
    string_modules: list[int] = []
    for position, tracker in enumerate(wiring.trackers):
        mppt = mppts[tracker.mppt]
        states.append(solve_tracker(prepared, tracker, mppt, solutions))
        strings = tuple(string_circuit(prepared, string, mppt) for string in tracker.strings)
        circuits.append((in_light(prepared, tracker.strings, strings), tracker_limits(mppt)))
        made_of.append(
            solutions.made_of(strings, places_in_light(prepared, tracker.strings))
            if solutions.planes
            else None
        )
        for number, string in enumerate(tracker.strings, start=1):
            string_names.append(f"{tracker.mppt} / {number}: {string_label(string)}")
            string_tracker.append(position)
            string_modules.append(sum(group.modules for group in string.groups))
    names = tuple(tracker.mppt for tracker in wiring.trackers)
    tracked = _columns([state.tracked for state in states], prepared)
    side = DirectSide(
        names=names,
        string_names=tuple(string_names),
        string_tracker=np.array(string_tracker, dtype=np.int64),
        string_modules=np.array(string_modules, dtype=np.int64),
        states=tuple(states),
        circuits=tuple(circuits),
        tracked=tracked,
        free=_as_found(states, circuits, tracked) if states else _idle(prepared),
        interval_s=prepared.interval_s,
        content=(
            tuple(made_of),
            tuple(tracker.mppt for tracker in wiring.trackers),
            fingerprint(inverter),
        )
        if solutions.planes
        else None,
    )
    return _with_input_power(side, inverter)


def _columns(series: list[FloatArray], prepared: Prepared) -> FloatArray:
    """Return series side by side (time, tracker), also where there are none."""
    return np.stack(series, axis=1) if series else np.empty((prepared.present.size, 0))


def _idle(prepared: Prepared) -> Points:
    """Return the points of an inverter without strings: none."""
    nothing = np.empty((prepared.present.size, 0))
    whole, flag = nothing.astype(np.int8), nothing.astype(bool)
    return Points(nothing, nothing, nothing, nothing, whole, nothing, flag)


def _as_found(
    states: list[TrackerStates],
    circuits: list[tuple[StringsInLight, TrackerLimits]],
    tracked: FloatArray,
) -> Points:
    points = [state.point for state in states]
    return Points(
        p_dc=tracked,
        v_dc=np.stack([point.v_dc for point in points], axis=1),
        i_dc=np.stack([point.i_dc for point in points], axis=1),
        i_string=np.concatenate([point.i_string for point in points], axis=1),
        binding=np.stack([point.binding for point in points], axis=1),
        p_cable_loss=np.stack(
            [
                _cable_heat(strings, point.i_string)
                for (strings, _), point in zip(circuits, points, strict=True)
            ],
            axis=1,
        ),
        unsolved=np.stack([state.unsolved for state in states], axis=1),
    )


def _cable_heat(strings: StringsInLight, i_string: FloatArray) -> FloatArray:
    heat: FloatArray = (i_string**2) @ strings.resistances
    return heat


def input_power_bound(
    tracked: FloatArray, names: tuple[str, ...], inverter: Inverter
) -> FloatArray:
    """Return the largest power each input may draw [W] (time, tracker).

    Parameters
    ----------
    tracked : ndarray
        Power each tracker finds [W] (time, tracker).
    names : tuple of str
        The trackers' names.
    inverter : Inverter
        Its limits by input, by pair and in total; those who share a limit give up the same
        fraction of their own power.
    """
    limits = {mppt.name: mppt.max_power_w for mppt in inverter.mppts}
    own = np.array([np.inf if limits[name] is None else limits[name] for name in names])
    bound: FloatArray = np.minimum(tracked, own)
    shared = [(pair.mppts, pair.max_power_w) for pair in inverter.max_dc_power_pairs]
    if inverter.max_dc_power_w is not None:
        shared.append((names, inverter.max_dc_power_w))
    for members, limit in shared:
        columns = [index for index, name in enumerate(names) if name in members]
        total = bound[:, columns].sum(axis=1)
        over = total > limit
        bound[np.ix_(over, columns)] *= (limit / total[over])[:, None]
    return bound


def _with_input_power(side: DirectSide, inverter: Inverter) -> DirectSide:
    bound = input_power_bound(side.tracked, side.names, inverter)
    steps = np.flatnonzero((bound < side.tracked).any(axis=1))
    if steps.size == 0:
        return side
    moved = _under(side, side.free, bound[steps], steps)
    limited = bound[steps] < side.tracked[steps]
    moved = moved._replace(
        binding=np.where(limited, np.int8(BINDING["input power"]), moved.binding)
    )
    free = Points._make(
        _put(before, after, steps) for before, after in zip(side.free, moved, strict=True)
    )
    return DirectSide(**{**vars(side), "free": free})


def _put(before: _Array, after: _Array, steps: IntArray) -> _Array:
    """Return a copy of `before` with `after` at some steps."""
    copy = before.copy()
    copy[steps] = after
    return copy


def _under(side: DirectSide, start: Points, bound: FloatArray, steps: IntArray) -> Points:
    parts = Points._make(array[steps].copy() for array in start)
    first = 0
    for column, (strings, limits) in enumerate(side.circuits):
        own = slice(first, first + len(strings.strings))
        first += len(strings.strings)
        limited = np.flatnonzero(bound[:, column] < parts.p_dc[:, column])
        if limited.size == 0:
            continue
        point = strings.at(steps[limited]).point(
            already_running(limits),
            power_bound=bound[limited, column],
            interval_s=side.interval_s,
        )
        failed = point.status != 0
        parts.unsolved[limited, column] |= failed
        parts.p_dc[limited, column] = np.where(failed, np.nan, point.p_dc)
        parts.v_dc[limited, column] = point.v_dc
        parts.i_dc[limited, column] = point.i_dc
        parts.i_string[limited, own] = point.i_string
        parts.binding[limited, column] = point.binding
        parts.p_cable_loss[limited, column] = _cable_heat(strings, point.i_string)
    return parts


def already_running(limits: TrackerLimits) -> TrackerLimits:
    """Drop start and stop conditions: a tracker that is held back was running."""
    return limits._replace(
        v_start=0.0, p_start=0.0, start_delay_s=0.0, v_stop=0.0, p_stop=0.0, restart_delay_s=0.0
    )
