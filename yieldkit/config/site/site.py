"""The site: place, weather, wirings and the connection to the network."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Any, Literal

from pydantic import Field

from yieldkit.base.time_zones import utc_offset
from yieldkit.config.models.base import (
    Count,
    FileName,
    Frozen,
    Name,
    Notes,
    NotNegative,
    Positive,
    Text,
)
from yieldkit.config.models.conductors import AcLead, Cable
from yieldkit.config.models.estimate import EstimateTerms
from yieldkit.config.models.grid import GridConnection
from yieldkit.config.models.installed import InstalledInverter, InverterPlace, ReactivePower
from yieldkit.config.models.inverters import Inverter, MpptInput
from yieldkit.config.models.modules import ModuleType
from yieldkit.config.models.obstacles import Obstacle
from yieldkit.config.models.offer import Offer
from yieldkit.config.models.planes import HorizonPoint, ModulePosition, Plane
from yieldkit.config.models.snow import Snow
from yieldkit.config.models.weather_source import WeatherSource
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
    horizon: tuple[HorizonPoint, ...] = ()
    """Far horizon of the place, for all planes that state none of their own."""
    horizon_file: FileName | None = None
    """Table of it with the columns azimuth_deg and elevation_deg, in place of the list."""
    snow: Snow | None = None
    """Snow on the modules, by month or from the weather's snowfall; none if left out."""
    building: Literal["dwelling", "other", "not-on-a-building"] = "dwelling"
    """Kind of building, on which the rules for surge protection depend."""

    @property
    def utc_offset_s(self) -> int:
        """Standard time's offset from UTC [s], positive to the east."""
        return utc_offset(self.time_zone)


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
    places: tuple[ModulePosition, ...] = ()
    """Which modules they are, in the order of the cable; laid side by side if left out. It matters
    where obstacles shade some of them."""


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
    inverter: Name | None = None
    """Name of the inverter, where the site has several."""
    strings: Annotated[tuple[WiredString, ...], Field(min_length=1)]
    """Strings in parallel."""

    @property
    def input_name(self) -> str:
        """The input, with its inverter where the file names one."""
        return self.mppt if self.inverter is None else f"{self.inverter} / {self.mppt}"


class Wiring(Frozen):
    """Which modules hang in which string on which tracker."""

    name: Name
    """What the wiring is called in the comparison."""
    trackers: Annotated[tuple[TrackerStrings, ...], Field(min_length=1)]
    """The inputs in use; one that is left out stays idle."""

    def on(self, inverter: str) -> Wiring:
        """Return the part of the wiring that hangs on one of several inverters, maybe nothing."""
        own = tuple(each for each in self.trackers if each.inverter == inverter)
        return self.model_copy(update={"trackers": own})


class Standards(Frozen):
    """Rule profiles the checks are made under."""

    strings: Literal["iec-62548-2016", "iec-60364-7-712-2017", "iec-62548-1-2023", "nec-690"] = (
        "iec-62548-2016"
    )
    """String voltage, current and overcurrent protection."""


