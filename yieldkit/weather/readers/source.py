"""What a user says of a weather file, and what a format's reader returns."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

import pandas as pd

from yieldkit.base.measured_planes import measured_part
from yieldkit.base.time_zones import utc_offset
from yieldkit.weather.readers.canonical import Sampling, Station
from yieldkit.weather.readers.on_planes import PlaneSensor
from yieldkit.weather.readers.variables import VARIABLES

STATION_WIND_M = 10.0


class Source(NamedTuple):
    """What a user says of a weather file; None means: as the format has it.

    Parameters
    ----------
    columns : mapping of str to str
        Our name to the file's column, for plain tables (`time` among them).
    zone : str or None
        Zone of the file's clock.
    sampling : str or None
        "mean" or "snapshot".
    label : str or None
        "start", "middle" or "end", for means.
    sun_offset_min : float or None
        Minutes from label to instant, for snapshots.
    wind_height_m : float or None
        [m].
    fill_gaps_up_to_h : float
        Longest gap that is interpolated [h].
    decimal : str or None
        "," or ".", for CSV in which it can't be seen.
    date_format : str or None
        "day-first", "month-first" or a format with percent signs (as C's strptime), likewise.
    encoding : str or None
        Of text files, likewise.
    latitude, longitude, altitude_m : float or None
        Of the site, for files that don't carry a place.
    sensors : tuple of PlaneSensor
        Sensors of the light that was measured on planes.
    albedo : float
        Share of light that the ground before them reflects [1].
    """

    columns: Mapping[str, str] | None = None
    zone: str | None = None
    sampling: str | None = None
    label: str | None = None
    sun_offset_min: float | None = None
    wind_height_m: float | None = None
    fill_gaps_up_to_h: float = 0.0
    decimal: str | None = None
    date_format: str | None = None
    encoding: str | None = None
    latitude: float | None = None
    longitude: float | None = None
    altitude_m: float | None = None
    sensors: tuple[PlaneSensor, ...] = ()
    albedo: float = 0.2


class Read(NamedTuple):
    """What a format's reader returns: the table in UTC, its place, how it samples, its title.

    `remarks` are sentences on what was made of the file, for everybody who reads a yield.
    """

    frame: pd.DataFrame
    station: Station
    sampling: Sampling
    typical: bool
    title: str
    attribution: str = ""
    remarks: tuple[str, ...] = ()


def rezoned(frame: pd.DataFrame, offset_s: int, said: Source) -> pd.DataFrame:
    """Take the file's clock as another zone's when the user says so."""
    naive = pd.DatetimeIndex(frame.index).tz_convert(None) + pd.Timedelta(seconds=offset_s)
    offset = offset_s if said.zone is None else utc_offset(said.zone, "weather.zone")
    index = (naive - pd.Timedelta(seconds=offset)).tz_localize("UTC")
    return frame.set_axis(index, axis="index")


def own_names(frame: pd.DataFrame) -> pd.DataFrame:
    """Return the columns that carry a name of ours."""
    return frame[[name for name in frame if name in VARIABLES or measured_part(str(name))]]
