"""Shadows on a plane of modules: where they may fall, and on which points of the cells they do."""

from __future__ import annotations

import numpy as np

from yieldkit.physics.compiled import compiled
from yieldkit.physics.irradiance.shadow import hides


@compiled
def shadow_rectangles(plane, around, towards, shadows):
    """Fill in the rectangles in a plane outside of which bodies throw no shadow.

    Parameters
    ----------
    plane : ndarray
        The plane's directions [1] (3, 3).
    around : ndarray
        Corners of the bodies in them [m] (body, 8, 3).
    towards : ndarray
        Direction towards the sun [1] (3,).
    shadows : ndarray
        Filled with the rectangles' left, right, lower and upper ends [m] (body, 4).

    Returns
    -------
    int
        How many bodies there are; none where the sun is behind the plane.
    """
    facing = plane[2, 0] * towards[0] + plane[2, 1] * towards[1] + plane[2, 2] * towards[2]
    if facing <= 0.0:
        return 0
    for way in range(2):
        along = plane[way, 0] * towards[0] + plane[way, 1] * towards[1]
        along = (along + plane[way, 2] * towards[2]) / facing
        for body in range(around.shape[0]):
            low, high = np.inf, -np.inf
            for corner in range(around.shape[1]):
                place = around[body, corner, way] - along * around[body, corner, 2]
                low, high = min(low, place), max(high, place)
            shadows[body, 2 * way], shadows[body, 2 * way + 1] = low, high
    return around.shape[0]


@compiled
def near_shadows(start, size, shadows, through, near):
    """Fill in the bodies whose shadow may touch a rectangle in the plane.

    Parameters
    ----------
    start, size : ndarray
        The rectangle's lower left corner and size [m] (2,).
    shadows : ndarray
        From `shadow_rectangles` [m] (body, 4).
    through : ndarray
        What the bodies let through [1] (body,).
    near : ndarray of int
        Filled with the bodies' positions, shape (body,).

    Returns
    -------
    int
        How many there are.
    """
    count = 0
    for body in range(shadows.shape[0]):
        apart = shadows[body, 0] >= start[0] + size[0] or shadows[body, 1] <= start[0]
        apart = apart or shadows[body, 2] >= start[1] + size[1] or shadows[body, 3] <= start[1]
        if not apart and through[body] < 1.0:
            near[count] = body
            count += 1
    return count


@compiled
def hides_all(kind, body, edges, towards):
    """Tell whether a body hides a whole module: where it hides its corners, since it has no dents.

    Parameters
    ----------
    kind : int
        Kind of the body.
    body : ndarray
        Its numbers [m, 1] (9,).
    edges : ndarray
        Corners of the module [m] (4, 3).
    towards : ndarray
        Direction towards the sun [1] (3,).

    Returns
    -------
    bool
        True if so.
    """
    for corner in range(4):
        x, y, z = edges[corner, 0], edges[corner, 1], edges[corner, 2]
        if not hides(kind, body, x, y, z, towards[0], towards[1], towards[2]):
            return False
    return True


@compiled
def throw(starts, middles, cells, kind, body, module, towards, shadow, through, shares):
    """Take from the points of a module what a body keeps from them.

    Parameters
    ----------
    starts, middles : ndarray
        Lower left corners of the modules (module, 2), middles of the cells in them (cell, 2) [m].
    cells : tuple of ndarray
        The cells' points [m] (module, cell, point, 3), and half a cell's size [m] (2,).
    kind : int
        Kind of the body.
    body : ndarray
        Its numbers [m, 1] (9,).
    module : int
        The module's position.
    towards : ndarray
        Direction towards the sun [1] (3,).
    shadow : ndarray
        Rectangle outside of which the body throws no shadow [m] (4,).
    through : float
        What the body lets through [1].
    shares : ndarray
        Share of the direct light that reaches each point, made smaller [1] (cell, point).
    """
    spots, half = cells
    east, north, up = towards[0], towards[1], towards[2]
    left, right = shadow[0] - half[0] - starts[module, 0], shadow[1] + half[0] - starts[module, 0]
    low, high = shadow[2] - half[1] - starts[module, 1], shadow[3] + half[1] - starts[module, 1]
    for cell in range(middles.shape[0]):
        x, y = middles[cell, 0], middles[cell, 1]
        if x <= left or x >= right or y <= low or y >= high:
            continue
        for point in range(shares.shape[1]):
            if hides(
                kind, body, spots[module, cell, point, 0], spots[module, cell, point, 1],
                spots[module, cell, point, 2], east, north, up,
            ):  # fmt: skip
                shares[cell, point] *= through
