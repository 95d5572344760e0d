"""How much the choice of mounting, hence of cell temperature, moves the yield."""

from __future__ import annotations

from typing import NamedTuple

import xarray as xr

from yieldkit.config.site.site import Site
from yieldkit.physics.module.temperature import mounting_model
from yieldkit.study.simulation.simulate import simulate


class Neighbour(NamedTuple):
    """A neighbouring way of mounting and the yield with it.

    Parameters
    ----------
    mounting, instead : str
        The way of mounting as configured, and its neighbour.
    energy_kwh : float
        Yield with the neighbour [kWh].
    """

    mounting: str
    instead: str
    energy_kwh: float


def mounting_spread(site: Site, weather: xr.Dataset, wiring: str) -> tuple[Neighbour, ...]:
    """Return a wiring's yield with each neighbouring way of mounting.

    Parameters
    ----------
    site : Site
        The site.
    weather : Dataset
        Canonical weather.
    wiring : str
        Name of the wiring.
    """
    found = []
    for mounting in dict.fromkeys(plane.mounting for plane in site.planes):
        for instead in mounting_model(mounting).neighbours:
            planes = [
                plane.model_dump()
                | {"mounting": instead if plane.mounting == mounting else plane.mounting}
                for plane in site.planes
            ]
            other = site.variant({"planes": planes})
            result = simulate(other, wiring, weather)
            found.append(Neighbour(mounting, instead, float(result.attrs["energy_kwh"])))
    return tuple(found)
