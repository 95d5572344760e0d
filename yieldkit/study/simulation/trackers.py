"""Wired strings turned into circuits, and each tracker solved state by state."""

from __future__ import annotations

from collections.abc import Hashable, MutableMapping
from dataclasses import dataclass, field
from threading import Lock
from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import BoolArray, FloatArray
from yieldkit.config.models.inverters import MpptInput
from yieldkit.config.site.site import TrackerStrings, WiredString
from yieldkit.design.equipment.cables import string_resistance
from yieldkit.physics.circuit import api as circuit
from yieldkit.physics.circuit.api import (
    CellConditions,
    OperatingPoint,
    Run,
    StringCircuit,
    TrackerLimits,
)
from yieldkit.study.simulation.in_light import Places, StringsInLight, in_light, places_in_light
from yieldkit.study.simulation.prepare import Prepared

_SUM_OF_MAXIMA = 1e-6
"""Share by which the sum of strings' maxima may lie below an input's power [1]: what solvers leave
open, and a hundred times more."""


class TrackerStates(NamedTuple):
    """Power of one tracker under more and more constraints, each (time,) [W].

    Every state is the best point under all constraints so far, so the difference of two is the
    loss of one cause. Steps at which the solver failed in any state are `unsolved`, and their
    power is missing: never zero.
    """

    groups: FloatArray
    strings: FloatArray
    parallel: FloatArray
    cable: FloatArray
    window: FloatArray
    current: FloatArray
    search: FloatArray
    tracked: FloatArray
    point: OperatingPoint
    unsolved: BoolArray


@dataclass
class Solutions:
    """Circuits that are solved already, so that candidates share the work.

    The store is filled while several wirings of one `Prepared` site are simulated. Sites may share
    it where each says what its planes are made of: else planes are told by their position, which
    means another plane in another site.

    Parameters
    ----------
    trackers, strings, groups : mapping
        What is solved.
    planes : tuple of hashable
        All that the light and the cells of each plane depend on; empty where positions tell.
    """

    trackers: MutableMapping[Hashable, TrackerStates] = field(default_factory=dict)
    strings: MutableMapping[Hashable, tuple[FloatArray, BoolArray]] = field(default_factory=dict)
    groups: MutableMapping[Hashable, FloatArray] = field(default_factory=dict)
    planes: tuple[Hashable, ...] = ()
    once: Lock = field(default_factory=Lock, repr=False)

    def made_of(self, strings: tuple[StringCircuit, ...], places: Hashable = None) -> Hashable:
        """Return all that strings depend on beside the limits of their input.

        The order of their planes is kept, for it is the order in which strings are merged.

        Parameters
        ----------
        strings : tuple of StringCircuit
            The strings.
        places : hashable, optional
            Which of the modules they have, where that matters.
        """
        if places is not None:
            return self._made_of(strings), places
        return self._made_of(strings)

    def _made_of(self, strings: tuple[StringCircuit, ...]) -> Hashable:
        if not self.planes:
            return strings
        used = sorted({run.condition for string in strings for run in string.runs})
        moved = tuple(
            string._replace(
                runs=tuple(run._replace(condition=used.index(run.condition)) for run in string.runs)
            )
            for string in strings
        )
        return moved, tuple(self.planes[condition] for condition in used)

    def plane(self, condition: int) -> Hashable:
        """Return what tells a plane: its content, or its position."""
        return self.planes[condition] if self.planes else condition


def string_circuit(prepared: Prepared, wired: WiredString, mppt: MpptInput) -> StringCircuit:
    """Return the circuit of a wired string on an input.

    Parameters
    ----------
    prepared : Prepared
        The site, for the planes' positions and cell groups.
    wired : WiredString
        The string as configured.
    mppt : MpptInput
        The input it hangs on.
    """
    runs = []
    for group in wired.groups:
        plane = prepared.plane_index(group.plane)
        runs.append(Run(plane, group.modules * prepared.groups_per_module[plane]))
    resistance = 0.0 if wired.cable is None else string_resistance(wired.cable)
    return StringCircuit(tuple(runs), resistance, mppt.blocking_diodes)


def tracker_limits(mppt: MpptInput) -> TrackerLimits:
    """Return the limits of an input as the circuit solver wants them.

    The maximum input power is not among them: it is a bound on what the input takes, met by
    moving towards open circuit, and handled with the AC side's bounds.
    """
    highest = mppt.max_operating_voltage_v or mppt.max_voltage_v
    return TrackerLimits(
        v_mpp_min=mppt.mpp_voltage_min_v,
        v_mpp_max=mppt.mpp_voltage_max_v,
        v_max=highest,
        v_start=mppt.start_voltage_v,
        p_start=mppt.start_power_w,
        start_delay_s=mppt.start_delay_s,
        v_stop=mppt.stop_voltage_v or 0.0,
        p_stop=mppt.stop_power_w,
        restart_delay_s=mppt.restart_delay_s,
        i_max=np.inf if mppt.max_input_current_a is None else mppt.max_input_current_a,
        p_max=np.inf,
        global_search=mppt.search == "global",
    )


