"""Strings in parallel that are each lit evenly: the one maximum, and currents at a voltage."""

from __future__ import annotations

from yieldkit.physics.compiled import compiled
from yieldkit.physics.diode import A, I0, IL, RS, RSH, group_state, knee

_ITERATIONS = 60
_CLOSE = 1e-6
# Columns of the work array, one row a string.
VD, OFF, STRETCH, SLOPE, BEND = 0, 1, 2, 3, 4
WORK_COLUMNS = 5


@compiled
def even_string_state(vd, row, groups, resistance, diodes):
    """Return current and voltage of an evenly lit string, with derivatives by the junction.

    Returns
    -------
    tuple of float
        Current [A], voltage behind the cable [V], dI, d2I, dV, d2V.
    """
    total, own, g, g2, dv, d2v = group_state(
        vd, row[IL], row[I0], row[RS], row[RSH], row[A], diodes
    )
    return (
        total,
        groups * own - resistance * total,
        g,
        g2,
        groups * dv - resistance * g,
        groups * d2v - resistance * g2,
    )


@compiled
def start_at_knees(here, strings, resistances, diodes, work):
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
        vd = knee(row[IL], row[I0], row[RS], row[A])
        work[s, VD] = vd
        current, own, _1, _2, _3, _4 = even_string_state(
            vd, row, strings[s, 1], resistances[s], diodes
        )
        share = strings[s, 2] * max(current, 0.0)
        weight += share
        volts += share * own
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
    they lack is made up to second order. Ends when the step and the gaps are both small.

    Parameters
    ----------
    here : ndarray
        Packed conditions (condition, 5).
    strings : ndarray of int
        Condition, groups in series and multiplicity of each string (string, 3).
    resistances : ndarray
        Cable resistance of each string [ohm].
    diodes : ndarray
        Packed bypass and breakdown values.
    work : ndarray
        Room (string, 5).
    currents : ndarray
        Filled with the strings' currents [A] (string,).

    Returns
    -------
    tuple
        Voltage [V], power [W], status (0 when settled).
    """
    volts = start_at_knees(here, strings, resistances, diodes, work)
    if volts <= 0.0:
        return 0.0, 0.0, 1
    for _ in range(_ITERATIONS):
        sum0 = 0.0
        sum1 = 0.0
        sum2 = 0.0
        gap = 0.0
        for s in range(strings.shape[0]):
            many = strings[s, 2]
            total, own, g, g2, stretch, bend = even_string_state(
                work[s, VD], here[strings[s, 0]], strings[s, 1], resistances[s], diodes
            )
            off = volts - own
            i1 = g / stretch
            i2 = (g2 * stretch - g * bend) / (stretch * stretch * stretch)
            work[s, OFF] = off
            work[s, STRETCH] = stretch
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
            work[s, VD] += min((work[s, OFF] + step) / work[s, STRETCH], limit)
        if settled:
            return volts, volts * total_current(strings, currents), 0
    return volts, 0.0, 1


@compiled
def total_current(strings, currents):
    """Return the tracker's current from its strings' currents and multiplicities [A]."""
    total = 0.0
    for s in range(strings.shape[0]):
        total += strings[s, 2] * currents[s]
    return total
