"""The place on the wall: clearances, how many fit, and what the place does to the inlet air."""

from __future__ import annotations

from typing import NamedTuple

from yieldkit.config.site import Site
from yieldkit.words.errors import refuse

_OFFSETS_K = {
    "outdoors-shaded": 0.0,
    "outdoors-sunlit": 10.0,
    "indoors-ventilated": 5.0,
    "indoors-tight": 15.0,
}
"""Assumed rise of the inlet air over ambient; common practice, no source."""


class Clearances(NamedTuple):
    """Free distances around an inverter [m]; common practice, no source.

    The maker's manual prevails.
    """

    beside: float = 0.50
    above: float = 0.70
    to_obstacles: float = 0.50
    in_front: float = 1.00


class Placement(NamedTuple):
    """Where inverters hang on a wall.

    Parameters
    ----------
    centre_lines : tuple of (float, float)
        Centre of each from the lower left corner of the usable wall [m].
    columns, rows : int
        How many side by side and above one another.
    """

    centre_lines: tuple[tuple[float, float], ...]
    columns: int
    rows: int


def inlet_offset_k(site: Site) -> tuple[float, str]:
    """Return the assumed rise of the inverter's inlet air over ambient, and the note on it.

    Parameters
    ----------
    site : Site
        The site; its own figure prevails over the assumption for the surroundings.

    Returns
    -------
    tuple of (float, str)
        [K], and one sentence for the report.
    """
    place = site.inverter_place
    if place is None:
        return 0.0, "Inverter's place not stated: inlet air taken at ambient temperature."
    if place.inlet_offset_k is not None:
        return place.inlet_offset_k, (
            f"Inlet air {place.inlet_offset_k:g} K over ambient, as the site file says."
        )
    offset = _OFFSETS_K[place.surroundings]
    return offset, (
        f"Inlet air {offset:g} K over ambient ({place.surroundings}): assumed, common practice."
    )


def place_on_wall(
    wall_width_m: float,
    wall_height_m: float,
    width_m: float,
    height_m: float,
    wanted: int,
    clearances: Clearances | None = None,
) -> Placement:
    """Place inverters on a wall with their clearances, row by row from the lower left.

    Parameters
    ----------
    wall_width_m, wall_height_m : float
        Usable wall between cabinets, shelves, floor and ceiling [m].
    width_m, height_m : float
        An inverter's case [m].
    wanted : int
        How many are wanted; fewer are returned when fewer fit.
    clearances : Clearances, optional
        Distances; common practice if left out, the maker's manual prevails.

    Raises
    ------
    InputError
        For sizes that are not positive.
    """
    sizes = {
        "wall width": wall_width_m,
        "wall height": wall_height_m,
        "inverter width": width_m,
        "inverter height": height_m,
    }
    for name, value in sizes.items():
        if not value > 0.0:
            refuse(name, f"{value} m", "a length above zero")
    gap = clearances or Clearances()
    across = wall_width_m - 2.0 * gap.to_obstacles + gap.beside
    up = wall_height_m - 2.0 * gap.to_obstacles + gap.above
    columns = max(int((across + 1e-9) // (width_m + gap.beside)), 0)
    rows = max(int((up + 1e-9) // (height_m + gap.above)), 0)
    centres = [
        (
            gap.to_obstacles + 0.5 * width_m + column * (width_m + gap.beside),
            gap.to_obstacles + 0.5 * height_m + row * (height_m + gap.above),
        )
        for row in range(rows)
        for column in range(columns)
    ]
    return Placement(tuple(centres[: max(wanted, 0)]), columns, rows)
