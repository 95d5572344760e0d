"""What network rules cost: power that falls with the voltage, and switch-off for it."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import FloatArray
from yieldkit.physics.ac.network import Network, voltage_and_heat
from yieldkit.physics.ac.switch_off import lost_share, mean_cycle_losses
from yieldkit.physics.compiled import compiled

_ITERATIONS = 60
_NODES = 31


class Rules(NamedTuple):
    """Numbers of a network rule profile; nan where a profile has no such rule.

    Parameters
    ----------
    mean_limit_v : float
        Limit of the 10-minute mean [V].
    stage_limit_v : float
        Lowest instantaneous overvoltage stage [V].
    reconnect_below_v : float
        Voltage below which it reconnects [V].
    reconnect_delay_s : float
        Observation time before reconnecting [s].
    ramp_s : float
        Time to ramp up to full power [s].
    watt_start_v, watt_end_v : float
        Voltages between which maximum power falls [V].
    watt_end_share : float
        Share of nominal power left at `watt_end_v` [1].
    mean_cleared : bool
        Whether the 10-minute mean starts anew on every reconnection instead of sliding on.
    """

    mean_limit_v: float = np.nan
    stage_limit_v: float = np.nan
    reconnect_below_v: float = np.nan
    reconnect_delay_s: float = 60.0
    ramp_s: float = 0.0
    watt_start_v: float = np.nan
    watt_end_v: float = np.nan
    watt_end_share: float = 1.0
    mean_cleared: bool = False

    @property
    def numbers(self) -> tuple[float, ...]:
        """The rules as kernels take them."""
        return tuple(float(number) for number in self)


@compiled
def allowed_power(volts, rules, p_nominal):
    """Return the largest power that the voltage-dependent rule allows [W].

    Parameters
    ----------
    volts : float
        Voltage at the terminals [V].
    rules : tuple of float
        As `Rules`.
    p_nominal : float
        Nominal AC power [W].
    """
    start, end, least = rules[5], rules[6], rules[7]
    if math.isnan(start) or volts <= start:
        return math.inf
    if volts >= end:
        return least * p_nominal
    return (1.0 + (volts - start) / (end - start) * (least - 1.0)) * p_nominal


@compiled
def power_by_voltage(p_ac, stiff_v, load, network, rules, p_nominal):
    """Return the power at which the voltage it causes allows just that power [W].

    Parameters
    ----------
    p_ac : float
        Power available [W]; returned as it is where its voltage allows it.
    stiff_v, load : float
        Voltage of the stiff network [V] and load [W].
    network, rules : tuple of float
        As `Network` and `Rules`.
    p_nominal : float
        Nominal AC power [W].

    Returns
    -------
    float
        Found by bisection: more power raises the voltage, which allows less.
    """
    if math.isnan(rules[5]):
        return p_ac
    volts, _heat = voltage_and_heat(p_ac, stiff_v, load, network)
    if not p_ac > allowed_power(volts, rules, p_nominal):
        return p_ac
    low, high = 0.0, p_ac
    for _ in range(_ITERATIONS):
        half = 0.5 * (low + high)
        volts, _heat = voltage_and_heat(half, stiff_v, load, network)
        if half <= allowed_power(volts, rules, p_nominal):
            low = half
        else:
            high = half
    return 0.5 * (low + high)


@compiled
def fill_power_by_voltage(p_ac, stiff_v, load, network, rules, p_nominal, held):
    """Fill `power_by_voltage` of all steps.

    Parameters
    ----------
    p_ac, stiff_v, load : ndarray
        As for `power_by_voltage` (time,).
    network, rules, p_nominal
        As for `power_by_voltage`.
    held : ndarray
        Filled with the power [W] (time,).
    """
    for t in range(p_ac.size):
        held[t] = power_by_voltage(p_ac[t], stiff_v[t], load[t], network, rules, p_nominal)


@compiled
def off_share(without, rise, rules, spread, cycles):
    """Return the share of a step's energy lost to switch-off for overvoltage [1].

    Parameters
    ----------
    without, rise : float
        Voltage at the terminals without the own feed-in, and its rise [V].
    rules : tuple of float
        As `Rules`.
    spread : ndarray
        Offsets [V] and weights [1] of the network voltage within the step (node, 2).
    cycles : ndarray
        From `cycle_losses` (place,).
    """
    share = 0.0
    for node in range(spread.shape[0]):
        share += spread[node, 1] * lost_share(
            without + spread[node, 0],
            rise,
            rules[0],
            rules[1],
            rules[2],
            rules[3],
            rules[4],
            cycles,
        )
    return share


@compiled
def fill_off_shares(without, rise, rules, spread, cycles, shares):
    """Fill `off_share` of all steps (time,); missing where a voltage is."""
    for t in range(without.size):
        if math.isnan(without[t] + rise[t]):
            shares[t] = np.nan
        else:
            shares[t] = off_share(without[t], rise[t], rules, spread, cycles)


def watt_cap(voltage: FloatArray, rules: Rules, p_nominal: float) -> FloatArray:
    """Return the largest power that the voltage-dependent rule allows [W] (time,)."""
    numbers = rules.numbers
    return np.array([allowed_power(float(each), numbers, p_nominal) for each in voltage])


def voltage_dependent_cap(
    p_ac: FloatArray,
    network_voltage: FloatArray,
    load: FloatArray | float,
    network: Network,
    rules: Rules,
    p_nominal: float,
) -> FloatArray:
    """Return the power at which the voltage it causes allows just that power [W] (time,).

    Where the available power is allowed, the cap is infinite. Otherwise it is the fixed
    point of power and voltage, as `power_by_voltage` finds it.
    """
    if np.isnan(rules.watt_start_v):
        return np.full(p_ac.shape, np.inf)
    held = np.empty(p_ac.shape)
    fill_power_by_voltage(
        np.ascontiguousarray(p_ac, dtype=float),
        np.ascontiguousarray(network_voltage, dtype=float),
        np.array(np.broadcast_to(np.asarray(load, dtype=float), p_ac.shape)),
        network.numbers,
        rules.numbers,
        p_nominal,
        held,
    )
    return np.where(held < p_ac, held, np.inf)


def off_fraction(
    without: FloatArray,
    rise: FloatArray,
    spread_v: float,
    rules: Rules,
) -> FloatArray:
    """Return the share of each step lost to switch-off for overvoltage.

    Parameters
    ----------
    without : ndarray
        Voltage at the terminals without the own feed-in [V] (time,).
    rise : ndarray
        Rise by the own feed-in [V] (time,).
    spread_v : float
        Standard deviation of the network voltage's 10-minute mean within a step [V].
    rules : Rules
        Limits, delays and ramp.

    Returns
    -------
    ndarray
        Share of the energy from 0 to 1 (time,), missing where a voltage is. Each step is taken
        as long enough for the cycle of tripping and reconnecting to settle, its voltage and
        available power being constant but for the spread; the share is averaged over a normal
        distribution of the network voltage.

    Notes
    -----
    What the inverter's firmware is assumed to do: it renews the mean of the last 600 s every
    second, also while it is off (or clears it on reconnection, `Rules.mean_cleared`), and trips
    when the mean is above its limit, or at once above the instantaneous stage. It reconnects when
    the voltage at that moment, without its own rise, has been below `reconnect_below_v` for
    `reconnect_delay_s`, and ramps up linearly from zero. Where the voltage without feed-in is not
    below both, it stays off.
    """
    if np.isnan(rules.mean_limit_v) and np.isnan(rules.stage_limit_v):
        return np.zeros(without.shape)
    shares = np.empty(without.shape)
    fill_off_shares(
        without, rise, rules.numbers, spread_nodes(spread_v), cycle_losses(rules), shares
    )
    return shares


def spread_nodes(spread_v: float) -> FloatArray:
    """Return offsets [V] and weights [1] that stand for a normal spread of a voltage (node, 2)."""
    if spread_v <= 0.0:
        return np.array([[0.0, 1.0]])
    nodes, weights = np.polynomial.hermite_e.hermegauss(_NODES)
    return np.column_stack([spread_v * nodes, weights / weights.sum()])


def cycle_losses(rules: Rules) -> FloatArray:
    """Return what tripping by the ten-minute mean costs under rules, by the limit's height.

    The share of the energy lost [1] (place,), as `mean_cycle_losses`; zeros without such a limit.
    """
    if np.isnan(rules.mean_limit_v):
        return np.zeros(2)
    return mean_cycle_losses(rules.reconnect_delay_s, rules.ramp_s, rules.mean_cleared)
