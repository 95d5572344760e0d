"""Where the cells of a plane's modules lie, and the points at which their light is looked at."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import FloatArray, IntArray
from yieldkit.physics.irradiance.bodies import Frame

_ACROSS = 2
"""Points to look at across a cell, in either direction, at least."""
_POINT_M, _SKY_POINT_M = 0.12, 0.25
"""Points along a cell lie no further apart: for the sun, and for the sky [m]."""


class CellGrid(NamedTuple):
    """The cells of one module, counted from its lower left corner.

    Parameters
    ----------
    middles : ndarray
        Middles of the cells, to the right and up the slope [m] (cell, 2).
    size : ndarray
        Of a cell [m] (2,).
    part : ndarray of int
        Cell group of each cell times the halves of a group, plus the half (cell,).
    groups, halves : int
        Cell groups of a module, and halves of a group: 2 in half-cut modules, else 1.
    """

    middles: FloatArray
    size: FloatArray
    part: IntArray
    groups: int
    halves: int


class PlaneModules(NamedTuple):
    """The modules of a plane and the points of their cells.

    Parameters
    ----------
    frame : Frame
        The plane.
    starts : ndarray
        Lower left corner of each module in the plane [m] (module, 2).
    size : ndarray
        Of a module, to the right and up the slope [m] (2,).
    cells : CellGrid
        The cells of each module.
    offsets, sky_offsets : ndarray
        Points of a cell from its middle: for the sun, and for the sky [m] (point, 2).
    """

    frame: Frame
    starts: FloatArray
    size: FloatArray
    cells: CellGrid
    offsets: FloatArray
    sky_offsets: FloatArray

    def spots(self, offsets: FloatArray) -> FloatArray:
        """Return points of the cells in space [m] (module, cell, point, 3), by their offsets."""
        flat = self.starts[:, None, None] + self.cells.middles[:, None] + offsets
        return self.frame.at(flat)

    @property
    def points(self) -> int:
        """Number of points of all modules at which the sun is looked for."""
        return len(self.starts) * len(self.cells.middles) * len(self.offsets)


def cell_grid(
    cells: int, groups: int, sides: tuple[float, float], *, halves: int, upright: bool, strips: bool
) -> CellGrid:
    """Return where a module's cells lie.

    Standing upright, its groups lie beside one another from left to right, each of as many columns
    of cells as make the cells most nearly square, and the halves of half-cut modules above one
    another; lying across, all of it is turned by a quarter, groups from the lower side up.
    Common practice, no source.

    Parameters
    ----------
    cells : int
        Cells in series; a half-cut module has twice as many halves of cells.
    groups : int
        Cell groups: bypass diodes.
    sides : tuple of float
        Shorter and longer side [m].
    halves : int
        1, or 2 for half-cut modules.
    upright : bool
        Whether the longer side goes up the slope.
    strips : bool
        Whether cells are strips as long as the module, as in thin films.
    """
    across, along = sides
    of_group = -(-cells // groups)
    columns = of_group if strips else _columns(of_group, groups, sides, halves)
    rows = -(-of_group // columns)
    wide, high = across / (groups * columns), along / (halves * rows)
    column, half, row = (
        each.ravel()
        for each in np.meshgrid(
            np.arange(groups * columns), np.arange(halves), np.arange(rows), indexing="ij"
        )
    )
    x, y = (column + 0.5) * wide, (half * rows + row + 0.5) * high
    part = (column // columns) * halves + half
    if upright:
        return CellGrid(np.stack([x, y], axis=1), np.array([wide, high]), part, groups, halves)
    return CellGrid(np.stack([y, x], axis=1), np.array([high, wide]), part, groups, halves)


def _columns(of_group: int, groups: int, sides: tuple[float, float], halves: int) -> int:
    """Return the columns of a group's cells that make whole cells most nearly square."""
    across, along = sides
    even = [each for each in range(1, of_group + 1) if of_group % each == 0]

    def off(columns: int) -> float:
        wide, high = across / (groups * columns), along / (of_group / columns)
        return abs(float(np.log(wide / high)))

    return min(even, key=off)


def plane_modules(
    on: Frame, places: FloatArray, size: tuple[float, float], cells: CellGrid
) -> PlaneModules:
    """Return a plane's modules with the points of their cells.

    Parameters
    ----------
    on : Frame
        The plane; its corner is that of row 0, column 0.
    places : ndarray
        Row and column of each module (module, 2).
    size : tuple of float
        Of a module, to the right and up the slope [m].
    cells : CellGrid
        From `cell_grid`.
    """
    sides = np.array(size, dtype=float)
    starts = np.asarray(places, dtype=float).reshape(-1, 2)[:, ::-1] * sides
    return PlaneModules(
        on,
        np.ascontiguousarray(starts),
        sides,
        cells,
        _offsets(cells.size, _POINT_M, _ACROSS),
        _offsets(cells.size, _SKY_POINT_M, 1),
    )


def _offsets(size: FloatArray, apart: float, least: int) -> FloatArray:
    """Return points evenly in a cell, from its middle [m] (point, 2)."""
    x, y = (
        (np.arange(count) + 0.5) / count * side - side / 2.0
        for side, count in zip(
            size, np.maximum(least, np.ceil(size / apart)).astype(int), strict=True
        )
    )
    grid = np.meshgrid(x, y, indexing="ij")
    return np.stack([each.ravel() for each in grid], axis=1)
