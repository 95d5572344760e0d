"""A tracker's power by brute force: tables of every string's curve, then grids drawn ever closer.

Nothing here shares code with the engine. Each group's diode equation is solved for its junction
voltage inside a bracket, each string is tabulated by its current so finely that no step of the
voltage exceeds 1/150 of the highest, and the sum of the strings is looked at from end to end.
"""

from __future__ import annotations

from typing import NamedTuple

import numba
import numpy as np

from yieldkit.physics.circuit.api import CellConditions, StringCircuit, default_bypass

_TABLE = 6000
_STEPS = 150
_GRID = 1200


class Packed(NamedTuple):
    """A tracker as plain arrays: diode values (condition, 5), and each string's own."""

    here: np.ndarray
    groups: np.ndarray
    cable: np.ndarray
    blocked: np.ndarray


def packed(conditions: CellConditions, strings: tuple[StringCircuit, ...]) -> Packed:
    """Return the first step of a tracker as plain arrays: groups of each light (string, light)."""
    here = np.array([part[0] for part in conditions], dtype=float).T.copy()
    groups = np.zeros((len(strings), here.shape[0]), dtype=np.int64)
    for place, string in enumerate(strings):
        for run in string.runs:
            groups[place, run.condition] += run.count
    return Packed(
        here,
        groups,
        np.array([float(string.resistance) for string in strings]),
        np.array([string.blocking_diode for string in strings]),
    )


@numba.njit(cache=True)
def group_at(amps, row, leak, n_vth, start):
    """Voltage [V], dV/dI and junction voltage of a group under its bypass diode at a current."""
    il, i0, rs, rsh, a = row
    low = min(-n_vth * np.log1p(max(amps - il, 0.0) / leak), 0.0) - 1.0
    high = max(a * np.log1p(max(il - amps, 0.0) / i0), 0.0) + il * rs + 1.0
    x = start if low < start < high else 0.5 * (low + high)
    for _ in range(200):
        e = i0 * np.exp(min(x / a, 600.0))
        cells = il - (e - i0) - x / rsh
        volts = x - cells * rs
        b = leak * np.exp(min(-volts / n_vth, 600.0))
        gap = cells + b - leak - amps
        d_cells = -e / a - 1.0 / rsh
        d_volts = 1.0 - d_cells * rs
        slope = d_cells - b / n_vth * d_volts
        if gap > 0.0:
            low = x
        else:
            high = x
        moved = x - gap / slope
        if not low < moved < high:
            moved = 0.5 * (low + high)
        if abs(moved - x) <= 1e-7 * a or high - low <= 1e-14:
            # What is left of the step is made up to first order: an error of its square.
            volts += d_volts * (moved - x)
            break
        x = moved
    return volts, d_volts / slope, x


@numba.njit(cache=True)
def string_at(amps, here, groups, cable, leak, n_vth, starts):
    """Voltage [V] and dV/dI of a string behind its cable at a current."""
    volts, slope = -cable * amps, -cable
    for c in range(groups.size):
        if groups[c] > 0:
            own, along, starts[c] = group_at(amps, here[c], leak, n_vth, starts[c])
            volts += groups[c] * own
            slope += groups[c] * along
    return volts, slope


@numba.njit(cache=True)
def tabulate(here, groups, cable, leak, n_vth, highest, volts, amps):
    """Fill a string's curve from zero volts to the highest, rising; return how many places."""
    starts = np.zeros(groups.size)
    top = 0.0
    for c in range(groups.size):
        if groups[c] > 0:
            top = max(top, here[c, 0])
    # Right ends of pieces still to be halved are kept on a pile.
    pile = np.empty(4000)
    current = 1.02 * top + 1e-3
    v, _s = string_at(current, here, groups, cable, leak, n_vth, starts)
    volts[0], amps[0] = v, current
    count = 1
    ends = np.linspace(current, 0.0, 60)
    back = 1e-3
    place = 1
    while volts[count - 1] < highest and count < volts.size - 2:
        if place < ends.size:
            pile[0] = ends[place]
            place += 1
        else:
            pile[0] = amps[count - 1] - back
            back *= 1.5
        depth = 0
        while depth >= 0 and count < volts.size:
            v, _s = string_at(pile[depth], here, groups, cable, leak, n_vth, starts)
            gap = amps[count - 1] - pile[depth]
            wide = v - volts[count - 1] > highest / _STEPS and v > 0.0
            if wide and volts[count - 1] < highest and gap > 1e-13 * (top + 1.0):
                depth += 1
                pile[depth] = amps[count - 1] - 0.5 * gap
                continue
            volts[count], amps[count] = v, pile[depth]
            count += 1
            depth -= 1
    return count


