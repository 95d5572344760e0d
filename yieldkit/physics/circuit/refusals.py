"""What can't be a circuit: strings and limits that are refused, diodes that no module has."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from yieldkit.base.arrays import BoolArray
from yieldkit.base.errors import InputError, Problem
from yieldkit.physics.circuit.components import CellConditions, StringCircuit
from yieldkit.physics.circuit.limits import TrackerLimits


def impossible(conditions: CellConditions) -> BoolArray | None:
    """Return where a condition has a value that no diode has, None where that is nowhere.

    Such are a negative or infinite series resistance, a shunt resistance or saturation current
    of zero or less, and endless light. An infinite shunt resistance is none at all, and sound.

    Parameters
    ----------
    conditions : CellConditions
        Diode parameters [A, A, ohm, ohm, V] (time, condition).

    Returns
    -------
    ndarray of bool, optional
        (time, condition); a missing value is not an impossible one.
    """
    light, saturation, series, shunt, n_vth = (np.asarray(part, dtype=float) for part in conditions)
    positive = (saturation, shunt, n_vth)
    bounded = (light, saturation, series, n_vth)
    sound = np.min(series, initial=0.0) >= 0.0
    sound = sound and all(np.min(part, initial=np.inf) > 0.0 for part in positive)
    if sound and all(np.max(part, initial=0.0) < np.inf for part in bounded):
        return None
    wrong = series < 0.0
    for part in positive:
        wrong = wrong | (part <= 0.0)
    for part in bounded:
        wrong = wrong | (part == np.inf)
    return wrong if wrong.any() else None


def check_strings(strings: Sequence[StringCircuit], conditions: int) -> None:
    """Refuse strings that can't be circuits.

    Parameters
    ----------
    strings : sequence of StringCircuit
        The strings.
    conditions : int
        How many conditions there are.

    Raises
    ------
    InputError
        Naming every string and run at fault.
    """
    problems = []
    if not strings:
        problems.append(Problem("tracker", "no string", "at least one string"))
    for number, string in enumerate(strings, start=1):
        where = f"string {number}"
        if not string.runs:
            problems.append(Problem(where, "no cell groups", "at least one run of cell groups"))
        if not 0.0 <= string.resistance < np.inf:
            problems.append(
                Problem(where, f"a cable of {string.resistance} ohm", "zero or more ohm")
            )
        for place, run in enumerate(string.runs, start=1):
            spot = f"{where}, run {place}"
            if run.count < 1:
                problems.append(Problem(spot, f"{run.count} cell groups", "one or more"))
            for column in (run.condition, 0 if run.partner is None else run.partner):
                if not 0 <= column < conditions:
                    problems.append(
                        Problem(spot, f"condition {column}", f"one of 0 to {conditions - 1}")
                    )
    if problems:
        raise InputError(problems)


def check_limits(limits: TrackerLimits) -> None:
    """Refuse limits that contradict one another.

    Parameters
    ----------
    limits : TrackerLimits
        The limits.

    Raises
    ------
    InputError
        Naming each of them.
    """
    problems = []
    if not limits.v_mpp_min <= limits.v_mpp_max:
        problems.append(
            Problem(
                "MPP window",
                f"{limits.v_mpp_min} V to {limits.v_mpp_max} V",
                "the lower voltage first",
                remedy="Swap the two.",
            )
        )
    for name, value in limits._asdict().items():
        if name != "global_search" and not value >= 0.0:
            problems.append(Problem(f"tracker limit {name}", f"{value}", "zero or more"))
    if problems:
        raise InputError(problems)
