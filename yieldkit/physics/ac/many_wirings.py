"""From the trackers' power to delivered energy, for many wirings that share their trackers.

The same kernels as `simulate` uses, one hour after the other: what a wiring costs to rank is a
pass over the hours, not a new circuit.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import FloatArray
from yieldkit.physics.ac.conversion import power_from_list, power_from_losses
from yieldkit.physics.ac.network import state_without_load, voltage_and_heat
from yieldkit.physics.ac.voltage_rules import off_share, power_by_voltage
from yieldkit.physics.compiled import compiled

LOSSES, LISTED = 0, 1
# A cap below this share of the DC limit is filled even where that limit holds.
_SURELY = 0.9
# Hours done for all wirings before the next ones, so that the tables stay in the cache.
_SPAN = 128
_MEAN, _STAGE, _WATT_START = 0, 1, 5
"""Places of the limits in `Rules`."""


class AcPath(NamedTuple):
    """What the trackers' power passes on its way to the network, for the kernels.

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
    network : tuple of float
        As `Network`.
    rules : tuple of float
        As `Rules`.
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
    cap: FloatArray
    auxiliary: float
    night: float
    outside: FloatArray
    alone: FloatArray
    load: float
    network: tuple[float, ...]
    rules: tuple[float, ...]
    cycles: FloatArray
    spread: FloatArray
    availability: float


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
        p_ac[t] = power_from_losses(
            total, sums[1, t] * per, sums[2, t] * per, sums[3, t] * per, nominal
        )


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
                p_ac[t] += power[place, at] / total * power_from_list(total, a, b, c, paco)
        p_ac[t] = min(max(p_ac[t], 0.0), total)


@compiled
def fill_terminals(p_ac, outside, load, network, first, count, volts, heat):
    """Fill voltage at the terminals [V] and the lead's heat [W] (place,)."""
    if load == 0.0:
        for t in range(count):
            volts[t], _connection, _amperes, heat[t] = state_without_load(
                p_ac[t], outside[first + t], network
            )
        return
    for t in range(count):
        volts[t], heat[t] = voltage_and_heat(p_ac[t], outside[first + t], load, network)


@compiled
def sum_up(sums, p_ac, fed, volts, heat, path, first, count, row):
    """Add up what a wiring delivers, what limits hold back, and what needs a full solution."""
    highest = path.rules[_MEAN]
    if math.isnan(highest) or path.rules[_STAGE] < highest:
        highest = path.rules[_STAGE]
    near = highest - path.spread[:, 0].max()
    dc_limit, auxiliary, night = path.dc_limit, path.auxiliary, path.night
    availability = path.availability
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
            alone = path.alone[first + t]
            kept *= 1.0 - off_share(alone, volts[t] - alone, path.rules, path.spread, path.cycles)
        row[0] += kept * availability if kept > 0.0 else kept


@compiled
def delivered(begin, end, wirings, power, parts, path, paco, ac_nominal, found):
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
    path : AcPath
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
    by_voltage = not math.isnan(path.rules[_WATT_START])
    cap, outside, load, network = path.cap, path.outside, path.load, path.network
    found[begin:end, :] = 0.0
    for first in range(0, steps, _SPAN):
        count = min(_SPAN, steps - first)
        for wiring in range(begin, end):
            places = wirings[wiring]
            gather(places, power, parts, first, count, sums)
            if path.kind == LOSSES:
                convert_losses(sums, path.nominal, count, p_ac)
            else:
                least = path.nominal
                convert_listed(places, power, parts, sums, least, paco, first, count, p_ac)
            for t in range(count):
                fed[t] = min(p_ac[t], cap[first + t])
            if by_voltage:
                for t in range(count):
                    fed[t] = power_by_voltage(
                        fed[t], outside[first + t], load, network, path.rules, ac_nominal
                    )
            for t in range(count):
                night = path.night if sums[0, t] <= 0.0 else 0.0
                end_power[t] = fed[t] - path.auxiliary - night
            fill_terminals(end_power, outside, load, network, first, count, volts, heat)
            sum_up(sums, p_ac, fed, volts, heat, path, first, count, found[wiring])
