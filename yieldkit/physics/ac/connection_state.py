"""What lies between inverters and the stiff network, and the state of all of it."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import BoolArray, ComplexArray, FloatArray, IntArray

SOLVED_V = 1e-7
"""Largest gap of the equation of voltages that counts as solved [V]."""


class Branches(NamedTuple):
    """Impedances between the inverters and the stiff network [ohm].

    Parameters
    ----------
    network : complex
        Between the stiff network and the meter; of a loop where single-phase.
    common_lead : complex
        Between the meter and the terminals common to all; of its loop where single-phase.
    own_leads : ndarray of complex
        From there to each inverter (inverter,); likewise.
    phases : int
        1 or 3.
    """

    network: complex
    common_lead: complex
    own_leads: ComplexArray
    phases: int

    @property
    def table(self) -> FloatArray:
        """Resistance and reactance of network, common lead and every own lead (branch, 2)."""
        ohms = np.array([self.network, self.common_lead, *self.own_leads], dtype=complex)
        return np.column_stack([ohms.real, ohms.imag])


class ExportLimit(NamedTuple):
    """How much may leave through the meter.

    Parameters
    ----------
    power : float
        Largest export [W], infinite for none.
    in_order : bool
        Whether the first listed inverter keeps its power longest; else all give way by the same
        share of what each has on offer.
    """

    power: float = np.inf
    in_order: bool = False


class ConnectionState(NamedTuple):
    """What inverters behind one connection point give; not a number where an input is missing.

    Parameters
    ----------
    p, q : ndarray
        Active [W] and reactive power [var] of each inverter at its terminals, before its own
        consumption (time, inverter).
    v_ac : ndarray
        Voltage at its terminals, phase to neutral [V] (time, inverter).
    v_meter : ndarray
        Voltage at the meter, phase to neutral [V] (time,).
    p_export : ndarray
        What leaves through the meter: power less own consumption, heat of the leads and load [W]
        (time,).
    common_heat : ndarray
        Heat of the common lead, all phases [W] (time,).
    own_heat : ndarray
        Heat of each inverter's own lead, all phases [W] (time, inverter).
    limit : ndarray of int8
        What holds the power below the offer, codes of `AC_LIMIT` (time, inverter).
    residual : ndarray
        Largest gap of the equation of voltages [V] (time,).
    solved : ndarray of bool
        False where the network cannot take the power: its voltage collapses (time,). True where an
        input is missing.
    """

    p: FloatArray
    q: FloatArray
    v_ac: FloatArray
    v_meter: FloatArray
    p_export: FloatArray
    common_heat: FloatArray
    own_heat: FloatArray
    limit: IntArray
    residual: FloatArray
    solved: BoolArray


class _Flows(NamedTuple):
    """Voltages of all nodes from those at the terminals; see `ConnectionState`."""

    v_meter: FloatArray
    p_export: FloatArray
    common_heat: FloatArray
    own_heat: FloatArray
    residual: FloatArray


def state_of(
    p: FloatArray,
    q: FloatArray,
    v_ac: FloatArray,
    codes: IntArray,
    offer: FloatArray,
    drawn: FloatArray,
    stiff_v: FloatArray,
    load: FloatArray,
    branches: Branches,
) -> ConnectionState:
    """Return the whole state from power and voltage at the terminals.

    Parameters
    ----------
    p, q, v_ac : ndarray
        As of `ConnectionState` [W], [var], [V] (time, inverter); not a number where not solved.
    codes : ndarray of int8
        What holds the power, codes of `AC_LIMIT` (time, inverter).
    offer, drawn : ndarray
        Power on offer and own consumption [W] (time, inverter).
    stiff_v, load : ndarray
        Voltage of the stiff network [V] and load [W] (time,).
    branches : Branches
        Impedances.
    """
    missing = np.isnan((offer + drawn).sum(axis=1) + stiff_v + load)
    with np.errstate(invalid="ignore"):
        flows = _flows(p - drawn, q, v_ac, stiff_v, load, branches)
        solved = missing | (flows.residual <= SOLVED_V)
    return ConnectionState(
        p,
        q,
        v_ac,
        flows.v_meter,
        flows.p_export,
        flows.common_heat,
        flows.own_heat,
        codes,
        flows.residual,
        solved,
    )


def _flows(
    p: FloatArray,
    q: FloatArray,
    v_ac: FloatArray,
    stiff_v: FloatArray,
    load: FloatArray,
    branches: Branches,
) -> _Flows:
    """Return what lies between terminals and network, in complex numbers all along.

    The angles are those that put the terminals on one common voltage, and that on the stiff
    network's; the residual tells whether the lengths agree.
    """
    phases, leads = branches.phases, np.asarray(branches.own_leads, dtype=complex)
    own = (p - 1j * q) / (phases * v_ac)
    common = v_ac - leads * own
    length = np.abs(common)
    turn = common.conj() / length
    terminal, own = v_ac * turn, own * turn
    current = own.sum(axis=1)
    meter = length.mean(axis=1) - branches.common_lead * current
    outward = current - load / (phases * meter.conj())
    stiff = meter - branches.network * outward
    turn = stiff.conj() / np.abs(stiff)
    along = stiff_v + branches.network * outward * turn + branches.common_lead * current * turn
    asked = along[:, None] + leads * own * turn[:, None]
    return _Flows(
        np.abs(meter),
        phases * (meter * current.conj()).real - load,
        phases * branches.common_lead.real * np.abs(current) ** 2,
        phases * leads.real * np.abs(own) ** 2,
        np.abs(terminal * turn[:, None] - asked).max(axis=1),
    )
