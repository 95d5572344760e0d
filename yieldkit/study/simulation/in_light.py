"""The strings of an input in their light: one for each plane, or module by module where shaded."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from yieldkit.base.arrays import FloatArray, IntArray
from yieldkit.config.site.site import Group, WiredString, Wiring
from yieldkit.design.roof.layout import placed_wiring
from yieldkit.physics.circuit import api as circuit
from yieldkit.physics.circuit.api import (
    CellConditions,
    OperatingPoint,
    Run,
    StringCircuit,
    TrackerLimits,
)
from yieldkit.physics.circuit.by_step import operating_point_by_step
from yieldkit.physics.circuit.stepped_strings import (
    Levelled,
    SteppedString,
    counted_runs,
    joined_runs,
)
from yieldkit.study.simulation.prepare import Prepared
from yieldkit.study.simulation.shaded_planes import ShadedPlane

_UNLIMITED = TrackerLimits()

Places = tuple[tuple[tuple[int, ...] | None, ...], ...] | None
"""Modules of each group of each string, where something shades their plane; None where nothing
shades any of them."""


@dataclass(frozen=True)
class StringsInLight:
    """Strings in parallel, ready to be solved.

    Parameters
    ----------
    strings : tuple of StringCircuit
        The strings as they are without shadow.
    conditions : CellConditions
        Diode parameters of the planes' cell groups, each (time, plane).
    stepped : tuple of SteppedString
        The strings in the levels of their modules' light; empty where nothing is shaded.
    lights : CellConditions
        Diode parameters of those levels, each (light,).
    maxima : ndarray
        Maximum of a group of each level standing alone [W] (light,).
    """

    strings: tuple[StringCircuit, ...]
    conditions: CellConditions
    stepped: tuple[SteppedString, ...] = ()
    lights: CellConditions | None = None
    maxima: FloatArray | None = None

    @property
    def resistances(self) -> FloatArray:
        """Resistance of each string's cable [ohm] (string,)."""
        return np.array([string.resistance for string in self.strings])

    def bare(self) -> StringsInLight:
        """Return the strings without their cables."""
        return StringsInLight(
            tuple(string._replace(resistance=0.0) for string in self.strings),
            self.conditions,
            tuple(string._replace(resistance=0.0) for string in self.stepped),
            self.lights,
            self.maxima,
        )

    def alone(self, place: int) -> StringsInLight:
        """Return one of the strings alone."""
        own = slice(place, place + 1)
        return StringsInLight(
            self.strings[own], self.conditions, self.stepped[own], self.lights, self.maxima
        )

    def at(self, steps: IntArray) -> StringsInLight:
        """Return the strings at some steps only."""
        return StringsInLight(
            self.strings,
            CellConditions(*(part[steps] for part in self.conditions)),
            tuple(string.at(steps) for string in self.stepped),
            self.lights,
            self.maxima,
        )

    def moment(self, step: int) -> tuple[CellConditions, tuple[StringCircuit, ...]]:
        """Return the light of one step, each (1, condition), and the strings in it."""
        if self.lights is None:
            here = CellConditions(*(part[step : step + 1] for part in self.conditions))
            return here, self.strings
        used = [each.runs[each.first[step] : each.first[step + 1]] for each in self.stepped]
        numbers = np.unique(np.concatenate([own[:, :2].reshape(-1) for own in used]))
        numbers = numbers[numbers >= 0]
        if numbers.size == 0:
            here = CellConditions(*(part[step : step + 1] for part in self.conditions))
            return here, self.strings
        at = {int(number): column for column, number in enumerate(numbers)}
        strings = tuple(
            string._replace(
                runs=tuple(
                    Run(at[int(light)], int(count), at.get(int(partner)))
                    for light, partner, count in own
                )
            )
            for string, own in zip(self.strings, used, strict=True)
        )
        return CellConditions(*(part[None, numbers] for part in self.lights)), strings

    def point(
        self,
        limits: TrackerLimits = _UNLIMITED,
        *,
        power_bound: FloatArray | None = None,
        interval_s: float = 3600.0,
    ) -> OperatingPoint:
        """Return the operating point of all strings together.

        Parameters
        ----------
        limits, power_bound, interval_s
            As for `operating_point`.
        """
        if self.lights is not None:
            return operating_point_by_step(
                self.lights,
                self.stepped,
                limits,
                power_bound=power_bound,
                interval_s=interval_s,
            )
        return circuit.operating_point(
            self.conditions,
            self.strings,
            limits,
            power_bound=power_bound,
            interval_s=interval_s,
        )

    def group_sum(self) -> FloatArray:
        """Return the sum of the own maxima of all cell groups of shaded strings [W] (time,)."""
        total = np.zeros(self.conditions.photocurrent.shape[0])
        if self.maxima is None:
            raise TypeError("strings without shadow have no levels")
        for string in self.stepped:
            steps = np.repeat(np.arange(total.size), np.diff(string.first))
            power = string.runs[:, 2] * self.maxima[string.runs[:, 0]]
            total += np.bincount(steps, power, total.size)
        return total


