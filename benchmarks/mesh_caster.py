"""Another way to find shadows: bodies as meshes of triangles, every ray against every triangle."""

import numpy as np

SIDES = 180
"""Sides of the prism that stands for a round cylinder; its flats lie 0.15 mm inside of 1 m."""


def box_mesh(foot, size, azimuth):
    """Return the triangles of an upright box [m] (triangle, corner, 3)."""
    turn = np.radians(azimuth)
    right = np.array([-np.cos(turn), np.sin(turn)])
    front = np.array([np.sin(turn), np.cos(turn)])
    flat = [
        np.array(foot[:2]) + a * size[0] / 2 * right + b * size[1] / 2 * front
        for a, b in ((-1, -1), (1, -1), (1, 1), (-1, 1))
    ]
    return _prism(np.array(flat), foot[2], foot[2] + size[2])


def cylinder_mesh(foot, diameter, height):
    """Return the triangles of a prism of many sides [m] (triangle, corner, 3)."""
    turn = 2.0 * np.pi * np.arange(SIDES) / SIDES
    ring = np.stack([np.cos(turn), np.sin(turn)], axis=1) * diameter / 2 + np.array(foot[:2])
    return _prism(ring, foot[2], foot[2] + height)


def sheet_mesh(corner, one, other):
    """Return the two triangles of a rectangle [m] (triangle, corner, 3)."""
    corner, one, other = map(np.asarray, (corner, one, other))
    far = corner + one + other
    return np.array([[corner, corner + one, far], [corner, far, corner + other]])


def _prism(ring, low, high):
    lower = np.column_stack([ring, np.full(len(ring), low)])
    upper = np.column_stack([ring, np.full(len(ring), high)])
    found = []
    for here in range(len(ring)):
        after = (here + 1) % len(ring)
        found.append([lower[here], lower[after], upper[after]])
        found.append([lower[here], upper[after], upper[here]])
        if 0 < here < len(ring) - 1:
            found.append([lower[0], lower[here], lower[after]])
            found.append([upper[0], upper[here], upper[after]])
    return np.array(found)


def is_hit(starts, ways, triangles):
    """Tell which rays meet any triangle in front of them (ray,).

    Parameters
    ----------
    starts, ways : ndarray
        Points [m] and directions [1] (ray, 3).
    triangles : ndarray
        [m] (triangle, corner, 3).

    References
    ----------
    Möller and Trumbore (1997), Journal of Graphics Tools 2, 21-28; from memory.
    """
    hit = np.zeros(len(starts), dtype=bool)
    for corner, second, third in triangles:
        one, other = second - corner, third - corner
        across = np.cross(ways, other)
        scale = across @ one
        scale = np.where(scale == 0.0, np.nan, scale)
        away = starts - corner
        u = np.sum(away * across, axis=1) / scale
        turned = np.cross(away, one)
        v = np.sum(ways * turned, axis=1) / scale
        far = turned @ other / scale
        hit |= (u >= 0.0) & (v >= 0.0) & (u + v <= 1.0) & (far > 0.0)
    return hit
