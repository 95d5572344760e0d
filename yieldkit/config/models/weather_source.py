"""The weather file of a site, and everything that must be known to read it."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from yieldkit.config.models.base import FileName, Frozen, Positive, Text


class ColumnMap(Frozen):
    """Which column of a plain table holds which quantity."""

    time: Text
    """Time, with a zone or by the clock of `weather.zone`."""
    clock: Text | None = None
    """Time of day, where `time` holds the date alone."""
    ghi: Text
    """Global horizontal irradiance [W/m2]."""
    dni: Text | None = None
    """Direct normal irradiance [W/m2]."""
    dhi: Text | None = None
    """Diffuse horizontal irradiance [W/m2]."""
    temp_air: Text | None = None
    """Air temperature [degC]."""
    wind_speed: Text | None = None
    """Wind speed [m/s]."""
    pressure: Text | None = None
    """Air pressure [Pa]."""
    relative_humidity: Text | None = None
    """Relative humidity [%]."""
    rain: Text | None = None
    """Rain that fell in each step [mm]."""


class WeatherSource(Frozen):
    """A weather file and everything that must be known to read it."""

    file: FileName
    """Path (relative to the site file) or the name of a shipped data set."""
    format: Literal["canonical", "tmy3", "tmy2", "epw", "nsrdb", "csv", "parquet"]
    """The file's format."""
    columns: ColumnMap | None = None
    """Which column holds what, for csv and parquet."""
    zone: Text | None = None
    """Zone of the file's clock, where the file doesn't say it or says it wrongly."""
    sampling: Literal["mean", "snapshot"] | None = None
    """Whether values are means over an interval or snapshots of an instant."""
    label: Literal["start", "middle", "end"] | None = None
    """Which part of its interval a mean's time marks."""
    sun_offset_min: Annotated[float, Field(ge=-720, le=720)] | None = None
    """Snapshots: minutes from the time written to the instant the value holds for."""
    wind_height_m: Positive | None = None
    """Height above ground at which wind was measured [m]."""
    fill_gaps_up_to_h: Annotated[float, Field(ge=0, le=3)] = 0.0
    """Gaps up to this length, 3 h at most, are filled and counted: light between daylit steps only,
    temperature and wind anywhere. Steps of longer gaps stay missing, and totals leave them out."""
    moved: bool = False
    """True to use another place's weather on purpose, with its station's sun and clock."""
    decimal: Literal[",", "."] | None = None
    """Decimal sign of a csv file, where it can't be told from the file."""
    date_format: Text | None = None
    """Order of a csv file's dates, where it can't be told from the file: "day-first",
    "month-first", or signs such as '%d.%m.%Y %H:%M' (as C's strptime)."""
    encoding: Text | None = None
    """Encoding of a text file, such as "cp1252" or "utf-16"; by default it is found."""
