"""How much of the sky's even light reaches each cell, past bodies and the far horizon."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import FloatArray, IntArray
from yieldkit.physics.compiled import compiled, compiled_owning
from yieldkit.physics.irradiance.bodies import CYLINDER, SHEET, Bodies, corners
from yieldkit.physics.irradiance.heights_hidden import heights_hidden
from yieldkit.physics.irradiance.module_points import PlaneModules

_SECTOR_DEG = 15.0
_GAUSS, _WEIGHTS = np.polynomial.legendre.leggauss(3)
_STRAIGHT_UP = math.pi / 2.0
_SECTORS = int(360.0 / _SECTOR_DEG)
_EDGES_EACH = 5


class SkyViews(NamedTuple):
    """Share of the even sky that cells see, of what they would see without the bodies.

    Parameters
    ----------
    cells : ndarray
        [1] (season, module, cell).
    season : ndarray of int
        Season of each month, January first (12,).
    """

    cells: FloatArray
    season: IntArray


def sky_views(
    modules: PlaneModules, some: Bodies, horizon: tuple[FloatArray, FloatArray] | None = None
) -> SkyViews:
    """Return what each cell sees of the sky.

    Parameters
    ----------
    modules : PlaneModules
        The cells.
    some : Bodies
        The bodies in their light.
    horizon : tuple of ndarray, optional
        Azimuths and elevations of the far horizon [deg] (point,), below which there is no sky.

    Returns
    -------
    SkyViews
        Integral of the sky not hidden, weighted with the cosine of incidence on the plane, over
        that without bodies: in sectors of azimuth between the bodies' edges by Gauss's rule,
        exactly over elevation.
    """
    spots = modules.spots(modules.sky_offsets).reshape(-1, 3)
    through, season = some.monthly()
    edges = [corners(int(k), n) for k, n in zip(some.kind, some.numbers, strict=True)]
    around = np.full((len(edges), 4, 2), np.nan)
    tops = np.array([found[:, 2].max() for found in edges])
    for place, (kind, found) in enumerate(zip(some.kind, edges, strict=True)):
        if kind != CYLINDER:
            around[place] = found[:, :2] if kind == SHEET else found[::2, :2]
    seen = _seen(
        spots,
        (modules.frame.normal, _profile(horizon)),
        (some.kind, some.numbers, through, around, tops),
    )
    shape = (len(modules.starts), len(modules.cells.middles), len(modules.sky_offsets))
    return SkyViews(seen.reshape(-1, *shape).mean(axis=-1), season)


def _profile(horizon: tuple[FloatArray, FloatArray] | None) -> FloatArray:
    """Return azimuth and elevation of a horizon [rad] (2, point), closed round the compass."""
    if horizon is None:
        return np.zeros((2, 0))
    order = np.argsort(horizon[0])
    azimuth, height = np.radians(horizon[0][order]), np.radians(horizon[1][order])
    turn = 2.0 * np.pi
    return np.array(
        [
            [azimuth[-1] - turn, *azimuth, azimuth[0] + turn],
            [height[-1], *height, height[0]],
        ]
    )


@compiled
def _horizon_height(azimuth, profile):
    """Return the elevation of the far horizon.

    Parameters
    ----------
    azimuth : float
        From north through east, 0 to a whole turn [rad].
    profile : ndarray
        Azimuths and elevations in their order, empty for none [rad] (2, point).

    Returns
    -------
    float
        [rad].
    """
    for place in range(1, profile.shape[1]):
        if azimuth <= profile[0, place]:
            first, last = profile[0, place - 1], profile[0, place]
            if last <= first:
                return profile[1, place]
            share = (azimuth - first) / (last - first)
            return (1.0 - share) * profile[1, place - 1] + share * profile[1, place]
    return 0.0


@compiled
def _light_below(elevation, a, b):
    """Return the integral over elevation of the even sky's light on a plane, from the horizon up.

    Parameters
    ----------
    elevation : float
        Upper end [rad].
    a, b : float
        The plane's normal: its part in the direction of the compass, and upright [1].

    Returns
    -------
    float
        Integral of (a cos e + b sin e) cos e [1].
    """
    sine = math.sin(elevation)
    return 0.5 * (a * (elevation + sine * math.cos(elevation)) + b * sine * sine)


@compiled
def _open_light(lowest, a, b, hidden, through, count):
    """Return the light of the sky above an elevation, past bodies.

    Parameters
    ----------
    lowest : float
        Below it there is no sky [rad].
    a, b : float
        As for `_light_below`.
    hidden : ndarray
        Elevations that bodies hide, lower and upper end [rad] (body, 2).
    through : ndarray
        What each lets through [1] (body,).
    count : int
        How many bodies there are.

    Returns
    -------
    float
        Integral over elevation [1]; light passes several bodies by the product of their shares.
    """
    total, here, below = 0.0, lowest, _light_below(lowest, a, b)
    while here < _STRAIGHT_UP:
        end, share = _STRAIGHT_UP, 1.0
        for body in range(count):
            low, high = hidden[body, 0], hidden[body, 1]
            if low > here:
                end = min(end, low)
            elif high > here:
                end = min(end, high)
                share *= through[body]
        above = _light_below(end, a, b)
        total += share * (above - below)
        here, below = end, above
    return total


@compiled
def _edges(x, y, z, kinds, numbers, around, tops, found):
    """Fill in the azimuths between which a point sees the bodies' outlines without a break.

    Parameters
    ----------
    x, y, z : float
        The point [m].
    kinds : ndarray of int
        Kinds of the bodies, shape (body,).
    numbers : ndarray
        Their numbers [m, 1] (body, 9).
    around : ndarray
        Corners of boxes and sheets seen from above [m] (body, 4, 2).
    tops : ndarray
        How high the bodies reach [m] (body,).
    found : ndarray
        Filled with azimuths, in their order [rad] (edge,); sectors of the compass stand in it.

    Returns
    -------
    int
        How many there are.
    """
    count = _SECTORS
    for body in range(kinds.size):
        if tops[body] <= z:
            continue
        if kinds[body] == CYLINDER:
            dx, dy = numbers[body, 0] - x, numbers[body, 1] - y
            away = math.hypot(dx, dy)
            if away <= numbers[body, 4]:
                continue
            middle, half = math.atan2(dx, dy), math.asin(numbers[body, 4] / away)
            for side in range(_EDGES_EACH):
                turned = middle + half * math.sin(0.25 * math.pi * (side - 2.0))
                count = _put_in(found, count, turned)
        else:
            for corner in range(4):
                dx, dy = around[body, corner, 0] - x, around[body, corner, 1] - y
                count = _put_in(found, count, math.atan2(dx, dy))
    return count


@compiled
def _put_in(found, count, azimuth):
    """Put an azimuth into a list in its order.

    Parameters
    ----------
    found : ndarray
        Azimuths from 0 to a whole turn, in their order [rad] (edge,).
    count : int
        How many there are.
    azimuth : float
        The new one [rad].

    Returns
    -------
    int
        How many there are now.
    """
    turned = azimuth % (2.0 * math.pi)
    place = count
    while place > 0 and found[place - 1] > turned:
        found[place] = found[place - 1]
        place -= 1
    found[place] = turned
    return count + 1


@compiled_owning
def _seen(spots, plane, bodies):
    """Return the shares of the sky that points see.

    Parameters
    ----------
    spots : ndarray
        The points [m] (point, 3).
    plane : tuple of ndarray
        The plane's normal [1] (3,), and the horizon [rad] (2, point).
    bodies : tuple of ndarray
        Kinds (body,), numbers [m, 1] (body, 9), what each lets through [1] (season, body),
        corners from above [m] (body, 4, 2) and tops [m] (body,).

    Returns
    -------
    ndarray
        [1] (season, point).
    """
    kinds, numbers, through, around, tops = bodies
    normal, profile = plane
    seasons = through.shape[0]
    seen = np.ones((seasons, spots.shape[0]))
    edges = np.zeros(_SECTORS + _EDGES_EACH * kinds.size + 1)
    hidden, passed = np.zeros((kinds.size, 2)), np.zeros((seasons, kinds.size))
    got = np.zeros(seasons)
    for spot in range(spots.shape[0]):
        x, y, z = spots[spot, 0], spots[spot, 1], spots[spot, 2]
        for sector in range(_SECTORS):
            edges[sector] = sector * 2.0 * math.pi / _SECTORS
        count = _edges(x, y, z, kinds, numbers, around, tops, edges)
        edges[count] = 2.0 * math.pi
        every = 0.0
        got[:] = 0.0
        for place in range(count):
            half = 0.5 * (edges[place + 1] - edges[place])
            if half <= 0.0:
                continue
            for node in range(_GAUSS.size):
                azimuth = edges[place] + half * (1.0 + _GAUSS[node])
                east, north = math.sin(azimuth), math.cos(azimuth)
                a, b = normal[0] * east + normal[1] * north, normal[2]
                lowest = max(_horizon_height(azimuth, profile), math.atan2(-a, b))
                if lowest >= _STRAIGHT_UP:
                    continue
                hiding = 0
                for body in range(kinds.size):
                    low, high = heights_hidden(kinds[body], numbers[body], x, y, z, east, north)
                    if high > low and high > lowest:
                        hidden[hiding, 0], hidden[hiding, 1] = low, high
                        passed[:, hiding] = through[:, body]
                        hiding += 1
                whole = _light_below(_STRAIGHT_UP, a, b) - _light_below(lowest, a, b)
                every += _WEIGHTS[node] * half * whole
                for season in range(seasons):
                    light = whole
                    if hiding:
                        light = _open_light(lowest, a, b, hidden, passed[season], hiding)
                    got[season] += _WEIGHTS[node] * half * light
        for season in range(seasons):
            if every > 0.0:
                seen[season, spot] = got[season] / every
    return seen
