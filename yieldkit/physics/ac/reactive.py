"""Active and reactive power of an inverter at the voltage of its own terminals.

Reactive power follows a fixed cos phi, cos phi by the power, or the voltage; apparent power and
amperes bound both, and the priority says which of them gives way.
"""

from __future__ import annotations

import math
from typing import Any, NamedTuple

import numpy as np

from yieldkit.base.arrays import FloatArray, IntArray
from yieldkit.physics.ac.limits import AC_LIMIT
from yieldkit.physics.compiled import compiled

REACTIVE_KIND: dict[str, int] = {"fixed": 0, "cos-phi-of-p": 1, "q-of-u": 2}
"""How the reactive power is set, and its code."""
FIXED, COS_PHI_OF_P, Q_OF_U = REACTIVE_KIND.values()
_NONE, _APPARENT, _AMPERES = (AC_LIMIT[word] for word in ("none", "apparent power", "amperes"))
_HALVINGS = 60


class Converters(NamedTuple):
    """What each inverter behind a connection point can and must do, each (inverter,).

    Parameters
    ----------
    nominal_power : ndarray
        Nominal AC power, which P(U) and cos phi(P) refer to [W] (inverter,).
    apparent_rating : ndarray
        Rated apparent power, which Q(U) refers to [VA] (inverter,).
    max_apparent : ndarray
        Largest apparent power [VA], infinite for none (inverter,).
    max_current : ndarray
        Largest current of a phase [A], infinite for none (inverter,).
    watt_start_v, watt_end_v : ndarray
        Voltages between which the allowed power falls, phase to neutral [V]; not a number where
        it does not (inverter,).
    watt_end_share : ndarray
        Share of nominal power left from `watt_end_v` on [1] (inverter,).
    reactive_kind : ndarray of int64
        Codes of `REACTIVE_KIND` (inverter,).
    tangent : ndarray
        Reactive over active power of a fixed cos phi [1], positive injecting, negative absorbing
        (inverter,).
    reactive_x, reactive_y : ndarray
        Points of the curve (inverter, point), x rising, padded with the last point. Of
        "cos-phi-of-p": x is power over nominal power [1], y what cos phi lacks to one [1],
        positive injecting, negative absorbing (0.10 absorbing: -0.10, see `departure`), so that a
        line from absorbing to injecting passes through one. Of "q-of-u": x is the voltage at the
        terminals, phase to neutral [V], y the reactive power over `apparent_rating` [1], positive
        injecting.
    reactive_first : ndarray of int64
        1 where reactive power is kept and active power gives way to the limits of apparent power
        and amperes, 0 where active power is kept (inverter,).
    """

    nominal_power: FloatArray
    apparent_rating: FloatArray
    max_apparent: FloatArray
    max_current: FloatArray
    watt_start_v: FloatArray
    watt_end_v: FloatArray
    watt_end_share: FloatArray
    reactive_kind: IntArray
    tangent: FloatArray
    reactive_x: FloatArray
    reactive_y: FloatArray
    reactive_first: IntArray

    @property
    def numbers(self) -> Converters:
        """The converters in plain arrays, so that one compiled form of the kernels serves all."""
        kinds = {"reactive_kind": np.int64, "reactive_first": np.int64}
        parts: list[Any] = [
            np.ascontiguousarray(part, dtype=kinds.get(name, np.float64))
            for name, part in zip(self._fields, self, strict=True)
        ]
        return Converters(*parts)


def departure(cos_phi: FloatArray | float, injecting: bool) -> FloatArray:
    """Return what cos phi lacks to one, with the sign of a curve "cos-phi-of-p".

    Parameters
    ----------
    cos_phi : ndarray or float
        Above 0, at most 1 [1].
    injecting : bool
        Whether reactive power is injected (over-excited), else absorbed.

    Returns
    -------
    ndarray
        [1], as `cos_phi`.
    """
    lacking = 1.0 - np.asarray(cos_phi, dtype=float)
    return lacking if injecting else -lacking


@compiled
def curve_at(x, xs, ys):
    """Return value and slope of a curve of straight lines, level outside its points.

    Parameters
    ----------
    x : float
        Where, in the unit of the points [V] or [1].
    xs, ys : ndarray
        Its points [V] or [1] (point,).

    Returns
    -------
    tuple of float
        Value, and slope towards larger x.
    """
    last = xs.size - 1
    if x < xs[0]:
        return ys[0], 0.0
    for k in range(last):
        if x < xs[k + 1]:
            slope = (ys[k + 1] - ys[k]) / (xs[k + 1] - xs[k])
            return ys[k] + slope * (x - xs[k]), slope
    return ys[last], 0.0


@compiled
def tangent_at(p, i, converters):
    """Return reactive over active power at a power, and its slope.

    Parameters
    ----------
    p : float
        Active power [W].
    i : int
        Which inverter.
    converters : Converters
        The inverters.

    Returns
    -------
    tuple of float
        Q/P [1] and its slope [1/W], nothing where cos phi is one.
    """
    if converters.reactive_kind[i] == FIXED:
        return converters.tangent[i], 0.0
    nominal = converters.nominal_power[i]
    lacking, slope = curve_at(p / nominal, converters.reactive_x[i], converters.reactive_y[i])
    away = abs(lacking)
    if away == 0.0:
        return 0.0, 0.0
    cosine = 1.0 - away
    tangent = math.sqrt(away * (2.0 - away)) / cosine
    steepness = slope / nominal / (cosine * cosine * cosine * tangent)
    return math.copysign(tangent, lacking), steepness


