"""Voltages at which a tracker's curve bends most: where groups go over to their bypass diodes."""

from __future__ import annotations

import math

import numpy as np

from yieldkit.physics.circuit.diode import diode_at
from yieldkit.physics.circuit.group import element_current
from yieldkit.physics.circuit.series_string import string_at_current
from yieldkit.physics.circuit.tracker import string_of
from yieldkit.physics.circuit.tracker_circuit import CONDITION, PARTNER, no_junctions
from yieldkit.physics.compiled import compiled, compiled_owning

# A short-circuit current is its light's within a thousandth; above this it surely lies above.
_SURELY_ABOVE = 0.999


@compiled
def changeover_current(conditions, condition, partner, reverse):
    """Return the current at which a group has gone over to its bypass diode.

    There the diode's slope is half that of the shunt and the curve bends most sharply: a little
    above the short-circuit current, at a small negative voltage.

    Parameters
    ----------
    conditions : ndarray
        Diode parameters of this step [A, A, ohm, ohm, V] (condition, 5).
    condition, partner : int
        Row of its light, and of its other half's; -1 where both halves have the same.
    reverse : ReversePath
        Bypass diode and breakdown.

    Returns
    -------
    float
        [A].
    """
    shunt = diode_at(conditions, condition).resistance_shunt
    if partner >= 0:
        other = diode_at(conditions, partner).resistance_shunt
        shunt = 2.0 / (1.0 / shunt + 1.0 / other)
    bypass = reverse.bypass
    steps = math.log(max(0.5 * bypass.n_vth / (bypass.saturation_current * shunt), 1.0))
    return element_current(-bypass.n_vth * steps, conditions, condition, partner, reverse)


@compiled
def sort_few(values):
    """Sort a few numbers in their place.

    Parameters
    ----------
    values : ndarray
        Numbers, none missing but the last, which then stays there; updated to rise [1] (place,).
    """
    for end in range(1, values.shape[0]):
        value, place = values[end], end
        while place > 0 and values[place - 1] > value:
            values[place] = values[place - 1]
            place -= 1
        values[place] = value


@compiled_owning
def changeover_voltages(conditions, circuit, lowest, highest, currents, opens):
    """Return the sorted voltages at which a group of any string changes over.

    Parameters
    ----------
    conditions : ndarray
        Diode parameters of this step [A, A, ohm, ohm, V] (condition, 5).
    circuit : TrackerCircuit
        The tracker.
    lowest, highest : float
        Voltages between which to search [V]; both are among those returned.
    currents : ndarray
        The strings' currents at `lowest` [A] (string,): a group whose short-circuit current lies
        above changes over at a lower voltage.
    opens : ndarray
        The strings' open-circuit voltages [V] (string,).

    Returns
    -------
    ndarray
        [V] (place,), with the open-circuit voltages of several strings.
    """
    places = np.empty(circuit.runs.shape[0] + circuit.multiplicity.shape[0] + 2)
    count = 0
    for s in range(circuit.multiplicity.shape[0]):
        own = string_of(circuit, s, conditions)
        junctions = no_junctions(own.runs.shape[0])
        for run in range(own.runs.shape[0]):
            condition, partner = own.runs[run, CONDITION], own.runs[run, PARTNER]
            diode = diode_at(conditions, condition)
            below = currents[s] * (1.0 + diode.resistance_series / diode.resistance_shunt)
            if partner < 0 and _SURELY_ABOVE * diode.photocurrent > below:
                continue
            current = changeover_current(conditions, condition, partner, circuit.reverse)
            volts, _d, _d2, _status = string_at_current(current, own, junctions)
            if lowest < volts < highest:
                places[count] = volts
                count += 1
        if circuit.multiplicity.shape[0] > 1 and lowest < opens[s] < highest:
            places[count] = opens[s]
            count += 1
    places[count] = lowest
    places[count + 1] = highest
    sort_few(places[: count + 2])
    return places[: count + 2]
