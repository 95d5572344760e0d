"""Every distinct arrangement of strings on an input, solved once for all wirings."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import NamedTuple

import numpy as np

from yieldkit.config.equipment import MpptInput
from yieldkit.config.site import WiredString
from yieldkit.design.arrangements import plane_cables, wired_string
from yieldkit.design.candidates import Candidate, Possible
from yieldkit.physics import circuit, inverter
from yieldkit.physics.inverter import ListedConversion
from yieldkit.study.direct import already_running
from yieldkit.study.prepare import Prepared
from yieldkit.study.trackers import string_circuit, tracker_limits

WORKERS = 2
Progress = Callable[[str, int, int], None]
"""Called with a word, how many are done and how many there are."""


class ArrangementTables:
    """Power and conversion of every distinct arrangement, over the lit hours.

    Parameters
    ----------
    possible : Possible
        The wirings, whose arrangements are solved once each.
    prepared : Prepared
        What all wirings share.
    curve : ConversionCurve or ListedConversion
        The inverter's conversion.
    lit : ndarray of int
        The steps with light.
    """

    def __init__(
        self,
        possible: Possible,
        prepared: Prepared,
        curve: inverter.ConversionCurve | ListedConversion,
        lit: np.ndarray,
    ) -> None:
        self._possible = possible
        self._prepared = prepared
        self._curve = curve
        self._days = days_of(prepared, lit)
        first = np.cumsum([0, *(len(own.arrangements) for own in possible.classes)])
        self._first = first[:-1]
        self._fixed = list(possible.wishes.fixed)
        used = sorted(
            {
                (place, chosen)
                for candidate in possible.candidates
                for place, own in enumerate(candidate)
                for chosen in own
            }
        )
        self._used = used
        self._row = np.full(int(first[-1]), -1)
        for number, (place, chosen) in enumerate(used):
            self._row[self._first[place] + chosen] = number
        count = len(used) + len(self._fixed)
        self.power = np.zeros((count, lit.size))
        self.parts = np.zeros((count, 3, lit.size))

    def solve(self, tell: Progress) -> None:
        """Solve the circuits of all arrangements, two at a time."""
        site = self._prepared.site
        mppts = {mppt.name: mppt for mppt in site.inverter.mppts}
        cables = plane_cables(site)
        work = [
            (
                self._possible.classes[place].mppts[0],
                tuple(
                    wired_string(site, piece, cables)
                    for piece in self._possible.classes[place].arrangements[chosen].pieces
                ),
            )
            for place, chosen in self._used
        ]
        work += [(mppts[each.mppt], each.strings) for each in self._fixed]
        done = 0
        with ThreadPoolExecutor(WORKERS) as pool:
            for number, (p_dc, v_dc) in enumerate(
                pool.map(lambda item: arrangement_points(self._prepared, self._days, *item), work)
            ):
                self.power[number] = p_dc
                self.parts[number] = conversion_parts(self._curve, p_dc, v_dc)
                done += 1
                tell("arrangements", done, len(work))

    def rows(self, candidates: tuple[Candidate, ...]) -> np.ndarray:
        """Return the table rows of every candidate's inputs (candidate, input)."""
        width = sum(len(own.mppts) for own in self._possible.classes) + len(self._fixed)
        rows = np.full((len(candidates), max(width, 1)), -1, dtype=np.int64)
        fixed = [len(self._used) + number for number in range(len(self._fixed))]
        for number, candidate in enumerate(candidates):
            used = [
                self._row[self._first[place] + chosen]
                for place, own in enumerate(candidate)
                for chosen in own
            ]
            rows[number, : len(used) + len(fixed)] = [*used, *fixed]
        return rows


class Days(NamedTuple):
    """The lit steps, each day followed by one dark step that ends it.

    Parameters
    ----------
    conditions : CellConditions
        Diode parameters at those steps (step, plane).
    lit : ndarray of int
        Which of the steps are lit.
    """

    conditions: circuit.CellConditions
    lit: np.ndarray


def days_of(prepared: Prepared, lit: np.ndarray) -> Days:
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
) -> tuple[np.ndarray, np.ndarray]:
    """Return the power [W] and voltage [V] at which strings on an input work (lit step,).

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
        days.conditions, circuits, limits, interval_s=prepared.interval_s
    )
    power, volts = point.p_dc[days.lit] * mppt.tracking_efficiency, point.v_dc[days.lit]
    if mppt.max_power_w is None:
        return power, volts
    held = np.flatnonzero(power > mppt.max_power_w)
    if held.size:
        bounded = circuit.operating_point(
            circuit.CellConditions(*(part[days.lit[held]] for part in days.conditions)),
            circuits,
            already_running(limits),
            power_bound=np.full(held.size, mppt.max_power_w),
            interval_s=prepared.interval_s,
        )
        power[held], volts[held] = bounded.p_dc, bounded.v_dc
    return power, volts


def conversion_parts(
    curve: inverter.ConversionCurve | ListedConversion, p_dc: np.ndarray, v_dc: np.ndarray
) -> np.ndarray:
    """Return what the conversion needs of an arrangement (3, time).

    Parameters
    ----------
    curve : ConversionCurve or ListedConversion
        The inverter's conversion.
    p_dc, v_dc : ndarray
        Its power [W] and voltage [V] (time,).
    """
    if isinstance(curve, ListedConversion):
        off = np.clip(v_dc, curve.v_low, curve.v_high) - curve.vdco
        return np.stack(
            [
                curve.pdco * (1.0 + curve.c1 * off),
                curve.pso * (1.0 + curve.c2 * off),
                curve.c0 * (1.0 + curve.c3 * off),
            ]
        )
    return np.stack(
        [
            p_dc * np.interp(v_dc, curve.voltages, curve.coefficients[:, column])
            for column in range(3)
        ]
    )
