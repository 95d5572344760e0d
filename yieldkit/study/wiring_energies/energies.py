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
from yieldkit.design.checks.connection import single_network
from yieldkit.design.checks.connection_point import (
    branches,
    converters,
    export_limit,
    least_load,
)
from yieldkit.design.checks.grid_profiles import site_rules
from yieldkit.design.checks.mounting import inlet_offset_k
from yieldkit.physics.ac import many_wirings
from yieldkit.physics.ac.connection import most_power
from yieldkit.physics.ac.conversion_curves import ConversionCurve, ListedConversion
from yieldkit.physics.ac.network import terminals
from yieldkit.physics.ac.voltage_rules import cycle_losses, spread_nodes
from yieldkit.physics.circuit.api import Bypass
from yieldkit.physics.module import temperature as heat
from yieldkit.study.simulation.ac_side import alternating_side
from yieldkit.study.simulation.dc_side import direct_sides
from yieldkit.study.simulation.loss_budget import loss_budget
from yieldkit.study.simulation.network_voltage import network_voltage, within_step_spread
from yieldkit.study.simulation.offer import derated_power
from yieldkit.study.simulation.prepare import Prepared
from yieldkit.study.simulation.trackers import Solutions
from yieldkit.study.simulation.unsolved import darkened
from yieldkit.study.wiring_energies.arrangement_tables import (
    WORKERS,
    InputStrings,
    Tables,
    solve_arrangements,
)


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
        Another bypass diode than the usual one; not where inputs share a limit, for such wirings
        are simulated whole.
    """
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
    path = ac_path(prepared, curve, lit)
    found, _ = delivered_power(table, tables, path, silent)
    yields = yields_of(prepared, found, lit)
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
    if site.several_inverters or (load is not None and load.kind != "constant"):
        return True
    chosen = site.single_inverter
    by_voltage = any(point.dc_voltage_v is not None for point in chosen.derating)
    lower_top = any(mppt.max_operating_voltage_v is not None for mppt in chosen.mppts)
    return bool(chosen.max_dc_power_pairs) or by_voltage or lower_top


def ac_path(
    prepared: Prepared, curve: ConversionCurve | ListedConversion, steps: IntArray
) -> many_wirings.AcPath:
    """Return what the trackers' power passes on its way to the network, at some steps.

    Parameters
    ----------
    prepared : Prepared
        Site and weather.
    curve : ConversionCurve or ListedConversion
        The inverter's conversion.
    steps : ndarray of int
        Positions in time.
    """
    site = prepared.site
    chosen = site.single_inverter
    stiff_v = network_voltage(prepared)
    network = single_network(site)
    temp_inlet = heat.inlet_temperature(
        prepared.weather.variables["temp_air"].to_numpy(), inlet_offset_k(site)[0]
    )
    rated = chosen.ac.max_power_w or chosen.ac.nominal_power_w
    load = least_load(site)
    nothing = np.zeros_like(stiff_v)
    v_without = terminals(nothing, stiff_v, load, network).voltage
    listed = curve if isinstance(curve, ListedConversion) else None
    rules = site_rules(site)
    ohms = branches(site)
    # One inverter's own lead and the common one are one lead.
    lines = ohms._replace(
        common_lead=ohms.common_lead + ohms.own_leads[0], own_leads=np.zeros(1, dtype=complex)
    )
    converter = converters(site.each_inverter())
    cap = most_power(
        np.minimum(rated, derated_power(site, nothing, temp_inlet)),
        chosen.auxiliary_power_w,
        stiff_v,
        load,
        lines,
        converter,
        export_limit(site),
    )
    return many_wirings.AcPath(
        kind=many_wirings.LOSSES if listed is None else many_wirings.LISTED,
        curve_nominal=curve.p_nominal if isinstance(curve, ConversionCurve) else 0.0,
        least_dc=0.0 if listed is None else listed.pso,
        paco=0.0 if listed is None else listed.paco,
        dc_limit=np.inf if chosen.max_dc_power_w is None else chosen.max_dc_power_w,
        cap=cap[steps],
        auxiliary=chosen.auxiliary_power_w,
        night=chosen.night_power_w,
        stiff_v=stiff_v[steps],
        v_without=v_without[steps],
        load=load,
        network=network.numbers,
        ohms=lines.table,
        converter=converter,
        rules=rules.numbers,
        cycles=cycle_losses(rules),
        spread=spread_nodes(within_step_spread(site.grid)),
        availability=site.grid.availability_percent / 100.0,
    )


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
    found = np.zeros((1, 4))
    unlit = many_wirings.Arrangements(np.zeros((1, dark.size)), np.zeros((1, 3, dark.size)))
    none = np.array([[-1]])
    many_wirings.fill_delivered(0, 1, none, unlit, ac_path(prepared, curve, dark), found)
    return float(found[0, many_wirings.DELIVERED])


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
