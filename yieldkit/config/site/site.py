"""The site: place, weather, wirings and the connection to the network."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any, Literal

from pydantic import Field

from yieldkit.base.time_zones import utc_offset
from yieldkit.config.models.base import (
    Count,
    CrossSection,
    FileName,
    Frozen,
    Name,
    Notes,
    NotNegative,
    Positive,
    Text,
)
from yieldkit.config.models.conductors import AcLead, Cable
from yieldkit.config.models.inverters import Inverter
from yieldkit.config.models.modules import ModuleType
from yieldkit.config.models.planes import Plane
from yieldkit.config.reading.changes import changed
from yieldkit.config.reading.content import from_mapping
from yieldkit.config.site.checking import checked
from yieldkit.config.site.display import site_card


class DesignTemperatures(Frozen):
    """Lowest and highest expected ambient, never taken from a typical year."""

    lowest_ambient_c: Annotated[float, Field(ge=-500, le=500)] | None = None
    """Lowest expected ambient [degC]; decides the highest string voltage."""
    highest_ambient_c: Annotated[float, Field(ge=-500, le=500)] | None = None
    """Highest expected ambient [degC]; decides the lowest operating voltage."""
    station: Text | None = None
    """The weather station the figures come from."""
    period: Text | None = None
    """The years of the record."""
    definition: Text | None = None
    """Such as 'extreme annual mean minimum dry bulb' or 'lowest expected'."""


class Place(Frozen):
    """Where the building stands."""

    name: Name
    """What the building is called."""
    latitude: Annotated[float, Field(ge=-90, le=90)]
    """Degrees, north positive."""
    longitude: Annotated[float, Field(ge=-180, le=180)]
    """Degrees, east positive."""
    altitude_m: Annotated[float, Field(ge=-430, le=9000)]
    """Above sea level [m]."""
    time_zone: Text
    """Hours ahead of UTC, standard time, such as "UTC+01:00"; or an IANA name."""
    unusual_time_zone: bool = False
    """True where the clock really is hours away from the sun, so that no question is asked."""
    albedo: Annotated[float, Field(ge=0, le=1)] = 0.2
    """Share of light the ground reflects."""
    design_temperatures: DesignTemperatures = DesignTemperatures()
    """Temperatures the string voltages are checked at."""
    ground_flash_density_per_km2_year: NotNegative | None = None
    """Lightning flashes to ground [1/km2/year]."""
    building: Literal["dwelling", "other", "not-on-a-building"] = "dwelling"
    """Kind of building, on which the rules for surge protection depend."""

    @property
    def utc_offset_s(self) -> int:
        """Standard time's offset from UTC [s], positive to the east."""
        return utc_offset(self.time_zone)


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


class ModelChoices(Frozen):
    """The models used; every word is a key of the table of the same name in the physics."""

    decomposition: Literal["erbs", "erbs-driesse"] = "erbs-driesse"
    """Direct and diffuse from global irradiance, where only that is given."""
    transposition: Literal["isotropic", "hay-davies", "reindl", "perez-1990", "perez-driesse"] = (
        "perez-driesse"
    )
    """Diffuse light of the sky on a tilted plane."""
    isotropic_share: Annotated[float, Field(ge=0, le=1)] = 0.0
    """Share of the diffuse sky taken as evenly bright, the rest by the transposition model."""
    incidence: Literal["fresnel", "ashrae", "martin-ruiz"] = "fresnel"
    """Reflection at the glass by angle of incidence."""


class Group(Frozen):
    """Neighbouring modules of one plane in a string."""

    plane: Name
    """Name of a plane of this file."""
    modules: Count
    """Number of modules in series."""


class WiredString(Frozen):
    """Modules in series, possibly of several planes, with their cable."""

    groups: Annotated[tuple[Group, ...], Field(min_length=1)]
    """The string's modules, plane by plane."""
    cable: Cable | None = None
    """The string's cable; none is no loss, and its checks are not made."""
    fuse_a: Positive | None = None
    """Rated current of the string's fuse [A]; none is no fuse."""


class TrackerStrings(Frozen):
    """The strings on one MPPT input."""

    mppt: Name
    """Name of an MPPT input of the inverter."""
    strings: Annotated[tuple[WiredString, ...], Field(min_length=1)]
    """Strings in parallel."""


class Wiring(Frozen):
    """Which modules hang in which string on which tracker."""

    name: Name
    """What the wiring is called in the comparison."""
    trackers: Annotated[tuple[TrackerStrings, ...], Field(min_length=1)]
    """The inputs in use; one that is left out stays idle."""


class NetworkVoltage(Frozen):
    """Voltage of the network at the connection point without this plant, phase to neutral."""

    kind: Literal["constant", "modelled", "series"] = "constant"
    """One value, a seeded model, or a measured series."""
    voltage_v: Positive = 230.0
    """Constant value, or the base of the model [V]."""
    daily_swing_v: NotNegative = 0.0
    """Model: amplitude of the daily shape, highest at 4 h [V]."""
    load_term_v: NotNegative = 0.0
    """Model: drop at the evening's highest load [V]."""
    neighbours_rise_v: NotNegative = 0.0
    """Rise from the neighbours' feed-in at a global irradiance of 1000 W/m2 [V]."""
    noise_v: NotNegative = 0.0
    """Model: standard deviation of the random part [V]."""
    correlation_time_min: Positive = 60.0
    """Model: correlation time of the random part [min]."""
    seed: Annotated[int, Field(ge=0, lt=2**32)] = 1
    """Model: seed of the random part."""
    file: FileName | None = None
    """Series: path of the table, relative to the site file."""
    column: Text | None = None
    """Series: the column of phase voltages [V]; by default the last."""
    time: Text | None = None
    """Series: the column of times, by which it is joined to the weather; by default the first."""
    zone: Text | None = None
    """Series: zone of its times, where they carry none; by default the site's standard time."""
    label: Literal["start", "middle", "end"] = "start"
    """Series: which part of its step a time marks."""