def in_light(
    prepared: Prepared, wired: Sequence[WiredString], strings: tuple[StringCircuit, ...]
) -> StringsInLight:
    """Return the strings of an input in their light.

    Parameters
    ----------
    prepared : Prepared
        The site and its planes' light.
    wired : sequence of WiredString
        The strings; with places on planes that something shades.
    strings : tuple of StringCircuit
        The same as circuits.
    """
    if places_in_light(prepared, wired) is None:
        return StringsInLight(strings, prepared.conditions)
    used = {prepared.plane_index(group.plane) for each in wired for group in each.groups}
    begins, lights, maxima = _lights(prepared, sorted(used))
    stepped = []
    for own, string in zip(wired, strings, strict=True):
        parts = [_runs(prepared, group, begins) for group in own.groups]
        runs = joined_runs(parts)
        first = np.concatenate([[0], np.cumsum(runs.number)])
        stepped.append(SteppedString(first, runs.runs, string.resistance, string.blocking_diode))
    return StringsInLight(strings, prepared.conditions, tuple(stepped), lights, maxima)


def places_in_light(prepared: Prepared, wired: Sequence[WiredString]) -> Places:
    """Return which modules strings have, where that matters for their light.

    Parameters
    ----------
    prepared : Prepared
        The site and its planes' light.
    wired : sequence of WiredString
        The strings.
    """
    if not prepared.shaded:
        return None
    places = tuple(
        tuple(
            None
            if shaded_at(prepared, prepared.plane_index(group.plane)) is None
            else module_numbers(prepared, group)
            for group in string.groups
        )
        for string in wired
    )
    return places if any(own is not None for string in places for own in string) else None


def with_places(prepared: Prepared, wiring: Wiring) -> Wiring:
    """Return a wiring whose modules on shaded planes all have their places.

    Parameters
    ----------
    prepared : Prepared
        The site and its planes' light.
    wiring : Wiring
        The wiring of the whole site.
    """
    if not prepared.shaded:
        return wiring
    planes = zip(prepared.site.planes, prepared.shaded, strict=True)
    return placed_wiring(
        prepared.site, wiring, {plane.name for plane, own in planes if own is not None}
    )


def shaded_at(prepared: Prepared, plane: int) -> ShadedPlane | None:
    """Return the modules of a plane by its position one by one, None where nothing shades them."""
    return prepared.shaded[plane] if prepared.shaded else None


def module_numbers(prepared: Prepared, group: Group) -> tuple[int, ...]:
    """Return which of a shaded plane's modules are in a group of a string that has its places."""
    plane = prepared.site.planes[prepared.plane_index(group.plane)]
    number = {place: at for at, place in enumerate(plane.places)}
    return tuple(number[place] for place in group.places)


def _lights(
    prepared: Prepared, used: Sequence[int]
) -> tuple[dict[int, int], CellConditions, FloatArray]:
    """Return where each plane's lights begin, and all lights with their groups' maxima."""
    begins, parts, maxima, end = {}, [], [], 0
    for plane in used:
        shaded = shaded_at(prepared, plane)
        if shaded is None:
            own = CellConditions(*(part[:, plane] for part in prepared.conditions))
            one = CellConditions(*(part[:, plane : plane + 1] for part in prepared.conditions))
            most = circuit.group_maxima(one)[:, 0]
        else:
            own = shaded.lights
            most = np.zeros(own.photocurrent.size)
            most[: shaded.maxima.size] = shaded.maxima
        begins[plane] = end
        end += own.photocurrent.size
        parts.append(own)
        maxima.append(most)
    lights = CellConditions(*(np.concatenate(each) for each in zip(*parts, strict=True)))
    return begins, lights, np.concatenate(maxima)


def _runs(prepared: Prepared, group: Group, begins: dict[int, int]) -> Levelled:
    """Return the runs of a string's modules on one plane, for all steps."""
    plane = prepared.plane_index(group.plane)
    shaded = shaded_at(prepared, plane)
    size = prepared.conditions.photocurrent.shape[0]
    if shaded is None:
        steps = np.flatnonzero(prepared.conditions.photocurrent[:, plane] != 0.0)
        count = group.modules * prepared.groups_per_module[plane]
        runs = np.column_stack(
            [begins[plane] + steps, np.full(steps.size, -1), np.full(steps.size, count)]
        )
        number = np.zeros(size, dtype=np.int64)
        number[steps] = 1
        return Levelled(number, runs)
    groups = shaded.of_modules(np.array(module_numbers(prepared, group)))
    found = counted_runs(shaded.levels, groups, shaded.partners, begins[plane])
    number = np.zeros(size, dtype=np.int64)
    number[shaded.steps] = found.number
    return Levelled(number, found.runs)
