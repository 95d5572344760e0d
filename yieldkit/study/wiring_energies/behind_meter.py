"""What several inverters behind one meter deliver, from their trackers' power."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import BoolArray, FloatArray, IntArray
from yieldkit.base.progress import silent
from yieldkit.config.site.site import Site, Wiring
from yieldkit.design.checks.mounting import inlet_offset_k
from yieldkit.physics.ac.conversion_curves import ConversionCurve, ListedConversion
from yieldkit.physics.ac.inverter_totals import OwnPath, own_powers
from yieldkit.physics.ac.limits import AC_LIMIT
from yieldkit.physics.ac.many_wirings import LISTED, LOSSES, Arrangements
from yieldkit.physics.circuit.api import Bypass
from yieldkit.physics.module import temperature as heat
from yieldkit.study.simulation.ac_chain import SAME, off_fractions, off_together
from yieldkit.study.simulation.ac_side import alternating_side
from yieldkit.study.simulation.connection_point import ConnectionPoint, connection_point
from yieldkit.study.simulation.dc_side import direct_sides
from yieldkit.study.simulation.month_weights import weighed
from yieldkit.study.simulation.offer import derated_power
from yieldkit.study.simulation.prepare import Prepared
from yieldkit.study.simulation.trackers import Solutions
from yieldkit.study.wiring_energies.arrangement_tables import InputStrings, solve_arrangements

_AT_THE_METER = [AC_LIMIT["export"], AC_LIMIT["voltage-dependent power"]]
_SURELY = 0.9
"""A power below this share of the DC limit is reached even where that limit binds."""


class Delivered(NamedTuple):
    """What a wiring delivers in the weather's period (a year's mean of several).

    Parameters
    ----------
    energy_kwh : float
        Energy delivered [kWh].
    held_back_kwh : float
        Energy that limits of AC power and connection hold back [kWh].
    capped_hours : float
        Hours with any inverter at such a limit.
    limited_kwh : float
        Of the energy held back: by the export limit, and by power that falls with the voltage;
        the rest is clipped by the inverters' own limits.
    """

    energy_kwh: float
    held_back_kwh: float
    capped_hours: float
    limited_kwh: float


class OwnLimits(NamedTuple):
    """Limits and consumption of each inverter.

    Parameters
    ----------
    cap : ndarray
        Largest AC power by maximum power and derating [W] (time, inverter).
    dc : ndarray
        Largest DC power of all its inputs [W] (inverter,).
    auxiliary, night : ndarray
        Power drawn always, and without any DC power [W] (inverter,).
    """

    cap: FloatArray
    dc: FloatArray
    auxiliary: FloatArray
    night: FloatArray

    def at(self, steps: IntArray) -> OwnLimits:
        """Return the same at some steps."""
        return self._replace(cap=self.cap[steps])

    def drawn(self, dc: FloatArray) -> FloatArray:
        """Return own consumption at DC powers [W] (time, inverter)."""
        found: FloatArray = np.where(dc <= 0.0, self.night, 0.0)
        found += self.auxiliary
        return found

    def bind(self, dc: FloatArray, converted: FloatArray) -> bool:
        """Tell whether a DC limit changes what any inverter gives at its AC powers [W]."""
        offer = np.minimum(converted, self.cap)
        over = dc > self.dc * (1.0 + 1e-12)
        return bool((over & ((offer > _SURELY * self.dc) | (offer >= converted))).any())


def own_limits(prepared: Prepared) -> OwnLimits:
    """Return limits and consumption of a site's inverters on its weather's steps."""
    caps, numbers = [], []
    for own in prepared.each_inverter():
        chosen = own.site.single_inverter
        inlet = heat.inlet_temperature(
            own.weather.variables["temp_air"].to_numpy(), inlet_offset_k(own.site)[0]
        )
        rated = chosen.ac.max_power_w or chosen.ac.nominal_power_w
        caps.append(np.minimum(rated, derated_power(own.site, np.zeros(inlet.size), inlet)))
        most = np.inf if chosen.max_dc_power_w is None else chosen.max_dc_power_w
        numbers.append((most, chosen.auxiliary_power_w, chosen.night_power_w))
    dc, auxiliary, night = np.array(numbers).T
    return OwnLimits(np.column_stack(caps), dc, auxiliary, night)


def own_path(curve: ConversionCurve | ListedConversion) -> OwnPath:
    """Return an inverter's conversion for the kernels."""
    if isinstance(curve, ListedConversion):
        return OwnPath(LISTED, 0.0, curve.pso, curve.paco)
    return OwnPath(LOSSES, curve.p_nominal, 0.0, 0.0)


def coupled_inputs(site: Site) -> bool:
    """Tell whether inputs of an inverter are coupled hour by hour, so that no table answers."""
    for one in site.each_inverter():
        chosen = one.site.single_inverter
        by_voltage = any(point.dc_voltage_v is not None for point in chosen.derating)
        lower_top = any(mppt.max_operating_voltage_v is not None for mppt in chosen.mppts)
        if chosen.max_dc_power_pairs or by_voltage or lower_top:
            return True
    return False


