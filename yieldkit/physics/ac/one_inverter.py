"""One inverter behind a connection point where nothing binds, in closed form."""

from __future__ import annotations

import numpy as np

from yieldkit.base.arrays import FloatArray, IntArray
from yieldkit.physics.ac.connection_state import SOLVED_V, Branches, ConnectionState, ExportLimit
from yieldkit.physics.ac.limits import AC_LIMIT
from yieldkit.physics.ac.reactive import FIXED, Q_OF_U, Converters

_TURNS = 30
# By how much of its square the last step but one may miss a voltage.
_SETTLED = 1e-9
# Apparent power that was cut to its bound is not beyond it.
_ROUNDED = 1.0 + 1e-12


def one_inverter(
    offer: FloatArray,
    drawn: FloatArray,
    stiff_v: FloatArray,
    load: FloatArray,
    branches: Branches,
    converters: Converters,
    limit: ExportLimit,
) -> ConnectionState:
    """Solve one inverter where nothing binds; `solved` is False where something does.

    Parameters
    ----------
    offer, drawn : ndarray
        Power on offer and own consumption [W] (time, 1).
    stiff_v, load : ndarray
        Voltage of the stiff network [V] and load [W] (time,).
    branches, converters, limit
        As for `connection`.
    """
    missing = np.isnan(offer[:, 0] + drawn[:, 0] + stiff_v + load)
    p, q, codes = _by_power(offer, converters)
    volts = voltage_of_one(p - drawn, q, stiff_v, load, branches)
    p[missing], q[missing] = np.nan, np.nan
    with np.errstate(invalid="ignore"):
        found = _state(p, q, volts, codes, p - drawn, stiff_v, load, branches)
        amperes = branches.phases * converters.max_current[0] * volts
        bound = np.minimum(converters.max_apparent[0], amperes) * _ROUNDED
        binds = (p * p + q * q > bound * bound)[:, 0] | (found.p_export > limit.power)
        if not np.isnan(converters.watt_start_v[0]):
            fallen = volts[:, 0] > converters.watt_start_v[0]
            binds |= fallen & (p[:, 0] > _by_voltage(volts[:, 0], converters))
    if converters.reactive_kind[0] == Q_OF_U:
        binds |= offer[:, 0] > 0.0
    return found._replace(solved=missing | (found.solved & ~binds))


def _state(
    p: FloatArray,
    q: FloatArray,
    v_ac: FloatArray,
    codes: IntArray,
    entering: FloatArray,
    stiff_v: FloatArray,
    load: FloatArray,
    branches: Branches,
) -> ConnectionState:
    """Return the whole state from power and voltage at the terminals, which give all angles."""
    phases, own = branches.phases, complex(branches.own_leads[0])
    lead, network = branches.common_lead + own, branches.network
    volts = v_ac[:, 0]
    along, across = entering[:, 0] / (phases * volts), -q[:, 0] / (phases * volts)
    square = along * along + across * across
    meter = volts - lead.real * along + lead.imag * across
    turned = -lead.real * across - lead.imag * along
    meter_square = meter * meter + turned * turned
    if load.any():
        consumed = load / (phases * meter_square)
        along, across = along - consumed * meter, across - consumed * turned
    outside = meter - network.real * along + network.imag * across
    beside = turned - network.real * across - network.imag * along
    residual = np.abs(np.sqrt(outside * outside + beside * beside) - stiff_v)
    common_heat = phases * branches.common_lead.real * square
    own_heat = phases * own.real * square
    return ConnectionState(
        p,
        q,
        v_ac,
        np.sqrt(meter_square),
        entering[:, 0] - common_heat - own_heat - load,
        common_heat,
        own_heat[:, None],
        codes,
        residual,
        residual <= SOLVED_V,
    )


