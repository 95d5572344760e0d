"""Any tracker: the current at a voltage, and all power maxima of strings in parallel."""

from __future__ import annotations

import math

import numpy as np

from yieldkit.physics.circuit_mixed import short_circuits
from yieldkit.physics.circuit_net import forget, new_warm
from yieldkit.physics.circuit_string import string_at_current, string_at_voltage
from yieldkit.physics.compiled import compiled
from yieldkit.physics.diode import IL

_ITERATIONS = 200
_SETTLED = 1e-9
_INSIDE = (0.004, 0.02, 0.06, 0.14, 0.26, 0.4, 0.55, 0.68, 0.8, 0.89, 0.95, 0.985, 0.997)


@compiled
def tracker_at_voltage(volts, here, net, warm):
    """Return a tracker's current at a voltage with derivatives; fill the strings' currents.

    Parameters
    ----------
    volts : float
        Voltage at the input [V].
    here : ndarray
        Packed conditions (condition, 5).
    net : Net
        The tracker.
    warm : Warm
        Starts; filled with the strings' currents and the junctions' voltages.

    Returns
    -------
    tuple
        Current [A], dI/dV, d2I/dV2, status.
    """
    total = 0.0
    slope = 0.0
    bend = 0.0
    status = 0
    for s in range(net.many.shape[0]):
        begin, end = net.first[s], net.first[s + 1]
        current, i1, i2, bad = string_at_voltage(
            volts,
            here,
            net.runs[begin:end],
            net.resistances[s],
            net.diodes,
            warm.junctions[begin:end],
            warm.states[begin:end],
            warm.currents[s],
        )
        status = max(status, bad)
        if net.blocked[s] == 1 and current < 0.0:
            warm.currents[s] = 0.0
            continue
        warm.currents[s] = current
        total += net.many[s] * current
        slope += net.many[s] * i1
        bend += net.many[s] * i2
    return total, slope, bend, status


@compiled
def open_circuit(here, net):
    """Return the voltage [V] at which the tracker's current is zero, and a status."""
    low = math.inf
    high = 0.0
    for s in range(net.many.shape[0]):
        own = net.runs[net.first[s] : net.first[s + 1]]
        junctions = np.full(own.shape[0], math.nan)
        volts, _d, _d2, _status = string_at_current(
            0.0, here, own, net.resistances[s], net.diodes, junctions
        )
        low = min(low, volts)
        high = max(high, volts)
    if net.many.shape[0] == 1 or high - low <= 1e-12 * abs(high):
        return high, 0
    for s in range(net.many.shape[0]):
        if net.blocked[s] == 1:
            # A blocked string carries nothing above its own open-circuit voltage.
            return high, 0
    warm = new_warm(net)
    forget(warm)
    return voltage_at_current(0.0, low, high, here, net, warm)


@compiled
def voltage_at_current(wanted, low, high, here, net, warm):
    """Return the voltage between two others at which the tracker carries a current."""
    volts = 0.5 * (low + high)
    close = 1e-12 * (abs(wanted) + here[:, IL].max()) + 1e-15
    for _ in range(_ITERATIONS):
        total, slope, _bend, status = tracker_at_voltage(volts, here, net, warm)
        gap = total - wanted
        if abs(gap) <= close:
            return volts, status
        if gap > 0.0:
            low = volts
        else:
            high = volts
        moved = volts - gap / slope if slope < 0.0 else volts
        if not low < moved < high:
            moved = 0.5 * (low + high)
        if moved == volts or high - low <= 4e-16 * high:
            return volts, status
        volts = moved
    return volts, 1


@compiled
def bracketed_maximum(low, high, here, net, warm):
    """Return the power maximum between a rising and a falling place, by Newton on dP/dV."""
    volts = 0.5 * (low + high)
    for _ in range(_ITERATIONS):
        total, i1, i2, status = tracker_at_voltage(volts, here, net, warm)
        slope = total + volts * i1
        bend = 2.0 * i1 + volts * i2
        if abs(slope) <= _SETTLED * (abs(total) + abs(volts * i1)):
            return volts, volts * total, status
        if slope > 0.0:
            low = volts
        else:
            high = volts
        if high - low <= 1e-14 * high:
            return volts, volts * total, status
        moved = volts - slope / bend if bend < 0.0 else low
        if not low < moved < high:
            moved = 0.5 * (low + high)
        volts = moved
    return volts, 0.0, 1


@compiled
def knots(here, net, highest):
    """Return the sorted voltages at which a group of any string changes over (knot,)."""
    places = np.empty(net.runs.shape[0] + net.many.shape[0] + 2)
    count = 0
    for s in range(net.many.shape[0]):
        own = net.runs[net.first[s] : net.first[s + 1]]
        junctions = np.full(own.shape[0], math.nan)
        for current in short_circuits(here, own, net.diodes):
            volts, _d, _d2, _status = string_at_current(
                current, here, own, net.resistances[s], net.diodes, junctions
            )
            if 0.0 < volts < highest:
                places[count] = volts
                count += 1
        if net.many.shape[0] > 1:
            volts, _d, _d2, _status = string_at_current(
                0.0, here, own, net.resistances[s], net.diodes, junctions
            )
            if 0.0 < volts < highest:
                places[count] = volts
                count += 1
    places[count] = 0.0
    places[count + 1] = highest
    return np.sort(places[: count + 2])


@compiled
def general_maxima(here, net, found):
    """Find every power maximum of strings in parallel, whatever their light.

    The slope of P is looked at between all voltages at which a group of any string changes
    over, close to their ends and inside; every change from rising to falling is a maximum.

    Returns
    -------
    tuple of int
        Number of maxima filled into `found` (voltage, power), status.
    """
    highest, status = open_circuit(here, net)
    places = knots(here, net, highest)
    warm = new_warm(net)
    forget(warm)
    count = 0
    rising_at = 0.0
    for interval in range(places.shape[0] - 1):
        width = places[interval + 1] - places[interval]
        if width <= 1e-9 * highest:
            continue
        for share in _INSIDE:
            volts = places[interval] + share * width
            total, i1, _i2, bad = tracker_at_voltage(volts, here, net, warm)
            status = max(status, bad)
            if total + volts * i1 > 0.0:
                rising_at = volts
                continue
            if rising_at > 0.0 and count < found.shape[0]:
                found[count, 0], found[count, 1], bad = bracketed_maximum(
                    rising_at,
                    volts,
                    here,
                    net,
                    warm,
                )
                status = max(status, bad)
                count += 1
            rising_at = 0.0
    if rising_at > 0.0 and count < found.shape[0]:
        found[count, 0], found[count, 1], bad = bracketed_maximum(
            rising_at, highest, here, net, warm
        )
        status = max(status, bad)
        count += 1
    return count, status
