"""Start and stop of a tracker: the only state that goes from step to step in a global search."""

from __future__ import annotations

import math

import numpy as np

from yieldkit.base.arrays import FloatArray
from yieldkit.physics.circuit.limits import DARK, STARTING
from yieldkit.physics.compiled import compiled

# A tracker's state through the day: its mode, and the seconds that it has waited in it.
MODE, WAITED_S = range(2)
_OFF, _RUNNING, _STOPPED = range(3)


@compiled
def may_start(highest, volts, power, rules):
    """Return whether a step offers enough for a start.

    Parameters
    ----------
    highest, volts, power : float
        Open-circuit voltage [V], operating voltage [V] and power [W].
    rules : StartStop
        The conditions.

    Returns
    -------
    bool
    """
    enough = power > 0.0 and highest >= rules.v_start and power >= rules.p_start
    return enough and volts >= rules.v_stop and power >= rules.p_stop


@compiled
def running_share(state, dark, highest, volts, power, rules):
    """Return the share of a step for which a tracker runs, and carry its state through the step.

    Parameters
    ----------
    state : ndarray
        Mode (off, running, stopped earlier today) [1] and time waited [s] (2,); updated.
    dark : bool
        Whether the array is dark: everything starts afresh.
    highest, volts, power : float
        Open-circuit voltage [V], operating voltage [V] and power [W] that the step offers.
    rules : StartStop
        The conditions.

    Returns
    -------
    float
        [1].
    """
    if dark:
        state[MODE] = _OFF
        state[WAITED_S] = 0.0
        return 0.0
    if state[MODE] == _RUNNING:
        if power > 0.0 and volts >= rules.v_stop and power >= rules.p_stop:
            return 1.0
        state[MODE] = _STOPPED
        state[WAITED_S] = 0.0
        return 0.0
    if not may_start(highest, volts, power, rules):
        state[WAITED_S] = 0.0
        return 0.0
    wait = rules.start_delay_s if state[MODE] == _OFF else rules.restart_delay_s
    left = max(wait - state[WAITED_S], 0.0)
    if left >= rules.interval_s:
        state[WAITED_S] += rules.interval_s
        return 0.0
    state[MODE] = _RUNNING
    state[WAITED_S] = 0.0
    return 1.0 - left / rules.interval_s


def new_state() -> FloatArray:
    """Return the state of a tracker that is off [1] and has waited for nothing [s] (2,)."""
    return np.zeros(2)


@compiled
def apply_start_stop(rules, highest, state, outputs):
    """Apply start and stop conditions to solved steps, in their order.

    Parameters
    ----------
    rules : StartStop
        The conditions.
    highest : ndarray
        Open-circuit voltage where a start may depend on it, else any below it [V] (time,).
    state : ndarray
        Whether the tracker runs, and how long it has waited [s] (2,); updated.
    outputs : Outputs
        The points; scaled by the share of the step for which the tracker runs.
    """
    for t in range(highest.shape[0]):
        power = outputs.p_dc[t]
        if math.isnan(power):
            state[MODE], state[WAITED_S] = 0.0, 0.0
            continue
        dark = outputs.binding[t] == DARK
        share = running_share(state, dark, highest[t], outputs.v_dc[t], power, rules)
        scale_step(t, share, outputs)


@compiled
def scale_step(t, share, outputs):
    """Scale a step's mean current and power by the share of it for which the tracker runs.

    Parameters
    ----------
    t : int
        The step.
    share : float
        From 0 to 1 [1].
    outputs : Outputs
        The points; this step's is scaled.
    """
    if share >= 1.0 or outputs.p_dc[t] <= 0.0:
        return
    outputs.p_lost[t] += (1.0 - share) * outputs.p_dc[t]
    outputs.p_dc[t] *= share
    outputs.i_dc[t] *= share
    if share == 0.0:
        outputs.v_dc[t] = 0.0
    for s in range(outputs.i_string.shape[1]):
        outputs.i_string[t, s] *= share
    outputs.binding[t] = STARTING
