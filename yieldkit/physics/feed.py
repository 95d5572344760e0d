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

LOSSES, LISTED = 0, 1
_ITERATIONS = 60
_WINDOW_S = 600.0
# A cap below this share of the DC limit is filled even where that limit holds.
_SURELY = 0.9
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
        Numbers of the network's rules (8,).
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
    spread: np.ndarray
    availability: float


def network_numbers(network: Network) -> np.ndarray:
    """Return a network as the kernels take it."""
    return np.array(network, dtype=float)


def rule_numbers(rules: Rules) -> np.ndarray:
    """Return rules as the kernels take them."""
    return np.array(rules, dtype=float)


@compiled
def converted_losses(total, k0, k1, k2, nominal):
    """Return AC power [W] of a loss curve whose coefficients are weighted with power."""
    load = total / nominal - k0 / total
    if load <= 0.0:
        return 0.0
    linear = 1.0 + k1 / total
    root = math.sqrt(linear * linear + 4.0 * (k2 / total) * load)
    return min(2.0 * load / (linear + root) * nominal, total)


@compiled
def converted_listed(total, power, a, b, c, least, paco):
    """Return one input's share of the AC power [W] of a listed inverter."""
    if total < least:
        return 0.0
    above = total - b
    return power / total * ((paco / (a - b) - c * (a - b)) * above + c * above * above)


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
def off_share(alone, rise, rules, spread):
    """Return the share of a step lost to switch-off for overvoltage."""
    limit = rules[MEAN] if rules[MEAN] <= rules[STAGE] or math.isnan(rules[STAGE]) else rules[STAGE]
    if math.isnan(limit) or rise <= 0.0:
        return 0.0
    back = rules[BACK] if not math.isnan(rules[BACK]) else limit
    share = 0.0
    for node in range(spread.shape[0]):
        without = alone + spread[node, 0]
        if without + rise <= limit:
            continue
        if without >= min(back, limit):
            share += spread[node, 1]
            continue
        on_time = min(max((limit - without) / rise, 0.0), 1.0) * _WINDOW_S
        if without + rise > rules[STAGE]:
            on_time = 0.0
        decay = min(max((limit - min(back, limit)) / rise, 0.0), 1.0) * _WINDOW_S
        off_time = decay + rules[DELAY] + 0.5 * rules[RAMP]
        share += spread[node, 1] * off_time / (off_time + on_time + 0.5 * rules[RAMP])
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
def hour_converted(t, places, power, parts, behind, paco):
    """Return total DC power and AC power before limits of a wiring at an hour [W]."""
    total = 0.0
    k0, k1, k2 = 0.0, 0.0, 0.0
    for place in places:
        if place >= 0:
            total += power[place, t]
            if behind.kind == LOSSES:
                k0 += parts[place, 0, t]
                k1 += parts[place, 1, t]
                k2 += parts[place, 2, t]
    if total <= 0.0:
        return 0.0, 0.0
    if behind.kind == LOSSES:
        return total, converted_losses(total, k0, k1, k2, behind.nominal)
    p_ac = 0.0
    for place in places:
        if place >= 0:
            p_ac += converted_listed(
                total,
                power[place, t],
                parts[place, 0, t],
                parts[place, 1, t],
                parts[place, 2, t],
                behind.nominal,
                paco,
            )
    return total, min(max(p_ac, 0.0), total)


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
    for wiring in range(begin, end):
        places = wirings[wiring]
        energy, held_back, capped, unsure = 0.0, 0.0, 0.0, 0.0
        for t in range(power.shape[1]):
            total, p_ac = hour_converted(t, places, power, parts, behind, paco)
            fed = min(p_ac, behind.cap[t])
            fed = min(
                fed,
                held_by_voltage(
                    fed, behind.outside[t], behind.load, behind.network, behind.rules, ac_nominal
                ),
            )
            over = total > behind.dc_limit * (1.0 + 1e-12)
            # Held to the DC limit the trackers still fill a cap that lies far enough below.
            if over and (fed > _SURELY * behind.dc_limit or fed >= p_ac):
                unsure = 1.0
            if fed < p_ac:
                held_back += p_ac - fed
                capped += 1.0
            at_end = fed - behind.auxiliary - (behind.night if total <= 0.0 else 0.0)
            volts, heat = at_terminals(at_end, behind.outside[t], behind.load, behind.network)
            kept = at_end - heat
            if at_end > 0.0:
                rise = volts - behind.alone[t]
                kept *= 1.0 - off_share(behind.alone[t], rise, behind.rules, behind.spread)
            energy += kept * behind.availability if kept > 0.0 else kept
        found[wiring, 0] = energy
        found[wiring, 1] = held_back
        found[wiring, 2] = capped
        found[wiring, 3] = unsure
