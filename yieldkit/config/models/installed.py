"""Inverters as they are installed: name, type, place on the wall, own lead, reactive power."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from yieldkit.config.models.base import Count, Frozen, Name, Positive
from yieldkit.config.models.conductors import AcLead

CurvePoint = tuple[Annotated[float, Field(ge=0, le=2)], Annotated[float, Field(ge=-1, le=1)]]


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


class ReactivePower(Frozen):
    """How an inverter feeds in or absorbs reactive power."""

    kind: Literal["fixed", "cos-phi-of-p", "q-of-u"]
    """By the displacement factor of the inverter's type, by a displacement factor that follows
    the power, or by reactive power that follows the voltage at the terminals."""
    points: tuple[CurvePoint, ...] = ()
    """The curve; by default that of `grid.profile`. For cos-phi-of-p pairs of power by nominal
    power and displacement factor, which has the sign `power_factor_sign` of the type; for q-of-u
    pairs of voltage by nominal voltage and reactive by apparent power, positive when injected."""
    priority: Literal["reactive", "active"] = "reactive"
    """What is kept where apparent power or current is at its limit."""


class InstalledInverter(Frozen):
    """One inverter of the site: what it is, where it hangs and how it is connected."""

    name: Name
    """What it is called, such as where it stands; wirings refer to it."""
    type: Name
    """Name of an entry of `inverter_types`."""
    place: InverterPlace | None = None
    """Where it hangs."""
    lead: AcLead | None = None
    """Its own AC lead to where the inverters meet; none is no rise in it."""
    reactive: ReactivePower | None = None
    """Its reactive power; by default the displacement factor of its type."""
