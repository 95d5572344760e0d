"""One step of several inverters behind one connection point, solved.

The branches are a star: from every inverter its own lead to the common terminals, from there the
common lead to the meter, where the load is, and the network behind it. Seen from the terminals
each branch can be walked through without any guess: voltage and power at its near end give those
at its far end. So each inverter has one unknown, its place on the curve of voltage and power, and
all together one more, the voltage of the common terminals; each of these equations rises with its
unknown, and is solved by Newton's method between bounds that bisection keeps.
"""

from __future__ import annotations

import math

from yieldkit.physics.ac.limits import AC_LIMIT
from yieldkit.physics.ac.voltage_path import on_the_path
from yieldkit.physics.compiled import compiled

NETWORK, COMMON, OWN = range(3)
"""Rows of the table of branches: the network, the common lead, and from there on every own lead."""
SQUARE, ACTIVE, REACTIVE, CODE, FAR_P, FAR_Q, FAR_P_TURN, FAR_Q_TURN, PLACE_TURN, GAP = range(10)
"""Columns of what is known of an inverter: square of its voltage, P and Q there, what holds it, P
and Q at the common terminals, their and its place's changes by the square of the voltage there, and
by how much of it the inverter's own equation is missed."""
COLUMNS = 10
_ITERATIONS = 120
_SETTLED = 2e-14
_NEAR = 1e-2
_QUICK = 10
# Newton's steps that may lead the search before nothing but halving does.
_BY_SLOPE = 40
# Below this share of the stiff network's voltage nothing is looked for.
_LOWEST = 0.1
_NONE = AC_LIMIT["none"]


@compiled
def through(square, p, q, square_turn, p_turn, q_turn, ohms, phases):
    """Walk through a branch from its near end to its far end.

    Parameters
    ----------
    square : float
        Square of the voltage at the near end, phase to neutral [V2].
    p, q : float
        Power of all phases that enters there [W], [var].
    square_turn, p_turn, q_turn : float
        Changes of them [V2], [W], [var].
    ohms : ndarray
        Resistance and reactance [ohm] (part,).
    phases : float
        1 or 3 [1].

    Returns
    -------
    tuple of float
        Square of the voltage, P and Q at the far end, their changes, and whether the far voltage
        rises with the near one at constant power [1]: above zero on the stable side.
    """
    r, x = ohms[0], ohms[1]
    impedance = r * r + x * x
    apparent = (p * p + q * q) / (phases * phases)
    apparent_turn = 2.0 * (p * p_turn + q * q_turn) / (phases * phases)
    amperes = apparent / square
    amperes_turn = (apparent_turn - amperes * square_turn) / square
    far = square - 2.0 * (r * p + x * q) / phases + impedance * amperes
    far_turn = square_turn - 2.0 * (r * p_turn + x * q_turn) / phases + impedance * amperes_turn
    return (
        far,
        p - phases * r * amperes,
        q - phases * x * amperes,
        far_turn,
        p_turn - phases * r * amperes_turn,
        q_turn - phases * x * amperes_turn,
        square - impedance * amperes,
    )


@compiled
def place_beside(square, near, i, offer, held_q, drawn, ohms, converters, phases, places, known):
    """Find the place of an inverter at a voltage of the common terminals.

    Parameters
    ----------
    square : float
        Square of the voltage at the common terminals [V2].
    near : float
        From which share of it on the rest is taken as a straight line [1].
    i : int
        Which inverter.
    offer, held_q, drawn : float
        Power on offer [W], reactive power where both are given [var], else not a number, and own
        consumption [W].
    ohms : ndarray
        Of all branches [ohm] (branch, part).
    converters : Converters
        The inverters.
    phases : float
        1 or 3 [1].
    places : ndarray
        Place on the path [V] (inverter,), begun with and updated.
    known : ndarray
        Filled, columns as above [V2], [W], [var] (inverter, column).

    Returns
    -------
    bool
        Whether there is one; else the voltage is too low for the power.
    """
    lowest, low, high = _LOWEST * math.sqrt(square), 0.0, math.inf
    place = places[i]
    for turn in range(_ITERATIONS):
        if math.isnan(held_q):
            volts, p, q, volts_turn, p_turn, q_turn, code = on_the_path(
                place, offer, i, converters, phases
            )
        else:
            volts, p, q, volts_turn, p_turn, q_turn, code = (
                place,
                offer,
                held_q,
                1.0,
                0.0,
                0.0,
                _NONE,
            )
        far, far_p, far_q, far_turn, far_p_turn, far_q_turn, stable = through(
            volts * volts,
            p - drawn,
            q,
            2.0 * volts * volts_turn,
            p_turn,
            q_turn,
            ohms[OWN + i],
            phases,
        )
        gap = far - square
        if stable <= 0.0 or gap < 0.0:
            low = place
        else:
            high = place
        if stable > 0.0 and abs(gap) <= near * square:
            break
        following = place - gap / far_turn if stable > 0.0 and far_turn > 0.0 else math.nan
        following = next_between(following if turn < _BY_SLOPE else math.nan, place, low, high)
        if following == place:
            break
        if following < lowest:
            return False
        place = following
    known[i, SQUARE], known[i, ACTIVE], known[i, REACTIVE] = volts * volts, p, q
    known[i, CODE], known[i, GAP] = code, abs(gap) / square
    rising = far_turn if far_turn > 0.0 else math.inf
    known[i, PLACE_TURN] = 1.0 / rising
    known[i, FAR_P_TURN], known[i, FAR_Q_TURN] = far_p_turn / rising, far_q_turn / rising
    places[i] = place - gap / rising
    known[i, FAR_P] = far_p - gap * known[i, FAR_P_TURN]
    known[i, FAR_Q] = far_q - gap * known[i, FAR_Q_TURN]
    return stable > 0.0


