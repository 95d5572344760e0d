"""A second opinion on shade: a ray from every spot of a cell to the sun, and many to the sky.

Boxes are met by clipping a ray at six faces, cylinders by a quadratic, rectangles by their plane;
the sky is drawn at random. It is written from what the site file's words say and imports nothing of
the product.
"""

from dataclasses import dataclass

import numpy as np
import pandas as pd

_SPOTS = 2
"""Spots across a cell, in either direction; finer ones told 0.3 to 0.5 % less."""
_SKY_RAYS = 1000


@dataclass(frozen=True)
class Shade:
    """Light on the cells of a plane's modules, behind glass and soil [W/m2].

    Parameters
    ----------
    order : dict
        Position of the module at (row, column).
    darkest : ndarray
        Of the darkest cell of each half of a cell group (time, module, group, half).
    mean : ndarray
        Mean of a module's cells (time, module).
    direct : ndarray
        Least share of the direct light that a cell of the module gets (time, module).
    """

    order: dict
    darkest: np.ndarray
    mean: np.ndarray
    direct: np.ndarray


def plane(site: dict, roof: dict, solar: pd.DataFrame, parts: dict, offset_h: float) -> Shade:
    """Return the light on a plane's modules past obstacles and the other planes' modules.

    Parameters
    ----------
    site, roof : dict
        The site file, and one of its planes.
    solar : DataFrame
        The sun (time,).
    parts : dict
        `direct`, `sky` and `ground`: what an unshaded cell gets [W/m2] (time,).
    offset_h : float
        Local standard time less UTC [h].
    """
    sheet = _sheet(site, roof)
    corner, right, up, normal = _directions(roof)
    across, along = _sides(sheet, roof)
    places = _places(roof)
    cells, of_cell, group, half = _cells(sheet, roof)
    spots = _spread(of_cell)
    starts = np.array([[column * across, row * along] for row, column in places])
    flat = starts[:, None, None] + cells[None, :, None] + spots[None, None]
    points = corner + flat[..., :1] * right + flat[..., 1:] * up
    middles = points.mean(axis=2)
    bodies = [_body(each) for each in site.get("obstacles", [])]
    for other in site["planes"]:
        if other is not roof:
            bodies += list(_modules(site, other))
    months = (solar.index + pd.Timedelta(hours=offset_h)).month.to_numpy() - 1
    seen = _sky(middles, normal, bodies, np.unique(months))
    height = np.radians(solar["apparent_elevation"].to_numpy())
    turn = np.radians(solar["azimuth"].to_numpy())
    towards = np.stack(
        [np.cos(height) * np.sin(turn), np.cos(height) * np.cos(turn), np.sin(height)], axis=1
    )
    steps, shape = len(solar), (len(places), len(cells))
    darkest = np.zeros((steps, len(places), group.max() + 1, half.max() + 1))
    mean, direct = np.zeros((steps, len(places))), np.ones((steps, len(places)))
    for step in range(steps):
        share = np.ones(shape)
        if parts["direct"][step] > 0.0:
            share = _through(points, towards[step], bodies, months[step]).mean(axis=2)
        light = parts["direct"][step] * share
        light = light + parts["sky"][step] * seen[months[step]] + parts["ground"][step]
        mean[step], direct[step] = light.mean(axis=1), share.min(axis=1)
        for g in range(darkest.shape[2]):
            for h in range(darkest.shape[3]):
                darkest[step, :, g, h] = light[:, (group == g) & (half == h)].min(axis=1)
    return Shade({place: at for at, place in enumerate(places)}, darkest, mean, direct)


def _sheet(site: dict, roof: dict) -> dict:
    return next(each for each in site["module_types"] if each["name"] == roof["module_type"])


def _directions(lying: dict) -> tuple[np.ndarray, ...]:
    """Return corner, right along the eaves, up the slope, and outwards."""
    tilt, turn = np.radians(lying["tilt_deg"]), np.radians(lying["azimuth_deg"])
    east, north = np.sin(turn), np.cos(turn)
    return (
        np.array(lying["corner_m"], dtype=float),
        np.array([-north, east, 0.0]),
        np.array([-east * np.cos(tilt), -north * np.cos(tilt), np.sin(tilt)]),
        np.array([east * np.sin(tilt), north * np.sin(tilt), np.cos(tilt)]),
    )


def _sides(sheet: dict, roof: dict) -> tuple[float, float]:
    sides = sheet["width_m"], sheet["length_m"]
    return (min(sides), max(sides)) if roof["layout"] == "portrait" else (max(sides), min(sides))


def _places(roof: dict) -> list[tuple[int, int]]:
    """Return rows from the eaves up and columns from the left of a drawing's modules."""
    lines = roof["drawing"][::-1]
    return [(r, c) for r, line in enumerate(lines) for c, mark in enumerate(line) if mark == "M"]


def _cells(sheet: dict, roof: dict) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Return middles, size, group and half of a module's cells: two columns of cells a group."""
    groups, halves = 3, 2 if sheet["cell_layout"] == "half-cut" else 1
    short, long = sorted((sheet["width_m"], sheet["length_m"]))
    rows = sheet["cells_in_series"] // (2 * groups)
    wide, high = short / (2 * groups), long / (halves * rows)
    column, row = np.meshgrid(np.arange(2 * groups), np.arange(halves * rows), indexing="ij")
    column, row = column.ravel(), row.ravel()
    middles = np.stack([(column + 0.5) * wide, (row + 0.5) * high], axis=1)
    size = np.array([wide, high])
    if roof["layout"] == "landscape":
        middles, size = middles[:, ::-1], size[::-1]
    return middles, size, column // 2, row // rows


