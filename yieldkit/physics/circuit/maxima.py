"""All power maxima of strings in parallel, or the best of them, whatever their light.

The current of a string falls with the voltage. Close to each voltage at which one of its groups
goes over to its bypass diode the curve bends upwards, in between it bends downwards. So between
two such places of all strings, and knowing which way each string's curve bends at both ends, a
straight line above each curve can be drawn, and their sum bounds the power: pieces that can't
beat the best maximum are left, the others are halved until every string bends downwards in them,
where the power has one maximum at most.
"""

from __future__ import annotations

import math

import numpy as np

from yieldkit.physics.circuit.changeovers import changeover_voltages
from yieldkit.physics.circuit.maximum_scan import (
    ENDS,
    NARROWEST,
    Scan,
    bracketed_maximum,
    scanned_maxima,
)
from yieldkit.physics.circuit.tracker import (
    open_circuit,
    strings_open_circuit,
    tracker_at_voltage,
)
from yieldkit.physics.circuit.tracker_circuit import (
    clear_starts,
    most_current,
    new_workspace,
)
from yieldkit.physics.compiled import compiled, compiled_owning

# A module's usual voltage at its maximum, as a share of the open-circuit voltage.
_USUAL = 0.8


@compiled_owning
def all_maxima(conditions, circuit, found):
    """Find all power maxima of strings in parallel, whatever their light.

    Parameters
    ----------
    conditions : ndarray
        Diode parameters of this step [A, A, ohm, ohm, V] (condition, 5).
    circuit : TrackerCircuit
        The tracker.
    found : Maxima
        Filled.

    Returns
    -------
    tuple of int
        Number of maxima filled into `found`; 0 when all searches settled, 1 when not.
    """
    workspace = new_workspace(circuit)
    clear_starts(workspace)
    opens = strings_open_circuit(conditions, circuit)
    ends = np.empty((ENDS, circuit.multiplicity.shape[0], 3))
    highest, status = open_circuit(conditions, circuit)
    workspace.currents[:] = math.inf
    currents = workspace.currents
    places = changeover_voltages(conditions, circuit, 0.0, highest, currents, opens)
    clear_starts(workspace)
    narrow = NARROWEST * places[-1]
    scan = Scan(True, 0, -1.0, narrow, conditions, circuit, opens, workspace, ends, found)
    count, bad = scanned_maxima(places, scan)
    return count, max(status, bad)


@compiled
def highest_of(opens):
    """Return the highest of the strings' open-circuit voltages [V], not below zero.

    Parameters
    ----------
    opens : ndarray
        The strings' open-circuit voltages [V] (string,).

    Returns
    -------
    float
    """
    highest = 0.0
    for s in range(opens.shape[0]):
        highest = max(highest, opens[s])
    return highest


@compiled
def climbed_maximum(near, highest, conditions, circuit, workspace):
    """Climb to a power maximum, from a voltage near one or where there usually is one.

    Parameters
    ----------
    near : float
        Voltage near a maximum that is known [V]; 0 for none.
    highest : float
        Highest of the strings' open-circuit voltages [V].
    conditions : ndarray
        Diode parameters of this step [A, A, ohm, ohm, V] (condition, 5).
    circuit : TrackerCircuit
        The tracker.
    workspace : Workspace
        Starts of the strings' solutions; updated.

    Returns
    -------
    tuple of (float, float, int)
        The maximum's voltage [V] and power [W]; 0 when it settled, 1 when not.
    """
    start = near if 0.0 < near < highest else _USUAL * highest
    return bracketed_maximum(0.0, highest, start, conditions, circuit, workspace)


@compiled_owning
def best_maxima(conditions, circuit, near, found):
    """Find the best power maximum of strings in parallel, whatever their light, and some others.

    Parameters
    ----------
    conditions, circuit, found
        As for `all_maxima`.
    near : float
        Voltage near a maximum that is known [V]; 0 for none.

    Returns
    -------
    tuple of int
        As of `all_maxima`.
    """
    workspace = new_workspace(circuit)
    clear_starts(workspace)
    opens = strings_open_circuit(conditions, circuit)
    ends = np.empty((ENDS, circuit.multiplicity.shape[0], 3))
    highest = highest_of(opens)
    known, best, bad = climbed_maximum(near, highest, conditions, circuit, workspace)
    count, passed = 0, 0.0
    # A search that failed hands on nothing: all voltages are looked at.
    if bad == 0:
        found.volts[0], found.power[0] = known, best
        count = 1
        passed = min(best / most_current(conditions, circuit), known)
    tracker_at_voltage(passed, conditions, circuit, workspace)
    currents = workspace.currents
    places = changeover_voltages(conditions, circuit, passed, highest, currents, opens)
    narrow = NARROWEST * places[-1]
    start = known if count > 0 else -1.0
    scan = Scan(False, count, start, narrow, conditions, circuit, opens, workspace, ends, found)
    return scanned_maxima(places, scan)
