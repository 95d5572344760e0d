"""The site: place, weather, planes, wirings and the connection to the network."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from yieldkit.config.equipment import (
    AcLead,
    Cable,
    Frozen,
    Inverter,
    ModuleType,
    Name,
    NotNegative,
    Positive,
)

Mounting = Literal["open-rack", "flat-roof-rack", "roof-parallel", "integrated", "facade"]


class DesignTemperatures(Frozen):
    """Lowest and highest expected ambient, never taken from a typical year."""

    lowest_ambient_c: float | None = None
    highest_ambient_c: float | None = None
    station: str | None = None
    period: str | None = None
    definition: str | None = None
    """Such as 'extreme annual mean minimum dry bulb' or 'lowest expected'."""


class Place(Frozen):
    """Where the building stands."""

    name: Name
    latitude: Annotated[float, Field(ge=-90, le=90)]
    longitude: Annotated[float, Field(ge=-180, le=180)]
    altitude_m: Annotated[float, Field(ge=-430, le=9000)]
    time_zone: str
    albedo: Annotated[float, Field(ge=0, le=1)] = 0.2
    design_temperatures: DesignTemperatures = DesignTemperatures()
    ground_flash_density_per_km2_year: NotNegative | None = None
    building: Literal["dwelling", "other", "not-on-a-building"] = "dwelling"


class ColumnMap(Frozen):
    """Which column of a plain table holds which quantity."""

    time: str
    ghi: str
    dni: str | None = None
    dhi: str | None = None
    temp_air: str | None = None
    wind_speed: str | None = None
    pressure: str | None = None
    relative_humidity: str | None = None


class WeatherSource(Frozen):
    """A weather file and everything that must be known to read it."""

    file: str
    """Path (relative to the site file) or the name of a shipped data set."""
    format: Literal["canonical", "tmy3", "tmy2", "epw", "nsrdb", "csv", "parquet"]
    columns: ColumnMap | None = None
    zone: str | None = None
    sampling: Literal["mean", "snapshot"] | None = None
    label: Literal["start", "middle", "end"] | None = None
    sun_offset_min: float | None = None
    wind_height_m: Positive | None = None
    fill_gaps_up_to_h: NotNegative = 0.0
    """Gaps up to this length are interpolated and counted; longer ones are refused."""


class ModelChoices(Frozen):
    """The models used; every word is a key of the table of the same name in the physics."""

    decomposition: Literal["erbs", "erbs-driesse"] = "erbs-driesse"
    transposition: Literal[
        "isotropic", "hay-davies", "reindl", "perez-1990", "perez-driesse"
    ] = "perez-driesse"
    incidence: Literal["fresnel", "ashrae", "martin-ruiz"] = "fresnel"


class ModulePosition(Frozen):
    """A module's place on its plane: row and column counted from the lower left corner."""

    row: Annotated[int, Field(ge=0)]
    column: Annotated[int, Field(ge=0)]


class HorizonPoint(Frozen):
    """Elevation of the horizon seen from a plane, by compass azimuth."""

    azimuth_deg: Annotated[float, Field(ge=0, le=360)]
    elevation_deg: Annotated[float, Field(ge=0, le=90)]


class Plane(Frozen):
    """A roof plane with its modules, all of one type."""

    name: Name
    tilt_deg: Annotated[float, Field(ge=0, le=90)]
    azimuth_deg: Annotated[float, Field(ge=0, lt=360.0001)]
    """Compass degrees: north 0, east 90, south 180, west 270."""
    modules: Annotated[int, Field(ge=1)]
    module_type: Name
    mounting: Mounting
    layout: Literal["portrait", "landscape"] | None = None
    positions: tuple[ModulePosition, ...] = ()
    horizon: tuple[HorizonPoint, ...] = ()
    soiling_loss_percent: Annotated[float, Field(ge=0, lt=100)] = 0.0
    rear_gain_percent: NotNegative = 0.0
    """Rear irradiance times bifaciality over front irradiance."""
    module_quality_loss_percent: float = 0.0
    """Tolerance and light-induced loss of power; negative for a gain."""


