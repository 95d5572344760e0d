"""From the trackers' power to delivered energy, for many wirings that share their trackers.

The same kernels as `simulate` uses, one hour after the other: to rank a wiring takes one pass over
the hours, and no new solution of its circuit.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import FloatArray
from yieldkit.physics.ac.conversion import power_from_list, power_from_losses
from yieldkit.physics.ac.network import Network, state_without_load, voltage_and_heat
from yieldkit.physics.ac.voltage_rules import Rules, off_share, power_by_voltage
from yieldkit.physics.compiled import compiled

# Which conversion the tables have coefficients of: a loss curve's or a listed inverter's.
LOSSES, LISTED = range(2)
# Columns of what is summed up for a wiring.
DELIVERED, LIMITED, CAPPED, NEEDS_SIMULATION = range(4)
# Rows of a span's sums: power, and the conversion's three coefficients.
_POWER, _FIRST, _SECOND, _THIRD = range(4)
# A cap below this share of the DC limit is reached even where that limit binds.
_SURELY = 0.9
# Hours done for all wirings before the next ones, so that the tables stay in the cache.
_SPAN = 128


class AcPath(NamedTuple):
    """What the trackers' power passes on its way to the network, for the kernels.

    Parameters
    ----------
    kind : int
        `LOSSES` or `LISTED`: which conversion the tables have coefficients of.
    curve_nominal : float
        Nominal AC power of a loss curve [W].
    least_dc, paco : float
        Of a listed inverter: DC power below which there is no AC power, and reference AC power [W].
    ac_nominal : float
        Nominal AC power of the inverter [W].
    dc_limit : float
        Largest DC power of all inputs [W].
    cap : ndarray
        Largest AC power by fixed limits and derating [W] (time,).
    auxiliary, night : float
        Power drawn always, and without any DC power [W].
    stiff_v, v_without : ndarray
        Voltage of the stiff network, and at the terminals without feed-in [V] (time,).
    load : float
        Consumption at the connection point, all phases [W].
    network : Network
        The impedances.
    rules : Rules
        The network rules.
    cycles : ndarray
        Share that tripping by the ten-minute mean costs [1], by the limit's height (place,).
    spread : ndarray
        Offsets [V] and weights [1] of the network voltage within a step (node, 2).
    availability : float
        Share of the time [1].
    """

    kind: int
    curve_nominal: float
    least_dc: float
    paco: float
    ac_nominal: float
    dc_limit: float
    cap: FloatArray
    auxiliary: float
    night: float
    stiff_v: FloatArray
    v_without: FloatArray
    load: float
    network: Network
    rules: Rules
    cycles: FloatArray
    spread: FloatArray
    availability: float


class Arrangements(NamedTuple):
    """Arrangements of strings on an input, solved.

    Parameters
    ----------
    power : ndarray
        Power that each draws [W] (arrangement, time).
    parts : ndarray
        Three coefficients of its conversion (arrangement, 3, time): of a loss curve times the power
        [W], or A [W], B [W] and C [1/W] of a listed inverter.
    """

    power: FloatArray
    parts: FloatArray


class Span(NamedTuple):
    """Room for some hours of one wiring, each array by the place in the span.

    Parameters
    ----------
    sums : ndarray
        Power of all inputs [W] and the sums of their coefficients (4, place).
    p_ac, p_limited, p_end : ndarray
        AC power before and after its limits, and at the terminals after the inverter's own
        consumption [W] (place,).
    volts, heat : ndarray
        Voltage at the terminals [V] and the lead's heat [W] (place,).
    """

    sums: FloatArray
    p_ac: FloatArray
    p_limited: FloatArray
    p_end: FloatArray
    volts: FloatArray
    heat: FloatArray


@compiled
def fill_sums(inputs, arrangements, first, count, sums):
    """Fill the sums of power and conversion coefficients of a wiring's inputs.

    Parameters
    ----------
    inputs : ndarray of int
        Position of each input's arrangement, -1 for none (input,).
    arrangements : Arrangements
        The solved arrangements.
    first, count : int
        First hour of the span, and how many.
    sums : ndarray
        Filled, as of `Span` [W] (4, place).
    """
    power, parts = arrangements.power, arrangements.parts
    sums[:, :count] = 0.0
    for place in inputs:
        if place < 0:
            continue
        for i in range(count):
            sums[_POWER, i] += power[place, first + i]
        for part in range(3):
            for i in range(count):
                sums[_FIRST + part, i] += parts[place, part, first + i]


@compiled
def convert_by_losses(sums, p_nominal, count, p_ac):
    """Fill AC power by a loss curve, its coefficients weighted with the inputs' power.

    Parameters
    ----------
    sums : ndarray
        As of `Span` [W] (4, place).
    p_nominal : float
        Nominal AC power of the curve [W].
    count : int
        How many hours.
    p_ac : ndarray
        Filled [W] (place,).
    """
    for t in range(count):
        total = sums[_POWER, t]
        per = 1.0 / max(total, 1e-9)
        c0, c1, c2 = sums[_FIRST, t] * per, sums[_SECOND, t] * per, sums[_THIRD, t] * per
        p_ac[t] = power_from_losses(total, c0, c1, c2, p_nominal)


@compiled
def convert_by_list(inputs, arrangements, sums, path, first, count, p_ac):
    """Fill AC power of a listed inverter, each input weighted with its power.

    Parameters
    ----------
    inputs, arrangements, first, count
        As for `fill_sums`.
    sums : ndarray
        As of `Span` [W] (4, place).
    path : AcPath
        The inverter.
    p_ac : ndarray
        Filled [W] (place,).
    """
    power, parts = arrangements.power, arrangements.parts
    for t in range(count):
        total = sums[_POWER, t]
        p_ac[t] = 0.0
        if total < path.least_dc or total <= 0.0:
            continue
        for place in inputs:
            if place >= 0:
                at = first + t
                a, b, c = parts[place, 0, at], parts[place, 1, at], parts[place, 2, at]
                p_ac[t] += power[place, at] / total * power_from_list(total, a, b, c, path.paco)
        p_ac[t] = min(max(p_ac[t], 0.0), total)


@compiled
def fill_limited_power(path, first, count, span):
    """Fill the AC power inside its limits, and at the terminals.

    Parameters
    ----------
    path : AcPath
        Limits, network and rules.
    first, count : int
        First hour of the span, and how many.
    span : Span
        Its AC power is known; filled with the limited powers.
    """
    # Taken out of their tuples before the loops: each access costs as much as a multiplication.
    p_ac, p_limited, p_end, sums = span.p_ac, span.p_limited, span.p_end, span.sums
    cap, stiff_v = path.cap, path.stiff_v
    for t in range(count):
        p_limited[t] = min(p_ac[t], cap[first + t])
    rules, network, load, p_nominal = path.rules, path.network, path.load, path.ac_nominal
    if not math.isnan(rules.watt_start_v):
        for t in range(count):
            p_limited[t] = power_by_voltage(
                p_limited[t], stiff_v[first + t], load, network, rules, p_nominal
            )
    auxiliary, night = path.auxiliary, path.night
    for t in range(count):
        p_end[t] = p_limited[t] - auxiliary - (night if sums[_POWER, t] <= 0.0 else 0.0)


@compiled
def fill_terminals(path, first, count, span):
    """Fill voltage at the terminals and the lead's heat.

    Parameters
    ----------
    path : AcPath
        Network and load.
    first, count : int
        First hour of the span, and how many.
    span : Span
        Its power at the terminals is known; filled.
    """
    network, load, stiff_v = path.network, path.load, path.stiff_v
    p_end, volts, heat = span.p_end, span.volts, span.heat
    if load == 0.0:
        for t in range(count):
            volts[t], _connection, _amperes, heat[t] = state_without_load(
                p_end[t], stiff_v[first + t], network
            )
        return
    for t in range(count):
        volts[t], heat[t] = voltage_and_heat(p_end[t], stiff_v[first + t], load, network)


@compiled
def add_up(span, path, first, count, row):
    """Add up what a wiring delivers, what limits cost, and what needs a simulation of its own.

    Parameters
    ----------
    span : Span
        All known.
    path : AcPath
        Limits, network and rules.
    first, count : int
        First hour of the span, and how many.
    row : ndarray
        Delivered power [W], power that AC limits cost [W], capped hours [1], and 1 where the
        trackers' shared limits need a simulation (4,); updated.
    """
    highest = path.rules.mean_limit_v
    if math.isnan(highest) or path.rules.stage_limit_v < highest:
        highest = path.rules.stage_limit_v
    near = highest - path.spread[:, 0].max()
    p_ac, p_limited, p_end, sums = span.p_ac, span.p_limited, span.p_end, span.sums
    volts, heat, v_without = span.volts, span.heat, path.v_without
    rules, spread, cycles = path.rules, path.spread, path.cycles
    dc_limit, availability = path.dc_limit, path.availability
    for t in range(count):
        over = sums[_POWER, t] > dc_limit * (1.0 + 1e-12)
        # Kept to the DC limit the trackers still reach a cap that lies far enough below.
        if over and (p_limited[t] > _SURELY * dc_limit or p_limited[t] >= p_ac[t]):
            row[NEEDS_SIMULATION] = 1.0
        if p_limited[t] < p_ac[t]:
            row[LIMITED] += p_ac[t] - p_limited[t]
            row[CAPPED] += 1.0
        kept = p_end[t] - heat[t]
        if p_end[t] > 0.0 and volts[t] > near:
            alone = v_without[first + t]
            kept *= 1.0 - off_share(alone, volts[t] - alone, rules, spread, cycles)
        row[DELIVERED] += kept * availability if kept > 0.0 else kept


@compiled
def fill_delivered(begin, end, wirings, arrangements, path, found):
    """Sum the power that wirings deliver over all hours.

    Parameters
    ----------
    begin, end : int
        Wirings to do.
    wirings : ndarray of int
        Position of each input's arrangement, -1 for none (wiring, input).
    arrangements : Arrangements
        The solved arrangements.
    path : AcPath
        Limits, network and rules.
    found : ndarray
        Filled with summed power [W], power that AC limits cost [W], capped hours [1], and 1 where
        the trackers' shared limits need a simulation (wiring, 4).
    """
    steps = arrangements.power.shape[1]
    span = Span(
        np.empty((4, _SPAN)),
        np.empty(_SPAN),
        np.empty(_SPAN),
        np.empty(_SPAN),
        np.empty(_SPAN),
        np.empty(_SPAN),
    )
    found[begin:end, :] = 0.0
    for first in range(0, steps, _SPAN):
        count = min(_SPAN, steps - first)
        for wiring in range(begin, end):
            inputs = wirings[wiring]
            fill_sums(inputs, arrangements, first, count, span.sums)
            if path.kind == LOSSES:
                convert_by_losses(span.sums, path.curve_nominal, count, span.p_ac)
            else:
                convert_by_list(inputs, arrangements, span.sums, path, first, count, span.p_ac)
            fill_limited_power(path, first, count, span)
            fill_terminals(path, first, count, span)
            add_up(span, path, first, count, found[wiring])
