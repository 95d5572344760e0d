"""The energy of many wirings, from trackers that are solved once each."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import BoolArray, FloatArray, IntArray
from yieldkit.base.progress import Progress, silent
from yieldkit.config.site.site import Site, Wiring
from yieldkit.physics.ac import many_wirings
from yieldkit.physics.ac.conversion_curves import ConversionCurve, ListedConversion
from yieldkit.physics.circuit.api import Bypass
from yieldkit.study.simulation.ac_side import alternating_side
from yieldkit.study.simulation.dc_side import direct_sides
from yieldkit.study.simulation.loss_budget import loss_budget
from yieldkit.study.simulation.prepare import Prepared
from yieldkit.study.simulation.trackers import Solutions
from yieldkit.study.simulation.unsolved import darkened
from yieldkit.study.wiring_energies.ac_path import ac_path
from yieldkit.study.wiring_energies.arrangement_tables import (
    WORKERS,
    InputStrings,
    Tables,
    solve_arrangements,
)
from yieldkit.study.wiring_energies.behind_meter import coupled_inputs, several_delivered


class WiringYields(NamedTuple):
    """What wirings deliver in the weather's period (a year's mean of several), each (wiring,).

    Parameters
    ----------
    energy_kwh : ndarray
        Energy delivered [kWh].
    held_back_kwh : ndarray
        Energy held back by the AC limit [kWh].
    capped_hours : ndarray
        Hours at the AC limit.
    solved_whole : ndarray of bool
        Which were simulated as a whole, because inputs share a limit.
    """

    energy_kwh: FloatArray
    held_back_kwh: FloatArray
    capped_hours: FloatArray
    solved_whole: BoolArray

    def first(self, number: int) -> WiringYields:
        """Return those of the first wirings, so many."""
        return WiringYields(
            self.energy_kwh[:number],
            self.held_back_kwh[:number],
            self.capped_hours[:number],
            self.solved_whole[:number],
        )


def wiring_yields(
    prepared: Prepared, wirings: Sequence[Wiring], bypass: Bypass | None = None
) -> WiringYields:
    """Return what wirings deliver, as `simulate` does.

    Steps that have no solution for one of them are left out for all.

    Parameters
    ----------
    prepared : Prepared
        The site on its weather.
    wirings : sequence of Wiring
        The wirings.
    bypass : Bypass, optional
        Another bypass diode than the usual one; not where inputs share a limit or modules stand in
        shadow, for such wirings are simulated whole.
    """
    if prepared.shaded or prepared.within is not None:
        return _whole_yields(prepared, wirings)
    if prepared.site.several_inverters and not coupled_inputs(prepared.site):
        return _several_yields(prepared, wirings, bypass)
    if shares_limits(prepared.site):
        return _whole_yields(prepared, wirings)
    curve = prepared.conversion
    lit = lit_steps(prepared)
    mppts = {mppt.name: mppt for mppt in prepared.site.single_inverter.mppts}
    rows: dict[InputStrings, int] = {}
    table = np.full((len(wirings), len(mppts)), -1, dtype=np.int64)
    for number, wiring in enumerate(wirings):
        for place, tracker in enumerate(wiring.trackers):
            key = (mppts[tracker.mppt], tracker.strings)
            table[number, place] = rows.setdefault(key, len(rows))
    lacking = np.zeros(prepared.present.shape, dtype=bool)
    tables, _ = solve_arrangements(prepared, curve, lit, list(rows), silent, bypass)
    lacking[lit[tables.unsolved]] = True
    found, _ = delivered_sums(prepared, table, tables, lit, silent)
    yields = yields_of(prepared, found, lit)
    lacking |= simulate_whole(prepared, yields, lambda place: wirings[place], silent)[1]
    if lacking.any():
        return wiring_yields(darkened(prepared, lacking), wirings, bypass)
    return yields


def _several_yields(
    prepared: Prepared, wirings: Sequence[Wiring], bypass: Bypass | None
) -> WiringYields:
    """Return what wirings over several inverters deliver."""
    found, lacking = several_delivered(prepared, wirings, lit_steps(prepared), bypass)
    yields = WiringYields(
        found[:, 0].copy(), found[:, 1].copy(), found[:, 2].copy(), np.isnan(found[:, 0])
    )
    lacking |= simulate_whole(prepared, yields, lambda place: wirings[place], silent)[1]
    if lacking.any():
        return wiring_yields(darkened(prepared, lacking), wirings, bypass)
    return yields


def _whole_yields(prepared: Prepared, wirings: Sequence[Wiring]) -> WiringYields:
    """Return what wirings deliver, each simulated whole."""
    whole = np.ones(len(wirings), dtype=bool)
    energy, held_back, hours = np.full((3, len(wirings)), np.nan)
    yields = WiringYields(energy, held_back, hours, whole)
    lacking = simulate_whole(prepared, yields, lambda place: wirings[place], silent)[1]
    return _whole_yields(darkened(prepared, lacking), wirings) if lacking.any() else yields


def wiring_energies(
    prepared: Prepared, wirings: Sequence[Wiring], bypass: Bypass | None = None
) -> FloatArray:
    """Return the energy that wirings deliver [kWh] (wiring,), as `simulate` does.

    Parameters
    ----------
    prepared, wirings, bypass
        As for `wiring_yields`.
    """
    return wiring_yields(prepared, wirings, bypass).energy_kwh


def lit_steps(prepared: Prepared) -> IntArray:
    """Return the steps at which any plane has light, as positions in time; none without weather."""
    return np.flatnonzero((prepared.conditions.photocurrent > 0.0).any(axis=1))


def yields_of(
    prepared: Prepared, found: FloatArray, lit: IntArray, weight: float = 1.0
) -> WiringYields:
    """Return the yields of wirings from what the kernel summed.

    Parameters
    ----------
    prepared : Prepared
        The site on its weather.
    found : ndarray
        From `delivered_power`.
    lit : ndarray of int
        All steps with light; the dark ones are the same for every wiring.
    weight : float
        How many lit steps each of the summed ones stands for.
    """
    dark = np.setdiff1d(np.flatnonzero(prepared.present), lit)
    drawn = dark_power(prepared, prepared.conversion, dark)
    hours = prepared.step_hours
    return WiringYields(
        (found[:, many_wirings.DELIVERED] * weight + drawn) * hours / 1000.0,
        found[:, many_wirings.LIMITED] * weight * hours / 1000.0,
        found[:, many_wirings.CAPPED] * weight * hours,
        found[:, many_wirings.NEEDS_SIMULATION] > 0.0,
    )


def simulate_whole(
    prepared: Prepared, yields: WiringYields, wiring: Callable[[int], Wiring], tell: Progress
) -> tuple[int, BoolArray]:
    """Simulate those wirings that need it, one by one, and fill in their yields.

    Parameters
    ----------
    prepared : Prepared
        The site on its weather.
    yields : WiringYields
        Filled in place where `solved_whole`.
    wiring : callable
        Returns the wiring of a position.
    tell : callable
        Told how many are done; may stop the work.

    Returns
    -------
    tuple of (int, ndarray)
        Up to which position all yields are known: all, unless the work was stopped; and the
        steps without a solution (time,), at the first of which it ends.
    """
    lacking = np.zeros(prepared.present.shape, dtype=bool)
    solutions = Solutions()
    whole = np.flatnonzero(yields.solved_whole)
    for done, place in enumerate(whole, start=1):
        own = wiring(int(place))
        directs = direct_sides(prepared, own, solutions)
        side = alternating_side(prepared, directs)
        unsolved = np.any([points.unsolved.any(axis=1) for points in side.points], axis=0)
        lacking |= unsolved & prepared.present
        if lacking.any():
            return int(place), lacking
        states = tuple(state for direct in directs for state in direct.states)
        budget = loss_budget(prepared, own, states, side.chain)
        yields.energy_kwh[place] = budget.delivered_kwh
        yields.held_back_kwh[place] = prepared.total(side.p_held_back.sum(axis=1))
        yields.capped_hours[place] = prepared.hours(side.clipped | side.derated)
        if tell("wirings solved whole", done, whole.size) and done < whole.size:
            return int(whole[done]), lacking
    return int(yields.energy_kwh.size), lacking


def shares_limits(site: Site) -> bool:
    """Tell whether a site's wirings must be simulated whole: inputs are coupled hour by hour."""
    load = site.grid.load
    varying = load is not None and load.kind != "constant"
    return site.several_inverters or varying or coupled_inputs(site)


