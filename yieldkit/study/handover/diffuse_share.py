"""By how much the diffuse share of global light may be off where it wasn't measured."""

from __future__ import annotations

import numpy as np

from yieldkit.base.arrays import FloatArray

SHARE, MOST_SHARE, _HIGH_DEG, _POWER = 0.06, 0.35, 30.0, 1.5
"""By how much the diffuse share of global light is off in the mean of a month where it wasn't
measured [1]: 0.02 to 0.09 by the sun's height that month; of the cloudless sky of Ineichen and
Perez (2002) at a turbidity of 2 to 4.5 by 0.04 to 0.11 above 30 degrees, 0.25 to 0.32 at 15 and
0.36 to 0.42 at 10."""


def diffuse_share_off(height: FloatArray) -> FloatArray:
    """Return by how much the diffuse share of global light may be off [1].

    Parameters
    ----------
    height : ndarray
        The sun's above the horizon [deg].
    """
    wrong = SHARE * np.maximum(_HIGH_DEG / np.maximum(height, 3.0), 1.0) ** _POWER
    return np.minimum(wrong, MOST_SHARE)
