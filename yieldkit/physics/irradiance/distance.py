"""Distances between places on the earth."""

from __future__ import annotations

import numpy as np

EARTH_RADIUS_KM = 6371.0088
"""Mean radius of the earth [km] (IUGG: (2 a + b) / 3 of the ellipsoid GRS 80); from memory."""


def great_circle_km(
    latitude: float, longitude: float, other_latitude: float, other_longitude: float
) -> float:
    """Return the distance between two places along the great circle [km].

    Parameters
    ----------
    latitude, longitude, other_latitude, other_longitude : float
        [deg], north and east positive.

    References
    ----------
    The haversine formula, which keeps its digits at small distances (Sinnott 1984, Sky and
    Telescope 68, 159); from memory.
    """
    one, other = np.radians(latitude), np.radians(other_latitude)
    east = np.radians(other_longitude - longitude)
    half = np.sin((other - one) / 2.0) ** 2
    half += np.cos(one) * np.cos(other) * np.sin(east / 2.0) ** 2
    return float(2.0 * EARTH_RADIUS_KM * np.arcsin(np.sqrt(np.clip(half, 0.0, 1.0))))