def solve_tracker(
    prepared: Prepared, wired: TrackerStrings, mppt: MpptInput, solutions: Solutions
) -> TrackerStates:
    """Solve a tracker in every state that the loss budget names.

    Parameters
    ----------
    prepared : Prepared
        Conditions of the cell groups.
    wired : TrackerStrings
        The strings on the input.
    mppt : MpptInput
        The input's limits.
    solutions : Solutions
        Work shared between wirings; filled on the way.
    """
    strings = tuple(string_circuit(prepared, string, mppt) for string in wired.strings)
    limits = tracker_limits(mppt)
    places = places_in_light(prepared, wired.strings)
    key = tracker_content(strings, limits, mppt, solutions, places)
    if key not in solutions.trackers:
        light = in_light(prepared, wired.strings, strings)
        solutions.trackers[key] = _solve(prepared, light, places, limits, mppt, solutions)
    return solutions.trackers[key]


def tracker_content(
    strings: tuple[StringCircuit, ...],
    limits: TrackerLimits,
    mppt: MpptInput,
    solutions: Solutions,
    places: Places = None,
) -> Hashable:
    """Return all that a tracker's states depend on.

    Parameters
    ----------
    strings, limits, mppt
        The tracker.
    solutions : Solutions
        Knows what its planes are made of.
    places : hashable, optional
        Which of the modules its strings have, where that matters.
    """
    return solutions.made_of(strings, places), limits, mppt.tracking_efficiency


def _solve(
    prepared: Prepared,
    light: StringsInLight,
    places: Places,
    limits: TrackerLimits,
    mppt: MpptInput,
    solutions: Solutions,
) -> TrackerStates:
    strings, interval_s = light.strings, prepared.interval_s
    bare = light.bare()
    at_strings, unsolved = _string_sum(prepared, bare, places, solutions)
    parallel = at_strings
    if len(strings) > 1:
        found = bare.point(interval_s=interval_s)
        parallel, unsolved = found.p_dc, unsolved | (found.status != 0)
    searching = limits._replace(global_search=True)
    point = window = light.point(searching._replace(i_max=np.inf), interval_s=interval_s)
    cable = parallel
    if any(string.resistance > 0.0 for string in strings):
        # The search inside the window knows the free maximum, and says what it lacks of it.
        cable = window.p_dc + window.p_lost_to_limit
    if np.nanmax(window.i_dc, initial=0.0) > limits.i_max:
        point = light.point(searching, interval_s=interval_s)
    current = point.p_dc
    unsolved = unsolved | (window.status != 0) | (point.status != 0)
    # Maxima of strings of like groups carry no status: a sum below what the input gives is wrong.
    unsolved |= at_strings < (1.0 - _SUM_OF_MAXIMA) * point.p_dc
    if not limits.global_search:
        point = light.point(limits, interval_s=interval_s)
        unsolved = unsolved | (point.status != 0)
    point = point._replace(p_dc=np.where(unsolved, np.nan, point.p_dc))
    return TrackerStates(
        groups=light.group_sum() if light.stepped else _group_sum(prepared, strings, solutions),
        strings=at_strings,
        parallel=parallel,
        cable=cable,
        window=window.p_dc,
        current=current,
        search=point.p_dc,
        tracked=point.p_dc * mppt.tracking_efficiency,
        point=point,
        unsolved=unsolved,
    )


def _group_sum(
    prepared: Prepared, strings: tuple[StringCircuit, ...], solutions: Solutions
) -> FloatArray:
    """Sum of the stand-alone maxima of all cell groups on a tracker (time,) [W]."""
    total = np.zeros(prepared.conditions.photocurrent.shape[0])
    for string in strings:
        for run in string.runs:
            total = total + run.count * _group_maxima(prepared, run.condition, solutions)
    return total


def _group_maxima(prepared: Prepared, plane: int, solutions: Solutions) -> FloatArray:
    """Return the stand-alone maximum of a cell group of a plane (time,) [W]."""
    content = solutions.plane(plane)
    with solutions.once:  # other trackers wait instead of doing it too
        if content not in solutions.groups:
            own = CellConditions(*(part[:, plane : plane + 1] for part in prepared.conditions))
            solutions.groups[content] = circuit.group_maxima(own)[:, 0]
        return solutions.groups[content]


def _string_sum(
    prepared: Prepared, bare: StringsInLight, places: Places, solutions: Solutions
) -> tuple[FloatArray, BoolArray]:
    """Sum of the strings' own maxima without cables [W], and which failed, each (time,)."""
    total = np.zeros(prepared.conditions.photocurrent.shape[0])
    unsolved = np.zeros(total.shape, dtype=bool)
    for place, string in enumerate(bare.strings):
        if len(string.runs) == 1 and not bare.stepped:
            # All its groups are alike: the string's maximum is theirs.
            total = total + _group_sum(prepared, (string,), solutions)
            continue
        own = None if places is None else places[place]
        content = solutions.made_of((string,), own)
        if content not in solutions.strings:
            maximum = bare.alone(place).point()
            solutions.strings[content] = maximum.p_dc, maximum.status != 0
        power, failed = solutions.strings[content]
        total, unsolved = total + power, unsolved | failed
    return total, unsolved
