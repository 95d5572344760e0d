"""The far horizon of a place, asked of a public service and written as a table."""

from __future__ import annotations

import warnings
from pathlib import Path
from typing import NamedTuple

import pandas as pd
from pvlib import iotools

from yieldkit.base.coordinates import degrees_text, place_in_name
from yieldkit.base.errors import refuse
from yieldkit.base.files import write_text
from yieldkit.weather.services import asking
from yieldkit.weather.services.services import ADDRESSES, SERVICES

_NAME = "Joint Research Centre, far horizon"
_THANKS = SERVICES["jrc-typical-year"].attribution
_DECIMALS = 2


class FarHorizon(NamedTuple):
    """Elevations of the far horizon [deg] by rising azimuth [deg], from north through east."""

    latitude: float
    longitude: float
    elevation: pd.Series[float]


def horizon_name(latitude: float, longitude: float) -> str:
    """Return the name of a file for the horizon of a place [deg]."""
    return f"horizon-{place_in_name(latitude, longitude)}.csv"


def fetch_horizon(latitude: float, longitude: float) -> FarHorizon:
    """Ask for the far horizon of a place, as the terrain makes it.

    Parameters
    ----------
    latitude, longitude : float
        [deg].

    Raises
    ------
    InputError
        If no whole answer comes.
    """

    def call() -> pd.Series[float]:
        with warnings.catch_warnings():
            # The library sets an index in place, which its own table library calls outdated.
            warnings.filterwarnings("ignore", message=".*inplace")
            found, _ = iotools.get_pvgis_horizon(
                latitude, longitude, url=ADDRESSES["jrc"], timeout=asking.TIMEOUT_S
            )
        return pd.Series(found, dtype=float)

    found = asking.ask(call, _NAME).sort_index().round(_DECIMALS) + 0.0
    sound = found.size >= 8 and found.index.is_unique and found.between(0.0, 89.0).all()
    if not sound or not 0.0 <= found.index[0] <= found.index[-1] < 360.0:
        refuse(
            _NAME,
            f"an answer of {found.size} elevations",
            "elevations of 0 to 89 degrees all round the compass",
            remedy="Nothing was written. Ask again later.",
        )
    return FarHorizon(latitude, longitude, found)


def write_horizon(horizon: FarHorizon, path: Path) -> None:
    """Write a far horizon as a table that site files can name."""
    place = degrees_text(horizon.latitude, horizon.longitude)
    lines = [f"# Far horizon of {place} by {_NAME}. {_THANKS}"]
    lines += ["azimuth_deg,elevation_deg"]
    lines += [f"{azimuth:g},{height:g}" for azimuth, height in horizon.elevation.items()]
    write_text(path, "\n".join(lines) + "\n", record=False)
