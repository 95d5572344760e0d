"""The numbers of network rules, and what switch-off for the network's voltage costs."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import FloatArray
from yieldkit.physics.ac.switch_off import lost_share, mean_cycle_losses
from yieldkit.physics.compiled import compiled

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
    def numbers(self) -> Rules:
        """The rules in plain numbers, so that one compiled form of the kernels serves all."""
        return Rules(
            float(self.mean_limit_v),
            float(self.stage_limit_v),
            float(self.reconnect_below_v),
            float(self.reconnect_delay_s),
            float(self.ramp_s),
            float(self.watt_start_v),
            float(self.watt_end_v),
            float(self.watt_end_share),
            bool(self.mean_cleared),
        )


@compiled
def off_share(v_without, rise, rules, spread, cycles):
    """Return the share of a step's energy lost to switch-off for overvoltage.

    Parameters
    ----------
    v_without, rise : float
        Voltage at the terminals without the own feed-in, and its rise [V].
    rules : Rules
        The rules.
    spread : ndarray
        Offsets [V] and weights [1] of the network voltage within the step (node, 2).
    cycles : ndarray
        Shares lost [1] from `cycle_losses` (place,).

    Returns
    -------
    float
        From 0 to 1 [1].
    """
    share = 0.0
    for node in range(spread.shape[0]):
        offset, weight = spread[node, 0], spread[node, 1]
        share += weight * lost_share(v_without + offset, rise, rules, cycles)
    return share


@compiled
def fill_off_shares(v_without, rise, rules, spread, cycles, shares):
    """Fill `off_share` of all steps; missing where a voltage is.

    Parameters
    ----------
    v_without, rise : ndarray
        Voltage at the terminals without the own feed-in, and its rise [V] (time,).
    rules, spread, cycles
        As for `off_share`.
    shares : ndarray
        Filled [1] (time,).
    """
    for t in range(v_without.size):
        if math.isnan(v_without[t] + rise[t]):
            shares[t] = np.nan
        else:
            shares[t] = off_share(v_without[t], rise[t], rules, spread, cycles)


def off_fraction(
    v_without: FloatArray,
    rise: FloatArray,
    spread_v: float,
    rules: Rules,
) -> FloatArray:
    """Return the share of each step lost to switch-off for overvoltage.

    Parameters
    ----------
    v_without : ndarray
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
        return np.zeros(v_without.shape)
    shares = np.empty(v_without.shape)
    spread, cycles = spread_nodes(spread_v), cycle_losses(rules)
    fill_off_shares(v_without, rise, rules.numbers, spread, cycles, shares)
    return shares


def spread_nodes(spread_v: float) -> FloatArray:
    """Return offsets [V] and weights [1] that stand for a normal spread of a voltage (node, 2)."""
    if spread_v <= 0.0:
        return np.array([[0.0, 1.0]])
    nodes, weights = np.polynomial.hermite_e.hermegauss(_NODES)
    return np.column_stack([spread_v * nodes, weights / weights.sum()])


def cycle_losses(rules: Rules) -> FloatArray:
    """Return the share that tripping by the ten-minute mean costs [1], by the limit's height.

    Parameters
    ----------
    rules : Rules
        The rules.

    Returns
    -------
    ndarray
        As of `mean_cycle_losses` (place,).
    """
    if np.isnan(rules.mean_limit_v):
        return np.zeros(2)
    return mean_cycle_losses(rules.reconnect_delay_s, rules.ramp_s, rules.mean_cleared)