@numba.njit(cache=True)
def exact_current(wanted, table_v, table_i, count, here, groups, cable, leak, n_vth, starts):
    """Current [A] of a string at a voltage, inside the bracket that its table gives."""
    at = np.searchsorted(table_v[:count], wanted)
    if at <= 0:
        return table_i[0]
    if at >= count:
        return table_i[count - 1]
    high, low = table_i[at - 1], table_i[at]
    share = (wanted - table_v[at - 1]) / (table_v[at] - table_v[at - 1])
    current = high + share * (low - high)
    for _ in range(100):
        v, slope = string_at(current, here, groups, cable, leak, n_vth, starts)
        if v > wanted:
            low = current
        else:
            high = current
        moved = current - (v - wanted) / slope
        if not low < moved < high:
            moved = 0.5 * (low + high)
        if abs(moved - current) <= 1e-9 * (1.0 + abs(current)) or high - low <= 1e-14:
            return moved
        current = moved
    return current


@numba.njit(cache=True)
def refined(first, last, table_v, table_i, counts, here, groups, cable, blocked, leak, n_vth):
    """Voltage and power of the best place between two voltages, by grids drawn ever closer."""
    low, high = first, last
    starts = np.zeros(groups.shape[1])
    top, at = -1.0, low
    while high - low > 1e-5 * last:
        wide = high - low
        top, at = -1.0, low
        for k in range(1, 12):
            v = low + wide * k / 12.0
            amps = 0.0
            for s in range(groups.shape[0]):
                i = exact_current(
                    v,
                    table_v[s],
                    table_i[s],
                    counts[s],
                    here,
                    groups[s],
                    cable[s],
                    leak,
                    n_vth,
                    starts,
                )
                amps += max(i, 0.0) if blocked[s] else i
            if v * amps > top:
                top, at = v * amps, v
        low, high = max(at - wide / 12.0, first), min(at + wide / 12.0, last)
    return at, top


@numba.njit(cache=True)
def brute_maxima(here, groups, cable, blocked, leak, n_vth, share, found):
    """Fill voltage and power of the maxima above a share of the best; return how many."""
    strings = groups.shape[0]
    starts = np.zeros(groups.shape[1])
    highest = 0.0
    for s in range(strings):
        v, _s = string_at(0.0, here, groups[s], cable[s], leak, n_vth, starts)
        highest = max(highest, v)
    table_v = np.empty((strings, _TABLE))
    table_i = np.empty((strings, _TABLE))
    counts = np.zeros(strings, dtype=np.int64)
    total = np.zeros(_GRID + 1)
    grid = np.linspace(0.0, highest, _GRID + 1)
    for s in range(strings):
        counts[s] = tabulate(
            here, groups[s], cable[s], leak, n_vth, highest, table_v[s], table_i[s]
        )
        n = counts[s]
        own = np.interp(grid, table_v[s, :n], table_i[s, :n])
        total += np.maximum(own, 0.0) if blocked[s] else own
    power = grid * total
    best = power.max()
    number = 0
    for place in range(1, _GRID):
        is_peak = power[place] >= power[place - 1] and power[place] > power[place + 1]
        if not is_peak or power[place] < share * best or number == found.shape[0]:
            continue
        low, high = grid[max(place - 5, 0)], grid[min(place + 5, _GRID)]
        # The best place at an end of the piece belongs to a maximum that lies beyond.
        for _move in range(40):
            at, top = refined(
                low, high, table_v, table_i, counts, here, groups, cable, blocked, leak, n_vth
            )
            if min(at - low, high - at) > 1e-3 * (high - low):
                found[number, 0], found[number, 1] = at, top
                number += 1
                break
            half = 0.5 * (high - low)
            low, high = max(at - half, 0.0), min(at + half, highest)
    return number


def maxima(conditions: CellConditions, strings: tuple[StringCircuit, ...], share: float = 0.997):
    """Return voltage [V], power [W] of the maxima above a share of the best (maximum, 2).

    Parameters
    ----------
    conditions : CellConditions
        Diode parameters; the first step is looked at.
    strings : tuple of StringCircuit
        Strings of whole groups, each under one light.
    share : float
        Maxima below this share of the best are left out [1].
    """
    bypass = default_bypass()
    tracker = packed(conditions, strings)
    found = np.empty((60, 2))
    number = brute_maxima(*tracker, bypass.saturation_current, bypass.n_vth, share, found)
    return found[:number]
