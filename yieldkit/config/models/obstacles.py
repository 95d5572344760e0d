"""What stands in the light: boxes, upright cylinders and roofs, with what passes through them."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import AfterValidator, Field

from yieldkit.config.models.base import Frozen, Name, Positive, twelve


def _three(point: tuple[float, ...]) -> tuple[float, ...]:
    if len(point) != 3:
        raise ValueError("three numbers: metres east, north and up")
    return point


Metres = Annotated[float, Field(ge=-10_000, le=10_000)]
Point = Annotated[tuple[Metres, ...], AfterValidator(_three)]
"""East, north and up [m] from any point of the site, the same for all of it."""
Through = Annotated[float, Field(ge=0, le=1)]


class _Obstacle(Frozen):
    """What every obstacle has."""

    name: Name
    """What it is called in findings."""
    transmittance: Through = 0.0
    """Share of the light that passes through, such as 0.15 for a tree in leaf."""
    transmittance_by_month: Annotated[tuple[Through, ...], twelve("shares")] | None = None
    """The same as 12 shares, January to December, for trees that shed their leaves."""

    @property
    def months(self) -> tuple[float, ...]:
        """Share of the light that passes through in each month, January first (12,)."""
        return self.transmittance_by_month or (self.transmittance,) * 12


class Box(_Obstacle):
    """An upright box, such as a chimney, a dormer's walls or a neighbour's house."""

    shape: Literal["box"]
    """Its shape: a box."""
    foot_m: Point
    """Middle of its foot [m]: east, north, up."""
    width_m: Positive
    """From left to right, seen from the front [m]."""
    depth_m: Positive
    """From front to back [m]."""
    height_m: Positive
    """From the foot to the top [m]."""
    azimuth_deg: Annotated[float, Field(ge=0, le=360)] = 180.0
    """Compass degrees its front faces, as a plane's."""


class Cylinder(_Obstacle):
    """An upright cylinder, such as a pole, a mast or a tree's crown."""

    shape: Literal["cylinder"]
    """Its shape: an upright cylinder."""
    foot_m: Point
    """Middle of its foot [m]: east, north, up."""
    diameter_m: Positive
    """Across [m]."""
    height_m: Positive
    """From the foot to the top [m]."""


class RoofSlope(_Obstacle):
    """A roof without modules: a rectangle in space, lying as a plane does."""

    shape: Literal["roof"]
    """Its shape: a flat rectangle, level or sloping."""
    corner_m: Point
    """Its lower left corner, seen from outside [m]: east, north, up."""
    width_m: Positive
    """Along the eaves [m]."""
    length_m: Positive
    """From the eaves up the slope [m]."""
    tilt_deg: Annotated[float, Field(ge=0, le=90)]
    """Degrees from horizontal."""
    azimuth_deg: Annotated[float, Field(ge=0, le=360)]
    """Compass degrees: north 0, east 90, south 180, west 270."""


Obstacle = Annotated[Box | Cylinder | RoofSlope, Field(discriminator="shape")]