class GridConnection(Frozen):
    """The lead, the network behind it and the rules it is run under."""

    lead: AcLead | None = None
    """The AC lead to the distribution board; none is no rise in it, and no checks of it."""
    network_resistance_ohm: NotNegative = 0.0
    """Resistance of the loop that a phase's current meets in the network up to the connection
    point [ohm]: phase and neutral together in single-phase, the phase alone in three-phase."""
    network_reactance_ohm: NotNegative = 0.0
    """Reactance of that loop [ohm]."""
    network_voltage: NetworkVoltage = NetworkVoltage()
    """The network's voltage without this plant."""
    profile: (
        Literal["en-50549-1", "vde-ar-n-4105-2018", "g98-g99", "as-nzs-4777-2-a", "ieee-1547-2018"]
        | None
    ) = None
    """Network rules; none: no switch-off is modelled."""
    ten_minute_mean: Literal["sliding", "cleared"] = "sliding"
    """Whether the mean that trips slides on while the inverter is off, or is cleared then."""
    load_w: NotNegative = 0.0
    """Constant consumption of the building behind the meter [W]."""
    residual_current_device: Literal["none", "type-a", "type-b"] | None = None
    """Residual current device in the AC lead."""
    bonding_conductor_mm2: CrossSection | None = None
    """Copper bonding conductor of frames and rails [mm2]."""
    busbar_rating_a: Positive | None = None
    """Rating of the distribution board's busbar [A]."""
    main_device_a: Positive | None = None
    """Rating of the overcurrent device that feeds the busbar [A]."""
    availability_percent: Annotated[float, Field(gt=0, le=100)] = 100.0
    """Share of time the plant is up [%]."""


class Wall(Frozen):
    """The usable wall between cabinets, shelves, floor and ceiling, and the case to hang on it."""

    width_m: Positive
    """Width of the wall [m]."""
    height_m: Positive
    """Height of the wall [m]."""
    case_width_m: Positive
    """Width of an inverter's case [m]."""
    case_height_m: Positive
    """Height of an inverter's case [m]."""
    inverters: Count = 1
    """How many are to hang there."""


class InverterPlace(Frozen):
    """Where the inverter hangs, as it bears on the temperature of the air it draws in."""

    surroundings: Literal[
        "outdoors-shaded", "outdoors-sunlit", "indoors-ventilated", "indoors-tight"
    ]
    """Kind of place; each goes with an assumed rise of the inlet air over ambient."""
    inlet_offset_k: Annotated[float, Field(ge=-50, le=100)] | None = None
    """Overrides the rise of the inlet air over ambient that goes with the surroundings [K]."""
    wall: Wall | None = None
    """The wall it hangs on; the report then draws it with its clearances."""


class Standards(Frozen):
    """Rule profiles the checks are made under."""

    strings: Literal["iec-62548-2016", "iec-60364-7-712-2017", "iec-62548-1-2023", "nec-690"] = (
        "iec-62548-2016"
    )
    """String voltage, current and overcurrent protection."""


class Site(Frozen):
    """One building, its planes, one inverter, and the wirings to be compared."""

    schema_version: Literal[1]
    """Version of this schema."""
    invented: bool = False
    """True for demonstration data."""
    notes: Notes | None = None
    """Remarks that go into the report."""
    site: Place
    """Where the building stands."""
    weather: WeatherSource
    """The weather file."""
    models: ModelChoices = ModelChoices()
    """Models of sky and glass."""
    module_types: Annotated[tuple[ModuleType, ...], Field(min_length=1)]
    """The kinds of modules on the planes."""
    planes: Annotated[tuple[Plane, ...], Field(min_length=1)]
    """The planes that carry modules."""
    inverter: Inverter
    """The inverter."""
    inverter_place: InverterPlace | None = None
    """Where the inverter hangs."""
    grid: GridConnection = GridConnection()
    """AC lead, network and rules."""
    standards: Standards = Standards()
    """Rule profiles the checks are made under."""
    wirings: Annotated[tuple[Wiring, ...], Field(min_length=1)]
    """The wirings to be compared."""
    folder: str = Field(default="", exclude=True, json_schema_extra={"readOnly": True})
    """Folder of the site file, from which relative paths count; set by the reader."""

    def __repr__(self) -> str:
        return site_card(self).text()

    __str__ = __repr__

    def _repr_html_(self) -> str:
        return site_card(self).html()

    def variant(self, changes: Mapping[str, Any]) -> Site:
        """Return a site with some parts replaced, checked as a whole like a file.

        Parameters
        ----------
        changes : mapping
            Keys, or paths of keys such as "planes.0.tilt_deg" or "planes.west roof.tilt_deg" (an
            entry of a list by its number or its name), and their new content as plain values or
            models.

        Returns
        -------
        Site
            The changed site; its relative paths count from the same folder, and this one stays
            as it is.

        Raises
        ------
        InputError
            If a path leads nowhere, or the file would be refused with these values.
        """
        content = from_mapping(changed(self.model_dump(), changes), "variant")
        return checked(content, self.folder, type(self))
