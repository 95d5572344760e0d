"""From the trackers' power to delivered energy, for many wirings that share their trackers.

The same formulas as `inverter` and `grid`, one hour after the other in compiled code: what a
wiring costs to rank is a pass over the hours, not a new circuit.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from yieldkit.physics.compiled import compiled
from yieldkit.physics.grid import Network, Rules
from yieldkit.physics.switch_off import lost_share

LOSSES, LISTED = 0, 1
_ITERATIONS = 60
# A cap below this share of the DC limit is filled even where that limit holds.
_SURELY = 0.9
# Hours done for all wirings before the next ones, so that the tables stay in the cache.
_SPAN = 128
(MEAN, STAGE, BACK, DELAY, RAMP, WATT_START, WATT_END, WATT_SHARE) = range(8)


class Behind(NamedTuple):
    """What lies behind the trackers, for the kernels.

    Parameters
    ----------
    kind : int
        `LOSSES` or `LISTED`: which conversion the tables hold.
    nominal : float
        Nominal AC power of a loss curve, or the least DC power of a listed inverter [W].
    dc_limit : float
        Largest DC power of all inputs [W].
    cap : ndarray
        Largest AC power by fixed limits and derating [W] (time,).
    auxiliary, night : float
        Power drawn always, and without any DC power [W].
    outside, alone : ndarray
        Voltage of the stiff network, and at the terminals without feed-in [V] (time,).
    load : float
        Consumption at the connection point, all phases [W].
    network : ndarray
        R and X of the lead, R and X of the network [ohm], phases, tangent (6,).
    rules : ndarray
        Numbers of the network's rules (9,).
    cycles : ndarray
        What tripping by the ten-minute mean costs, by the limit's height (place,).
    spread : ndarray
        Offsets [V] and weights of the network voltage within a step (node, 2).
    availability : float
        Share of the time [1].
    """

    kind: int
    nominal: float
    dc_limit: float
    cap: np.ndarray
    auxiliary: float
    night: float
    outside: np.ndarray
    alone: np.ndarray
    load: float
    network: np.ndarray
    rules: np.ndarray
    cycles: np.ndarray
    spread: np.ndarray
    availability: float


def network_numbers(network: Network) -> np.ndarray:
    """Return a network as the kernels take it."""
    return np.array(network, dtype=float)


def rule_numbers(rules: Rules) -> np.ndarray:
    """Return rules as the kernels take them."""
    return np.array(rules, dtype=float)


@compiled
def at_terminals(p_ac, outside, load, network):
    """Return voltage at the terminals [V] and the lead's heat [W] at a power."""
    phases = network[4]
    power = p_ac / phases
    reactive = network[5] * power
    squared = power * power + reactive * reactive
    if load == 0.0:
        r, x = network[0] + network[2], network[1] + network[3]
        along = r * power + x * reactive
        across = x * power - r * reactive
        half = along + 0.5 * outside * outside
        square = half + math.sqrt(half * half - along * along - across * across)
    else:
        lead = complex(network[0], network[1])
        upstream = complex(network[2], network[3])
        apparent = complex(power, -reactive)
        inverter = complex(outside, 0.0)
        connection = complex(outside, 0.0)
        for _ in range(_ITERATIONS):
            current = apparent / inverter.conjugate()
            connection = outside + upstream * (current - load / phases / connection.conjugate())
            moved = connection + lead * current
            gap = abs(moved - inverter)
            inverter = moved
            if gap <= 1e-13 * outside:
                break
        square = inverter.real * inverter.real + inverter.imag * inverter.imag
    return math.sqrt(square), phases * squared / square * network[0]


@compiled
def off_share(alone, rise, rules, spread, cycles):
    """Return the share of a step lost to switch-off for overvoltage."""
    share = 0.0
    for node in range(spread.shape[0]):
        share += spread[node, 1] * lost_share(
            alone + spread[node, 0],
            rise,
            rules[MEAN],
            rules[STAGE],
            rules[BACK],
            rules[DELAY],
            rules[RAMP],
            cycles,
        )
    return share


@compiled
def allowed_watts(volts, rules, nominal):
    """Return the power that a voltage allows [W]."""
    if math.isnan(rules[WATT_START]) or volts <= rules[WATT_START]:
        return math.inf
    if volts >= rules[WATT_END]:
        return rules[WATT_SHARE] * nominal
    part = (volts - rules[WATT_START]) / (rules[WATT_END] - rules[WATT_START])
    return (1.0 + part * (rules[WATT_SHARE] - 1.0)) * nominal


@compiled
def held_by_voltage(p_ac, outside, load, network, rules, nominal):
    """Return the power at which the voltage it causes allows just that power [W]."""
    if math.isnan(rules[WATT_START]):
        return p_ac
    volts, _heat = at_terminals(p_ac, outside, load, network)
    if p_ac <= allowed_watts(volts, rules, nominal):
        return p_ac
    low, high = 0.0, p_ac
    for _ in range(_ITERATIONS):
        half = 0.5 * (low + high)
        volts, _heat = at_terminals(half, outside, load, network)
        if half <= allowed_watts(volts, rules, nominal):
            low = half
        else:
            high = half
    return 0.5 * (low + high)


@compiled
def gather(places, power, parts, first, count, sums):
    """Fill the sums of power and conversion parts of a wiring's inputs (4, place in the span)."""
    sums[:, :count] = 0.0
    for place in places:
        if place < 0:
            continue
        for i in range(count):
            sums[0, i] += power[place, first + i]
        for part in range(3):
            for i in range(count):
                sums[part + 1, i] += parts[place, part, first + i]


