"""Any tracker: its current at a voltage, its voltage at a current, and its open circuit."""

from __future__ import annotations

import math

import numpy as np

from yieldkit.physics.circuit.diode import IL
from yieldkit.physics.circuit.net import forget, new_warm
from yieldkit.physics.circuit.string import string_at_current, string_at_voltage
from yieldkit.physics.compiled import compiled

_ITERATIONS = 200


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
def strings_open_circuit(here, net):
    """Return the open-circuit voltage of each string standing alone [V] (string,)."""
    opens = np.empty(net.many.shape[0])
    for s in range(net.many.shape[0]):
        own = net.runs[net.first[s] : net.first[s + 1]]
        junctions = np.full(own.shape[0], math.nan)
        opens[s], _d, _d2, _status = string_at_current(
            0.0, here, own, net.resistances[s], net.diodes, junctions
        )
    return opens


@compiled
def open_circuit(here, net):
    """Return the lowest voltage [V] at which a tracker's strings carry no current in sum, a status.

    Strings without blocking diode take back what the others give. Where all are blocked, nothing
    flows from the highest open-circuit voltage on.

    Parameters
    ----------
    here : ndarray
        Packed conditions of this step (condition, 5).
    net : Net
        The tracker.
    """
    opens = strings_open_circuit(here, net)
    low, high = opens.min(), max(opens.max(), 0.0)
    if high - low <= 1e-12 * abs(high) or net.blocked.min() == 1:
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
