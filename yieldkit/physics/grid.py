"""Voltage at the inverter's terminals, and what switch-off for it costs."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from scipy import signal, stats

from yieldkit.physics.switch_off import lost_shares, mean_cycle_losses

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


class Terminals(NamedTuple):
    """Voltages and currents of one phase, each (time,).

    Parameters
    ----------
    voltage : ndarray
        At the inverter's terminals, phase to neutral [V].
    connection_voltage : ndarray
        At the connection point behind the lead [V].
    current : ndarray
        In each phase of the lead [A].
    lead_loss : ndarray
        Heat of the lead in all phases [W].
    """

    voltage: np.ndarray
    connection_voltage: np.ndarray
    current: np.ndarray
    lead_loss: np.ndarray


def terminals(
    p_ac: np.ndarray, network_voltage: np.ndarray, load: np.ndarray | float, network: Network
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
    phases = network.phases
    missing = np.isnan(p_ac) | np.isnan(network_voltage)
    fed = np.where(missing, 0.0, p_ac)
    power = (fed + 1j * network.tangent * fed) / phases
    used = np.where(missing, 0.0, np.asarray(load, dtype=float) / phases)
    lead = complex(network.lead_resistance, network.lead_reactance)
    outside = complex(network.network_resistance, network.network_reactance)
    source = np.where(missing, 1.0, network_voltage).astype(complex)
    at_inverter = source.copy()
    at_connection = source.copy()
    current = np.zeros_like(source)
    for _ in range(_ITERATIONS):
        current = np.conj(power / at_inverter)
        drawn = np.conj(used / at_connection)
        at_connection = source + outside * (current - drawn)
        moved = at_connection + lead * current
        gap = np.nanmax(np.abs(moved - at_inverter), initial=0.0)
        at_inverter = moved
        if gap <= _SETTLED * np.nanmax(np.abs(source), initial=1.0):
            break
    at_inverter, at_connection, amperes = (
        np.where(missing, np.nan, np.abs(each)) for each in (at_inverter, at_connection, current)
    )
    return Terminals(
        at_inverter,
        at_connection,
        amperes,
        phases * amperes**2 * network.lead_resistance,
    )


def lead_loop(r_per_m: float, x_per_m: float, length_m: float, phases: int) -> tuple[float, float]:
    """Return resistance and reactance of the lead that one phase's current meets [ohm].

    Single-phase current goes out and back; balanced three-phase currents need no return.
    """
    paths = 2.0 if phases == 1 else 1.0
    return paths * r_per_m * length_m, paths * x_per_m * length_m


def watt_cap(voltage: np.ndarray, rules: Rules, p_nominal: float) -> np.ndarray:
    """Return the largest power that the voltage-dependent rule allows [W] (time,)."""
    if np.isnan(rules.watt_start_v):
        return np.full(voltage.shape, np.inf)
    share = np.interp(voltage, [rules.watt_start_v, rules.watt_end_v], [1.0, rules.watt_end_share])
    return np.where(voltage <= rules.watt_start_v, np.inf, share * p_nominal)


def voltage_dependent_cap(
    p_ac: np.ndarray,
    network_voltage: np.ndarray,
    load: np.ndarray | float,
    network: Network,
    rules: Rules,
    p_nominal: float,
) -> np.ndarray:
    """Return the power at which the voltage it causes allows just that power [W] (time,).

    Where the available power is allowed, the cap is infinite. Otherwise the fixed point of
    power and voltage is found by bisection: more power raises the voltage, which allows less.
    """
    cap = np.full(p_ac.shape, np.inf)
    if np.isnan(rules.watt_start_v):
        return cap
    raised = terminals(p_ac, network_voltage, load, network).voltage
    over = np.flatnonzero(p_ac > watt_cap(raised, rules, p_nominal))
    if over.size == 0:
        return cap
    used = np.broadcast_to(np.asarray(load, dtype=float), p_ac.shape)[over]
    low = np.zeros(over.size)
    high = p_ac[over].copy()
    for _ in range(60):
        half = 0.5 * (low + high)
        voltage = terminals(half, network_voltage[over], used, network).voltage
        allowed = half <= watt_cap(voltage, rules, p_nominal)
        low = np.where(allowed, half, low)
        high = np.where(allowed, high, half)
    cap[over] = 0.5 * (low + high)
    return cap


def off_fraction(
    without: np.ndarray,
    rise: np.ndarray,
    spread_v: float,
    rules: Rules,
) -> np.ndarray:
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
    numbers = (*rules[:5], cycle_losses(rules))
    if spread_v <= 0.0:
        return lost_shares(without, rise, *numbers)
    nodes, weights = np.polynomial.hermite_e.hermegauss(31)
    weights = weights / weights.sum()
    return sum(
        weight * lost_shares(without + spread_v * node, rise, *numbers)
        for node, weight in zip(nodes, weights, strict=True)
    )


def cycle_losses(rules: Rules) -> np.ndarray:
    """Return what tripping by the ten-minute mean costs under rules, by the limit's height."""
    if np.isnan(rules.mean_limit_v):
        return np.zeros(2)
    return mean_cycle_losses(rules.reconnect_delay_s, rules.ramp_s, rules.mean_cleared)


def window_spread(noise_v: float, correlation_min: float) -> float:
    """Return the standard deviation of the noise's 10-minute mean [V].

    Parameters
    ----------
    noise_v : float
        Standard deviation of the noise [V].
    correlation_min : float
        Its correlation time [min]; the noise is an Ornstein-Uhlenbeck process.

    References
    ----------
    Variance of a mean over T of a process with correlation exp(-t/tau):
    2 sigma2 (tau/T) [1 - (tau/T)(1 - exp(-T/tau))].
    """
    ratio = correlation_min / 10.0
    return noise_v * float(
        np.sqrt(max(2.0 * ratio * (1.0 - ratio * (1.0 - np.exp(-1.0 / ratio))), 0.0))
    )


def modelled_voltage(
    hour_of_day: np.ndarray,
    ghi: np.ndarray,
    base_v: float,
    daily_swing_v: float,
    load_term_v: float,
    neighbours_rise_v: float,
) -> np.ndarray:
    """Return the network's mean voltage at the connection point without the plant [V] (time,).

    Parameters
    ----------
    hour_of_day : ndarray
        Local standard time [h] (time,).
    ghi : ndarray
        Global irradiance [W/m2] (time,), to which the neighbours' feed-in is proportional.
    base_v, daily_swing_v, load_term_v, neighbours_rise_v : float
        Base, amplitude of the daily shape (highest at 4 h), drop at the evening's load peak
        (19 h, two hours wide) and the neighbours' rise at 1000 W/m2 [V].
    """
    shape = np.cos(2.0 * np.pi * (hour_of_day - 4.0) / 24.0)
    evening = np.exp(-0.5 * ((hour_of_day - 19.0) / 2.0) ** 2)
    return (
        base_v
        + daily_swing_v * shape
        - load_term_v * evening
        + neighbours_rise_v * np.maximum(ghi, 0.0) / 1000.0
    )


def correlated_noise(
    steps: int, interval_s: float, noise_v: float, correlation_min: float, seed: int
) -> np.ndarray:
    """Return seeded noise with an exponential correlation [V] (time,)."""
    if noise_v <= 0.0:
        return np.zeros(steps)
    keep = float(np.exp(-interval_s / (60.0 * correlation_min)))
    draws = stats.norm.rvs(size=steps, random_state=np.random.default_rng(seed))
    drive = np.sqrt(1.0 - keep**2) * draws
    drive[0] = draws[0]
    return noise_v * signal.lfilter([1.0], [1.0, -keep], drive)
