"""Voltage at the inverter's terminals, from the lead's and the network's impedance."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import FloatArray
from yieldkit.physics.compiled import compiled

_SETTLED = 1e-13
_ITERATIONS = 200


class Network(NamedTuple):
    """What lies between the inverter's terminals and the stiff network.

    Parameters
    ----------
    lead_resistance, lead_reactance : float
        Of the lead's loop, per phase [ohm].
    network_resistance, network_reactance : float
        Of the network's loop, per phase [ohm].
    phases : int
        1 or 3.
    tangent : float
        Reactive over active power at the terminals; positive injecting, negative absorbing.
    """

    lead_resistance: float
    lead_reactance: float
    network_resistance: float
    network_reactance: float
    phases: int
    tangent: float = 0.0

    @property
    def numbers(self) -> Network:
        """The network in plain numbers, so that one compiled form of the kernels serves all."""
        return Network(
            float(self.lead_resistance),
            float(self.lead_reactance),
            float(self.network_resistance),
            float(self.network_reactance),
            int(self.phases),
            float(self.tangent),
        )


class Terminals(NamedTuple):
    """Voltages and currents of one phase, each (time,).

    Parameters
    ----------
    voltage : ndarray
        At the inverter's terminals, phase to neutral [V].
    connection_voltage : ndarray
        At the connection point, at the lead's far end [V].
    current : ndarray
        In each phase of the lead [A].
    lead_loss : ndarray
        Heat of the lead in all phases [W].
    """

    voltage: FloatArray
    connection_voltage: FloatArray
    current: FloatArray
    lead_loss: FloatArray


@compiled
def state_at(p_ac, q_ac, stiff_v, network):
    """Return what a power does at the terminals where nothing is consumed, in closed form.

    Parameters
    ----------
    p_ac, q_ac : float
        AC power of all phases, negative when drawn [W], and reactive power, positive when
        injected [var].
    stiff_v : float
        Voltage of the stiff network, phase to neutral [V].
    network : Network
        The impedances.

    Returns
    -------
    tuple of float
        Voltage at the terminals and at the connection point [V], current of a phase [A] and the
        lead's heat in all phases [W]; no number where the network can't take the power.
    """
    lead_r, lead_x, phases = network.lead_resistance, network.lead_reactance, network.phases
    power, reactive = p_ac / phases, q_ac / phases
    squared = power * power + reactive * reactive
    r, x = lead_r + network.network_resistance, lead_x + network.network_reactance
    along = r * power + x * reactive
    across = x * power - r * reactive
    half = along + 0.5 * stiff_v * stiff_v
    square = half + math.sqrt(half * half - along * along - across * across)
    volts = math.sqrt(square)
    # The connection point, with the terminals' voltage as the reference of all angles.
    real = volts - (lead_r * power + lead_x * reactive) / volts
    imaginary = -(lead_x * power - lead_r * reactive) / volts
    connection = math.sqrt(real * real + imaginary * imaginary)
    return volts, connection, math.sqrt(squared / square), phases * squared / square * lead_r


@compiled
def state_without_load(p_ac, stiff_v, network):
    """Return what a power at the network's cos phi does where nothing is consumed.

    Parameters
    ----------
    p_ac, stiff_v, network
        As for `state_at`.

    Returns
    -------
    tuple of float
        As of `state_at`.
    """
    return state_at(p_ac, network.tangent * p_ac, stiff_v, network)


@compiled
def state_with_load(p_ac, stiff_v, load, network):
    """Return what a power does at the terminals beside a load at the connection point.

    Parameters
    ----------
    p_ac, stiff_v, network
        As for `state_without_load`.
    load : float
        Consumption at the connection point, all phases, unity power factor [W].

    Returns
    -------
    tuple of float
        As of `state_without_load`; current and voltage are found by turns.
    """
    phases = network.phases
    lead = complex(network.lead_resistance, network.lead_reactance)
    upstream = complex(network.network_resistance, network.network_reactance)
    apparent = complex(p_ac / phases, -network.tangent * p_ac / phases)
    terminal = complex(stiff_v, 0.0)
    connection = complex(stiff_v, 0.0)
    current = complex(0.0, 0.0)
    for _ in range(_ITERATIONS):
        current = apparent / terminal.conjugate()
        connection = stiff_v + upstream * (current - load / phases / connection.conjugate())
        moved = connection + lead * current
        gap = abs(moved - terminal)
        terminal = moved
        if gap <= _SETTLED * stiff_v:
            break
    amperes = abs(current)
    heat = phases * amperes * amperes * network.lead_resistance
    return abs(terminal), abs(connection), amperes, heat


@compiled
def fill_states_without_load(p_ac, stiff_v, network, states):
    """Fill the states of all steps; a missing power or voltage makes its own step missing.

    Parameters
    ----------
    p_ac, stiff_v : ndarray
        Power and voltage of the stiff network [W], [V] (time,).
    network : Network
        The impedances.
    states : ndarray
        Filled: voltages [V], current [A] and heat [W] as of `state_at` (4, time).
    """
    for t in range(p_ac.size):
        if math.isnan(p_ac[t]) or math.isnan(stiff_v[t]):
            states[:, t] = np.nan
        else:
            states[0, t], states[1, t], states[2, t], states[3, t] = state_without_load(
                p_ac[t], stiff_v[t], network
            )


@compiled
def fill_states_beside_load(load, p_ac, stiff_v, network, states):
    """Replace the states of the steps with a load.

    Parameters
    ----------
    load : ndarray
        Consumption at the connection point, all phases, unity power factor [W] (time,).
    p_ac, stiff_v, network, states
        As for `fill_states_without_load`.
    """
    for t in range(p_ac.size):
        if load[t] != 0.0 and not (math.isnan(p_ac[t]) or math.isnan(stiff_v[t])):
            states[0, t], states[1, t], states[2, t], states[3, t] = state_with_load(
                p_ac[t], stiff_v[t], load[t], network
            )


def terminals(
    p_ac: FloatArray, network_voltage: FloatArray, load: FloatArray | float, network: Network
) -> Terminals:
    """Solve the voltage at the terminals with the current that depends on it.

    Parameters
    ----------
    p_ac : ndarray
        AC power of all phases [W] (time,).
    network_voltage : ndarray
        Voltage of the stiff network, phase to neutral [V] (time,).
    load : ndarray or float
        Consumption at the connection point, all phases, unity power factor [W]: it relieves
        the network's impedance and not the lead's.
    network : Network
        Impedances.

    Returns
    -------
    Terminals
        The lead carries the whole current, the network what is left of it after the load. A
        missing input makes its own step missing.
    """
    states = np.empty((4, p_ac.size))
    power, stiff_v = (np.ascontiguousarray(each, dtype=float) for each in (p_ac, network_voltage))
    fill_states_without_load(power, stiff_v, network.numbers, states)
    used = np.array(np.broadcast_to(np.asarray(load, dtype=float), p_ac.shape))
    if used.any():
        fill_states_beside_load(used, power, stiff_v, network.numbers, states)
    return Terminals(*states)


def lead_loop(r_per_m: float, x_per_m: float, length_m: float, phases: int) -> tuple[float, float]:
    """Return resistance and reactance of the lead that one phase's current meets.

    Single-phase current goes out and back; balanced three-phase currents need no return.

    Parameters
    ----------
    r_per_m, x_per_m : float
        Of one conductor [ohm/m].
    length_m : float
        Length of the lead [m].
    phases : int
        1 or 3.

    Returns
    -------
    tuple of float
        Resistance and reactance [ohm].
    """
    paths = 2.0 if phases == 1 else 1.0
    return paths * r_per_m * length_m, paths * x_per_m * length_m