class Group(Frozen):
    """Neighbouring modules of one plane in a string."""

    plane: Name
    modules: Annotated[int, Field(ge=1)]


class WiredString(Frozen):
    """Modules in series, possibly of several planes, with their cable."""

    groups: Annotated[tuple[Group, ...], Field(min_length=1)]
    cable: Cable | None = None
    fuse_a: Positive | None = None


class TrackerStrings(Frozen):
    """The strings on one MPPT input."""

    mppt: Name
    strings: Annotated[tuple[WiredString, ...], Field(min_length=1)]


class Wiring(Frozen):
    """Which modules hang in which string on which tracker."""

    name: Name
    trackers: Annotated[tuple[TrackerStrings, ...], Field(min_length=1)]


class NetworkVoltage(Frozen):
    """Voltage of the network at the connection point without this plant, phase to neutral."""

    kind: Literal["constant", "modelled", "series"] = "constant"
    voltage_v: Positive = 230.0
    """Constant value, or the base of the model."""
    daily_swing_v: NotNegative = 0.0
    load_term_v: NotNegative = 0.0
    neighbours_rise_v: NotNegative = 0.0
    """Rise from the neighbours' feed-in at a global irradiance of 1000 W/m2."""
    noise_v: NotNegative = 0.0
    correlation_time_min: Positive = 60.0
    seed: int = 1
    file: str | None = None
    column: str | None = None


class GridConnection(Frozen):
    """The lead, the network behind it and the rules it is run under."""

    lead: AcLead | None = None
    network_resistance_ohm: NotNegative = 0.0
    network_reactance_ohm: NotNegative = 0.0
    network_voltage: NetworkVoltage = NetworkVoltage()
    profile: str | None = None
    """Network rules, such as 'vde-ar-n-4105-2018'; none: no switch-off is modelled."""
    load_w: NotNegative = 0.0
    """Constant consumption of the building behind the meter."""
    residual_current_device: Literal["none", "type-a", "type-b"] | None = None
    """Residual current device in the AC lead."""
    bonding_conductor_mm2: Positive | None = None
    """Copper bonding conductor of frames and rails."""
    busbar_rating_a: Positive | None = None
    """Rating of the distribution board's busbar."""
    main_device_a: Positive | None = None
    """Rating of the overcurrent device that feeds the busbar."""
    availability_percent: Annotated[float, Field(gt=0, le=100)] = 100.0


class InverterPlace(Frozen):
    """Where the inverter hangs, as it bears on the temperature of the air it draws in."""

    surroundings: Literal["outdoors-shaded", "outdoors-sunlit", "indoors-ventilated", "indoors-tight"]
    inlet_offset_k: float | None = None
    """Overrides the assumed rise of the inlet air over ambient."""


class Standards(Frozen):
    """Rule profiles the checks are made under."""

    strings: Literal[
        "iec-62548-2016", "iec-60364-7-712-2017", "iec-62548-1-2023", "nec-690"
    ] = "iec-62548-2016"
    """String voltage, current and overcurrent protection."""


class Site(Frozen):
    """One building, its planes, one inverter, and the wirings to be compared."""

    schema_version: Literal[1]
    invented: bool = False
    """True for demonstration data."""
    notes: str | None = None
    site: Place
    weather: WeatherSource
    models: ModelChoices = ModelChoices()
    module_types: Annotated[tuple[ModuleType, ...], Field(min_length=1)]
    planes: Annotated[tuple[Plane, ...], Field(min_length=1)]
    inverter: Inverter
    inverter_place: InverterPlace | None = None
    grid: GridConnection = GridConnection()
    standards: Standards = Standards()
    wirings: Annotated[tuple[Wiring, ...], Field(min_length=1)]
    folder: str = Field(default="", exclude=True, json_schema_extra={"readOnly": True})
    """Folder of the site file, from which relative paths count; set by the reader."""
