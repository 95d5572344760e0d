"""Several inverters behind one connection point: what each gives, and every voltage.

With V the complex voltages of the meter and of every inverter's terminals, U0 the stiff network's
and S the power that enters at each, V = U0 + Z conj(S / V) / phases, where Z is the network's
impedance between all of them, with the common lead's added between terminals and the own lead's on
the diagonal. S follows each inverter's rules at its own voltage.
"""

from __future__ import annotations

import numpy as np

from yieldkit.base.arrays import FloatArray, IntArray
from yieldkit.physics.ac.connection_state import Branches, ConnectionState, ExportLimit, state_of
from yieldkit.physics.ac.export_sharing import fill_steps
from yieldkit.physics.ac.one_inverter import one_inverter, voltage_of_one
from yieldkit.physics.ac.reactive import Converters


def connection(
    offer: FloatArray,
    drawn: FloatArray,
    stiff_v: FloatArray,
    load: FloatArray | float,
    branches: Branches,
    converters: Converters,
    export_limit: ExportLimit | None = None,
    start_v: FloatArray | None = None,
) -> ConnectionState:
    """Solve what inverters behind one connection point give.

    Parameters
    ----------
    offer : ndarray
        AC power that each could give inside the limits that depend on nothing here [W]
        (time, inverter).
    drawn : ndarray
        Own consumption of each at its terminals, unity power factor [W] (time, inverter).
    stiff_v : ndarray
        Voltage of the stiff network, phase to neutral [V] (time,).
    load : ndarray or float
        Consumption at the meter, all phases, unity power factor [W] (time,).
    branches : Branches
        Impedances.
    converters : Converters
        Each inverter's rules and limits; apparent power and amperes bound what it makes, its own
        consumption is drawn beside it. Where nothing is on offer it makes no reactive power.
    export_limit : ExportLimit, optional
        At the meter; none if left out.
    start_v : ndarray, optional
        Where the search begins [V] (time,); the stiff network's voltage if left out.

    Returns
    -------
    ConnectionState
        Where the allowed power jumps with the voltage, from what is on offer to nominal power,
        and either would be on the wrong side, the voltage stays at the jump.

    Notes
    -----
    The state is the only one but where a power that falls with the voltage lets go of reactive
    power faster than linearly: absorbed by a cos phi that has just left one, or injected into the
    room that P leaves (active power first). Then two can be stable, and the one is told that the
    search finds from the stiff network's voltage.
    """
    power = np.ascontiguousarray(offer, dtype=float)
    own = np.array(np.broadcast_to(np.asarray(drawn, dtype=float), power.shape))
    stiff = np.ascontiguousarray(stiff_v, dtype=float)
    used = np.array(np.broadcast_to(np.asarray(load, dtype=float), stiff.shape))
    limit = export_limit or ExportLimit()
    rules = converters.numbers
    given = np.full(power.shape, np.nan)
    if power.shape[1] == 1:
        alone = one_inverter(power, own, stiff, used, branches, rules, limit)
        held = ~alone.solved
        if not held.any():
            return alone
        rest = connection_by_kernel(
            power[held],
            given[held],
            own[held],
            stiff[held],
            used[held],
            branches,
            rules,
            limit,
            None if start_v is None else start_v[held],
        )
        for part, solved in zip(alone, rest, strict=True):
            part[held] = solved
        return alone
    return connection_by_kernel(power, given, own, stiff, used, branches, rules, limit, start_v)


