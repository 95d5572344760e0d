"""One parametric run: a site's variant with one of its wirings, and what it shares with others."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from yieldkit.config.reading.paths import parts_of
from yieldkit.config.site.site import Site
from yieldkit.study.batch.bases import Base

_WEATHER, _PLACE, _SKY, _PLANES, _TYPES, STRINGS, _INPUTS, AC = range(1, 9)
_SHARED = {
    "weather": _WEATHER,
    "site": _PLACE,
    "models": _PLACE,
    "module_types": _TYPES,
    "wirings": STRINGS,
}
"""What shares most comes first: how far a change reaches, by the part of the site it is in."""
_ORIENTATION = ("tilt_deg", "azimuth_deg", "horizon")


@dataclass(frozen=True, slots=True)
class Run:
    """One parametric run: a site's variant with one of its wirings.

    Parameters
    ----------
    number : int
        Its place in the plan, counted with runs that are left out.
    name : str
        32 hexadecimal digits: a hash of all that its result depends on.
    at : tuple of int
        Position along each dimension of the plan, the wiring's last.
    axes : tuple of (str, object)
        Values by column, as the plan has them.
    changes : tuple of (str, object)
        Paths of `Site.variant` and new values, those left out that are the site's own.
    wiring : str
        What the wiring is called.
    base, wired : int
        Which of the plan's sites, and which of its wirings.
    site_file, weather_file : Path
        The files.
    made_of : tuple of (str, str)
        Hashes and versions behind the name, beside the changes.
    """

    number: int
    name: str
    at: tuple[int, ...]
    axes: tuple[tuple[str, Any], ...]
    changes: tuple[tuple[str, Any], ...]
    wiring: str
    base: int
    wired: int
    site_file: Path
    weather_file: Path
    made_of: tuple[tuple[str, str], ...]


def reach_of(parts: Sequence[str]) -> int:
    """Return how far up the road from sky to meter a part of the site reaches."""
    if parts[0] == "planes":
        if parts[-1] == "module_type":
            return _TYPES
        turned = any(key in _ORIENTATION for key in parts)
        return _SKY if turned else _PLANES
    if "mppts" in parts:
        return _INPUTS
    return _SHARED.get(parts[0], AC)


def site_of(bases: Sequence[Base] | Mapping[int, Base], run: Run) -> Site:
    """Return the site of a run, with the run's wiring alone.

    Parameters
    ----------
    bases : sequence or mapping of Base
        The plan's sites by their position, `Runs.bases`.
    run : Run
        The run.

    Raises
    ------
    InputError
        If the site can't be so, such as with more modules wired than its plane has.
    """
    site = bases[run.base].with_wiring(run.wired)
    return site.variant(dict(run.changes)) if run.changes else site


def order_key(run: Run) -> tuple[tuple[str, ...], ...]:
    """Return what a run shares with others, from what most of them share to what few do.

    Parameters
    ----------
    run : Run
        The run.

    Returns
    -------
    tuple of tuple of str
        Of the site with its weather, of place and sky models, of the planes' directions, of the
        planes, of module types, of wiring and strings, of inputs, and of the AC side.
    """
    found: dict[int, list[str]] = {reach: [] for reach in range(_WEATHER, AC + 1)}
    for path, value in run.changes:
        found[reach_of(parts_of(path))].append(f"{path}={value!r}")
    found[_WEATHER] += [str(run.site_file), dict(run.made_of)["weather"]]
    found[STRINGS].append(run.wiring)
    return tuple(tuple(each) for each in found.values())
