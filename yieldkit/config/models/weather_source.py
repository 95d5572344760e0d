"""The weather file of a site, and everything that must be known to read it."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, PlainSerializer, PlainValidator, WithJsonSchema
from pydantic_core import PydanticKnownError

from yieldkit.config.models.base import FileName, Frozen, Name, Positive, Text, one_line


def _pairs(columns: Any) -> Any:
    """Take a mapping from planes to columns as pairs, which can't change."""
    if isinstance(columns, dict):
        columns = tuple(columns.items())
    if not isinstance(columns, tuple) or not all(
        isinstance(pair, tuple) and len(pair) == 2 and all(isinstance(one, str) for one in pair)
        for pair in columns
    ):
        raise ValueError("planes with their columns, such as {east: G_E, west: G_W}")
    return columns


PlaneColumns = Annotated[
    tuple[tuple[Name, Text], ...],
    BeforeValidator(_pairs),
    PlainSerializer(dict),
    WithJsonSchema({"type": "object", "additionalProperties": {"type": "string"}}),
]
"""Which column holds what was measured on which plane; a mapping in files."""


_LONGEST_NAME = 1000


def _file_or_files(said: Any) -> str | tuple[str, ...]:
    """Take a file's name, or a list of them."""
    if not isinstance(said, list | tuple):
        return _file(said)
    if not said or not all(isinstance(each, str) for each in said):
        raise ValueError("a file, a pattern such as years/*.csv, or a list of files")
    return tuple(_file(each) for each in said)


def _file(said: Any) -> str:
    if not isinstance(said, str):
        raise PydanticKnownError("string_type")
    if len(said) > _LONGEST_NAME:
        raise PydanticKnownError("string_too_long", {"max_length": _LONGEST_NAME})
    return one_line(said)


_ONE_FILE = {"type": "string", "minLength": 1, "maxLength": _LONGEST_NAME}
WeatherFiles = Annotated[
    str | tuple[str, ...],
    PlainValidator(_file_or_files),
    PlainSerializer(lambda said: said),
    WithJsonSchema({"anyOf": [_ONE_FILE, {"type": "array", "minItems": 1, "items": _ONE_FILE}]}),
]
"""A file, a pattern of files, or a list of either."""


class ColumnMap(Frozen):
    """Which column of a plain table holds which quantity."""

    time: Text
    """Time, with a zone or by the clock of `weather.zone`."""
    clock: Text | None = None
    """Time of day, where `time` holds the date alone."""
    ghi: Text | None = None
    """Global horizontal irradiance [W/m2]; may be left out where poa_global has every plane."""
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
    snowfall: Text | None = None
    """Snow that fell in each step [cm]."""
    snow_depth: Text | None = None
    """Snow on the ground [cm]."""
    poa_global: PlaneColumns = ()
    """Light measured on planes [W/m2], by the plane's name, such as {east: G_E, west: G_W}."""
    temp_module: PlaneColumns = ()
    """Temperature measured on the back of a plane's modules [degC], likewise."""
    temp_cell: PlaneColumns = ()
    """Temperature of a plane's cells [degC], likewise."""


class LightSensor(Frozen):
    """The sensor of light on a plane, where it isn't a pyranometer that lies in the plane."""

    plane: Name
    """Name of the plane whose poa_global it measures."""
    kind: Literal["pyranometer", "reference-cell"] = "pyranometer"
    """What it measures: all light on the glass, or the light in a cell behind glass."""
    tilt_deg: Annotated[float, Field(ge=0, le=90)] | None = None
    """Degrees from horizontal; the plane's own if left out."""
    azimuth_deg: Annotated[float, Field(ge=0, le=360)] | None = None
    """Compass degrees; the plane's own if left out."""
    gain: Annotated[float, Field(ge=0.5, le=2)] = 1.0
    """What it reads over what is there [1]; its readings are divided by it."""


class MinuteFile(Frozen):
    """A file of measured minutes, read like a weather file."""

    file: FileName
    """Path, relative to the site file."""
    format: Literal["canonical", "csv", "parquet"]
    """The file's format."""
    columns: ColumnMap | None = None
    """Which column holds what, for csv and parquet; both dni and dhi are needed."""
    zone: Text | None = None
    """Zone of the file's clock, where its times don't carry it."""
    label: Literal["start", "middle", "end"] | None = None
    """Which part of its minute a time marks."""
    latitude: Annotated[float, Field(ge=-90, le=90)] | None = None
    """Where they were measured [deg]; where the file doesn't say it, the site's own by default."""
    longitude: Annotated[float, Field(ge=-180, le=180)] | None = None
    """Likewise [deg]."""
    altitude_m: Annotated[float, Field(ge=-430, le=9000)] | None = None
    """Likewise [m]."""


class WithinHour(Frozen):
    """What an hour's mean hides, reckoned on minutes drawn from measured ones of like sky."""

    minutes: MinuteFile | None = None
    """Measured minutes to draw from; by default those that come with the package."""
    smoothed_over_min: Annotated[int, Field(ge=2, le=60)] | None = None
    """Snapshots that are means after all, over so many minutes round their instant [min]."""
    seed: Annotated[int, Field(ge=0, lt=2**32)] = 1
    """Seed of the draw."""


class WeatherSource(Frozen):
    """Weather files and everything that must be known to read them."""

    file: WeatherFiles
    """Path (relative to the site file) or the name of a shipped data set; for several years of one
    place a list of files, or a pattern such as years/*.csv. All are read alike."""
    format: Literal["canonical", "tmy3", "tmy2", "epw", "nsrdb", "csv", "parquet"]
    """The file's format."""
    columns: ColumnMap | None = None
    """Which column holds what, for csv and parquet."""
    sensors: tuple[LightSensor, ...] = ()
    """Sensors behind poa_global that differ from a pyranometer lying in the plane."""
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
    within_hour: WithinHour | None = None
    """Reckons what hourly means hide below the hour; none: it is not modelled."""

    @property
    def files(self) -> tuple[str, ...]:
        """The files and patterns as they are named, also where it is one."""
        return (self.file,) if isinstance(self.file, str) else self.file

    @property
    def measured_planes(self) -> frozenset[str]:
        """Names of the planes that light or temperature was measured on."""
        if self.columns is None:
            return frozenset()
        own = (self.columns.poa_global, self.columns.temp_module, self.columns.temp_cell)
        return frozenset(plane for pairs in own for plane, _ in pairs)
