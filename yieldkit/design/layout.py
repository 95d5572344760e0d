"""Where each string's modules lie on the roof: connected runs of neighbours."""

from __future__ import annotations

from itertools import pairwise
from typing import NamedTuple

from yieldkit.config.site import Plane, Site, Wiring


class StringRun(NamedTuple):
    """A string's modules on one plane.

    Parameters
    ----------
    mppt : str
        The input it hangs on.
    string : int
        Number of the string on that input, from 1.
    plane : str
        The plane.
    modules : tuple of int
        Positions of its modules in the plane's list, in the order of the cable.
    connected : bool
        Whether each module lies beside the one before it.
    return_m : float
        Length of the conductor back from the last module to the first, along the rows [m].
    """

    mppt: str
    string: int
    plane: str
    modules: tuple[int, ...]
    connected: bool
    return_m: float


def serpentine(plane: Plane) -> tuple[int, ...]:
    """Return a plane's modules row by row, every other row backwards.

    Parameters
    ----------
    plane : Plane
        A plane with the position of every module.
    """
    places = plane.positions

    def along(number: int) -> tuple[int, int]:
        here = places[number]
        return here.row, -here.column if here.row % 2 else here.column

    return tuple(sorted(range(plane.modules), key=along))


def string_layout(site: Site, wiring: Wiring) -> tuple[StringRun, ...] | None:
    """Lay a wiring's strings on the roof as runs of neighbours.

    Parameters
    ----------
    site : Site
        Planes with module positions.
    wiring : Wiring
        The wiring.

    Returns
    -------
    tuple of StringRun, or None
        None where a plane in use has no positions: the layout is then NOT CHECKED.
    """
    planes = {plane.name: plane for plane in site.planes}
    used = {
        group.plane
        for tracker in wiring.trackers
        for string in tracker.strings
        for group in string.groups
    }
    if any(len(planes[name].positions) != planes[name].modules for name in used):
        return None
    orders = {name: serpentine(planes[name]) for name in used}
    taken = dict.fromkeys(used, 0)
    runs = []
    for tracker in wiring.trackers:
        for number, string in enumerate(tracker.strings, start=1):
            for group in string.groups:
                start = taken[group.plane]
                taken[group.plane] += group.modules
                chosen = orders[group.plane][start : start + group.modules]
                plane = planes[group.plane]
                runs.append(
                    StringRun(
                        tracker.mppt,
                        number,
                        group.plane,
                        chosen,
                        _connected(plane, chosen),
                        _back(site, plane, chosen),
                    )
                )
    return tuple(runs)


def _spacing(site: Site, plane: Plane) -> tuple[float, float]:
    """Return width and height of a plane's modules as they lie [m]."""
    module = next(each for each in site.module_types if each.name == plane.module_type)
    short, long = module.width_m or 1.1, module.length_m or 1.7
    return (long, short) if plane.layout == "landscape" else (short, long)


def _back(site: Site, plane: Plane, chosen: tuple[int, ...]) -> float:
    """Return the way back from the last module to the first, along rows and columns [m]."""
    width, height = _spacing(site, plane)
    a, b = plane.positions[chosen[0]], plane.positions[chosen[-1]]
    return abs(a.column - b.column) * width + abs(a.row - b.row) * height


def _connected(plane: Plane, chosen: tuple[int, ...]) -> bool:
    """Tell whether each module lies beside, above or below the one before it."""
    places = [plane.positions[number] for number in chosen]
    return all(abs(a.row - b.row) + abs(a.column - b.column) == 1 for a, b in pairwise(places))
