"""What nobody knows exactly, how widely it is drawn and why, and what draws of it gave."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import pandas as pd

from yieldkit.base.arrays import FloatArray
from yieldkit.config.site.site import Site
from yieldkit.design.equipment.conversion import states_voltages


class Unknown(NamedTuple):
    """Something nobody knows exactly.

    Parameters
    ----------
    name : str
        What it is.
    per_plane : bool
        Whether each plane has its own.
    spread : float
        Half the range of a uniform draw, or the standard deviation of a normal one.
    shape : str
        "uniform", "normal", "choice" or "unsorted to sorted".
    unit : str
        Unit of the spread.
    source : str
        Where the spread comes from.
    middle : float
        Middle of the draws.
    """

    name: str
    per_plane: bool
    spread: float
    shape: str
    unit: str
    source: str
    middle: float = 0.0

    def range(self) -> str:
        """Return how widely it is drawn, in words."""
        if self.shape == "choice":
            return "one of several"
        if self.shape == "uniform":
            low, high = self.middle - self.spread, self.middle + self.spread
            return f"{low:g} to {high:g} {self.unit}"
        return f"{self.spread:g} {self.unit}"


_COMMON = "common practice, no source"
BY_VOLTAGE = "inverter efficiency by DC voltage"
BY_LOAD = "inverter efficiency by load"
_UNSTATED_PER_100_V = 0.8
UNKNOWNS: tuple[Unknown, ...] = (
    Unknown("weather year", False, 1.0, "choice", "1", "five-day blocks of the same month"),
    Unknown("irradiance level", False, 3.0, "normal", "%", "satellite bias 2 to 5 %, from memory"),
    Unknown("diffuse light", False, 6.0, "normal", "%", "at one global irradiance; " + _COMMON),
    Unknown("sky model", False, 1.0, "choice", "1", "the four anisotropic models"),
    Unknown(
        "evenly bright share of the sky",
        False,
        25.0,
        "uniform",
        "% beside the sky model",
        "other published models lie between; " + _COMMON,
        25.0,
    ),
    Unknown("inverter efficiency", False, 0.3, "normal", "%", _COMMON),
    Unknown(BY_VOLTAGE, False, 0.3, "normal", "% per 100 V", "table of voltages given; assumed"),
    Unknown(BY_LOAD, False, 0.3, "normal", "% from no load to full load", "assumed; " + _COMMON),
    Unknown("network voltage", False, 2.0, "normal", "V", _COMMON),
    Unknown("bypass drop", False, 15.0, "normal", "%", "0.35 to 0.59 V at 8.7 A; " + _COMMON),
    Unknown(
        "module sorting",
        False,
        0.6,
        "unsorted to sorted",
        "% between modules of a plane",
        "width of a 5 W class; " + _COMMON,
    ),
    Unknown("weather's clock", False, 10.0, "uniform", "min", _COMMON),
    Unknown("tilt", True, 2.0, "uniform", "deg", _COMMON),
    Unknown("azimuth", True, 5.0, "uniform", "deg", _COMMON),
    Unknown("horizon", True, 1.5, "uniform", "deg more", _COMMON, 1.5),
    Unknown("soiling", True, 1.0, "uniform", "% more", _COMMON, 1.0),
    Unknown("module tolerance", True, 0.5, "normal", "%", _COMMON),
    Unknown("heat loss of the cells", True, 12.0, "normal", "%", "spread of mountings; " + _COMMON),
    Unknown("low-light slope", True, 20.0, "normal", "% of the shunt resistance", _COMMON),
)
"""What is drawn, how widely, and why."""


def unknowns(site: Site) -> tuple[Unknown, ...]:
    """Return what is drawn for a site, as widely as its file leaves it open.

    The efficiency's slope over voltage is drawn widely where the file states no table of voltages:
    weighted figures and rows of a list don't say what this inverter does at other voltages.
    """
    if all(states_voltages(one.site.single_inverter) for one in site.each_inverter()):
        return UNKNOWNS
    source = "no table of voltages given; assumed"
    return tuple(
        each._replace(spread=_UNSTATED_PER_100_V, source=source)
        if each.name == BY_VOLTAGE
        else each
        for each in UNKNOWNS
    )


@dataclass(frozen=True)
class Drawn:
    """Energies of wirings under the same draws.

    Parameters
    ----------
    names : tuple of str
        The wirings.
    energy_kwh : ndarray
        (draw, wiring).
    inputs : DataFrame
        The draws, in their own units of spread (draw,).
    per : str
        What the energies are of, such as "a year".
    """

    names: tuple[str, ...]
    energy_kwh: FloatArray
    inputs: pd.DataFrame
    per: str = ""