@compiled
def next_between(following, value, low, high):
    """Return where to look next: where Newton's step leads, if it keeps inside the bounds.

    Parameters
    ----------
    following : float
        Newton's step [V], not a number where there is none.
    value : float
        The last one [V].
    low, high : float
        Bounds [V], zero and infinite while they are not known.

    Returns
    -------
    float
        That, the middle, or a step outwards [V]; `value` where the bounds have met.
    """
    if low < following < high and 0.8 * value < following < 1.25 * value:
        return following
    if math.isinf(high):
        return 1.1 * value
    if low == 0.0:
        return 0.9 * value
    half = 0.5 * (low + high)
    if half <= low or half >= high:
        return value
    return half


@compiled
def behind_the_terminals(square, p, q, square_turn, p_turn, q_turn, load, ohms, phases):
    """Walk from the common terminals through the common lead, past the load, to the stiff network.

    Parameters
    ----------
    square, p, q, square_turn, p_turn, q_turn, phases
        As for `through`.
    load : float
        Consumption at the meter [W].
    ohms : ndarray
        Of all branches [ohm] (branch, part).

    Returns
    -------
    tuple of float
        Square of the voltage that the stiff network would have [V2], its change, and above zero
        where both branches are on the stable side.
    """
    meter, p, q, meter_turn, p_turn, q_turn, stable = through(
        square, p, q, square_turn, p_turn, q_turn, ohms[COMMON], phases
    )
    if meter <= 0.0:
        return 0.0, 1.0, -1.0
    far, _p, _q, far_turn, _p_turn, _q_turn, further = through(
        meter, p - load, q, meter_turn, p_turn, q_turn, ohms[NETWORK], phases
    )
    return far, far_turn, min(stable, further)


@compiled
def settle(begin, offers, held_q, drawn, stiff_v, load, ohms, converters, phases, places, known):
    """Find the voltage of the common terminals at which all is in order.

    Parameters
    ----------
    begin : float
        Where to begin [V].
    offers, held_q, drawn : ndarray
        Power on offer [W], given reactive power [var], not a number where the inverter's rules
        set both, and own consumption [W] (inverter,).
    stiff_v, load : float
        Voltage of the stiff network [V], and consumption at the meter [W].
    ohms, converters, phases, places, known
        As for `place_beside`.

    Returns
    -------
    float
        The voltage [V]; not a number where the network can't take the power.
    """
    wanted = stiff_v * stiff_v
    volts, low, high = begin, 0.0, math.inf
    moved, near = 0.0, _NEAR
    for turn in range(_ITERATIONS):
        square = volts * volts
        p, q, p_turn, q_turn, worst, fits = 0.0, 0.0, 0.0, 0.0, 0.0, True
        for i in range(offers.size):
            places[i] = max(places[i] + moved * known[i, PLACE_TURN], 0.5 * volts)
            fits = fits and place_beside(
                square,
                near,
                i,
                offers[i],
                held_q[i],
                drawn[i],
                ohms,
                converters,
                phases,
                places,
                known,
            )
            p, q = p + known[i, FAR_P], q + known[i, FAR_Q]
            p_turn, q_turn = p_turn + known[i, FAR_P_TURN], q_turn + known[i, FAR_Q_TURN]
            worst = max(worst, known[i, GAP])
        far, far_turn, stable = behind_the_terminals(
            square, p, q, 1.0, p_turn, q_turn, load, ohms, phases
        )
        fits = fits and stable > 0.0
        gap = far - wanted
        if fits and abs(gap) <= _SETTLED * wanted:
            if worst <= _SETTLED or near <= _SETTLED:
                return volts
            moved, near = 0.0, _SETTLED
            continue
        following = volts - gap / (2.0 * volts * far_turn) if fits and far_turn > 0.0 else math.nan
        if near > _SETTLED and turn < _QUICK and abs(following - volts) < 0.2 * volts:
            # What the next place is found to matters less than the step that leads there.
            near = max(2.0 * _SETTLED, _NEAR * abs(following / volts - 1.0))
        elif near > _SETTLED:
            # From here on nothing but what is certain.
            near, following = _SETTLED, volts
        else:
            if not fits or gap < 0.0:
                low = volts
            else:
                high = volts
            following = next_between(following if turn < _BY_SLOPE else math.nan, volts, low, high)
            if following == volts or following < _LOWEST * stiff_v:
                return volts if fits else math.nan
        moved, volts = following * following - square, following
    return math.nan