def delivered_at(
    prepared: Prepared,
    point: ConnectionPoint,
    limits: OwnLimits,
    dc: FloatArray,
    converted: FloatArray,
    weights: FloatArray | None = None,
) -> Delivered:
    """Return what inverters deliver at some steps, as `simulate` does.

    Parameters
    ----------
    prepared : Prepared
        The site on its weather.
    point : ConnectionPoint
        Its connection point at those steps.
    limits : OwnLimits
        The inverters' limits at those steps; no DC limit binds.
    dc, converted : ndarray
        DC power, and AC power before any limit [W] (time, inverter).
    weights : ndarray, optional
        What each of those steps counts [1] (time,), where that differs.
    """
    drawn = limits.drawn(dc)
    fed = point.fed(np.minimum(converted, limits.cap), drawn)
    site, hours = prepared.site, prepared.step_hours
    off = off_fractions(site, point, drawn, fed)
    kept = (1.0 - off_together(drawn, fed, off)) * site.grid.availability_percent / 100.0
    held = np.maximum(converted - fed.p, 0.0)
    at_meter = np.isin(fed.limit, _AT_THE_METER)
    return Delivered(
        float(weighed(kept * fed.arriving - fed.taken, weights).sum()) * hours / 1000.0,
        float(weighed(held, weights).sum()) * hours / 1000.0,
        float(weighed((held > SAME * converted).any(axis=1), weights).sum()) * hours,
        float(weighed(held, weights)[at_meter].sum()) * hours / 1000.0,
    )


def dark_kwh(prepared: Prepared, point: ConnectionPoint, limits: OwnLimits, lit: IntArray) -> float:
    """Return the energy of the steps without light, the same for every wiring [kWh].

    Parameters
    ----------
    prepared, point, limits
        As for `delivered_at`, at all steps.
    lit : ndarray of int
        The steps with light.
    """
    dark = np.setdiff1d(np.flatnonzero(prepared.present), lit)
    nothing = np.zeros((dark.size, limits.dc.size))
    there = point.at(dark)
    own = weights_of(prepared, dark)
    return delivered_at(prepared, there, limits.at(dark), nothing, nothing, own).energy_kwh


def weights_of(prepared: Prepared, steps: IntArray) -> FloatArray | None:
    """Return what some steps count in totals [1] (step,); None where all count alike."""
    return None if prepared.weights is None else prepared.weights[steps]


def simulated_whole(prepared: Prepared, wiring: Wiring, solutions: Solutions) -> Delivered:
    """Return what a wiring delivers by simulating it: its inputs share limits of their inverter.

    Parameters
    ----------
    prepared : Prepared
        The site on its weather.
    wiring : Wiring
        The wiring.
    solutions : Solutions
        Circuits solved so far.
    """
    side = alternating_side(prepared, direct_sides(prepared, wiring, solutions))
    at_meter = np.isin(side.ac_limit, _AT_THE_METER)
    return Delivered(
        prepared.total(side.chain.fluctuating),
        prepared.total(side.p_held_back.sum(axis=1)),
        prepared.hours(side.clipped | side.derated),
        prepared.total(np.where(at_meter, side.p_held_back, 0.0).sum(axis=1)),
    )


def several_delivered(
    prepared: Prepared, wirings: Sequence[Wiring], lit: IntArray, bypass: Bypass | None
) -> tuple[FloatArray, BoolArray]:
    """Return what wirings over several inverters deliver, each circuit solved once.

    Parameters
    ----------
    prepared : Prepared
        The site on its weather; inputs of an inverter aren't coupled.
    wirings : sequence of Wiring
        The wirings.
    lit : ndarray of int
        The steps with light.
    bypass : Bypass, optional
        Another bypass diode than the usual one.

    Returns
    -------
    tuple of (ndarray, ndarray)
        Columns of `Delivered` for each wiring, not a number where a DC limit binds so that it must
        be simulated whole (wiring, 4); and the steps without a solution (time,).
    """
    point, limits = connection_point(prepared), own_limits(prepared)
    lacking = np.zeros(prepared.present.shape, dtype=bool)
    dc, converted = np.zeros((2, len(wirings), lit.size, limits.dc.size))
    for place, own in enumerate(prepared.each_inverter()):
        name = prepared.site.each_inverter()[place].name
        mppts = {mppt.name: mppt for mppt in own.site.single_inverter.mppts}
        rows: dict[InputStrings, int] = {}
        used = [
            [
                rows.setdefault((mppts[tracker.mppt], tracker.strings), len(rows))
                for tracker in wiring.on(name).trackers
            ]
            for wiring in wirings
        ]
        tables, _ = solve_arrangements(own, own.conversion, lit, list(rows), silent, bypass)
        lacking[lit[tables.unsolved]] = True
        solved = Arrangements(tables.power, tables.parts)
        for number, inputs in enumerate(used):
            dc[number, :, place], converted[number, :, place] = own_powers(
                np.array(inputs, dtype=np.int64), solved, own_path(own.conversion)
            )
    there, within = point.at(lit), limits.at(lit)
    dark, weights = dark_kwh(prepared, point, limits, lit), weights_of(prepared, lit)
    found = np.full((len(wirings), len(Delivered._fields)), np.nan)
    for number, (power, given) in enumerate(zip(dc, converted, strict=True)):
        if not within.bind(power, given):
            found[number] = delivered_at(prepared, there, within, power, given, weights)
            found[number, 0] += dark
    return found, lacking
