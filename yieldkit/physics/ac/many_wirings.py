"""From the trackers' power to delivered energy, for many wirings that share their trackers.

The same kernels as `simulate` uses, one hour after the other: to rank a wiring takes one pass over
the hours, and no new solution of its circuit.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from yieldkit.base.arrays import FloatArray, IntArray
from yieldkit.physics.ac.network import Network, state_at
from yieldkit.physics.ac.one_terminal import terminal_at
from yieldkit.physics.ac.reactive import FIXED, Converters
from yieldkit.physics.ac.voltage_rules import Rules, off_share
from yieldkit.physics.ac.wiring_span import (
    POWER,
    SPAN,
    convert_by_list,
    convert_by_losses,
    fill_sums,
    new_span,
)
from yieldkit.physics.compiled import compiled, compiled_owning

# Which conversion the tables have coefficients of: a loss curve's or a listed inverter's.
LOSSES, LISTED = range(2)
# Columns of what is summed up for a wiring.
DELIVERED, LIMITED, CAPPED, NEEDS_SIMULATION = range(4)
# A cap below this share of the DC limit is reached even where that limit binds.
_SURELY = 0.9


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
    dc_limit : float
        Largest DC power of all inputs [W].
    cap : ndarray
        Largest AC power by all limits: fixed ones, derating, and what voltage and meter allow at
        most, from `most_power` [W] (time,).
    auxiliary, night : float
        Power drawn always, and without any DC power [W].
    stiff_v, v_without : ndarray
        Voltage of the stiff network, and at the terminals without feed-in [V] (time,).
    load : float
        Consumption at the connection point, all phases [W].
    network : Network
        The impedances.
    ohms : ndarray
        The same: resistance and reactance of the network and of the whole lead [ohm] (2, 2).
    converter : Converters
        The inverter's rules of reactive power and its limits (1,).
    rules : Rules
        The network's limits of the voltage.
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
    dc_limit: float
    cap: FloatArray
    auxiliary: float
    night: float
    stiff_v: FloatArray
    v_without: FloatArray
    load: float
    network: Network
    ohms: FloatArray
    converter: Converters
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


@compiled
def fill_limited_power(path, first, count, span):
    """Fill the AC power inside its limits, and at the terminals.

    Parameters
    ----------
    path : AcPath
        Limits and own consumption.
    first, count : int
        First hour of the span, and how many.
    span : Span
        Its AC power is known; filled with the limited powers.
    """
    # Taken out of their tuples before the loops: each access costs as much as a multiplication.
    p_ac, p_limited, p_end, sums = span.p_ac, span.p_limited, span.p_end, span.sums
    cap = path.cap
    for t in range(count):
        p_limited[t] = min(p_ac[t], cap[first + t])
    auxiliary, night = path.auxiliary, path.night
    for t in range(count):
        p_end[t] = p_limited[t] - auxiliary - (night if sums[POWER, t] <= 0.0 else 0.0)


@compiled
def fill_terminals(path, first, count, span):
    """Fill voltage at the terminals and the lead's heat, where cos phi is fixed and without load.

    Parameters
    ----------
    path : AcPath
        Network and the inverter's cos phi.
    first, count : int
        First hour of the span, and how many.
    span : Span
        Its powers are known; filled.
    """
    network, stiff_v, tangent = path.network, path.stiff_v, path.network.tangent
    p_limited, p_end, volts, heat = span.p_limited, span.p_end, span.volts, span.heat
    for t in range(count):
        volts[t], _connection, _amperes, heat[t] = state_at(
            p_end[t], tangent * p_limited[t], stiff_v[first + t], network
        )


@compiled
def fill_terminals_by_rules(path, first, count, span):
    """Fill voltage at the terminals and the lead's heat with a load and any rule.

    Parameters
    ----------
    path : AcPath
        Network, load and the inverter's rules.
    first, count, span
        As for `fill_terminals`.
    """
    load, stiff_v, converter, ohms = path.load, path.stiff_v, path.converter, path.ohms
    p_ac, p_limited, p_end = span.p_ac, span.p_limited, span.p_end
    volts, heat, phases = span.volts, span.heat, float(path.network.phases)
    for t in range(count):
        volts[t], heat[t] = terminal_at(
            p_limited[t],
            p_ac[t] > 0.0,
            p_limited[t] - p_end[t],
            stiff_v[first + t],
            load,
            ohms,
            converter,
            phases,
        )


@compiled_owning
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
        over = sums[POWER, t] > dc_limit * (1.0 + 1e-12)
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
def fill_powers(inputs, arrangements, path, first, count, span):
    """Fill the powers of one wiring's span, up to the terminals.

    Parameters
    ----------
    inputs, arrangements, first, count
        As for `fill_sums`.
    path : AcPath
        Conversion and limits.
    span : Span
        Filled.
    """
    fill_sums(inputs, arrangements, first, count, span.sums)
    if path.kind == LOSSES:
        convert_by_losses(span.sums, path.curve_nominal, count, span.p_ac)
    else:
        convert_by_list(inputs, arrangements, span.sums, path, first, count, span.p_ac)
    fill_limited_power(path, first, count, span)


@compiled_owning
def fill_plainly(begin, end, wirings, arrangements, path, found):
    """Sum the power that wirings deliver, where cos phi is fixed and without load.

    Parameters
    ----------
    begin, end : int
        Wirings to do.
    wirings : ndarray of int
        As for `fill_delivered` (wiring, input).
    arrangements, path
        As for `fill_delivered`.
    found : ndarray
        As for `fill_delivered` [W] (wiring, 4).
    """
    steps, span = arrangements.power.shape[1], new_span()
    for first in range(0, steps, SPAN):
        count = min(SPAN, steps - first)
        for wiring in range(begin, end):
            fill_powers(wirings[wiring], arrangements, path, first, count, span)
            fill_terminals(path, first, count, span)
            add_up(span, path, first, count, found[wiring])


@compiled_owning
def fill_by_rules(begin, end, wirings, arrangements, path, found):
    """Sum the power that wirings deliver with a load and any rule of reactive power.

    Parameters
    ----------
    begin, end, arrangements, path
        As for `fill_plainly`.
    wirings : ndarray of int
        As for `fill_delivered` (wiring, input).
    found : ndarray
        As for `fill_delivered` [W] (wiring, 4).
    """
    steps, span = arrangements.power.shape[1], new_span()
    for first in range(0, steps, SPAN):
        count = min(SPAN, steps - first)
        for wiring in range(begin, end):
            fill_powers(wirings[wiring], arrangements, path, first, count, span)
            fill_terminals_by_rules(path, first, count, span)
            add_up(span, path, first, count, found[wiring])


def fill_delivered(
    begin: int,
    end: int,
    wirings: IntArray,
    arrangements: Arrangements,
    path: AcPath,
    found: FloatArray,
) -> None:
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
        What the trackers' power passes on its way to the network.
    found : ndarray
        Filled with summed power [W], power that AC limits cost [W], capped hours [1], and 1 where
        the trackers' shared limits need a simulation (wiring, 4).
    """
    found[begin:end, :] = 0.0
    own = path.converter
    # A cos phi that no limit cuts needs no voltage.
    uncut = bool(own.reactive_first[0]) or own.tangent[0] == 0.0
    if path.load == 0.0 and own.reactive_kind[0] == FIXED and uncut:
        fill_plainly(begin, end, wirings, arrangements, path, found)
        return
    fill_by_rules(begin, end, wirings, arrangements, path, found)
