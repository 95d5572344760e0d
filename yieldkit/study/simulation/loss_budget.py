"""The loss budget: a chain of energies whose steps add up exactly."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import FloatArray, IntArray
from yieldkit.base.errors import refuse
from yieldkit.config.site.site import Wiring
from yieldkit.study.simulation.budget_steps import (
    AC_STEPS,
    CIRCUIT_STEPS,
    OBSTACLE_STEPS,
    SNOW_STEPS,
    STAGES,
)
from yieldkit.study.simulation.in_light import module_numbers, shaded_at, with_places
from yieldkit.study.simulation.prepare import Prepared
from yieldkit.study.simulation.trackers import TrackerStates


class AcChain(NamedTuple):
    """Power on the AC side under more and more constraints, each (time,) [W]."""

    dc: FloatArray
    converted: FloatArray
    limited: FloatArray
    derated: FloatArray
    with_reactive: FloatArray
    exportable: FloatArray
    after_auxiliary: FloatArray
    after_lead: FloatArray
    after_common_lead: FloatArray
    delivered: FloatArray
    available: FloatArray
    of_minutes: FloatArray
    fluctuating: FloatArray


class LossBudget(NamedTuple):
    """Energy at the start, and what each step takes of it.

    Parameters
    ----------
    nameplate_kwh : float
        STC power of all modules on the site times in-plane irradiation [kWh].
    steps : dict of str to float
        Loss of each step [kWh], in the order of `STEPS`; negative for a gain.
    delivered_kwh : float
        Energy delivered, summed from the power series and not from the steps [kWh].
    """

    nameplate_kwh: float
    steps: dict[str, float]
    delivered_kwh: float

    @property
    def closure(self) -> float:
        """Relative gap between the steps' end and the delivered energy."""
        end = self.nameplate_kwh - sum(self.steps.values())
        return abs(end - self.delivered_kwh) / max(self.nameplate_kwh, 1e-12)


def modules_wired(prepared: Prepared, wiring: Wiring) -> IntArray:
    """Count the wired modules of each plane (plane,)."""
    counts = np.zeros(len(prepared.site.planes), dtype=np.int64)
    for tracker in wiring.trackers:
        for string in tracker.strings:
            for group in string.groups:
                counts[prepared.plane_index(group.plane)] += group.modules
    return counts


def loss_budget(
    prepared: Prepared,
    wiring: Wiring,
    trackers: tuple[TrackerStates, ...],
    alternating: AcChain,
) -> LossBudget:
    """Book every loss of a simulated wiring.

    Parameters
    ----------
    prepared : Prepared
        Wiring-free part of the chain.
    wiring : Wiring
        The wiring that was simulated.
    trackers : tuple of TrackerStates
        States of its trackers.
    alternating : AcChain
        States of its AC side.

    Returns
    -------
    LossBudget
        Of the steps that have weather; exactly zero when their cause is absent. A value that is
        missing where there is weather makes the steps it touches missing.
    """
    wired = modules_wired(prepared, wiring)
    drawn = np.array([plane.modules for plane in prepared.site.planes])
    stages = prepared.module_stages
    nameplate = float(stages[0] @ drawn)
    steps = {"modules not wired": float(stages[0] @ (drawn - wired))}
    for index, name in enumerate(STAGES[1:], start=1):
        steps[name] = float((stages[index - 1] - stages[index]) @ wired)
    steps |= _module_steps(prepared, wiring, wired)
    for name, before, after in _circuit_differences(trackers, alternating.dc):
        steps[name] = prepared.total(before - after)
    for name, before, after in zip(AC_STEPS, alternating[:-1], alternating[1:], strict=True):
        steps[name] = prepared.total(before - after)
    delivered = prepared.total(alternating.fluctuating)
    _refuse_not_finite(delivered, wiring.name)
    return LossBudget(nameplate, steps, delivered)


def _module_steps(prepared: Prepared, wiring: Wiring, wired: IntArray) -> dict[str, float]:
    """Return what obstacles and snow take of the wired modules' energy before their circuit [kWh].

    First each module at the mean of its cells' light, then its groups at their darkest cells', then
    with the snow on them.
    """
    unshaded = float(prepared.module_stages[-1] @ wired)
    snowed = float(prepared.module_snowed @ wired)
    at_mean = at_darkest = unshaded
    if prepared.shaded:
        at_mean, at_darkest, snowed = _one_by_one(prepared, wiring)
    losses = (unshaded - at_mean, at_mean - at_darkest, at_darkest - snowed)
    return dict(zip((*OBSTACLE_STEPS, *SNOW_STEPS), losses, strict=True))


def _one_by_one(prepared: Prepared, wiring: Wiring) -> tuple[float, float, float]:
    """Return the energy of modules at their mean light, their darkest cells', and in snow [kWh]."""
    at_mean = at_darkest = snowed = 0.0
    share = prepared.step_hours / 1000.0
    for tracker in with_places(prepared, wiring).trackers:
        for string in tracker.strings:
            for group in string.groups:
                plane = prepared.plane_index(group.plane)
                shaded = shaded_at(prepared, plane)
                if shaded is None:
                    whole = float(prepared.module_stages[-1, plane]) * group.modules
                    at_mean, at_darkest = at_mean + whole, at_darkest + whole
                    snowed += float(prepared.module_snowed[plane]) * group.modules
                    continue
                own = list(module_numbers(prepared, group))
                at_mean += float(shaded.at_mean[own].sum()) * share
                at_darkest += float(shaded.at_darkest[own].sum()) * share
                snowed += float(shaded.at_snow[own].sum()) * share
    return at_mean, at_darkest, snowed


def _refuse_not_finite(delivered: float, wiring: str) -> None:
    """Refuse an energy that is no number: whatever is concluded from it would be wrong."""
    if np.isfinite(delivered):
        return
    refuse(
        f"wiring '{wiring}'",
        f"{delivered:g} kWh delivered",
        "a finite energy",
        cause="A value in the weather or in the site that is no number, or far too large?",
        remedy="Look for nan, inf and very large numbers in the weather.",
    )


def _circuit_differences(
    trackers: tuple[TrackerStates, ...], dc: FloatArray
) -> list[tuple[str, FloatArray, FloatArray]]:
    """Pair the power before and after each circuit step, summed over the trackers."""
    chain = [
        np.sum([states[index] for states in trackers], axis=0)
        for index in range(len(CIRCUIT_STEPS))
    ]
    chain.append(dc)
    return [
        (name, before, after)
        for name, before, after in zip(CIRCUIT_STEPS, chain[:-1], chain[1:], strict=True)
    ]
