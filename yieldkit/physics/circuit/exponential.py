"""A quick exponential in plain arithmetic, which compilers turn into vector instructions."""

from __future__ import annotations

from yieldkit.physics.compiled import compiled


@compiled
def exponential(x):
    """Return exp(x) for |x| up to 45 within 1e-11: Taylor at x / 64, squared six times.

    Parameters
    ----------
    x : float
        [1].

    Returns
    -------
    float
        [1].
    """
    y = x * (1.0 / 64.0)
    p = 1.0 / 39916800.0 + y * (1.0 / 479001600.0 + y * (1.0 / 6227020800.0))
    p = 1.0 / 40320.0 + y * (1.0 / 362880.0 + y * (1.0 / 3628800.0 + y * p))
    p = 1.0 / 120.0 + y * (1.0 / 720.0 + y * (1.0 / 5040.0 + y * p))
    p = 1.0 + y * (1.0 + y * (0.5 + y * (1.0 / 6.0 + y * (1.0 / 24.0 + y * p))))
    p = p * p
    p = p * p
    p = p * p
    p = p * p
    p = p * p
    return p * p
