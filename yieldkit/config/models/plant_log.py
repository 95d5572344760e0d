"""The description of a plant's log: its files, its clock, and which column holds what."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, PlainSerializer, WithJsonSchema

from yieldkit.config.models.base import FileName, Frozen, Name, Positive, Text
from yieldkit.config.models.weather_source import LightSensor, PlaneColumns


def _listed(said: Any) -> Any:
    return (said,) if isinstance(said, str) else said


def _pairs(columns: Any) -> Any:
    """Take a mapping from inputs to columns as pairs, which can't change."""
    if isinstance(columns, dict):
        columns = tuple(columns.items())
    if not isinstance(columns, tuple) or not all(
        isinstance(pair, tuple) and len(pair) == 2 and all(isinstance(one, str) for one in pair)
        for pair in columns
    ):
        raise ValueError("a column behind every input, such as {MPPT 1: U1, MPPT 2: U2}")
    return columns


_NAMES = {"anyOf": [{"type": "string"}, {"type": "array", "items": {"type": "string"}}]}
LogFiles = Annotated[
    tuple[FileName, ...], BeforeValidator(_listed), Field(max_length=10_000), WithJsonSchema(_NAMES)
]
"""A file, a pattern of files such as log/*.csv, or a list of either."""
Phases = Annotated[
    tuple[Text, ...], BeforeValidator(_listed), Field(max_length=3), WithJsonSchema(_NAMES)
]
"""A column, or one for each phase."""
InputColumns = Annotated[
    tuple[tuple[Name, Text], ...],
    BeforeValidator(_pairs),
    PlainSerializer(dict),
    WithJsonSchema({"type": "object", "additionalProperties": {"type": "string"}}),
]
"""Which column holds what was written of which input; a mapping in files."""


class SensorColumns(Frozen):
    """Which column holds the times, and which of them a sensor's readings."""

    time: Text
    """Time, with a zone or by the clock of `zone`."""
    clock: Text | None = None
    """Time of day, where `time` holds the date alone."""
    poa_global: PlaneColumns = ()
    """Light measured on planes [W/m2], by the plane's name, such as {east: G_E, west: G_W}."""
    temp_module: PlaneColumns = ()
    """Temperature measured on the back of a plane's modules [degC], likewise."""
    ghi: Text | None = None
    """Global horizontal irradiance [W/m2]."""
    dni: Text | None = None
    """Direct normal irradiance [W/m2]."""
    dhi: Text | None = None
    """Diffuse horizontal irradiance [W/m2]."""
    temp_air: Text | None = None
    """Air temperature [degC]."""
    wind_speed: Text | None = None
    """Wind speed [m/s]."""


class InverterColumns(Frozen):
    """Which column holds what an inverter wrote; of each wired input one at least."""

    time: Text | None = None
    """Time, where the inverter has files of its own with another name for it."""
    clock: Text | None = None
    """Time of day, likewise."""
    v_dc: InputColumns = ()
    """Voltage of inputs [V], by the input's name, such as {MPPT 1: U1, MPPT 2: U2}."""
    i_dc: InputColumns = ()
    """Current of inputs [A], likewise."""
    p_dc: InputColumns = ()
    """Power of inputs [W], likewise; `units` says so where it is kW."""
    e_dc: InputColumns = ()
    """Energy counters of inputs, in place of p_dc: readings that add up, in the unit that the file
    or `units` states."""
    p_ac: Text | None = None
    """AC power at the terminals [W]; `units` says so where it is kW."""
    e_ac: Text | None = None
    """Energy counter of the AC side, in place of p_ac, likewise."""
    v_ac: Phases = ()
    """AC voltage, phase to neutral [V]; of several columns, one for each phase, the mean counts."""


class LoggedInverter(Frozen):
    """An inverter of the log."""

    name: Name | None = None
    """What the site file calls it; may be left out where there is one inverter."""
    files: LogFiles = ()
    """Its own files, where the common ones don't hold its columns."""
    columns: InverterColumns
    """Which column holds what."""


class LogUnits(Frozen):
    """Units of columns where the file's own head doesn't state them."""

    p_dc: Literal["W", "kW"] | None = None
    """Of the power of inputs; W if nobody states it."""
    p_ac: Literal["W", "kW"] | None = None
    """Of the AC power; W if nobody states it."""
    e_dc: Literal["Wh", "kWh", "MWh"] | None = None
    """Of the energy counters of inputs."""
    e_ac: Literal["Wh", "kWh", "MWh"] | None = None
    """Of the energy counter of the AC side."""


class LogDescription(Frozen):
    """A plant's log: files of inverters and sensors, and how to read them."""

    wiring: Name | None = None
    """The wiring that was built, by its name in the site file."""
    files: LogFiles = ()
    """Tables of all inverters and sensors, as seen from this file; one after the other where there
    are several."""
    zone: Text
    """Zone of the clock: hours ahead of UTC such as UTC+01:00, or a name such as Area/City."""
    clock: Literal["standard", "wall"] | None = None
    """With a zone that has summer time: standard time all year, or the clock on the wall."""
    label: Literal["start", "middle", "end"]
    """Which part of its step a time marks: records by IEC 61724-1 are often labelled at the end.
    Readings of an instant count for the step round it: middle."""
    decimal: Literal[",", "."] | None = None
    """Decimal sign, where it can't be told from the file."""
    date_format: Text | None = None
    """Order of dates, where it can't be told from the file: "day-first", "month-first", or signs
    such as '%d.%m.%Y %H:%M' (as C's strptime)."""
    encoding: Text | None = None
    """Encoding, such as "cp1252" or "utf-16"; by default it is found."""
    units: LogUnits = LogUnits()
    """Units of power and energy, where the files don't state them."""
    columns: SensorColumns
    """Columns of times and sensors."""
    sensors: tuple[LightSensor, ...] = ()
    """Sensors behind poa_global that differ from a pyranometer lying in the plane."""
    wind_height_m: Positive | None = None
    """Height above ground at which wind was measured [m]; 10 m if left out."""
    inverters: Annotated[tuple[LoggedInverter, ...], Field(min_length=1)]
    """The inverters, one column map each."""
