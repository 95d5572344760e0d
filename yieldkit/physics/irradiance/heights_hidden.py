"""Between which elevations bodies hide the sky in a direction of the compass."""

from __future__ import annotations

import math

from yieldkit.physics.compiled import compiled
from yieldkit.physics.irradiance.bodies import CYLINDER, SHEET
from yieldkit.physics.irradiance.shadow import between, in_circle


@compiled
def heights_hidden(kind, body, x, y, z, east, north):
    """Return between which elevations a body hides the sky in a direction of the compass.

    Parameters
    ----------
    kind : int
        Kind of the body.
    body : ndarray
        Its numbers [m, 1] (9,).
    x, y, z : float
        The point [m].
    east, north : float
        The direction [1].

    Returns
    -------
    tuple of float
        Lowest and highest elevation [rad]; the same where it hides nothing.
    """
    if kind == SHEET:
        return _heights_of_sheet(body, x, y, z, east, north)
    if kind == CYLINDER:
        near, far = in_circle(body, x, y, east, north)
        near = max(near, 0.0)
    else:
        dx, dy = x - body[0], y - body[1]
        speed = east * body[4] + north * body[5]
        near, far = between(dx * body[4] + dy * body[5], speed, -body[6], body[6], 0.0, math.inf)
        speed = north * body[4] - east * body[5]
        near, far = between(dy * body[4] - dx * body[5], speed, -body[7], body[7], near, far)
    if near >= far:
        return 0.0, 0.0
    foot, top = body[2] - z, body[3] - z
    low = math.atan2(foot, far if foot > 0.0 else near)
    return low, math.atan2(top, near if top > 0.0 else far)


@compiled
def _heights_of_sheet(body, x, y, z, east, north):
    """Return the same of a rectangle in space: where it crosses the upright plane of a direction.

    Parameters
    ----------
    body, x, y, z, east, north : ndarray and float
        As for `heights_hidden`.

    Returns
    -------
    tuple of float
        As for `heights_hidden`.
    """
    ends = 0
    away0, height0, away1, height1 = 0.0, 0.0, 0.0, 0.0
    for edge in range(4):
        # The rectangle's corners in turn: start, one side further, both, the other.
        a, b = (1.0 if edge in (1, 2) else 0.0), (1.0 if edge >= 2 else 0.0)
        c, d = (1.0 if edge in (0, 1) else 0.0), (1.0 if edge in (1, 2) else 0.0)
        x0 = body[0] + a * body[3] + b * body[6] - x
        y0 = body[1] + a * body[4] + b * body[7] - y
        x1 = body[0] + c * body[3] + d * body[6] - x
        y1 = body[1] + c * body[4] + d * body[7] - y
        off0, off1 = x0 * north - y0 * east, x1 * north - y1 * east
        if (off0 > 0.0) == (off1 > 0.0):
            continue
        share = off0 / (off0 - off1)
        x0, y0 = (1.0 - share) * x0 + share * x1, (1.0 - share) * y0 + share * y1
        a, b = (1.0 - share) * a + share * c, (1.0 - share) * b + share * d
        away0, height0 = away1, height1
        away1, height1 = x0 * east + y0 * north, body[2] + a * body[5] + b * body[8] - z
        ends += 1
    if ends < 2 or (away0 <= 0.0 and away1 <= 0.0):
        return 0.0, 0.0
    if away0 < 0.0 or away1 < 0.0:
        # What lies behind belongs to the other side of the compass: up to above the point.
        over = height0 - away0 * (height1 - height0) / (away1 - away0)
        if away0 < 0.0:
            away0, height0 = 0.0, over
        else:
            away1, height1 = 0.0, over
    one, other = math.atan2(height0, away0), math.atan2(height1, away1)
    return min(one, other), max(one, other)
