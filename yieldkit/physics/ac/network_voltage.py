"""The network's voltage without the plant: its daily shape, neighbours, and noise."""

from __future__ import annotations

from itertools import accumulate

import numpy as np

from yieldkit.base.arrays import FloatArray


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
    hour_of_day: FloatArray,
    ghi: FloatArray,
    base_v: float,
    daily_swing_v: float,
    load_term_v: float,
    neighbours_rise_v: float,
) -> FloatArray:
    """Return the network's mean voltage at the connection point without the plant.

    Parameters
    ----------
    hour_of_day : ndarray
        Local standard time [h] (time,).
    ghi : ndarray
        Global irradiance [W/m2] (time,), to which the neighbours' feed-in is proportional.
    base_v, daily_swing_v, load_term_v, neighbours_rise_v : float
        Base, amplitude of the daily shape (highest at 4 h), drop at the evening's load peak
        (19 h, two hours wide) and the neighbours' rise at 1000 W/m2 [V].

    Returns
    -------
    ndarray
        [V] (time,).
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
) -> FloatArray:
    """Return seeded noise with an exponential correlation.

    Parameters
    ----------
    steps : int
        Length of time.
    interval_s : float
        Length of a step [s].
    noise_v : float
        Standard deviation [V].
    correlation_min : float
        Correlation time [min].
    seed : int
        Of the random numbers.

    Returns
    -------
    ndarray
        [V] (time,).
    """
    if noise_v <= 0.0:
        return np.zeros(steps)
    keep = float(np.exp(-interval_s / (60.0 * correlation_min)))
    draws = np.random.default_rng(seed).standard_normal(steps)
    drive = np.sqrt(1.0 - keep**2) * draws
    drive[0] = draws[0]
    noise = accumulate(drive, lambda before, push: keep * before + push)
    return noise_v * np.fromiter(noise, float, steps)
