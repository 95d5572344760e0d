"""Every distinct arrangement of strings on an input, solved once for all wirings."""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import BoolArray, FloatArray, IntArray
from yieldkit.base.progress import Progress
from yieldkit.config.models.inverters import MpptInput
from yieldkit.config.site.site import WiredString
from yieldkit.design.permitted.arrangements import plane_cables, wired_string
from yieldkit.design.permitted.wirings import Possible
from yieldkit.physics.ac.conversion import list_coefficients, loss_coefficients
from yieldkit.physics.ac.conversion_curves import ConversionCurve, ListedConversion
from yieldkit.physics.circuit import api as circuit
from yieldkit.study.simulation.dc_side import already_running
from yieldkit.study.simulation.prepare import Prepared
from yieldkit.study.simulation.trackers import string_circuit, tracker_limits

WORKERS = 2

InputStrings = tuple[MpptInput, tuple[WiredString, ...]]
"""An input and the strings on it."""


class Tables(NamedTuple):
    """Solved arrangements over the lit steps.

    Parameters
    ----------
    power : ndarray
        What each draws [W] (arrangement, lit step).
    parts : ndarray
        What its conversion needs (arrangement, 3, lit step).
    unsolved : ndarray of bool
        Steps at which the circuit of any of them has no solution (lit step,).
    """

    power: FloatArray
    parts: FloatArray
    unsolved: BoolArray


def candidate_rows(possible: Possible) -> tuple[list[InputStrings], IntArray]:
    """Return the distinct arrangements of all candidates, and which of them each uses.

    Parameters
    ----------
    possible : Possible
        The wirings.

    Returns
    -------
    tuple of (list, ndarray)
        Inputs with their strings, and their positions in that list for every input of a
        candidate, -1 for none (candidate, input).
    """
    site, fixed = possible.site, possible.constraints.fixed
    cables = plane_cables(site)
    mppts = {mppt.name: mppt for mppt in site.single_inverter.mppts}
    used: dict[tuple[int, int], int] = {}
    width = sum(len(own.mppts) for own in possible.classes) + len(fixed)
    rows = np.full((len(possible.candidates), max(width, 1)), -1, dtype=np.int64)
    for number, candidate in enumerate(possible.candidates):
        keys = [(place, chosen) for place, own in enumerate(candidate) for chosen in own]
        rows[number, : len(keys)] = [used.setdefault(key, len(used)) for key in keys]
    arrangements: list[InputStrings] = [
        (
            possible.classes[place].mppts[0],
            tuple(
                wired_string(site, piece, cables)
                for piece in possible.classes[place].arrangements[chosen].pieces
            ),
        )
        for place, chosen in used
    ]
    for place, tracker in enumerate(fixed, start=1):
        rows[:, width - place] = len(arrangements)
        arrangements.append((mppts[tracker.mppt], tracker.strings))
    return arrangements, rows


def solve_arrangements(
    prepared: Prepared,
    curve: ConversionCurve | ListedConversion,
    lit: IntArray,
    arrangements: Sequence[InputStrings],
    tell: Progress,
    bypass: circuit.Bypass | None = None,
) -> tuple[Tables, int]:
    """Solve the circuits of arrangements, two at a time.

    Parameters
    ----------
    prepared : Prepared
        The site on its weather.
    curve : ConversionCurve or ListedConversion
        The inverter's conversion.
    lit : ndarray of int
        The steps with light.
    arrangements : sequence of InputStrings
        Inputs with their strings.
    tell : callable
        Told how many are done; may stop the work.
    bypass : Bypass, optional
        Another bypass diode than the usual one.

    Returns
    -------
    tuple of (Tables, int)
        The tables, and how many of their rows are solved: all, unless the work was stopped.
    """
    days = days_of(prepared, lit)._replace(bypass=bypass)
    tables = Tables(
        np.empty((len(arrangements), lit.size)),
        np.empty((len(arrangements), 3, lit.size)),
        np.zeros(lit.size, dtype=bool),
    )

    def solve(number: int) -> BoolArray:
        p_dc, v_dc, failed = arrangement_points(prepared, days, *arrangements[number])
        tables.power[number] = p_dc
        tables.parts[number] = conversion_parts(curve, p_dc, v_dc)
        return failed

    with ThreadPoolExecutor(WORKERS) as pool:
        for number, failed in enumerate(pool.map(solve, range(len(arrangements)))):
            tables.unsolved[:] |= failed
            if tell("arrangements", number + 1, len(arrangements)):
                pool.shutdown(cancel_futures=True)
                return tables, number + 1
    return tables, len(arrangements)


class Days(NamedTuple):
    """The lit steps, each day followed by one dark step that ends it.

    Parameters
    ----------
    conditions : CellConditions
        Diode parameters at those steps (step, plane).
    lit : ndarray of int
        Which of the steps are lit.
    bypass : Bypass, optional
        Another bypass diode than the usual one.
    """

    conditions: circuit.CellConditions
    lit: IntArray
    bypass: circuit.Bypass | None = None


def days_of(prepared: Prepared, lit: IntArray) -> Days:
    """Return the lit steps of a site with the dark ones that end each day.

    Parameters
    ----------
    prepared : Prepared
        The site.
    lit : ndarray of int
        The steps with light.
    """
    steps = np.union1d(lit, np.minimum(lit + 1, prepared.conditions.photocurrent.shape[0] - 1))
    conditions = circuit.CellConditions(
        *(np.ascontiguousarray(part[steps]) for part in prepared.conditions)
    )
    return Days(conditions, np.searchsorted(steps, lit))


def arrangement_points(
    prepared: Prepared, days: Days, mppt: MpptInput, strings: tuple[WiredString, ...]
) -> tuple[FloatArray, FloatArray, BoolArray]:
    """Return power [W] and voltage [V] of strings on an input, and what failed (lit step,).

    Parameters
    ----------
    prepared : Prepared
        The site.
    days : Days
        Its lit steps.
    mppt : MpptInput
        The input.
    strings : tuple of WiredString
        The strings on it.
    """
    circuits = tuple(string_circuit(prepared, string, mppt) for string in strings)
    limits = tracker_limits(mppt)
    point = circuit.operating_point(
        days.conditions,
        circuits,
        limits,
        interval_s=prepared.interval_s,
        bypass=days.bypass,
    )
    power, volts = point.p_dc[days.lit] * mppt.tracking_efficiency, point.v_dc[days.lit]
    failed = point.status[days.lit] != 0
    if mppt.max_power_w is None:
        return power, volts, failed
    limited = np.flatnonzero(power > mppt.max_power_w)
    if limited.size:
        bounded = circuit.operating_point(
            circuit.CellConditions(*(part[days.lit[limited]] for part in days.conditions)),
            circuits,
            already_running(limits),
            power_bound=np.full(limited.size, mppt.max_power_w),
            interval_s=prepared.interval_s,
            bypass=days.bypass,
        )
        power[limited], volts[limited] = bounded.p_dc, bounded.v_dc
        failed[limited] |= bounded.status != 0
    return power, volts, failed


def conversion_parts(
    curve: ConversionCurve | ListedConversion, p_dc: FloatArray, v_dc: FloatArray
) -> FloatArray:
    """Return what the conversion needs of an arrangement (3, time).

    Parameters
    ----------
    curve : ConversionCurve or ListedConversion
        The inverter's conversion.
    p_dc, v_dc : ndarray
        Its power [W] and voltage [V] (time,).
    """
    if isinstance(curve, ListedConversion):
        return list_coefficients(curve, v_dc)
    return p_dc * loss_coefficients(curve, v_dc)
