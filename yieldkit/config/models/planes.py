"""Roof planes: slope and mounting, the modules on them and where each of these lies."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from yieldkit.config.models.base import Count, Frozen, Name, NotNegative, Text, twelve
from yieldkit.config.models.dirt import RainSoiling
from yieldkit.config.models.obstacles import Point

Mounting = Literal["open-rack", "flat-roof-rack", "roof-parallel", "integrated", "facade"]


Soiled = Annotated[float, Field(ge=0, lt=100)]


class ModulePosition(Frozen):
    """A module's place on its plane: row and column counted from the lower left corner."""

    row: Annotated[int, Field(ge=0, le=10_000)]
    """Row, 0 at the eaves."""
    column: Annotated[int, Field(ge=0, le=10_000)]
    """Column, 0 at the left, seen from outside."""


class CableExit(Frozen):
    """Where the string cables leave a plane, and how far they run from there."""

    row: Annotated[float, Field(ge=-100, le=10_000)]
    """Row, counted as the modules' own; -1 is a module's height below the eaves' row."""
    column: Annotated[float, Field(ge=-100, le=10_000)]
    """Column, counted as the modules' own."""
    onward_m: NotNegative
    """Length of the route from there to the inverter, one way [m]."""


class HorizonPoint(Frozen):
    """Elevation of the horizon seen from a plane, by compass azimuth."""

    azimuth_deg: Annotated[float, Field(ge=0, le=360)]
    """Compass degrees."""
    elevation_deg: Annotated[float, Field(ge=0, lt=90)]
    """Degrees above horizontal; at 90 there would be no sky."""


class Plane(Frozen):
    """A roof plane with its modules, all of one type."""

    name: Name
    """The name that wirings refer to."""
    tilt_deg: Annotated[float, Field(ge=0, le=90)]
    """Degrees from horizontal; a pitch of 100 percent is 45 degrees."""
    azimuth_deg: Annotated[float, Field(ge=0, le=360)]
    """Compass degrees: north 0, east 90, south 180, west 270."""
    modules: Count
    """Number of modules on the plane, wired or not."""
    module_type: Name
    """Name of a module type of this file."""
    mounting: Mounting
    """How the modules are mounted, on which their temperature depends."""
    layout: Literal["portrait", "landscape"] | None = None
    """How the modules lie: upright or across."""
    positions: tuple[ModulePosition, ...] = ()
    """Place of each module; none, if unknown."""
    drawing: tuple[Text, ...] = ()
    """The same drawn in signs, the top row first: M is a module, . is none."""
    corner_m: Point | None = None
    """Lower left corner of row 0, column 0 [m]: east, north, up, as the obstacles' places."""
    cable_exit: CableExit | None = None
    """Where string cables leave the plane; lengths then follow from the modules' places."""
    horizon: tuple[HorizonPoint, ...] = ()
    """Far horizon seen from the plane."""
    soiling_loss_percent: Soiled = 0.0
    """Loss of light by dirt, the same all year [%]."""
    soiling_by_month_percent: Annotated[tuple[Soiled, ...], twelve("losses")] | None = None
    """The same as 12 losses, January to December [%], in place of one for the year."""
    soiling_from_rain: RainSoiling | None = None
    """The same from the weather's rain, in place of both; needs a column of rain in the weather."""
    slant_height_m: Annotated[float, Field(gt=0, le=200)] | None = None
    """From the lower to the upper edge of the modules along the slope [m], for snow; from the
    modules' places if left out."""
    lower_edge_height_m: Annotated[float, Field(gt=0, le=500)] = 3.0
    """Lower edge of the modules above what snow falls on from it [m], for snow by month."""
    rear_gain_percent: Annotated[float, Field(ge=0, le=100)] = 0.0
    """Rear irradiance times bifaciality over front irradiance [%]; counts in energy and current."""
    rear_irradiance_w_m2: Annotated[float, Field(ge=0, le=1000)] | None = None
    """Light from behind bifacial modules in full sun [W/m2]; for currents 135 if left out."""
    heat_loss_factor: Annotated[float, Field(ge=0.3, le=3)] = 1.0
    """Factor on the mounting's heat-loss coefficients; below 1 the cells run hotter."""
    power_deviation_percent: Annotated[float, Field(gt=-100, le=100)] = 0.0
    """The modules' power above the rated one, by tolerance [%]; negative where they have less."""
    initial_loss_percent: Annotated[float, Field(ge=0, lt=100)] = 0.0
    """Power that the modules lose in their first hours of light, for good [%]."""

    @property
    def places(self) -> tuple[ModulePosition, ...]:
        """Place of each module, by its position or from the drawing; none, if unknown."""
        if self.positions:
            return self.positions
        return tuple(
            ModulePosition(row=row, column=column)
            for row, line in enumerate(reversed(self.drawing))
            for column, char in enumerate(line)
            if char == "M"
        )
