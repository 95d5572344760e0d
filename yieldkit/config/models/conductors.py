"""DC string cables and the AC lead."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from yieldkit.config.models.base import Celsius, Count, CrossSection, Frozen, NotNegative, Positive

InParallel = Annotated[int, Field(ge=1, le=12)]

_SMALL = (1.5, 2.5, 4.0, 6.0)
_MIDDLE = (10.0, 16.0, 25.0, 35.0, 50.0, 70.0)
_LARGE = (95.0, 120.0, 150.0, 185.0, 240.0, 300.0)
SECTIONS: dict[tuple[str, str], tuple[float, ...]] = {
    ("copper", "class-2"): (*_SMALL, *_MIDDLE, *_LARGE),
    ("copper", "class-5"): (*_SMALL, *_MIDDLE, *_LARGE),
    ("copper", "class-5-tinned"): (*_SMALL, *_MIDDLE, *_LARGE),
    ("aluminium", "class-2"): (*_MIDDLE, *_LARGE),
}
"""Nominal cross-sections of IEC 60228 [mm2] by material and class; those of the data table."""


class Cable(Frozen):
    """A DC string cable."""

    length_m: NotNegative
    """One way, from the array to the input [m]; the current goes out and back."""
    cross_section_mm2: CrossSection
    """Nominal cross-section of one conductor, as IEC 60228 has it [mm2]."""
    conductors_in_parallel: InParallel = 1
    """Equal conductors joined in parallel for each pole."""
    material: Literal["copper", "aluminium"] = "copper"
    """Conductor material."""
    conductor_class: Literal["class-2", "class-5", "class-5-tinned"] = "class-5-tinned"
    """Conductor class of IEC 60228: stranded, or flexible with or without tin."""
    temp_conductor_c: Celsius = 60.0
    """Conductor temperature at which the resistance is taken [degC]."""
    rated_voltage_v: Positive | None = None
    """Rated DC voltage [V]."""
    laying_method: Literal["free-in-air", "on-surface", "two-touching"] | None = None
    """How the PV cable lies (EN 50618, IEC 62930); single in free air is assumed if left out."""
    temp_ambient_c: Celsius | None = None
    """Air temperature around the cable [degC]; 70 is assumed if left out, as below modules."""
    circuits_bunched: Count | None = None
    """Strings laid together, this one included; 6 are assumed if left out, or the input's own."""


class AcLead(Frozen):
    """The AC lead from the inverter to the distribution board."""

    length_m: NotNegative
    """One way [m]."""
    cross_section_mm2: CrossSection
    """Nominal cross-section of a phase conductor, as IEC 60228 has it [mm2]."""
    conductors_in_parallel: InParallel = 1
    """Equal conductors joined in parallel for each phase."""
    material: Literal["copper", "aluminium"] = "copper"
    """Conductor material."""
    conductor_class: Literal["class-2", "class-5"] = "class-2"
    """Conductor class of IEC 60228: stranded or flexible."""
    insulation: Literal["pvc", "xlpe"] = "pvc"
    """Insulation: 70 degC (pvc) or 90 degC (xlpe)."""
    installation_method: Literal["A1", "B1", "B2", "C", "D1", "D2", "E"] = "B2"
    """Installation method of IEC 60364-5-52."""
    temp_conductor_c: Celsius = 70.0
    """Conductor temperature at which the resistance is taken [degC]."""
    temp_ambient_c: Celsius = 30.0
    """Temperature around the lead, air or ground [degC]."""
    circuits_bunched: Count = 1
    """Loaded circuits laid together, this one and each of parallel conductors included."""
    overcurrent_device_a: Positive | None = None
    """Rated current of the lead's overcurrent device [A]."""
