"""Operating points moved towards open circuit, so that a tracker draws no more than a bound."""

from __future__ import annotations

from yieldkit.physics.circuit.tracker import open_circuit_within, tracker_at_voltage
from yieldkit.physics.circuit.tracker_circuit import clear_starts
from yieldkit.physics.compiled import compiled

_ITERATIONS = 200


@compiled
def bounded_voltage(volts, bound, v_max, conditions, circuit, workspace):
    """Return the voltage towards open circuit at which a tracker's power meets a bound.

    Parameters
    ----------
    volts : float
        Voltage of the point that has more power [V].
    bound : float
        Power to meet [W].
    v_max : float
        Maximum operating voltage [V].
    conditions : ndarray
        Diode parameters of this step [A, A, ohm, ohm, V] (condition, 5).
    circuit : TrackerCircuit
        The tracker.
    workspace : Workspace
        Room to work in; filled with the strings' currents.

    Returns
    -------
    tuple of (float, int)
        Voltage [V], 0 when no point below the maximum voltage meets the bound; 0 when the equations
        were met, 1 when not.
    """
    highest, status = open_circuit_within(conditions, circuit, workspace)
    clear_starts(workspace)
    low = volts
    high = min(highest, v_max)
    if high < highest:
        total, _d, _d2, bad = tracker_at_voltage(high, conditions, circuit, workspace)
        if high * total > bound:
            return 0.0, max(status, bad)
    moved = 0.5 * (low + high)
    for _ in range(_ITERATIONS):
        total, i1, _i2, bad = tracker_at_voltage(moved, conditions, circuit, workspace)
        gap = moved * total - bound
        if abs(gap) <= 1e-13 * bound or high - low <= 4e-16 * high:
            return moved, max(status, bad)
        if gap > 0.0:
            low = moved
        else:
            high = moved
        slope = total + moved * i1
        aim = moved - gap / slope if slope < 0.0 else low
        moved = aim if low < aim < high else 0.5 * (low + high)
    return moved, 1


@compiled
def apply_power_bound(bound, code, v_max, conditions, circuit, workspace, outputs):
    """Move the points whose power exceeds a bound towards open circuit until they meet it.

    Parameters
    ----------
    bound : ndarray
        Largest power [W] (time,).
    code : int
        What determines the moved points.
    v_max : float
        Maximum operating voltage [V].
    conditions : ndarray
        Diode parameters [A, A, ohm, ohm, V] (time, condition, 5).
    circuit : TrackerCircuit
        The tracker.
    workspace : Workspace
        Room to work in.
    outputs : Outputs
        The points; those above their bound are replaced, by zero where no point meets it.
    """
    for t in range(conditions.shape[0]):
        power = outputs.p_dc[t]
        if not power > bound[t]:
            continue
        volts = 0.0
        if bound[t] > 0.0:
            volts, status = bounded_voltage(
                outputs.v_dc[t], bound[t], v_max, conditions[t], circuit, workspace
            )
            outputs.status[t] = max(outputs.status[t], status)
        outputs.binding[t] = code
        if volts <= 0.0:
            outputs.v_dc[t], outputs.i_dc[t], outputs.p_dc[t] = 0.0, 0.0, 0.0
            for s in range(outputs.i_string.shape[1]):
                outputs.i_string[t, s] = 0.0
            outputs.p_lost[t] += power
            continue
        outputs.p_lost[t] = outputs.p_lost[t] + power - bound[t]
        outputs.v_dc[t] = volts
        outputs.p_dc[t] = bound[t]
        outputs.i_dc[t] = bound[t] / volts
        for s in range(outputs.i_string.shape[1]):
            outputs.i_string[t, s] = workspace.currents[s]