def _by_power(offer: FloatArray, rules: Converters) -> tuple[FloatArray, FloatArray, IntArray]:
    """Return P [W], Q [var] and what holds P, as far as no voltage is needed for it (time, 1)."""
    codes = np.zeros(offer.shape, dtype=np.int8)
    if rules.reactive_kind[0] == FIXED:
        tangent = float(rules.tangent[0])
        most = float(rules.max_apparent[0])
        if rules.reactive_first[0]:
            most /= np.sqrt(1.0 + tangent * tangent)
        p = offer.copy()
        if most < np.inf:
            codes[offer > most] = AC_LIMIT["apparent power"]
            p = np.minimum(offer, most)
        return p, np.where(offer > 0.0, p * tangent, 0.0), codes
    lacking = np.zeros(offer.shape)
    if rules.reactive_kind[0] != Q_OF_U:
        points = rules.reactive_x[0], rules.reactive_y[0]
        lacking = np.interp(offer / rules.nominal_power[0], *points)
    away = np.abs(lacking)
    tangents = np.copysign(np.sqrt(away * (2.0 - away)) / (1.0 - away), lacking)
    return offer.copy(), np.where(offer > 0.0, offer * tangents, 0.0), codes


def _by_voltage(volts: FloatArray, rules: Converters) -> FloatArray:
    """Return what P(U) allows one inverter above its start [W]."""
    start, end = float(rules.watt_start_v[0]), float(rules.watt_end_v[0])
    across = np.clip((volts - start) / max(end - start, 1e-300), 0.0, 1.0)
    share = 1.0 + across * (float(rules.watt_end_share[0]) - 1.0)
    return np.asarray(share * float(rules.nominal_power[0]))


def voltage_of_one(
    p: FloatArray, q: FloatArray, stiff_v: FloatArray, load: FloatArray, branches: Branches
) -> FloatArray:
    """Return the voltage at one inverter's terminals at a power, not a number if there is none.

    In closed form, as `state_without_load`; with a load, by Newton's method.

    Parameters
    ----------
    p, q : ndarray
        What enters the network at the terminals [W], [var] (time, 1).
    stiff_v, load : ndarray
        Voltage of the stiff network [V] and load [W] (time,).
    branches : Branches
        Impedances.

    Returns
    -------
    ndarray
        [V] (time, 1).
    """
    lead = branches.common_lead + branches.own_leads[0]
    power, reactive = p[:, 0] / branches.phases, q[:, 0] / branches.phases
    r, x = (lead.real + branches.network.real), (lead.imag + branches.network.imag)
    along = r * power + x * reactive
    across = x * power - r * reactive
    half = along + 0.5 * stiff_v * stiff_v
    with np.errstate(invalid="ignore"):
        volts = np.sqrt(half + np.sqrt(half * half - along * along - across * across))
    if load.any():
        with np.errstate(invalid="ignore"):
            square = _square_beside(volts * volts, p[:, 0], q[:, 0], stiff_v, load, branches)
            volts = np.where(load == 0.0, volts, np.sqrt(square))
    return np.asarray(volts[:, None])


def _square_beside(
    square: FloatArray,
    p: FloatArray,
    q: FloatArray,
    stiff_v: FloatArray,
    load: FloatArray,
    branches: Branches,
) -> FloatArray:
    """Return the square of the voltage at the terminals beside a load, from one without [V2].

    By Newton's method: from the terminals to the stiff network all is known, as in `through`.
    """
    phases, network = branches.phases, branches.network
    lead = complex(branches.common_lead + branches.own_leads[0])
    apparent, wanted = (p * p + q * q) / phases**2, stiff_v * stiff_v
    along = 2.0 * (lead.real * p + lead.imag * q) / phases
    slope = np.ones(square.shape)
    for _ in range(_TURNS):
        amperes = apparent / square
        fall = amperes / square
        meter = square - along + abs(lead) ** 2 * amperes
        meter_turn = 1.0 - abs(lead) ** 2 * fall
        out, out_turn = p - phases * lead.real * amperes - load, phases * lead.real * fall
        beside, beside_turn = q - phases * lead.imag * amperes, phases * lead.imag * fall
        current = (out * out + beside * beside) / (phases**2 * meter)
        current_turn = 2.0 * (out * out_turn + beside * beside_turn) / phases**2
        current_turn = (current_turn - current * meter_turn) / meter
        drop = 2.0 * (network.real * out + network.imag * beside) / phases
        drop_turn = 2.0 * (network.real * out_turn + network.imag * beside_turn) / phases
        gap = meter - drop + abs(network) ** 2 * current - wanted
        slope = meter_turn - drop_turn + abs(network) ** 2 * current_turn
        square = square - gap / slope
        if not (np.abs(gap) > _SETTLED * wanted).any():
            break
    # On the other side of the collapse the voltage would fall with the network's.
    return np.where(slope > 0.0, square, np.nan)