def dark_power(
    prepared: Prepared, curve: ConversionCurve | ListedConversion, dark: IntArray
) -> float:
    """Return the summed power of the dark steps, the same for every wiring [W].

    Parameters
    ----------
    prepared, curve
        As for `ac_path`.
    dark : ndarray of int
        The steps without light.
    """
    return sum(
        weight * _unlit_power(prepared, curve, dark[own]) for weight, own in _alike(prepared, dark)
    )


def _unlit_power(
    prepared: Prepared, curve: ConversionCurve | ListedConversion, dark: IntArray
) -> float:
    found = np.zeros((1, 4))
    unlit = many_wirings.Arrangements(np.zeros((1, dark.size)), np.zeros((1, 3, dark.size)))
    none = np.array([[-1]])
    many_wirings.fill_delivered(0, 1, none, unlit, ac_path(prepared, curve, dark), found)
    return float(found[0, many_wirings.DELIVERED])


def _alike(prepared: Prepared, steps: IntArray) -> list[tuple[float, IntArray | slice]]:
    """Return what steps count in totals, and the positions of those that count so much."""
    if prepared.weights is None:
        return [(1.0, slice(None))]
    weights = prepared.weights[steps]
    return [(float(each), np.flatnonzero(weights == each)) for each in np.unique(weights)]


