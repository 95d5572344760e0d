"""The terminals of one inverter at a power that is known to be allowed there."""

from __future__ import annotations

import math

from yieldkit.physics.ac.connection_step import COMMON, behind_the_terminals, next_between
from yieldkit.physics.ac.reactive import output
from yieldkit.physics.compiled import compiled

_ITERATIONS = 120
_SETTLED = 2e-14
_LOWEST = 0.1


@compiled
def terminal_at(p, awake, drawn, stiff_v, load, ohms, converters, phases):
    """Return voltage and heat of the lead at a power, with the reactive power of the rules.

    Parameters
    ----------
    p : float
        Power, inside every limit at the voltage it makes [W].
    awake : bool
        Whether anything is on offer: else it makes no reactive power.
    drawn : float
        Own consumption [W].
    stiff_v, load : float
        Voltage of the stiff network [V], and consumption at the meter [W].
    ohms : ndarray
        Resistance and reactance of the network and of the whole lead [ohm] (branch, part).
    converters : Converters
        The inverter.
    phases : float
        1 or 3 [1].

    Returns
    -------
    tuple of float
        Voltage at the terminals [V] and heat of the lead, all phases [W]; no number where the
        network can't take the power.
    """
    wanted = stiff_v * stiff_v
    volts, low, high = stiff_v, 0.0, math.inf
    for _ in range(_ITERATIONS):
        active, q, p_turn, q_turn = p, 0.0, 0.0, 0.0
        if awake:
            active, q, p_turn, q_turn, _code = output(volts, 1.0, p, 0.0, 0, converters, phases)
        square = volts * volts
        far, far_turn, stable = behind_the_terminals(
            square, active - drawn, q, 2.0 * volts, p_turn, q_turn, load, ohms, phases
        )
        gap = far - wanted
        fits = stable > 0.0
        following = volts - gap / far_turn if fits and far_turn > 0.0 else math.nan
        if not fits or gap < 0.0:
            low = volts
        else:
            high = volts
        if not (fits and abs(gap) <= _SETTLED * wanted):
            following = next_between(following, volts, low, high)
            if following >= _LOWEST * stiff_v and following != volts:
                volts = following
                continue
        if not fits or math.isnan(following):
            break
        apparent = (active - drawn) * (active - drawn) + q * q
        return volts, ohms[COMMON, 0] * apparent / (phases * square)
    return math.nan, math.nan
