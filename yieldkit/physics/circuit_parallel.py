"""Strings in parallel that are each lit evenly: the one maximum, found fast."""

from __future__ import annotations

import math

from yieldkit.physics.compiled import compiled
from yieldkit.physics.diode import BYPASS_IS, BYPASS_NVTH, I0, IL, RS, RSH, A

_ITERATIONS = 60
# A step this small leaves an error of its square, and currents to third order: below 1e-9.
_CLOSE = 2e-4
_BYPASS_OFF = 40.0
# Columns of the work array, one row a string: junction voltage, reciprocals, and what the last
# evaluation gave.
VD, INV_A, INV_RSH, OFF, INV_STRETCH, SLOPE, BEND = range(7)
WORK_COLUMNS = 7


@compiled
def knee(il, i0, rs, a):
    """Return a start for the junction voltage at maximum power, and that for the current.

    From the ideal diode (1 + x) exp(x) = I_L / I_0 + 1 by the asymptotic Lambert function, with
    a first-order shift for R_s.
    """
    whole = 1.0 + math.log1p(il / i0)
    inner = math.log(whole)
    x = max(whole - inner + inner / whole - 1.0, 0.05)
    current = il * x / (1.0 + x)
    shift = il * rs / (a * (1.0 + x))
    return a * max(x - shift / (1.0 + 0.5 * shift), 0.1 * x), current


@compiled
def start_at_knees(here, strings, resistances, work):
    """Set junction voltages near maximum power and return the common voltage there.

    Returns
    -------
    float
        Voltage [V]: the strings' own knees weighted by their currents; 0 in the dark.
    """
    weight = 0.0
    volts = 0.0
    for s in range(strings.shape[0]):
        row = here[strings[s, 0]]
        vd, current = knee(row[IL], row[I0], row[RS], row[A])
        work[s, VD] = vd
        work[s, INV_A] = 1.0 / row[A]
        work[s, INV_RSH] = 1.0 / row[RSH]
        share = strings[s, 2] * current
        weight += share
        volts += share * (strings[s, 1] * (vd - current * row[RS]) - resistances[s] * current)
    if weight <= 0.0:
        return 0.0
    volts /= weight
    if strings.shape[0] > 1:
        for s in range(strings.shape[0]):
            row = here[strings[s, 0]]
            wanted = volts / strings[s, 1] + 0.9 * row[IL] * row[RS]
            work[s, VD] = min(wanted, work[s, VD] + 3.0 * row[A])
    return volts


@compiled
def concave_maximum(here, strings, resistances, diodes, work, currents):
    """Find the one power maximum of parallel strings that are each lit evenly.

    With reverse currents kept, P(V) of such strings is concave. Newton on dP/dV, with one
    exponential a string and iteration: junction voltages follow the common voltage, and what
    they lack is made up to second order. Ends when the step and the gaps are both small. Near
    the maximum the bypass diodes only leak; where they would do more, another solver is asked.

    Parameters
    ----------
    here : ndarray
        Packed conditions (condition, 5).
    strings : ndarray of int
        Condition, groups in series and multiplicity of each string (string, 3).
    resistances : ndarray
        Cable resistance of each string [ohm].
    diodes : ndarray
        Packed bypass and breakdown values; without breakdown.
    work : ndarray
        Room (string, WORK_COLUMNS).
    currents : ndarray
        Filled with the strings' currents [A] (string,).

    Returns
    -------
    tuple
        Voltage [V], power [W], status (0 when settled).
    """
    volts = start_at_knees(here, strings, resistances, work)
    if volts <= 0.0:
        return 0.0, 0.0, 1
    leak = diodes[BYPASS_IS]
    least = _BYPASS_OFF * diodes[BYPASS_NVTH]
    for _ in range(_ITERATIONS):
        sum0 = 0.0
        sum1 = 0.0
        sum2 = 0.0
        gap = 0.0
        lowest = math.inf
        for s in range(strings.shape[0]):
            row = here[strings[s, 0]]
            n = strings[s, 1]
            many = strings[s, 2]
            r = resistances[s]
            vd = work[s, VD]
            inv_a = work[s, INV_A]
            e = row[I0] * math.exp(min(vd * inv_a, 500.0))
            cells = row[IL] - (e - row[I0]) - vd * work[s, INV_RSH]
            g = -e * inv_a - work[s, INV_RSH]
            g2 = -e * inv_a * inv_a
            own = vd - cells * row[RS]
            lowest = min(lowest, own)
            stretch = n * (1.0 - g * row[RS]) - r * g
            inverse = 1.0 / stretch
            total = cells - leak
            off = volts - n * own + r * total
            i1 = g * inverse
            i2 = g2 * (stretch + g * (n * row[RS] + r)) * inverse * inverse * inverse
            work[s, OFF] = off
            work[s, INV_STRETCH] = inverse
            work[s, SLOPE] = i1 + i2 * off
            work[s, BEND] = i2
            currents[s] = total + i1 * off + 0.5 * i2 * off * off
            sum0 += many * currents[s]
            sum1 += many * work[s, SLOPE]
            sum2 += many * i2
            gap = max(gap, abs(off))
        slope = sum0 + volts * sum1
        curve = 2.0 * sum1 + volts * sum2
        if not curve < 0.0:
            return volts, 0.0, 1
        step = min(max(-slope / curve, -0.3 * volts), 0.3 * volts)
        volts += step
        settled = abs(step) <= _CLOSE * volts and gap <= _CLOSE * volts
        for s in range(strings.shape[0]):
            if settled:
                currents[s] += step * (work[s, SLOPE] + 0.5 * step * work[s, BEND])
                continue
            limit = 4.0 * here[strings[s, 0], A]
            work[s, VD] += min((work[s, OFF] + step) * work[s, INV_STRETCH], limit)
        if settled:
            status = 0 if lowest > least else 1
            return volts, volts * total_current(strings, currents), status
    return volts, 0.0, 1


@compiled
def total_current(strings, currents):
    """Return the tracker's current from its strings' currents and multiplicities [A]."""
    total = 0.0
    for s in range(strings.shape[0]):
        total += strings[s, 2] * currents[s]
    return total