def _spread(size: np.ndarray) -> np.ndarray:
    """Return spots of a cell from its middle [m] (spot, 2)."""
    line = (np.arange(_SPOTS) + 0.5) / _SPOTS - 0.5
    return np.stack(np.meshgrid(line, line), axis=-1).reshape(-1, 2) * size


def _body(obstacle: dict) -> tuple:
    """Return a function from rays to whether they are stopped, and what passes by month."""
    passes = obstacle.get("transmittance_by_month", [obstacle.get("transmittance", 0.0)] * 12)
    if obstacle["shape"] == "roof":
        corner, right, up, normal = _directions(obstacle)
        return _rectangle(
            corner, right, up, normal, obstacle["width_m"], obstacle["length_m"]
        ), passes
    foot, tall = np.array(obstacle["foot_m"], dtype=float), obstacle["height_m"]
    if obstacle["shape"] == "cylinder":
        return _cylinder(foot, 0.5 * obstacle["diameter_m"], tall), passes
    turn = np.radians(obstacle.get("azimuth_deg", 180.0))
    front = np.array([np.sin(turn), np.cos(turn), 0.0])
    side = np.array([front[1], -front[0], 0.0])
    axes = np.array([side, front, [0.0, 0.0, 1.0]])
    middle = foot + np.array([0.0, 0.0, 0.5 * tall])
    reach = 0.5 * np.array([obstacle["width_m"], obstacle["depth_m"], tall])
    return _box(middle, axes, reach), passes


def _modules(site: dict, other: dict):
    corner, right, up, normal = _directions(other)
    across, along = _sides(_sheet(site, other), other)
    for row, column in _places(other):
        start = corner + column * across * right + row * along * up
        yield _rectangle(start, right, up, normal, across, along), [0.0] * 12


def _box(middle: np.ndarray, axes: np.ndarray, reach: np.ndarray):
    def stops(points: np.ndarray, towards: np.ndarray) -> np.ndarray:
        first, last = 0.0, np.inf
        for axis, far in zip(axes, reach, strict=True):
            start, speed = (points - middle) @ axis, towards @ axis
            speed = np.where(np.abs(speed) < 1e-12, 1e-12, speed)
            one, two = (-far - start) / speed, (far - start) / speed
            first = np.maximum(first, np.minimum(one, two))
            last = np.minimum(last, np.maximum(one, two))
        return last > first

    return stops


def _cylinder(foot: np.ndarray, radius: float, tall: float):
    def stops(points: np.ndarray, towards: np.ndarray) -> np.ndarray:
        away = points - foot
        level = towards[..., :2]
        a = np.maximum(np.sum(level * level, axis=-1), 1e-12)
        b = np.sum(away[..., :2] * level, axis=-1)
        c = np.sum(away[..., :2] ** 2, axis=-1) - radius * radius
        inside = b * b - a * c
        root = np.sqrt(np.maximum(inside, 0.0))
        rise = np.where(np.abs(towards[..., 2]) < 1e-12, 1e-12, towards[..., 2])
        ends = -away[..., 2] / rise, (tall - away[..., 2]) / rise
        first = np.maximum(np.maximum((-b - root) / a, np.minimum(*ends)), 0.0)
        last = np.minimum((-b + root) / a, np.maximum(*ends))
        return (inside > 0.0) & (last > first)

    return stops


def _rectangle(corner, right, up, normal, width: float, length: float):
    def stops(points: np.ndarray, towards: np.ndarray) -> np.ndarray:
        speed = towards @ normal
        far = ((corner - points) @ normal) / np.where(np.abs(speed) < 1e-12, 1e-12, speed)
        met = points + far[..., None] * towards - corner
        x, y = met @ right, met @ up
        return (far > 0.0) & (x > 0.0) & (x < width) & (y > 0.0) & (y < length)

    return stops


def _through(points: np.ndarray, towards: np.ndarray, bodies: list, month: int) -> np.ndarray:
    """Return the share of light that comes to points from a direction."""
    share = np.ones(points.shape[:-1])
    for stops, passes in bodies:
        share = np.where(stops(points, towards), share * passes[month], share)
    return share


def _sky(middles: np.ndarray, normal: np.ndarray, bodies: list, months: np.ndarray) -> dict:
    """Return the share of an even sky's light that comes to points, by month (module, cell)."""
    turn = np.pi * (np.sqrt(5.0) - 1.0) * np.arange(_SKY_RAYS)
    sine = np.sqrt((np.arange(_SKY_RAYS) + 0.5) / _SKY_RAYS)
    side = np.cross(normal, [0.3, 0.9, 0.1])
    side /= np.linalg.norm(side)
    over = np.cross(normal, side)
    # As dense as the cosine to the plane, so that each ray brings the same light.
    rays = sine[:, None] * (np.cos(turn)[:, None] * side + np.sin(turn)[:, None] * over)
    rays += np.sqrt(1.0 - sine**2)[:, None] * normal
    rays = rays[rays[:, 2] > 0.0]
    total = {month: np.zeros(middles.shape[:-1]) for month in months}
    for ray in rays:
        share = {month: np.ones(middles.shape[:-1]) for month in months}
        for stops, passes in bodies:
            hit = stops(middles, ray)
            for month in months:
                share[month][hit] *= passes[month]
        for month in months:
            total[month] += share[month]
    return {month: each / len(rays) for month, each in total.items()}
