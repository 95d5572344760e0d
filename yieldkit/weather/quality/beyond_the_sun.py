"""Global light that is more than the sun sends to a place: of another place, or in a wrong unit."""

from __future__ import annotations

import numpy as np
import pandas as pd
import xarray as xr
from pvlib.irradiance import get_extra_radiation
from pvlib.solarposition import declination_spencer71

from yieldkit.base.arrays import FloatArray
from yieldkit.base.errors import refuse

_DAY_S = 86_400.0
_LEAST_KWH_M2 = 0.5
"""Near the polar night the sun's height is too small a figure to judge by."""
_FEWEST, _SHARE = 3, 0.01
"""So many days, and such a share of them, must be brighter than can be: one may be a wrong row."""


def daily_from_space(days: pd.DatetimeIndex, latitude: float) -> FloatArray:
    """Return what the sun sends onto the level outside the air, on each day [kWh/m2] (day,).

    Parameters
    ----------
    days : DatetimeIndex
        The days.
    latitude : float
        Degrees north.

    References
    ----------
    Duffie and Beckman (2013), Solar Engineering of Thermal Processes, eq. 1.10.3, from
    memory; declination and the sun's distance of Spencer (1971), by pvlib.
    """
    number = days.day_of_year.to_numpy()
    declination = declination_spencer71(number)
    north = np.radians(latitude)
    sunset = np.arccos(np.clip(-np.tan(north) * np.tan(declination), -1.0, 1.0))
    extra = np.asarray(get_extra_radiation(number))
    heights = np.cos(north) * np.cos(declination) * np.sin(sunset)
    heights += sunset * np.sin(north) * np.sin(declination)
    return np.asarray(24.0 / np.pi * extra * heights / 1000.0)


def refuse_light_beyond_the_sun(dataset: xr.Dataset, where: str) -> None:
    """Refuse global light of which days hold more than comes from space at the weather's place.

    Parameters
    ----------
    dataset : Dataset
        Canonical weather with global light; without it nothing is looked at.
    where : str
        File name, for errors.

    Raises
    ------
    InputError
        With the place, and the day that is worst.
    """
    if "ghi" not in dataset:
        return
    offset = pd.Timedelta(seconds=float(dataset.attrs["utc_offset_s"]))
    local = pd.DatetimeIndex(dataset.indexes["time"]) + offset
    first = local[0].normalize()
    at = ((local - first) / pd.Timedelta(seconds=_DAY_S)).to_numpy().astype(np.int64)
    step_kwh = float(dataset.attrs["interval_s"]) / 3.6e6
    got = np.bincount(at, np.nan_to_num(dataset["ghi"].to_numpy())) * step_kwh
    days = pd.date_range(first, periods=got.size, freq="D")
    latitude = float(dataset.attrs["latitude"])
    most = daily_from_space(days, latitude)
    beyond = (got > most) & (most > _LEAST_KWH_M2)
    number, of = int(beyond.sum()), int((got > 0.0).sum())
    if number < _FEWEST or number < _SHARE * of:
        return
    worst = int(np.argmax(np.where(beyond, got / np.maximum(most, _LEAST_KWH_M2), 0.0)))
    place = f"{abs(latitude):g} {'N' if latitude >= 0.0 else 'S'}"
    refuse(
        f"{where}, ghi",
        f"more light than the sun sends to {place} on {number:,} of {of:,} days, such as "
        f"{got[worst]:.1f} kWh/m2 on {days[worst]:%Y-%m-%d}",
        f"light of {place}, where {most[worst]:.1f} kWh/m2 reach the top of the air on that day",
        cause="Weather of another place or of the other hemisphere, or a wrong unit?",
        remedy="Correct site.latitude (south is negative), or name a weather file of this place",
    )