class Site(Frozen):
    """One building, its planes, its inverters, and the wirings to be compared."""

    schema_version: Literal[1, 2]
    """Version of this schema: 1 for one inverter under `inverter`, 2 for `inverters`."""
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
    obstacles: tuple[Obstacle, ...] = ()
    """What stands in the light of the planes' modules, beside the planes themselves."""
    inverter: Inverter | None = None
    """Version 1: the inverter."""
    inverter_place: InverterPlace | None = None
    """Version 1: where the inverter hangs."""
    inverter_types: tuple[Inverter, ...] = ()
    """Version 2: the kinds of inverters."""
    inverters: tuple[InstalledInverter, ...] = ()
    """Version 2: the inverters behind the connection point."""
    grid: GridConnection = GridConnection()
    """Common AC lead, meter, load, network and rules."""
    estimate: EstimateTerms = EstimateTerms()
    """Ageing, outages and how much years differ, for an estimate of many years."""
    offer: Offer | None = None
    """Prices, tariffs and names for an offer to a customer, for `estimate` alone."""
    standards: Standards = Standards()
    """Rule profiles the checks are made under."""
    wirings: Annotated[tuple[Wiring, ...], Field(min_length=1)]
    """The wirings to be compared."""
    folder: str = Field(default="", exclude=True, json_schema_extra={"readOnly": True})
    """Folder of the site file, from which relative paths count; set by the reader."""

    @property
    def single_inverter(self) -> Inverter:
        """The type of a site's only inverter; sites of several are asked by `each_inverter`."""
        if self.inverter is not None:
            return self.inverter
        if len(self.inverters) != 1:
            raise TypeError(f"a site of {len(self.inverters)} inverters, where one is asked for")
        return self._type_of(self.inverters[0])

    @property
    def several_inverters(self) -> bool:
        """Whether wirings must say on which inverter a string hangs."""
        return len(self.inverters) > 1

    @property
    def nominal_voltage_v(self) -> float:
        """Nominal voltage of the network, phase to neutral [V]; the same for every inverter."""
        return self._any_type().ac.nominal_voltage_v

    @property
    def phases(self) -> int:
        """Phases of the connection point; the same for every inverter."""
        return self._any_type().ac.phases

    def each_inverter(self) -> tuple[OneInverter, ...]:
        """Return every inverter with the site as it stands to that one alone."""
        if self.inverter is not None:
            return (OneInverter(self.inverter.name, self),)
        if len(self.inverters) == 1:
            return (self._alone(self.inverters[0], self.wirings),)
        return tuple(self._alone(own, self._wirings_of(own.name)) for own in self.inverters)

    def inputs(self) -> dict[str, MpptInput]:
        """Return every MPPT input by the name that results give it."""
        return {
            f"{one.name} / {mppt.name}" if self.several_inverters else mppt.name: mppt
            for one in self.each_inverter()
            for mppt in one.site.single_inverter.mppts
        }

    def horizon_of(self, plane: Plane) -> tuple[HorizonPoint, ...]:
        """Return the far horizon seen from a plane: its own, else the place's; none is flat."""
        return plane.horizon or self.site.horizon

    def input_name(self, tracker: TrackerStrings) -> str:
        """Return what an input is called in results: with its inverter, where there are several."""
        return tracker.input_name if self.several_inverters else tracker.mppt

    def _any_type(self) -> Inverter:
        return self.inverter if self.inverter is not None else self._type_of(self.inverters[0])

    def _type_of(self, own: InstalledInverter) -> Inverter:
        return next(each for each in self.inverter_types if each.name == own.type)

    def _wirings_of(self, inverter: str) -> tuple[Wiring, ...]:
        return tuple(wiring.on(inverter) for wiring in self.wirings)

    def _alone(self, own: InstalledInverter, wirings: tuple[Wiring, ...]) -> OneInverter:
        """Return an inverter alone; nothing is checked anew, for every part was checked."""
        changes = {
            "schema_version": 1,
            "inverter": self._type_of(own),
            "inverter_place": own.place,
            "inverter_types": (),
            "inverters": (),
            "wirings": wirings,
        }
        return OneInverter(own.name, self.model_copy(update=changes), own.lead, own.reactive)

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


@dataclass(frozen=True)
class OneInverter:
    """One inverter of a site, and the site as it stands to that one alone.

    Parameters
    ----------
    name : str
        What wirings and results call it.
    site : Site
        The site with this inverter only, in the shape of version 1: its wirings hold what hangs
        on this inverter, maybe nothing.
    lead : AcLead or None
        Its own lead to where the inverters meet.
    reactive : ReactivePower or None
        Its reactive power, where the file says more than the displacement factor of its type.
    """

    name: str
    site: Site
    lead: AcLead | None = None
    reactive: ReactivePower | None = None
