"""Whether bodies stand between a point and the sun."""

from __future__ import annotations

import math

from yieldkit.physics.compiled import compiled
from yieldkit.physics.irradiance.bodies import BOX, CYLINDER

NEAREST_M = 1e-9
"""What a body hides begins this far in front of a point [m]: it does not shade its own surface."""


@compiled
def hides(kind, body, x, y, z, east, north, up):
    """Tell whether a body stands in a direction from a point.

    Parameters
    ----------
    kind : int
        Kind of the body.
    body : ndarray
        Its numbers [m, 1] (9,).
    x, y, z : float
        The point [m].
    east, north, up : float
        The direction, of unit length [1].

    Returns
    -------
    bool
        Only what lies in front of the point counts.
    """
    if kind == BOX:
        return _box_hides(body, x, y, z, east, north, up)
    if kind == CYLINDER:
        return _cylinder_hides(body, x, y, z, east, north, up)
    return _sheet_hides(body, x, y, z, east, north, up)


@compiled
def _box_hides(body, x, y, z, east, north, up):
    """Tell the same of an upright box.

    Parameters
    ----------
    body, x, y, z, east, north, up : ndarray and float
        As for `hides`.

    Returns
    -------
    bool
        As for `hides`.
    """
    dx, dy = x - body[0], y - body[1]
    across, deep = dx * body[4] + dy * body[5], dy * body[4] - dx * body[5]
    along, inward = east * body[4] + north * body[5], north * body[4] - east * body[5]
    enters, leaves = between(across, along, -body[6], body[6], NEAREST_M, math.inf)
    enters, leaves = between(deep, inward, -body[7], body[7], enters, leaves)
    enters, leaves = between(z, up, body[2], body[3], enters, leaves)
    return enters < leaves


@compiled
def between(place, speed, low, high, enters, leaves):
    """Return when a ray is between two parallel walls, as far as it was in the span before.

    Parameters
    ----------
    place, speed : float
        Where the ray starts across the walls, and how fast it goes there [m, 1].
    low, high : float
        The walls [m].
    enters, leaves : float
        The span before [m].

    Returns
    -------
    tuple of float
        The span [m]; its end is before its beginning where there is none.
    """
    if speed == 0.0:
        if low < place < high:
            return enters, leaves
        return math.inf, -math.inf
    one, other = (low - place) / speed, (high - place) / speed
    if one > other:
        one, other = other, one
    return max(enters, one), min(leaves, other)


@compiled
def _cylinder_hides(body, x, y, z, east, north, up):
    """Tell the same of an upright cylinder.

    Parameters
    ----------
    body, x, y, z, east, north, up : ndarray and float
        As for `hides`.

    Returns
    -------
    bool
        As for `hides`.
    """
    enters, leaves = in_circle(body, x, y, east, north)
    enters, leaves = between(z, up, body[2], body[3], max(enters, NEAREST_M), leaves)
    return enters < leaves


@compiled
def in_circle(body, x, y, east, north):
    """Return when a ray is inside of a cylinder's round wall.

    Parameters
    ----------
    body : ndarray
        Numbers of the cylinder [m] (9,).
    x, y : float
        Where the ray starts [m].
    east, north : float
        How fast it goes [1].

    Returns
    -------
    tuple of float
        The span [m]; its end is before its beginning where there is none.
    """
    dx, dy = x - body[0], y - body[1]
    outside = dx * dx + dy * dy - body[4] * body[4]
    speed = east * east + north * north
    if speed == 0.0:
        if outside < 0.0:
            return -math.inf, math.inf
        return math.inf, -math.inf
    nearest = -(dx * east + dy * north)
    under = nearest * nearest - speed * outside
    if under <= 0.0:
        return math.inf, -math.inf
    half = math.sqrt(under)
    return (nearest - half) / speed, (nearest + half) / speed


@compiled
def _sheet_hides(body, x, y, z, east, north, up):
    """Tell the same of a rectangle in space.

    Parameters
    ----------
    body, x, y, z, east, north, up : ndarray and float
        As for `hides`.

    Returns
    -------
    bool
        As for `hides`.
    """
    normal_e = body[4] * body[8] - body[5] * body[7]
    normal_n = body[5] * body[6] - body[3] * body[8]
    normal_u = body[3] * body[7] - body[4] * body[6]
    dx, dy, dz = body[0] - x, body[1] - y, body[2] - z
    facing = normal_e * east + normal_n * north + normal_u * up
    if facing == 0.0:
        return False
    far = (normal_e * dx + normal_n * dy + normal_u * dz) / facing
    if far <= NEAREST_M:
        return False
    dx, dy, dz = far * east - dx, far * north - dy, far * up - dz
    one = body[3] * dx + body[4] * dy + body[5] * dz
    if not 0.0 < one < body[3] ** 2 + body[4] ** 2 + body[5] ** 2:
        return False
    other = body[6] * dx + body[7] * dy + body[8] * dz
    return 0.0 < other < body[6] ** 2 + body[7] ** 2 + body[8] ** 2
