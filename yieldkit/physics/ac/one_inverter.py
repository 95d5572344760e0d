"""One inverter behind a connection point where nothing binds, in closed form."""

from __future__ import annotations

import numpy as np

from yieldkit.base.arrays import FloatArray, IntArray
from yieldkit.physics.ac.connection_state import Branches, ConnectionState, ExportLimit, state_of
from yieldkit.physics.ac.limits import AC_LIMIT
from yieldkit.physics.ac.reactive import FIXED, Q_OF_U, Converters

_TURNS = 200
_SETTLED = 1e-15
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
    p, q = (np.where(missing[:, None], np.nan, part) for part in (p, q))
    found = state_of(p, q, volts, codes, offer, drawn, stiff_v, load, branches)
    apparent = np.sqrt(p * p + q * q)
    with np.errstate(invalid="ignore"):
        amperes = branches.phases * converters.max_current[0] * volts
        bound = np.minimum(converters.max_apparent[0], amperes) * _ROUNDED
        binds = (apparent > bound)[:, 0] | (found.p_export > limit.power)
        fallen = volts[:, 0] > converters.watt_start_v[0]
        binds |= fallen & (p[:, 0] > _by_voltage(volts[:, 0], converters))
    if converters.reactive_kind[0] == Q_OF_U:
        binds |= offer[:, 0] > 0.0
    return found._replace(solved=missing | (found.solved & ~binds))


def _by_power(offer: FloatArray, rules: Converters) -> tuple[FloatArray, FloatArray, IntArray]:
    """Return P [W], Q [var] and what holds P, as far as no voltage is needed for it (time, 1)."""
    codes = np.zeros(offer.shape, dtype=np.int8)
    if rules.reactive_kind[0] == FIXED:
        tangent = float(rules.tangent[0])
        most = float(rules.max_apparent[0])
        if rules.reactive_first[0]:
            most /= np.sqrt(1.0 + tangent * tangent)
        codes[offer > most] = AC_LIMIT["apparent power"]
        p = np.minimum(offer, most)
        return p, np.where(offer > 0.0, p * tangent, 0.0), codes
    lacking = np.zeros(offer.shape)
    if rules.reactive_kind[0] != Q_OF_U:
        points = rules.reactive_x[0], rules.reactive_y[0]
        lacking = np.interp(offer / rules.nominal_power[0], *points)
    away = np.abs(lacking)
    tangents = np.copysign(np.sqrt(away * (2.0 - away)) / (1.0 - away), lacking)
    return offer, np.where(offer > 0.0, offer * tangents, 0.0), codes


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

    In closed form, as `state_without_load`; with a load, current and voltage by turns.

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
    loaded = (load != 0.0) & np.isfinite(power + stiff_v + load)
    if loaded.any():
        apparent = (power - 1j * reactive)[loaded]
        consumed, stiff = load[loaded] / branches.phases, stiff_v[loaded].astype(complex)
        terminal, meter = stiff.copy(), stiff.copy()
        for _ in range(_TURNS):
            current = apparent / terminal.conj()
            meter = stiff + branches.network * (current - consumed / meter.conj())
            moved = meter + lead * current
            gap = np.abs(moved - terminal)
            terminal = moved
            if (gap <= _SETTLED * np.abs(stiff)).all():
                break
        volts[loaded] = np.abs(terminal)
    return np.asarray(volts[:, None])
