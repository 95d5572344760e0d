"""How far readings may lie from what is expected although all is wired as drawn."""

from __future__ import annotations

from typing import NamedTuple


class ReferenceError(NamedTuple):
    """One cause of difference.

    Parameters
    ----------
    spread : float
        Standard deviation, in its unit.
    unit : str
        Its unit: % of the value, or K.
    words : str
        What differs, and what has it in common.
    source : str
        Where the figure comes from.
    """

    spread: float
    unit: str
    words: str
    source: str


METER_V, METER_A = "meter_v", "meter_a"
READING_V, READING_A = "reading_v", "reading_a"
MODULES_V, MODULES_A = "modules_v", "modules_a"
SENSOR_LIGHT, SENSOR_HEAT = "sensor_light", "sensor_heat"
PLANE_LIGHT, PLANE_HEAT = "plane_light", "plane_heat"
SKY_LIGHT, SKY_PLANE, AIR_HEAT, CELL_HEAT = "sky_light", "sky_plane", "air_heat", "cell_heat"

_USUAL = "common practice, no source"
REFERENCE_ERRORS: dict[str, ReferenceError] = {
    METER_V: ReferenceError(0.5, "%", "the voltmeter's gain, the same in all readings", _USUAL),
    METER_A: ReferenceError(1.5, "%", "the ammeter's gain, the same in all readings", _USUAL),
    READING_V: ReferenceError(0.4, "%", "a reading of a voltage, each by itself", _USUAL),
    READING_A: ReferenceError(0.8, "%", "a reading of a current, each by itself", _USUAL),
    MODULES_V: ReferenceError(1.0, "%", "the modules' open-circuit voltage, all alike", _USUAL),
    MODULES_A: ReferenceError(1.5, "%", "the modules' short-circuit current, all alike", _USUAL),
    SENSOR_LIGHT: ReferenceError(3.0, "%", "the irradiance sensor's gain", _USUAL),
    SENSOR_HEAT: ReferenceError(3.0, "K", "the module thermometer, the same on all planes", _USUAL),
    PLANE_LIGHT: ReferenceError(1.5, "%", "each plane's own light", _USUAL),
    PLANE_HEAT: ReferenceError(2.0, "K", "each plane's own temperature", _USUAL),
    SKY_LIGHT: ReferenceError(
        8.0, "%", "light of a cloudless sky where no sensor was read", _USUAL
    ),
    SKY_PLANE: ReferenceError(
        4.0, "%", "each plane's share of that light, where no sensor was read on it", _USUAL
    ),
    AIR_HEAT: ReferenceError(6.0, "K", "temperature of the modules where none was read", _USUAL),
    CELL_HEAT: ReferenceError(
        2.0, "K", "how much warmer the cells are at 1000 W/m2 than said", _USUAL
    ),
}
"""Causes by their keys. The instruments' are replaced by what a sheet states of its own."""
