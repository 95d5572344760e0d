"""How an export limit at the meter is shared between the inverters behind it.

One number a step says how much of its offer each may give: one share for all, or how many of the
list keep all of it. What an inverter that its own limit holds leaves of its part goes to the
others, for the number is raised until the export meets the limit.
"""

from __future__ import annotations

import math

import numpy as np

from yieldkit.physics.ac.connection_step import (
    ACTIVE,
    CODE,
    COLUMNS,
    COMMON,
    FAR_P,
    FAR_Q,
    PLACE_TURN,
    REACTIVE,
    SQUARE,
    settle,
    through,
)
from yieldkit.physics.ac.limits import AC_LIMIT
from yieldkit.physics.compiled import compiled, compiled_owning

_EXPORT = AC_LIMIT["export"]
_NONE = AC_LIMIT["none"]
_ITERATIONS = 80
_MET_W = 1e-6


@compiled
def fill_parts(kept, in_order, offers, parts):
    """Fill what each inverter may give of its offer.

    Parameters
    ----------
    kept : float
        The share of all [1], or how many of the list keep theirs [1].
    in_order : bool
        Whether the first listed keeps longest.
    offers : ndarray
        Power on offer [W] (inverter,).
    parts : ndarray
        Filled [W] (inverter,).
    """
    for i in range(offers.size):
        share = min(max(kept - i, 0.0), 1.0) if in_order else kept
        parts[i] = offers[i] * share if offers[i] > 0.0 else offers[i]


@compiled
def export_of(volts, load, known, ohms, phases):
    """Return what leaves through the meter.

    Parameters
    ----------
    volts : float
        Voltage of the common terminals [V].
    load : float
        Consumption at the meter [W].
    known : ndarray
        Of the inverters, as `settle` fills it [V2], [W], [var] (inverter, column).
    ohms : ndarray
        Of all branches [ohm] (branch, part).
    phases : float
        1 or 3 [1].

    Returns
    -------
    float
        [W].
    """
    p, q = 0.0, 0.0
    for i in range(known.shape[0]):
        p, q = p + known[i, FAR_P], q + known[i, FAR_Q]
    _far, p, _q, _far_turn, _p_turn, _q_turn, _stable = through(
        volts * volts, p, q, 0.0, 0.0, 0.0, ohms[COMMON], phases
    )
    return p - load


@compiled
def next_kept(kept, gap, slope, low, high, turn):
    """Return the number to try next: by the slope, or the middle where that leads out.

    Parameters
    ----------
    kept : float
        The last one [1].
    gap, slope : float
        Its export above the limit [W], and how that grows with the number [W].
    low, high : float
        Numbers with too little and with too much export [1].
    turn : int
        How many have been tried; now and then the middle is taken.

    Returns
    -------
    float
        [1]; a bound where both have met.
    """
    following = kept - gap / slope if slope > 0.0 else math.nan
    if low < following < high and turn % 8 != 7:
        return following
    return 0.5 * (low + high)


@compiled_owning
def settle_inside(
    limit, in_order, offers, held_q, drawn, stiff_v, load, ohms, converters, phases, places, known
):
    """Find the step's state whose export is inside the limit.

    Parameters
    ----------
    limit : float
        Largest export [W].
    in_order : bool
        Whether the first listed keeps longest, else all give way by the same share.
    offers, held_q, drawn : ndarray
        As for `settle` [W], [var], [W] (inverter,).
    stiff_v, load : float
        As for `settle` [V], [W].
    ohms, converters, phases, places, known
        As for `settle`.

    Returns
    -------
    float
        Voltage of the common terminals [V], not a number where the network can't take the power.
    """
    total = 0.0
    for i in range(offers.size):
        total += max(offers[i], 0.0)
    parts = offers.copy()
    low, high = 0.0, float(offers.size) if in_order else 1.0
    kept, before, slope = high, 0.0, max(total, 1.0)
    following, volts = high, stiff_v
    for turn in range(_ITERATIONS):
        if math.isnan(volts):
            for i in range(offers.size):
                places[i] = stiff_v
        volts = settle(
            places[0], parts, held_q, drawn, stiff_v, load, ohms, converters, phases, places, known
        )
        gap = math.inf
        if not math.isnan(volts):
            gap = export_of(volts, load, known, ohms, phases) - limit
        if math.isinf(limit) or abs(gap) <= _MET_W or (turn == 0 and gap <= 0.0):
            break
        if turn > 0:
            slope = (gap - before) / (following - kept)
        kept, before = following, gap
        if gap > 0.0:
            high = kept
        else:
            low = kept
        if in_order and high - low > 1.0:
            following = math.ceil(high) - 1.0
        else:
            following = next_kept(kept, gap, slope, low, high, turn)
            if not low < following < high:
                break
        fill_parts(following, in_order, offers, parts)
    for i in range(offers.size):
        if parts[i] < offers[i] and known[i, CODE] == _NONE:
            known[i, CODE] = _EXPORT
    return volts


@compiled_owning
def fill_steps(
    offer,
    given_q,
    drawn,
    stiff_v,
    load,
    start_v,
    ohms,
    converters,
    phases,
    limit,
    in_order,
    states,
    codes,
):
    """Fill what every inverter gives in all steps; a missing number makes its own step missing.

    Parameters
    ----------
    offer, given_q, drawn : ndarray
        Power on offer [W], given reactive power [var], not a number where the rules of each
        inverter set it, and own consumption [W] (time, inverter).
    stiff_v, load, start_v : ndarray
        Voltage of the stiff network [V], consumption at the meter [W] and where the search begins
        [V] (time,).
    ohms : ndarray
        Of all branches [ohm] (branch, part).
    converters : Converters
        The inverters.
    phases, limit : float
        1 or 3 [1], and the largest export [W].
    in_order : bool
        Whether the first listed keeps longest.
    states : ndarray
        Filled with P [W], Q [var] and voltage [V] at the terminals (3, time, inverter).
    codes : ndarray of int8
        Filled, codes of `AC_LIMIT` (time, inverter).
    """
    steps, inverters = offer.shape
    places, known = np.empty(inverters), np.empty((inverters, COLUMNS))
    held_q = np.empty(inverters)
    for t in range(steps):
        total = stiff_v[t] + load[t]
        for i in range(inverters):
            total += offer[t, i] + drawn[t, i]
            held_q[i] = given_q[t, i]
            if offer[t, i] <= 0.0 and math.isnan(held_q[i]):
                held_q[i] = 0.0
            states[0, t, i] = states[1, t, i] = states[2, t, i] = np.nan
            codes[t, i] = 0
        if math.isnan(total):
            continue
        for i in range(inverters):
            places[i], known[i, PLACE_TURN] = start_v[t], 0.0
        volts = settle_inside(
            limit,
            in_order,
            offer[t],
            held_q,
            drawn[t],
            stiff_v[t],
            load[t],
            ohms,
            converters,
            phases,
            places,
            known,
        )
        if math.isnan(volts):
            continue
        for i in range(inverters):
            states[0, t, i], states[1, t, i] = known[i, ACTIVE], known[i, REACTIVE]
            states[2, t, i] = math.sqrt(known[i, SQUARE])
            codes[t, i] = int(known[i, CODE])