@compiled
def convert_losses(sums, nominal, count, p_ac):
    """Fill AC power [W] (place,) of a loss curve whose coefficients are weighted with power."""
    for t in range(count):
        total = sums[0, t]
        per = 1.0 / max(total, 1e-9)
        load = max(total / nominal - sums[1, t] * per, 0.0)
        linear = 1.0 + sums[2, t] * per
        root = math.sqrt(linear * linear + 4.0 * sums[3, t] * per * load)
        p_ac[t] = min(2.0 * load / (linear + root) * nominal, total)


@compiled
def convert_listed(places, power, parts, sums, least, paco, first, count, p_ac):
    """Fill AC power [W] (place,) of a listed inverter, each input weighted with its power."""
    for t in range(count):
        total = sums[0, t]
        p_ac[t] = 0.0
        if total < least or total <= 0.0:
            continue
        for place in places:
            if place >= 0:
                at = first + t
                a, b, c = parts[place, 0, at], parts[place, 1, at], parts[place, 2, at]
                above = total - b
                own = (paco / (a - b) - c * (a - b)) * above + c * above * above
                p_ac[t] += power[place, at] / total * own
        p_ac[t] = min(max(p_ac[t], 0.0), total)


@compiled
def fill_terminals(p_ac, outside, load, network, first, count, volts, heat):
    """Fill voltage at the terminals [V] and the lead's heat [W] (place,)."""
    if load != 0.0:
        for t in range(count):
            volts[t], heat[t] = at_terminals(p_ac[t], outside[first + t], load, network)
        return
    phases, tangent = network[4], network[5]
    r, x = network[0] + network[2], network[1] + network[3]
    lead = network[0]
    per = 1.0 / phases
    for t in range(count):
        stiff = outside[first + t]
        power = p_ac[t] * per
        reactive = tangent * power
        squared = power * power + reactive * reactive
        along = r * power + x * reactive
        across = x * power - r * reactive
        half = along + 0.5 * stiff * stiff
        square = half + math.sqrt(half * half - along * along - across * across)
        volts[t] = math.sqrt(square)
        heat[t] = phases * squared / square * lead


@compiled
def sum_up(sums, p_ac, fed, volts, heat, behind, first, count, row):
    """Add up what a wiring delivers, what limits hold back, and what needs a full solution."""
    highest = behind.rules[MEAN]
    if math.isnan(highest) or behind.rules[STAGE] < highest:
        highest = behind.rules[STAGE]
    near = highest - behind.spread[:, 0].max()
    dc_limit, auxiliary, night = behind.dc_limit, behind.auxiliary, behind.night
    availability = behind.availability
    for t in range(count):
        total = sums[0, t]
        over = total > dc_limit * (1.0 + 1e-12)
        # Held to the DC limit the trackers still fill a cap that lies far enough below.
        if over and (fed[t] > _SURELY * dc_limit or fed[t] >= p_ac[t]):
            row[3] = 1.0
        if fed[t] < p_ac[t]:
            row[1] += p_ac[t] - fed[t]
            row[2] += 1.0
        at_end = fed[t] - auxiliary - (night if total <= 0.0 else 0.0)
        kept = at_end - heat[t]
        if at_end > 0.0 and volts[t] > near:
            alone = behind.alone[first + t]
            kept *= 1.0 - off_share(
                alone, volts[t] - alone, behind.rules, behind.spread, behind.cycles
            )
        row[0] += kept * availability if kept > 0.0 else kept


@compiled
def delivered(begin, end, wirings, power, parts, behind, paco, ac_nominal, found):
    """Sum the power that wirings deliver over all hours.

    Parameters
    ----------
    begin, end : int
        Wirings to do.
    wirings : ndarray of int
        Position of each input's arrangement, -1 for none (wiring, input).
    power : ndarray
        Power each arrangement draws [W] (arrangement, time).
    parts : ndarray
        What its conversion needs (arrangement, 3, time).
    behind : Behind
        Limits, network and rules.
    paco, ac_nominal : float
        Reference power of a listed inverter, nominal AC power [W].
    found : ndarray
        Filled with summed power [W], power held back by AC limits [W], capped hours, and 1 where
        the trackers' shared limits need a full solution (wiring, 4).
    """
    steps = power.shape[1]
    sums = np.empty((4, _SPAN))
    p_ac, fed, end_power = np.empty(_SPAN), np.empty(_SPAN), np.empty(_SPAN)
    volts, heat = np.empty(_SPAN), np.empty(_SPAN)
    by_voltage = not math.isnan(behind.rules[WATT_START])
    cap, outside, load, network = behind.cap, behind.outside, behind.load, behind.network
    found[begin:end, :] = 0.0
    for first in range(0, steps, _SPAN):
        count = min(_SPAN, steps - first)
        for wiring in range(begin, end):
            places = wirings[wiring]
            gather(places, power, parts, first, count, sums)
            if behind.kind == LOSSES:
                convert_losses(sums, behind.nominal, count, p_ac)
            else:
                least = behind.nominal
                convert_listed(places, power, parts, sums, least, paco, first, count, p_ac)
            for t in range(count):
                fed[t] = min(p_ac[t], cap[first + t])
            if by_voltage:
                for t in range(count):
                    fed[t] = held_by_voltage(
                        fed[t], outside[first + t], load, network, behind.rules, ac_nominal
                    )
            for t in range(count):
                night = behind.night if sums[0, t] <= 0.0 else 0.0
                end_power[t] = fed[t] - behind.auxiliary - night
            fill_terminals(end_power, outside, load, network, first, count, volts, heat)
            sum_up(sums, p_ac, fed, volts, heat, behind, first, count, found[wiring])
