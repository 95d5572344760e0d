"""One cell group (or the two halves of a half-cut group) as a two-terminal element."""

from __future__ import annotations

import math

from yieldkit.physics.circuit.diode import EXP_MAX, cell_current, diode_at, group_state, half_of
from yieldkit.physics.circuit.junction import junction_at_current, junction_at_voltage
from yieldkit.physics.compiled import compiled

_MAX_ITERATIONS = 200


@compiled
def half_at_voltage(volts, diode, breakdown):
    """Return the current of half a group (half the cells' area) at a voltage.

    Parameters
    ----------
    volts : float
        Voltage across it [V].
    diode : Diode
        The whole group in the half's light.
    breakdown : Breakdown
        The cells' breakdown in reverse.

    Returns
    -------
    tuple of (float, float, float, int)
        Current [A], dI/dV [A/V], d2I/dV2 [A/V2]; 0 when the equations were met, 1 when not.
    """
    half = half_of(diode)
    vd, status = junction_at_voltage(volts, half, breakdown, math.nan)
    current, first, second = cell_current(vd, half, breakdown)
    stretch = 1.0 - first * half.resistance_series
    return current, first / stretch, second / (stretch * stretch * stretch), status


@compiled
def pair_at_voltage(volts, diode, partner, reverse):
    """Return the current of two parallel halves under one bypass diode at a voltage.

    Parameters
    ----------
    volts : float
        Voltage across them [V].
    diode, partner : Diode
        The whole group in the light of either half.
    reverse : ReversePath
        Bypass diode and breakdown.

    Returns
    -------
    tuple of (float, float, float, int)
        Current [A], dI/dV [A/V], d2I/dV2 [A/V2]; 0 when the equations were met, 1 when not.
    """
    one, one1, one2, status1 = half_at_voltage(volts, diode, reverse.breakdown)
    two, two1, two2, status2 = half_at_voltage(volts, partner, reverse.breakdown)
    n_vth = reverse.bypass.n_vth
    leak = reverse.bypass.saturation_current
    x = min(max(-volts / n_vth, -EXP_MAX), EXP_MAX)
    bypass = leak * math.exp(x)
    return (
        one + two + bypass - leak,
        one1 + two1 - bypass / n_vth,
        one2 + two2 + bypass / (n_vth * n_vth),
        max(status1, status2),
    )


@compiled
def first_pair_voltage(current, diode, partner, reverse):
    """Return a voltage of two parallel halves near that at a current.

    Parameters
    ----------
    current : float
        Current of both together [A].
    diode, partner : Diode
        The whole group in the light of either half.
    reverse : ReversePath
        Bypass diode and breakdown.

    Returns
    -------
    float
        [V].
    """
    bypass = reverse.bypass
    remaining = 0.5 * (diode.photocurrent + partner.photocurrent) - current
    if remaining > 0.0:
        return max(diode.n_ns_vth, partner.n_ns_vth) * math.log1p(
            remaining / max(diode.saturation_current, partner.saturation_current)
        )
    return -bypass.n_vth * math.log1p(-remaining / bypass.saturation_current)


@compiled
def lowest_pair_voltage(current, reverse):
    """Return a voltage that two halves' at a current is not below.

    Below zero volts the cells carry forward current, so the diode has at most all of it.

    Parameters
    ----------
    current : float
        Current of both together [A].
    reverse : ReversePath
        Bypass diode and breakdown.

    Returns
    -------
    float
        [V].
    """
    bypass = reverse.bypass
    return -bypass.n_vth * math.log1p(max(current, 0.0) / bypass.saturation_current) - 1e-9


@compiled
def pair_at_current(current, diode, partner, reverse):
    """Return the voltage of two parallel halves under one bypass diode at a current.

    Parameters
    ----------
    current : float
        Current of both together [A].
    diode, partner : Diode
        The whole group in the light of either half.
    reverse : ReversePath
        Bypass diode and breakdown.

    Returns
    -------
    tuple of (float, float, float, int)
        Voltage [V], dV/dI [V/A], d2V/dI2 [V/A2]; 0 when the equations were met, 1 when not.
    """
    bypass = reverse.bypass
    photo = 0.5 * (diode.photocurrent + partner.photocurrent)
    volts = first_pair_voltage(current, diode, partner, reverse)
    low = lowest_pair_voltage(current, reverse)
    high = math.inf
    scale = 1e-14 * (abs(photo) + abs(current) + bypass.saturation_current) + 1e-300
    for _ in range(_MAX_ITERATIONS):
        total, slope, bend, status = pair_at_voltage(volts, diode, partner, reverse)
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
def element_at_current(current, conditions, condition, partner, reverse, start):
    """Return a cell group's voltage at a current, whole or of two halves.

    Parameters
    ----------
    current : float
        Current of the group [A].
    conditions : ndarray
        Diode parameters of this step [A, A, ohm, ohm, V] (condition, 5).
    condition, partner : int
        Row of its light, and of its other half's; -1 where both halves have the same.
    reverse : ReversePath
        Bypass diode and breakdown.
    start : float
        Junction voltage to start from [V], nan for none.

    Returns
    -------
    tuple of (float, float, float, float, int)
        Voltage [V], dV/dI [V/A], d2V/dI2 [V/A2], junction voltage [V] (nan for two halves); 0
        when the equations were met, 1 when not.
    """
    diode = diode_at(conditions, condition)
    if partner >= 0:
        other = diode_at(conditions, partner)
        volts, first, second, status = pair_at_current(current, diode, other, reverse)
        return volts, first, second, math.nan, status
    vd, status = junction_at_current(current, diode, reverse, start)
    _total, volts, slope, bend, dv, d2v = group_state(vd, diode, reverse)
    first = dv / slope
    second = (d2v * slope - dv * bend) / (slope * slope * slope)
    return volts, first, second, vd, status


@compiled
def element_current(volts, conditions, condition, partner, reverse):
    """Return a cell group's current at a voltage, whole or of two halves.

    Parameters
    ----------
    volts : float
        Voltage across it [V].
    conditions, condition, partner, reverse
        As for `element_at_current`.

    Returns
    -------
    float
        Current [A].
    """
    diode = diode_at(conditions, condition)
    if partner >= 0:
        other = diode_at(conditions, partner)
        total, _first, _second, _status = pair_at_voltage(volts, diode, other, reverse)
        return total
    vd, _status = junction_at_voltage(volts, diode, reverse.breakdown, math.nan)
    current, _first, _second = cell_current(vd, diode, reverse.breakdown)
    x = min(max(-volts / reverse.bypass.n_vth, -EXP_MAX), EXP_MAX)
    return current + reverse.bypass.saturation_current * (math.exp(x) - 1.0)