def delivered_sums(
    prepared: Prepared, wirings: IntArray, tables: Tables, steps: IntArray, tell: Progress
) -> tuple[FloatArray, int]:
    """Return what `delivered_power` finds at some steps, each by what it counts in totals.

    Parameters
    ----------
    prepared : Prepared
        The site on its weather.
    wirings, tables, tell
        As for `delivered_power`.
    steps : ndarray of int
        The steps that the tables are of.
    """
    curve = prepared.conversion
    if prepared.weights is None:
        return delivered_power(wirings, tables, ac_path(prepared, curve, steps), tell)
    found, done = np.zeros((wirings.shape[0], 4)), wirings.shape[0]
    for weight, own in _alike(prepared, steps):
        power, parts = (
            np.ascontiguousarray(each[..., own]) for each in (tables.power, tables.parts)
        )
        part = tables._replace(power=power, parts=parts)
        path = ac_path(prepared, curve, steps[own])
        summed, ready = delivered_power(wirings, part, path, tell)
        needs = np.maximum(
            found[:, many_wirings.NEEDS_SIMULATION], summed[:, many_wirings.NEEDS_SIMULATION]
        )
        found += weight * summed
        found[:, many_wirings.NEEDS_SIMULATION] = needs
        done = min(done, ready)
    return found, done


def delivered_power(
    wirings: IntArray,
    tables: Tables,
    path: many_wirings.AcPath,
    tell: Progress,
) -> tuple[FloatArray, int]:
    """Return what the kernel finds for every wiring, in blocks on two threads.

    Parameters
    ----------
    wirings : ndarray of int
        Rows of the tables for every input of a wiring, -1 for none (wiring, input).
    tables : Tables
        The solved arrangements.
    path : AcPath
        What the trackers' power passes on its way to the network.
    tell : callable
        Told how many wirings are done; may stop the work.

    Returns
    -------
    tuple of (ndarray, int)
        Summed power [W], power held back [W], capped steps, and 1 where a wiring needs a solution
        of its own (wiring, 4); and how many are done: all, unless the work was stopped.
    """
    found = np.zeros((wirings.shape[0], 4))
    arrangements = many_wirings.Arrangements(tables.power, tables.parts)
    edges = np.unique(np.linspace(0, wirings.shape[0], 8 * WORKERS + 1).astype(int))

    def block(begin: int, end: int) -> int:
        many_wirings.fill_delivered(begin, end, wirings, arrangements, path, found)
        return end

    with ThreadPoolExecutor(WORKERS) as pool:
        blocks = [pool.submit(block, *span) for span in pairwise(edges.tolist())]
        for each in blocks:
            done = each.result()
            if tell("wirings", done, wirings.shape[0]):
                pool.shutdown(cancel_futures=True)
                return found, done
    return found, wirings.shape[0]
