"""DC string cables and the AC lead."""

from __future__ import annotations

from typing import Literal

from yieldkit.config.base import Celsius, Count, CrossSection, Frozen, NotNegative, Positive


class Cable(Frozen):
    """A DC string cable."""

    length_m: NotNegative
    """One way, from the array to the input [m]; the current goes out and back."""
    cross_section_mm2: CrossSection
    """Cross-section of one conductor [mm2]."""
    material: Literal["copper", "aluminium"] = "copper"
    """Conductor material."""
    conductor_class: Literal["class-2", "class-5", "class-5-tinned"] = "class-5-tinned"
    """Conductor class of IEC 60228: stranded, or flexible with or without tin."""
    temp_conductor_c: Celsius = 60.0
    """Conductor temperature at which the resistance is taken [degC]."""
    rated_voltage_v: Positive | None = None
    """Rated DC voltage [V]."""


class AcLead(Frozen):
    """The AC lead from the inverter to the distribution board."""

    length_m: NotNegative
    """One way [m]."""
    cross_section_mm2: CrossSection
    """Cross-section of a phase conductor [mm2]."""
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
    """Loaded circuits laid together, this one included."""
    overcurrent_device_a: Positive | None = None
    """Rated current of the lead's overcurrent device [A]."""
