"""Single-diode kernels: one cell group with its bypass diode, by its junction voltage.

Everything is explicit in the junction voltage Vd = V + I R_s: the cells' current is the single
diode equation, the voltage follows, and with it the current of the bypass diode across the
group. `junction` has the inverses.

References
----------
Bishop, J. W. (1988). Computer simulation of the effects of electrical mismatches in
photovoltaic cell interconnection circuits. Solar Cells 25, 73-89 (eq. 2 with the reverse term).
"""

from __future__ import annotations

import math
from typing import NamedTuple

from yieldkit.physics.compiled import compiled

PHOTOCURRENT = 0
"""Column of the photocurrent [A] in packed conditions; the five columns are those of `Diode`."""

EXP_MAX = 500.0
"""Exponents above this are continued as a straight line, so that nothing overflows."""


class Diode(NamedTuple):
    """A cell group's single diode in its light of one step.

    Parameters
    ----------
    photocurrent, saturation_current : float
        [A].
    resistance_series, resistance_shunt : float
        [ohm].
    n_ns_vth : float
        Ideality times cells in series times thermal voltage [V].
    """

    photocurrent: float
    saturation_current: float
    resistance_series: float
    resistance_shunt: float
    n_ns_vth: float


@compiled
def diode_at(conditions, condition):
    """Return the diode of one condition.

    Parameters
    ----------
    conditions : ndarray
        Diode parameters of this step [A, A, ohm, ohm, V] (condition, 5).
    condition : int
        Row of the conditions.

    Returns
    -------
    Diode
    """
    return Diode(
        conditions[condition, 0],
        conditions[condition, 1],
        conditions[condition, 2],
        conditions[condition, 3],
        conditions[condition, 4],
    )


@compiled
def half_of(diode):
    """Return one of the two parallel halves of a group: half the cells' area.

    Parameters
    ----------
    diode : Diode
        The whole group in the half's light.

    Returns
    -------
    Diode
    """
    return Diode(
        0.5 * diode.photocurrent,
        0.5 * diode.saturation_current,
        2.0 * diode.resistance_series,
        2.0 * diode.resistance_shunt,
        diode.n_ns_vth,
    )


@compiled
def cell_current(vd, diode, breakdown):
    """Return the cells' current, without the bypass diode's, and how it changes.

    Parameters
    ----------
    vd : float
        Junction voltage [V].
    diode : Diode
        The cells.
    breakdown : Breakdown
        Their breakdown in reverse.

    Returns
    -------
    tuple of float
        Current [A], and its first [A/V] and second [A/V2] derivative by the junction voltage.
    """
    # A division costs as much as an exponential: one for each parameter.
    per_a = 1.0 / diode.n_ns_vth
    per_rsh = 1.0 / diode.resistance_shunt
    x = vd * per_a
    over = 0.0
    if x > EXP_MAX:
        over = x - EXP_MAX
        x = EXP_MAX
    i0 = diode.saturation_current
    e = i0 * math.exp(x) * (1.0 + over)
    first = -e * per_a
    second = first * per_a
    shunt = vd * per_rsh
    current = diode.photocurrent - (e - i0) - shunt
    first -= per_rsh
    if breakdown.factor != 0.0:
        vbr = breakdown.voltage
        m = breakdown.exponent
        base = max(1.0 - vd / vbr, 1e-3)
        power = base ** (-m)
        slope = m * power / (base * vbr)
        bend = m * (m + 1.0) * power / (base * base * vbr * vbr)
        current -= breakdown.factor * shunt * power
        first -= breakdown.factor * (power * per_rsh + shunt * slope)
        second -= breakdown.factor * (2.0 * slope * per_rsh + shunt * bend)
    return current, first, second


@compiled
def group_state(vd, diode, reverse):
    """Return current and voltage of a group under its bypass diode at a junction voltage.

    Parameters
    ----------
    vd : float
        Junction voltage [V].
    diode : Diode
        The cells.
    reverse : ReversePath
        Bypass diode and breakdown.

    Returns
    -------
    tuple of float
        Current I [A], voltage V [V], and by the junction voltage: dI [A/V], d2I [A/V2], dV [1],
        d2V [1/V].
    """
    current, first, second = cell_current(vd, diode, reverse.breakdown)
    volts = vd - current * diode.resistance_series
    dv = 1.0 - first * diode.resistance_series
    d2v = -second * diode.resistance_series
    per_vth = 1.0 / reverse.bypass.n_vth
    x = -volts * per_vth
    leak = reverse.bypass.saturation_current
    if x < -40.0:
        return current - leak, volts, first, second, dv, d2v
    over = 0.0
    if x > EXP_MAX:
        over = x - EXP_MAX
        x = EXP_MAX
    bypass = leak * math.exp(x) * (1.0 + over)
    slope = bypass * per_vth
    total = current + bypass - leak
    return (
        total,
        volts,
        first - slope * dv,
        second + slope * per_vth * dv * dv - slope * d2v,
        dv,
        d2v,
    )
