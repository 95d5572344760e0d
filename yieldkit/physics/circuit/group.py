"""One cell group (or the two halves of a half-cut group) as a two-terminal element."""

from __future__ import annotations

import math

from yieldkit.physics.circuit.diode import (
    BYPASS_IS,
    BYPASS_NVTH,
    I0,
    IL,
    RS,
    RSH,
    A,
    cell_current,
    group_state,
    junction_at_current,
    junction_at_voltage,
)
from yieldkit.physics.compiled import compiled

_MAX_ITERATIONS = 200
_EXP_MAX = 500.0


@compiled
def half_at_voltage(volts, row, diodes):
    """Return current and derivatives by voltage of half a group (half the cells' area)."""
    rs = 2.0 * row[RS]
    rsh = 2.0 * row[RSH]
    il = 0.5 * row[IL]
    i0 = 0.5 * row[I0]
    vd, status = junction_at_voltage(volts, il, i0, rs, rsh, row[A], diodes, math.nan)
    current, first, second = cell_current(vd, il, i0, rsh, row[A], diodes)
    stretch = 1.0 - first * rs
    return current, first / stretch, second / (stretch * stretch * stretch), status


@compiled
def pair_at_voltage(volts, row, partner, diodes):
    """Return current and derivatives of two parallel halves under one bypass diode."""
    one, one1, one2, status1 = half_at_voltage(volts, row, diodes)
    two, two1, two2, status2 = half_at_voltage(volts, partner, diodes)
    n_vth = diodes[BYPASS_NVTH]
    x = min(max(-volts / n_vth, -_EXP_MAX), _EXP_MAX)
    bypass = diodes[BYPASS_IS] * math.exp(x)
    return (
        one + two + bypass - diodes[BYPASS_IS],
        one1 + two1 - bypass / n_vth,
        one2 + two2 + bypass / (n_vth * n_vth),
        max(status1, status2),
    )


@compiled
def pair_at_current(current, row, partner, diodes):
    """Return voltage of two parallel halves at a current, dV/dI, d2V/dI2 and a status."""
    photo = 0.5 * (row[IL] + partner[IL])
    room = photo - current
    if room > 0.0:
        volts = max(row[A], partner[A]) * math.log1p(room / max(row[I0], partner[I0]))
    else:
        volts = -diodes[BYPASS_NVTH] * math.log1p(-room / diodes[BYPASS_IS])
    # Below zero volts the cells carry forward current, so the diode has at most all of it.
    low = -diodes[BYPASS_NVTH] * math.log1p(max(current, 0.0) / diodes[BYPASS_IS]) - 1e-9
    high = math.inf
    scale = 1e-14 * (abs(photo) + abs(current) + diodes[BYPASS_IS]) + 1e-300
    for _ in range(_MAX_ITERATIONS):
        total, slope, bend, status = pair_at_voltage(volts, row, partner, diodes)
        gap = total - current
        if abs(gap) <= scale or high - low <= 4e-16 * (abs(volts) + 1e-300):
            return volts, 1.0 / slope, -bend / (slope * slope * slope), status
        if gap > 0.0:
            low = volts
        else:
            high = volts
        moved = volts - gap / slope
        if not low < moved < high:
            moved = 0.5 * (low + high)
        if moved == volts:
            return volts, 1.0 / slope, -bend / (slope * slope * slope), status
        volts = moved
    return volts, math.nan, math.nan, 1


@compiled
def element_at_current(current, here, condition, partner, diodes, start):
    """Return an element's voltage at a current, dV/dI, d2V/dI2, junction voltage and status."""
    row = here[condition]
    if partner >= 0:
        volts, first, second, status = pair_at_current(current, row, here[partner], diodes)
        return volts, first, second, math.nan, status
    vd, status = junction_at_current(
        current, row[IL], row[I0], row[RS], row[RSH], row[A], diodes, start
    )
    _total, volts, slope, bend, dv, d2v = group_state(
        vd, row[IL], row[I0], row[RS], row[RSH], row[A], diodes
    )
    first = dv / slope
    second = (d2v * slope - dv * bend) / (slope * slope * slope)
    return volts, first, second, vd, status


@compiled
def element_current(volts, here, condition, partner, diodes):
    """Return the current [A] of an element at a voltage.

    Parameters
    ----------
    volts : float
        Voltage across it [V].
    here : ndarray
        Packed conditions of this step (condition, 5).
    condition, partner : int
        Its light, and that of its other half; -1 for none.
    diodes : ndarray
        Packed bypass and breakdown values.
    """
    row = here[condition]
    if partner >= 0:
        total, _first, _second, _status = pair_at_voltage(volts, row, here[partner], diodes)
        return total
    vd, _status = junction_at_voltage(
        volts, row[IL], row[I0], row[RS], row[RSH], row[A], diodes, math.nan
    )
    current, _first, _second = cell_current(vd, row[IL], row[I0], row[RSH], row[A], diodes)
    x = min(max(-volts / diodes[BYPASS_NVTH], -_EXP_MAX), _EXP_MAX)
    return current + diodes[BYPASS_IS] * (math.exp(x) - 1.0)