def connection_by_kernel(
    offer: FloatArray,
    given_q: FloatArray,
    drawn: FloatArray,
    stiff_v: FloatArray,
    load: FloatArray,
    branches: Branches,
    converters: Converters,
    limit: ExportLimit,
    start_v: FloatArray | None,
) -> ConnectionState:
    """Solve every step, whether anything binds or not.

    Parameters
    ----------
    offer, drawn, stiff_v, load, branches, converters, limit, start_v
        As for `connection`, arrays of full shape [W], [V] (time, inverter).
    given_q : ndarray
        Reactive power that is given with the power, not a number where the rules set both [var]
        (time, inverter).
    """
    states, codes = _steps(
        offer, given_q, drawn, stiff_v, load, branches, converters, limit, start_v
    )
    found = state_of(states[0], states[1], states[2], codes, offer, drawn, stiff_v, load, branches)
    for part in found:
        if part.dtype == float:
            part[~found.solved] = np.nan
    return found


def _steps(
    offer: FloatArray,
    given_q: FloatArray,
    drawn: FloatArray,
    stiff_v: FloatArray,
    load: FloatArray,
    branches: Branches,
    converters: Converters,
    limit: ExportLimit,
    start_v: FloatArray | None,
) -> tuple[FloatArray, IntArray]:
    """Return P, Q and voltage (3, time, inverter) and what holds each (time, inverter)."""
    states = np.empty((3, *offer.shape))
    codes = np.empty(offer.shape, dtype=np.int8)
    fill_steps(
        offer,
        given_q,
        drawn,
        stiff_v,
        load,
        stiff_v if start_v is None else np.ascontiguousarray(start_v, dtype=float),
        branches.table,
        converters,
        float(branches.phases),
        float(limit.power),
        bool(limit.in_order),
        states,
        codes,
    )
    return states, codes


def most_power(
    cap: FloatArray,
    drawn: float,
    stiff_v: FloatArray,
    load: float,
    branches: Branches,
    converter: Converters,
    export_limit: ExportLimit,
) -> FloatArray:
    """Return the most power that one inverter can feed in, whatever else is on offer.

    Parameters
    ----------
    cap : ndarray
        Its power inside the limits that depend on nothing here [W] (time,).
    drawn : float
        Own consumption while it feeds in [W].
    stiff_v, load, branches, converter, export_limit
        As for `connection`.

    Returns
    -------
    ndarray
        [W] (time,): an offer below it is fed in as it is, for every limit is the closer the more
        is fed in. The cap where the network can't take so much.
    """
    found = connection(
        cap[:, None],
        np.full((cap.size, 1), drawn),
        stiff_v,
        load,
        branches,
        converter,
        export_limit,
    )
    return np.where(np.isnan(found.p[:, 0]), cap, found.p[:, 0])


def voltages_without(
    p: FloatArray,
    q: FloatArray,
    drawn: FloatArray,
    stiff_v: FloatArray,
    load: FloatArray | float,
    branches: Branches,
    converters: Converters,
) -> FloatArray:
    """Return the voltage at each inverter's terminals if it alone fed nothing in.

    Parameters
    ----------
    p, q : ndarray
        Active [W] and reactive power [var] of all, as solved (time, inverter).
    drawn, stiff_v, load, branches, converters
        As for `connection`.

    Returns
    -------
    ndarray
        [V] (time, inverter): the others' power and consumption stay as they are, its own power,
        reactive power and consumption are nothing.
    """
    own = np.array(np.broadcast_to(np.asarray(drawn, dtype=float), p.shape))
    used = np.array(np.broadcast_to(np.asarray(load, dtype=float), stiff_v.shape))
    found = np.empty(p.shape)
    stiff = np.ascontiguousarray(stiff_v, dtype=float)
    if p.shape[1] == 1:
        nothing = np.zeros(p.shape)
        return np.where(
            np.isnan(p), np.nan, voltage_of_one(nothing, nothing, stiff, used, branches)
        )
    for i in range(p.shape[1]):
        others = np.arange(p.shape[1]) != i
        states, _codes = _steps(
            np.where(others, p, np.where(np.isnan(p), np.nan, 0.0)),
            np.where(others, q, 0.0),
            np.where(others, own, 0.0),
            stiff,
            used,
            branches,
            converters.numbers,
            ExportLimit(),
            None,
        )
        found[:, i] = states[2, :, i]
    return found