@compiled
def power_inside(p, bound, i, converters):
    """Return the power at which the apparent power of a cos phi meets a bound.

    Parameters
    ----------
    p : float
        Power whose apparent power is beyond it [W].
    bound : float
        Apparent power [VA].
    i, converters
        As for `tangent_at`.

    Returns
    -------
    float
        [W]; in closed form for a fixed cos phi, else by bisection.
    """
    if converters.reactive_kind[i] == FIXED:
        return bound / math.sqrt(1.0 + converters.tangent[i] ** 2)
    low, high = 0.0, p
    for _ in range(_HALVINGS):
        half = 0.5 * (low + high)
        tangent, _slope = tangent_at(half, i, converters)
        if half * math.sqrt(1.0 + tangent * tangent) <= bound:
            low = half
        else:
            high = half
    return low


@compiled
def voltage_set_output(volts, turn, top, top_turn, bound, bound_turn, i, converters):
    """Return active and reactive power of an inverter with Q(U), inside its apparent power.

    Parameters
    ----------
    volts, turn : float
        Voltage at the terminals [V], and its change along the path [1].
    top, top_turn : float
        Most active power [W], and its change [W].
    bound, bound_turn : float
        Largest apparent power [VA], and its change [VA].
    i, converters
        As for `tangent_at`.

    Returns
    -------
    tuple of float
        P [W], Q [var], their changes, and 1 where the apparent power holds P, else 0.
    """
    share, slope = curve_at(volts, converters.reactive_x[i], converters.reactive_y[i])
    rating = converters.apparent_rating[i]
    p, p_turn, q, q_turn = top, top_turn, share * rating, slope * rating * turn
    if converters.reactive_first[i] == 0 and p > bound:
        p, p_turn = bound, bound_turn
    room = bound
    if converters.reactive_first[i] == 0:
        room = math.sqrt(max(bound * bound - p * p, 0.0))
    if abs(q) > room:
        sign = math.copysign(1.0, q)
        q = sign * room
        q_turn = sign * bound_turn
        if converters.reactive_first[i] == 0:
            q_turn = sign * (bound * bound_turn - p * p_turn) / room if room > 0.0 else 0.0
    if converters.reactive_first[i] != 0:
        left = math.sqrt(max(bound * bound - q * q, 0.0))
        if p > left:
            p_turn = (bound * bound_turn - q * q_turn) / left if left > 0.0 else 0.0
            return left, q, p_turn, q_turn, 1.0
    return p, q, p_turn, q_turn, 1.0 if p < top else 0.0


@compiled
def power_set_output(top, top_turn, bound, bound_turn, i, converters):
    """Return active and reactive power of an inverter with a cos phi, inside its apparent power.

    Parameters
    ----------
    top, top_turn, bound, bound_turn, i, converters
        As for `voltage_set_output`.

    Returns
    -------
    tuple of float
        As of `voltage_set_output`.
    """
    p, p_turn = top, top_turn
    if converters.reactive_first[i] == 0 and p > bound:
        p, p_turn = bound, bound_turn
    tangent, slope = tangent_at(p, i, converters)
    stretch = math.sqrt(1.0 + tangent * tangent)
    if p * stretch <= bound:
        return p, p * tangent, p_turn, (tangent + p * slope) * p_turn, 1.0 if p < top else 0.0
    if converters.reactive_first[i] == 0:
        room = math.sqrt(max(bound * bound - p * p, 0.0))
        sign = math.copysign(1.0, tangent)
        q_turn = sign * (bound * bound_turn - p * p_turn) / room if room > 0.0 else 0.0
        return p, sign * room, p_turn, q_turn, 1.0 if p < top else 0.0
    p = power_inside(p, bound, i, converters)
    tangent, slope = tangent_at(p, i, converters)
    stretch = math.sqrt(1.0 + tangent * tangent)
    p_turn = bound_turn / (stretch + p * tangent * slope / stretch)
    return p, p * tangent, p_turn, (tangent + p * slope) * p_turn, 1.0


@compiled
def output(volts, turn, top, top_turn, i, converters, phases):
    """Return active and reactive power of an inverter inside its apparent power and amperes.

    Parameters
    ----------
    volts, turn : float
        Voltage at the terminals [V], and its change along the path [1].
    top, top_turn : float
        Most active power: on offer and allowed by the voltage [W], and its change [W].
    i : int
        Which inverter.
    converters : Converters
        The inverters.
    phases : float
        1 or 3 [1].

    Returns
    -------
    tuple of float
        P [W], Q [var], their changes along the path, and the code of `AC_LIMIT` that holds P.
    """
    bound, bound_turn, code = converters.max_apparent[i], 0.0, _APPARENT
    by_current = phases * converters.max_current[i] * volts
    if by_current < bound:
        bound, bound_turn, code = by_current, phases * converters.max_current[i] * turn, _AMPERES
    if converters.reactive_kind[i] == Q_OF_U:
        p, q, p_turn, q_turn, held = voltage_set_output(
            volts, turn, top, top_turn, bound, bound_turn, i, converters
        )
    else:
        p, q, p_turn, q_turn, held = power_set_output(
            top, top_turn, bound, bound_turn, i, converters
        )
    return p, q, p_turn, q_turn, code if held > 0.0 else _NONE
