"""A string's power maximum between two short-circuit currents of its groups: quickly, or surely."""

from __future__ import annotations

import math

from yieldkit.physics.circuit.diode import diode_at, group_state
from yieldkit.physics.circuit.series_string import string_at_current
from yieldkit.physics.circuit.tracker_circuit import CONDITION, groups_in_series
from yieldkit.physics.compiled import compiled

_MAX_ITERATIONS = 200
_SETTLED = 1e-8
_JOINT_ITERATIONS = 25
# Junction voltages this close (in units of their diode's n Vth) leave an error of its cube.
_JOINT_CLOSE = 2e-3
# A step of the current this small leaves an error of its square.
_CLOSE = 1e-4


@compiled
def bracketed_interval_maximum(low, high, start, best, string, junctions):
    """Find a string's power maximum between two consecutive short-circuit currents.

    Between them the power falls convexly while a group goes over to its bypass diode, rises, and
    falls at the next knee: at most one interior maximum, right of the place where dP/dI peaks.
    Newton on dP/dI inside a bracket; an interval that can't beat `best` is left early (the voltage
    falls with the current, hence P <= I_high V(I_low)).

    Parameters
    ----------
    low, high : float
        The short-circuit currents [A].
    start : float
        Current to start from [A].
    best : float
        Power to beat [W]; minus infinity for none.
    string : SeriesString
        The string.
    junctions : ndarray
        Junction voltages to start from [V], nan for none (run,); updated.

    Returns
    -------
    tuple of (float, float, int)
        Current [A] (nan when there is no maximum, or none above `best`), power [W]; 0 when the
        equations were met, 1 when not.
    """
    left = low
    right = high
    rising = False
    current = min(max(start, low + 1e-3 * (high - low)), high - 1e-9 * (high - low))
    for _ in range(_MAX_ITERATIONS):
        volts, first, second, status = string_at_current(current, string, junctions)
        slope = volts + current * first
        bend = 2.0 * first + current * second
        if bend < 0.0 and abs(slope) <= _SETTLED * (abs(volts) + abs(current * first)):
            polished = current - slope / bend
            power = current * volts + 0.5 * (polished - current) * slope
            return polished, power, status
        if slope > 0.0 or bend >= 0.0:
            left = current
            rising = rising or slope > 0.0
            if right * volts <= best:
                return math.nan, 0.0, 0
        else:
            right = current
        if right - left <= 1e-13 * high:
            return (current, current * volts, status) if rising else (math.nan, 0.0, 0)
        moved = current - slope / bend if bend < 0.0 else right
        if not left < moved < right:
            moved = 0.5 * (left + right)
        current = moved
    return math.nan, 0.0, 1


@compiled
def evaluate_jointly(current, string, junctions, missing, slopes):
    """Return a string's voltage at a current from junction voltages that nearly carry it.

    What the junctions lack is made up to second order.

    Parameters
    ----------
    current : float
        String current [A].
    string : SeriesString
        The string, without halves that are lit differently.
    junctions : ndarray
        Junction voltages [V] (run,).
    missing : ndarray
        Filled with the current that each run's junction lacks [A] (run,).
    slopes : ndarray
        Filled with its junction voltage's slope by the current [V/A] (run,).

    Returns
    -------
    tuple of (float, float, float, bool)
        Voltage [V], dV/dI [V/A], d2V/dI2 [V/A2]; whether all junctions are near enough.
    """
    conditions, runs, reverse = string.conditions, string.runs, string.reverse
    volts = -string.resistance * current
    first = -string.resistance
    second = 0.0
    apart = False
    for run in range(runs.shape[0]):
        diode = diode_at(conditions, runs[run, CONDITION])
        i, v, i1, i2, v1, v2 = group_state(junctions[run], diode, reverse)
        inverse = 1.0 / i1
        off = current - i
        d1 = v1 * inverse
        d2 = (v2 * i1 - v1 * i2) * inverse * inverse * inverse
        count = groups_in_series(conditions, runs, run)
        volts += count * (v + off * (d1 + 0.5 * off * d2))
        first += count * (d1 + off * d2)
        second += count * d2
        missing[run] = off
        slopes[run] = inverse
        scale = reverse.bypass.n_vth if v < 0.0 else diode.n_ns_vth
        apart = apart or abs(off * inverse) > _JOINT_CLOSE * scale
    return volts, first, second, not apart


@compiled
def joint_maximum(low, high, start, string, search):
    """Climb to a power maximum of a string with all its junctions at once.

    Newton on dP/dI with one evaluation of each run an iteration. Quick where it settles; where
    not, the caller takes `bracketed_interval_maximum`.

    Parameters
    ----------
    low, high : float
        Short-circuit currents between which the maximum lies [A].
    start : float
        Current to start from [A].
    string : SeriesString
        The string, without halves that are lit differently.
    search : IntervalSearch
        Junction voltages to start from, and room; updated.

    Returns
    -------
    tuple of (bool, float, float)
        Whether it settled on a maximum; current [A], power [W].
    """
    junctions, missing, slopes = search.junctions, search.missing, search.slopes
    conditions, runs = string.conditions, string.runs
    current = start
    for _ in range(_JOINT_ITERATIONS):
        volts, first, second, near = evaluate_jointly(current, string, junctions, missing, slopes)
        slope = volts + current * first
        bend = 2.0 * first + current * second
        if not bend < 0.0:
            return False, 0.0, 0.0
        # Beyond the limiting group's short circuit lies another interval: only creep up to it.
        step = min(max(-slope / bend, 0.6 * (low - current)), 0.6 * (high - current))
        current += step
        if near and abs(step) <= _CLOSE * current:
            return True, current, current * (volts + step * (first + 0.5 * step * second))
        for run in range(runs.shape[0]):
            a = diode_at(conditions, runs[run, CONDITION]).n_ns_vth
            moved = (missing[run] + step) * slopes[run]
            junctions[run] += min(max(moved, -30.0 * a), 4.0 * a)
    return False, 0.0, 0.0
