"""Power of an inverter by the voltage of its terminals, P(U) and its jump as one unbroken path."""

from __future__ import annotations

from yieldkit.physics.ac.limits import AC_LIMIT
from yieldkit.physics.ac.reactive import output
from yieldkit.physics.compiled import compiled

_VOLTAGE = AC_LIMIT["voltage-dependent power"]
_NONE = AC_LIMIT["none"]


@compiled
def allowed(volts, i, converters):
    """Return the power that the voltage allows above the start of P(U), and its slope.

    Parameters
    ----------
    volts : float
        Voltage at the terminals [V].
    i : int
        Which inverter.
    converters : Converters
        The inverters.

    Returns
    -------
    tuple of float
        Power [W] and slope [W/V].
    """
    nominal, least = converters.nominal_power[i], converters.watt_end_share[i]
    start, end = converters.watt_start_v[i], converters.watt_end_v[i]
    if volts >= end:
        return least * nominal, 0.0
    slope = (least - 1.0) * nominal / (end - start)
    return nominal + (volts - start) * slope, slope


@compiled
def on_the_path(place, offer, i, converters, phases):
    """Return voltage and power of an inverter at a place of its path.

    The path is the voltage; where the allowed power jumps, from what is on offer down to nominal
    power, a piece is put in on which the voltage stays and the power falls.

    Parameters
    ----------
    place : float
        Place [V].
    offer : float
        Power on offer [W].
    i : int
        Which inverter.
    converters : Converters
        The inverters.
    phases : float
        1 or 3 [1].

    Returns
    -------
    tuple of float
        Voltage [V], P [W], Q [var], their changes along the path, and the code of `AC_LIMIT`.
    """
    start, nominal = converters.watt_start_v[i], converters.nominal_power[i]
    volts, turn, top, top_turn, held = place, 1.0, offer, 0.0, _NONE
    if place > start:
        level, _slope = allowed(start, i, converters)
        width, before = 0.0, offer
        if offer > level:
            before = output(start, 0.0, offer, 0.0, i, converters, phases)[0]
            width = max(before - level, 0.0) / nominal
        if place < start + width:
            volts, turn, held = start, 0.0, _VOLTAGE
            top, top_turn = before - (place - start) * nominal, -nominal
        else:
            volts = place - width
            most, slope = allowed(volts, i, converters)
            if most < offer:
                top, top_turn, held = most, slope, _VOLTAGE
    p, q, p_turn, q_turn, code = output(volts, turn, top, top_turn, i, converters, phases)
    return volts, p, q, turn, p_turn, q_turn, code if code != _NONE else held
